/*
 * The floor: the least that a recall with places can cost. Compact arrays and a walk with nominal intervals, in order
 * of runs; no tolerance, nothing certain told from possible, every joint taken as seen. Back, it goes by whether places
 * overlap alone, so that it names lots of which nothing came; beside it is one that carries its intervals back too.
 */
#include "bench.h"

#include <stdlib.h>
#include <string.h>

struct interval {
        int32_t from, to;
};

struct spot {
        int32_t from, to, s0, s1;
};

/* A place in a lot, and the one that was found there before it. */
struct link {
        struct interval at;
        uint32_t before;
};

struct walk {
        const struct graph *g;
        /* as compact as they come */
        uint32_t *run_of_feed, *lot_of_feed, *lot_of_pack, *pack_of, *run_of_pack, *by_run, *first_by_run;
        struct spot *spots;
        uint8_t *inner;
        struct interval *places;
        /* scratch */
        uint32_t *seen, round, *lots, *at, *n, *next, *head;
        uint64_t *waiting;
        uint32_t least, most;
        struct interval *spans, *here;
        uint32_t n_spans, cap_spans, cap_here;
        struct link *links;
        uint32_t n_links, found;
};

static void *room(size_t n, size_t size)
{
        void *at = calloc(n + 1, size);

        if (!at)
                bench_fail("floor", "no memory");
        memset(at, 0xff, (n + 1) * size); /* so that no page is met for the first time while the clock runs */
        memset(at, 0, (n + 1) * size);
        return at;
}

static void lay_out(struct walk *w, const struct graph *g)
{
        *w = (struct walk){.g = g,
                           .run_of_feed = room(g->feeds, 4),
                           .lot_of_feed = room(g->feeds, 4),
                           .spots = room(g->feeds, sizeof(struct spot)),
                           .inner = room(g->feeds, 1),
                           .lot_of_pack = room(g->packs, 4),
                           .run_of_pack = room(g->packs, 4),
                           .places = room(g->packs, sizeof(struct interval)),
                           .pack_of = room(g->lots, 4),
                           .by_run = room(g->feeds, 4),
                           .first_by_run = room(g->runs + 2, 4),
                           .seen = room(g->lots, 4),
                           .lots = room(g->lots, 4),
                           .at = room(g->lots, 4),
                           .n = room(g->lots, 4),
                           .next = room(g->feeds, 4),
                           .head = room(g->runs, 4),
                           .waiting = room(g->runs / 64 + 2, 8),
                           .cap_spans = 1 << 20,
                           .cap_here = 1 << 16,
                           .spans = room(1 << 20, sizeof(struct interval)),
                           .here = room(1 << 16, sizeof(struct interval)),
                           .links = room(1 << 20, sizeof(struct link))};
        memset(w->pack_of, 0xff, g->lots * sizeof(uint32_t));
        for (uint32_t i = 0; i < g->feeds; i++) {
                const struct graph_feed *f = &g->feed[i];

                w->run_of_feed[i] = f->run;
                w->lot_of_feed[i] = f->lot;
                w->spots[i] = (struct spot){f->from, f->to, f->s0, f->s1};
                w->inner[i] = f->inner;
                w->first_by_run[f->run + 1]++;
        }
        for (uint32_t i = 0; i < g->packs; i++) {
                w->lot_of_pack[i] = g->pack[i].lot;
                w->run_of_pack[i] = g->pack[i].run;
                w->places[i] = (struct interval){g->pack[i].s0, g->pack[i].s1};
                w->pack_of[g->pack[i].lot] = i;
        }
        uint32_t *at = room(g->runs + 2, 4);
        for (uint32_t r = 0; r < g->runs; r++)
                w->first_by_run[r + 1] += w->first_by_run[r];
        memcpy(at, w->first_by_run, g->runs * sizeof(*at));
        for (uint32_t i = 0; i < g->feeds; i++)
                w->by_run[at[g->feed[i].run]++] = i;
        free(at);
}

/* --- forward ------------------------------------------------------------------------------------------ */

/* @run is looked at in its turn; nothing hangs on it yet when it is put off first. */
static inline void put_off(struct walk *w, uint32_t run)
{
        const uint64_t bit = UINT64_C(1) << (run & 63);

        if (w->waiting[run / 64] & bit)
                return;
        w->waiting[run / 64] |= bit;
        w->head[run] = UINT32_MAX;
        w->most = run / 64 > w->most ? run / 64 : w->most;
        w->least = run / 64 < w->least ? run / 64 : w->least;
}

static void enter(struct walk *w, uint32_t lot)
{
        for (uint32_t i = w->g->first_feed[lot]; i < w->g->first_feed[lot + 1]; i++) {
                uint32_t k, at = w->at[lot], n = w->n[lot], run = w->run_of_feed[i];

                for (k = 0; k < n; k++)
                        if (w->spans[at + k].from < w->spots[i].to && w->spans[at + k].to > w->spots[i].from)
                                break;
                if (k == n)
                        continue;
                put_off(w, run);
                w->next[i] = w->head[run];
                w->head[run] = i;
        }
}

static int by_from(const void *a, const void *b)
{
        const struct interval *x = a, *y = b;

        return (x->from > y->from) - (x->from < y->from);
}

static uint32_t unite(struct interval *at, uint32_t n)
{
        uint32_t kept = 0;

        if (n > 48)
                qsort(at, n, sizeof(*at), by_from);
        for (uint32_t i = 1; n <= 48 && i < n; i++) {
                struct interval one = at[i];
                uint32_t k = i;

                for (; k && at[k - 1].from > one.from; k--)
                        at[k] = at[k - 1];
                at[k] = one;
        }
        for (uint32_t i = 1; i < n; i++) {
                if (at[i].from > at[kept].to)
                        at[++kept] = at[i];
                else if (at[i].to > at[kept].to)
                        at[kept].to = at[i].to;
        }
        return n ? kept + 1 : 0;
}

static struct interval mapped(const struct spot *f, bool inner, int32_t from, int32_t to)
{
        int64_t out = (int64_t)f->s1 - f->s0, in = (int64_t)f->to - f->from;

        if (from == f->from && to == f->to)
                return (struct interval){f->s0, f->s1};
        int64_t a = inner ? from - f->from : f->to - to, b = inner ? to - f->from : f->to - from;
        return (struct interval){(int32_t)(f->s0 + a * out / in), (int32_t)(f->s0 + (b * out + in - 1) / in)};
}

static uint32_t gather(struct walk *w, uint32_t run)
{
        uint32_t n = 0;

        for (uint32_t i = w->head[run]; i != UINT32_MAX; i = w->next[i]) {
                const struct spot *f = &w->spots[i];
                uint32_t lot = w->lot_of_feed[i];

                for (uint32_t k = w->at[lot]; k < w->at[lot] + w->n[lot]; k++) {
                        int32_t from = w->spans[k].from, to = w->spans[k].to;

                        if (from >= f->to)
                                break;
                        if (to <= f->from)
                                continue;
                        if (n == w->cap_here)
                                bench_fail("floor", "more spans in one run than there is room for");
                        w->here[n++] = mapped(f, w->inner[i], from > f->from ? from : f->from, to < f->to ? to : f->to);
                }
        }
        return unite(w->here, n);
}

static uint32_t take(struct walk *w, uint32_t run, uint32_t found)
{
        uint32_t n = gather(w, run), s = 0;

        for (uint32_t j = w->g->first_pack[run]; j < w->g->first_pack[run + 1]; j++) {
                struct interval p = w->places[j];
                uint32_t lot = w->lot_of_pack[j], at = w->n_spans;

                while (s < n && w->here[s].to <= p.from)
                        s++;
                if (s == n)
                        break;
                if (w->here[s].from >= p.to)
                        continue;
                if (w->n_spans + n >= w->cap_spans)
                        bench_fail("floor", "more spans than there is room for");
                for (uint32_t k = s; k < n && w->here[k].from < p.to; k++) {
                        int32_t from = w->here[k].from > p.from ? w->here[k].from : p.from;
                        int32_t to = w->here[k].to < p.to ? w->here[k].to : p.to;

                        w->spans[w->n_spans++] = (struct interval){from - p.from, to - p.from};
                }
                if (w->seen[lot] != w->round) {
                        w->seen[lot] = w->round;
                        w->lots[found++] = lot;
                        w->at[lot] = at;
                        w->n[lot] = w->n_spans - at;
                }
                enter(w, lot);
        }
        return found;
}

static uint32_t forward(struct walk *w, const struct start *start)
{
        uint32_t found = 0;

        w->round++;
        w->n_spans = 0;
        w->least = UINT32_MAX;
        w->most = 0;
        for (uint32_t i = 0; i < start->n; i++) {
                uint32_t lot = start->lots[i];

                w->seen[lot] = w->round;
                w->lots[found++] = lot;
                w->at[lot] = w->n_spans;
                w->n[lot] = 1;
                w->spans[w->n_spans++] = (struct interval){0, INT32_MAX};
        }
        for (uint32_t i = 0; i < start->n; i++)
                enter(w, start->lots[i]);
        for (uint32_t word = w->least; word <= w->most; word++)
                while (w->waiting[word]) {
                        uint32_t run = word * 64 + (uint32_t)__builtin_ctzll(w->waiting[word]);

                        w->waiting[word] &= w->waiting[word] - 1;
                        found = take(w, run, found);
                }
        return found;
}

/* --- back --------------------------------------------------------------------------------------------- */

static uint32_t back(struct walk *w, const struct start *start)
{
        uint32_t found = 0;

        w->round++;
        for (uint32_t i = 0; i < start->n; i++) {
                w->seen[start->lots[i]] = w->round;
                w->lots[found++] = start->lots[i];
        }
        for (uint32_t i = 0; i < found; i++) {
                uint32_t pack = w->pack_of[w->lots[i]];

                if (pack == UINT32_MAX)
                        continue;
                uint32_t run = w->run_of_pack[pack];
                for (uint32_t k = w->first_by_run[run]; k < w->first_by_run[run + 1]; k++) {
                        const struct spot *f = &w->spots[w->by_run[k]];
                        uint32_t lot = w->lot_of_feed[w->by_run[k]];

                        if (w->places[pack].from >= f->s1 || w->places[pack].to <= f->s0 || w->seen[lot] == w->round)
                                continue;
                        w->seen[lot] = w->round;
                        w->lots[found++] = lot;
                }
        }
        return found;
}

/* --- back, with intervals ------------------------------------------------------------------------------ */

static void found_in(struct walk *w, uint32_t lot, struct interval at)
{
        if (w->n_links == w->cap_spans)
                bench_fail("floor", "more spans than there is room for");
        if (w->seen[lot] != w->round) {
                uint32_t pack = w->pack_of[lot];

                w->seen[lot] = w->round;
                w->lots[w->found++] = lot;
                w->at[lot] = UINT32_MAX;
                if (pack != UINT32_MAX) {
                        uint32_t run = w->run_of_pack[pack];

                        put_off(w, run);
                        w->n[lot] = w->head[run];
                        w->head[run] = lot;
                }
        }
        w->links[w->n_links] = (struct link){at, w->at[lot]};
        w->at[lot] = w->n_links++;
}

static uint32_t gather_back(struct walk *w, uint32_t run)
{
        uint32_t n = 0;

        for (uint32_t lot = w->head[run]; lot != UINT32_MAX; lot = w->n[lot]) {
                struct interval p = w->places[w->pack_of[lot]];

                for (uint32_t i = w->at[lot]; i != UINT32_MAX; i = w->links[i].before) {
                        struct interval at = w->links[i].at;

                        if (n == w->cap_here)
                                bench_fail("floor", "more spans in one run than there is room for");
                        w->here[n++] =
                                (struct interval){p.from + at.from, at.to < p.to - p.from ? p.from + at.to : p.to};
                }
        }
        return unite(w->here, n);
}

static struct interval mapped_back(const struct spot *f, bool inner, int32_t from, int32_t to)
{
        int64_t out = (int64_t)f->s1 - f->s0, in = (int64_t)f->to - f->from;

        if (from <= f->s0 && to >= f->s1)
                return (struct interval){f->from, f->to};
        int32_t a = from <= f->s0 ? 0 : (int32_t)((from - f->s0) * in / out);
        int32_t b = to >= f->s1 ? (int32_t)in : (int32_t)(((to - f->s0) * in + out - 1) / out);
        return inner ? (struct interval){f->from + a, f->from + b} : (struct interval){f->to - b, f->to - a};
}

static void take_back(struct walk *w, uint32_t run)
{
        uint32_t n = gather_back(w, run);

        for (uint32_t k = w->first_by_run[run]; k < w->first_by_run[run + 1]; k++) {
                uint32_t feed = w->by_run[k];
                const struct spot *f = &w->spots[feed];

                for (uint32_t i = 0; i < n && w->here[i].from < f->s1; i++)
                        if (w->here[i].to > f->s0)
                                found_in(w, w->lot_of_feed[feed],
                                         mapped_back(f, w->inner[feed], w->here[i].from, w->here[i].to));
        }
}

static uint32_t back_with_places(struct walk *w, const struct start *start)
{
        w->round++;
        w->n_links = w->found = 0;
        w->least = UINT32_MAX;
        w->most = 0;
        for (uint32_t i = 0; i < start->n; i++)
                found_in(w, start->lots[i], (struct interval){0, INT32_MAX});
        /* what a run takes was made by an earlier one */
        for (uint32_t word = w->most; w->least != UINT32_MAX; word--) {
                while (w->waiting[word]) {
                        uint32_t bit = 63 - (uint32_t)__builtin_clzll(w->waiting[word]);

                        w->waiting[word] &= ~(UINT64_C(1) << bit);
                        take_back(w, word * 64 + bit);
                }
                if (word == w->least)
                        break;
        }
        return w->found;
}

static uint32_t ask(void *ctx, const struct start *start)
{
        return start->what == ASK_REEL ? back(ctx, start) : forward(ctx, start);
}

static uint32_t ask_with_places(void *ctx, const struct start *start)
{
        return start->what == ASK_REEL ? back_with_places(ctx, start) : 0;
}

void floor_time(const struct graph *g, struct took *out, struct took *with_places)
{
        struct walk w;

        lay_out(&w, g);
        bench_ask(g, ask, &w, 9, false, out);
        bench_ask(g, ask, &w, 1, true, out);
        bench_ask(g, ask_with_places, &w, 9, false, with_places);
        bench_ask(g, ask_with_places, &w, 1, true, with_places);
        void *all[] = {w.run_of_feed, w.lot_of_feed, w.spots,        w.inner, w.lot_of_pack, w.run_of_pack, w.places,
                       w.pack_of,     w.by_run,      w.first_by_run, w.seen,  w.lots,        w.at,          w.n,
                       w.next,        w.head,        w.waiting,      w.spans, w.here,        w.links};
        for (size_t i = 0; i < sizeof(all) / sizeof(all[0]); i++)
                free(all[i]);
}
