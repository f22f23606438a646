/*
 * The invented mill, from bobbins to reels that leave.
 */
#include "history_tools.h"

#include <string.h>

#define STRANDERS    26
#define CLOSERS      10
#define WIRES_MOST   36
#define STRAND_SHORT 540000 /* mm: a rest of a strand that is shorter is not closed any more */

/* --- stock, first in first out, more or less ------------------------------------------------------ */

struct stock {
        uint32_t *at;
        size_t first, n, cap;
};

static void stow(struct stock *s, uint32_t lot)
{
        s->at = more(s->at, s->n, &s->cap, sizeof(*s->at));
        s->at[s->n++] = lot;
}

static size_t in_stock(const struct stock *s)
{
        return s->n - s->first;
}

/* One of the first @window. */
static uint32_t fetch(struct history *h, struct stock *s, uint32_t window)
{
        size_t n = at_most(window, in_stock(s)), i = s->first + below(h, (uint32_t)n);
        uint32_t lot = s->at[i];

        memmove(s->at + s->first + 1, s->at + s->first, (i - s->first) * sizeof(*s->at));
        s->first++;
        return lot;
}

static void put_back(struct stock *s, uint32_t lot)
{
        if (s->first)
                s->at[--s->first] = lot;
        else
                stow(s, lot);
}

/* --- stranding ------------------------------------------------------------------------------------ */

struct strander {
        double idle;
        int campaign; /* strands still to be made of this construction */
        uint32_t wires, type[2], bobbins[WIRES_MOST];
};

/* Six wires of ten are of the first type. */
static uint32_t type_of(const struct strander *m, uint32_t wire)
{
        return m->type[wire >= m->wires * 6 / 10];
}

static bool set_up(struct history *h, struct strander *m, struct stock *stock)
{
        static const uint32_t wires[] = {19, 25, 26, 31, 36};
        size_t best = 0;

        for (uint32_t i = 0; i < m->wires; i++)
                if (h->lots[m->bobbins[i]].left_mm > 300000)
                        put_back(&stock[type_of(m, i)], m->bobbins[i]);
        m->wires = 0;
        for (uint32_t type = 0; type < GRADES * 4; type++) {
                size_t n = in_stock(&stock[type]), beside = in_stock(&stock[type / 4 * 4 + (type + 1) % 4]);
                size_t merit = at_most(n, beside) > 120 ? n + below(h, 300) : 0;

                if (merit > best) {
                        best = merit;
                        m->type[0] = type;
                        m->type[1] = type / 4 * 4 + (type + 1) % 4;
                }
        }
        if (best < 350)
                return false;
        m->wires = wires[below(h, 5)];
        m->campaign = 5 + (int)below(h, 40);
        for (uint32_t i = 0; i < m->wires; i++)
                m->bobbins[i] = fetch(h, &stock[type_of(m, i)], 80);
        return true;
}

/* The wire of one line: the bobbin that is on, and others after it. The machine stands at each change of bobbin. */
static void feed_wire(struct history *h, struct strander *m, struct stock *stock, uint32_t wire, double length)
{
        double lay = wire < m->wires * 6 / 10 ? 1.02 : 1.04, s = 0;

        while (s < length) {
                struct lot *lot = &h->lots[m->bobbins[wire]];
                int32_t need = (int32_t)ceil((length - s) * lay), use = need < lot->left_mm ? need : lot->left_mm;
                double end = use == need ? length : floor(s + use / lay);

                if (lot->left_mm <= 200000) {
                        m->bobbins[wire] = fetch(h, &stock[type_of(m, wire)], 80);
                        continue;
                }
                take(h, m->bobbins[wire], wire, use, s);
                s = end;
        }
}

static double strand_once(struct history *h, struct strander *m, uint32_t machine, struct stock *stock, double start)
{
        double u = part(h), metres = 525 + 2500 * u * u * u * u * u, one = floor(metres * 1085);
        uint32_t most = (uint32_t)fmin(4, fmax(1, 2700 / metres)), n = 1 + below(h, most);
        double length = one * n, took = length / 1000 / 6.5 / 1440;
        uint32_t class = metres < 700 ? 0 : metres < 1000 ? 1 : metres < 1500 ? 2 : metres < 2200 ? 3 : 4;

        struct run *run = start_run(h, STRANDING, machine, start, start + took + .02);
        run->lines = (uint16_t)m->wires;
        for (uint32_t wire = 0; wire < m->wires; wire++)
                feed_wire(h, m, stock, wire, length);
        for (uint32_t k = 0; k < n; k++)
                put_out(h, STRAND, m->type[0] * 8 + class, one, start + took * (k + 1) / n + .02, 0);
        m->campaign--;
        return took;
}

void history_strands(struct history *h, size_t from, size_t to)
{
        struct turns t = line_up(h, from, to, BOBBIN, -1, .5);
        struct strander machines[STRANDERS] = {0};
        struct stock stock[GRADES * 4] = {0};
        size_t next_bobbin = 0;

        for (int k = 0; k < STRANDERS; k++)
                machines[k].idle = 20 + k * .1;
        for (;;) {
                uint32_t b = 0;

                for (uint32_t k = 1; k < STRANDERS; k++)
                        if (machines[k].idle < machines[b].idle)
                                b = k;
                struct strander *m = &machines[b];
                double now = m->idle;
                if (now > h->days + 60)
                        break;
                for (; next_bobbin < t.n && h->lots[t.at[next_bobbin].lot].there < now; next_bobbin++)
                        stow(&stock[h->lots[t.at[next_bobbin].lot].type], t.at[next_bobbin].lot);
                if (m->campaign <= 0) {
                        if (!set_up(h, m, stock)) {
                                m->idle = now + .25;
                                continue;
                        }
                        now += .15;
                }
                if (in_stock(&stock[m->type[0]]) < 2 * m->wires || in_stock(&stock[m->type[1]]) < 2 * m->wires) {
                        m->campaign = 0;
                        m->idle = now + .1;
                        continue;
                }
                m->idle = now + strand_once(h, m, b, stock, now) + .03;
        }
        for (int k = 0; k < GRADES * 4; k++)
                free(stock[k].at);
        free(t.at);
}

/* --- closing and cutting -------------------------------------------------------------------------- */

/* A fibre core with enough on it, received long before it is first used: closers are not served in order of time. */
static uint32_t fibre_core(struct history *h, uint32_t *core, double length, double now)
{
        if (*core == UINT32_MAX || h->lots[*core].left_mm < length)
                *core = make_lot(h, FIBRE, 0, 50e6, fmax(0, now - 40));
        return *core;
}

static void close_rope(struct history *h, struct stock *s, double idle[CLOSERS], uint32_t *core)
{
        uint32_t strands[7], machine = 0, n = 6 + below(h, 2);
        int32_t shortest = INT32_MAX;
        double start = 0;

        for (uint32_t k = 0; k < n; k++) {
                strands[k] = fetch(h, s, 24);
                shortest = h->lots[strands[k]].left_mm < shortest ? h->lots[strands[k]].left_mm : shortest;
                start = fmax(start, h->lots[strands[k]].there);
        }
        for (uint32_t k = 1; k < CLOSERS; k++)
                if (idle[k] < idle[machine])
                        machine = k;
        double length = floor(fmin(shortest / 1.075, 3000000)), took = length / 1000 / 3 / 1440 * .25;
        start = fmax(start + between(h, .1, 1), idle[machine]);
        idle[machine] = start + took;
        /* received before the run begins, so that the lots that the run made follow one another */
        uint32_t middle = n == 7 ? strands[6] : fibre_core(h, core, length, start);

        start_run(h, CLOSE, machine, start, start + took)->lines = 7;
        for (uint32_t k = 0; k < 6; k++)
                take(h, strands[k], k, (int32_t)(length * 1.075), 0);
        take(h, middle, 6, (int32_t)length, 0);
        for (uint32_t k = 0; k < n; k++)
                if (h->lots[strands[k]].left_mm > STRAND_SHORT)
                        put_back(s, strands[k]);
        put_out(h, ROPE, 0, length, start + took, 0);
}

void history_ropes(struct history *h, size_t from, size_t to)
{
        struct turns t = line_up(h, from, to, STRAND, -1, .5);
        struct stock stock[GRADES * 4 * 8] = {0};
        double idle[CLOSERS] = {0};
        uint32_t core = UINT32_MAX;

        for (size_t i = 0; i < t.n; i++) {
                struct stock *s = &stock[h->lots[t.at[i].lot].type];

                stow(s, t.at[i].lot);
                while (in_stock(s) >= 30)
                        close_rope(h, s, idle, &core);
        }
        for (size_t k = 0; k < sizeof(stock) / sizeof(stock[0]); k++)
                free(stock[k].at);
        free(t.at);
}

void history_reels(struct history *h, size_t from, size_t to)
{
        for (size_t i = from; i < to; i++) {
                if (h->lots[i].kind != ROPE)
                        continue;
                double start = h->lots[i].there + between(h, .1, 3), from_mm = 0;
                int32_t length = h->lots[i].length_mm;
                uint32_t n = 3 + below(h, 6);

                start_run(h, CUT, below(h, 5), start, start + .05);
                take(h, (uint32_t)i, 0, length, 0);
                for (uint32_t k = 0; k < n; k++) {
                        double to_mm = k + 1 == n ? length : floor((double)length * (k + 1) / n);

                        put_out(h, REEL, 0, to_mm - from_mm, start + .05, 0);
                        from_mm = to_mm;
                }
        }
}

/* Nine reels of ten leave, eight on a lorry. */
void history_consignments(struct history *h, size_t from, size_t to)
{
        struct turns t = line_up(h, from, to, REEL, -1, 10);
        uint32_t load = 0;

        for (size_t i = 0; i < t.n; i++) {
                if (below(h, 10) == 0)
                        continue;
                if (load == 0) {
                        double when = all_there(h, &t.at[i], at_most(10, t.n - i)) + 2;

                        start_run(h, SEND, below(h, 40), when, when);
                }
                if (h->lots[t.at[i].lot].there < h->runs[h->n_runs - 1].start) {
                        take(h, t.at[i].lot, 0, h->lots[t.at[i].lot].length_mm, 0);
                        load = (load + 1) % 8;
                }
        }
        free(t.at);
}
