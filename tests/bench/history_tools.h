#ifndef KW_BENCH_HISTORY_TOOLS_H
#define KW_BENCH_HISTORY_TOOLS_H
/*
 * What the stages of the invented mill share: chance, growing arrays, and lots in the order in which they come up.
 * Whatever is drawn by lot comes from one generator (SplitMix64: Steele, Lea and Flood 2014), so a seed and a number of
 * years name one history. A bench that has no memory left ends.
 */
#include "history.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define GRADES 4

static inline uint64_t next(struct history *h)
{
        uint64_t z = (h->random += UINT64_C(0x9E3779B97F4A7C15));

        z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
        z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
        return z ^ (z >> 31);
}

static inline double part(struct history *h)
{
        return (double)(next(h) >> 11) * (1.0 / 9007199254740992.0);
}

static inline double between(struct history *h, double a, double b)
{
        return a + (b - a) * part(h);
}

static inline uint32_t below(struct history *h, uint32_t n)
{
        return (uint32_t)(part(h) * n);
}

/* --- arrays that grow; a failure ends the program of the bench ----------------------------------- */

static inline void *more(void *at, size_t n, size_t *cap, size_t size)
{
        if (n < *cap)
                return at;
        *cap = *cap ? *cap + *cap / 2 : 65536;
        at = reallocarray(at, *cap, size);
        if (!at)
                abort();
        return at;
}

static inline uint32_t make_lot(struct history *h, enum lot_kind kind, uint32_t type, double length, double there)
{
        h->lots = more(h->lots, h->n_lots, &h->cap_lots, sizeof(*h->lots));
        h->lots[h->n_lots] = (struct lot){.there = there,
                                          .length_mm = (int32_t)length,
                                          .left_mm = (int32_t)length,
                                          .kind = (uint8_t)kind,
                                          .type = (uint8_t)type};
        return (uint32_t)h->n_lots++;
}

static inline struct run *start_run(struct history *h, enum process process, uint32_t machine, double start, double end)
{
        h->runs = more(h->runs, h->n_runs, &h->cap_runs, sizeof(*h->runs));
        h->runs[h->n_runs] = (struct run){.start = start,
                                          .end = end,
                                          .feed = (uint32_t)h->n_feeds,
                                          .lot = (uint32_t)h->n_lots,
                                          .process = (uint8_t)process,
                                          .machine = (uint8_t)machine,
                                          .lines = 1};
        return &h->runs[h->n_runs++];
}

static inline void take(struct history *h, uint32_t lot, uint32_t line, int32_t mm, double seen)
{
        h->feeds = more(h->feeds, h->n_feeds, &h->cap_feeds, sizeof(*h->feeds));
        h->feeds[h->n_feeds++] =
                (struct feed){.lot = lot, .take_mm = mm, .seen_mm = (int32_t)seen, .line = (uint16_t)line};
        h->lots[lot].left_mm -= mm;
        h->runs[h->n_runs - 1].feeds++;
}

static inline uint32_t put_out(struct history *h, enum lot_kind kind, uint32_t type, double length, double there,
                               uint32_t diameter)
{
        uint32_t lot = make_lot(h, kind, type, length, there);

        h->lots[lot].diameter_um = (uint16_t)diameter;
        h->runs[h->n_runs - 1].lots++;
        return lot;
}

/* --- a stage's lots in the order in which they come up ------------------------------------------- */

struct turn {
        double when;
        uint32_t lot;
};

struct turns {
        struct turn *at;
        size_t n;
};

static inline int by_time(const void *a, const void *b)
{
        const struct turn *x = a, *y = b;

        if (x->when != y->when)
                return x->when < y->when ? -1 : 1;
        return (x->lot > y->lot) - (x->lot < y->lot);
}

/* The lots of one kind and, unless it is negative, one type, shuffled by @jitter days. */
static inline struct turns line_up(struct history *h, size_t from, size_t to, enum lot_kind kind, int type,
                                   double jitter)
{
        struct turns t = {malloc((to - from + 1) * sizeof(struct turn)), 0};

        if (!t.at)
                abort();
        for (size_t i = from; i < to; i++)
                if (h->lots[i].kind == kind && (type < 0 || h->lots[i].type == type))
                        t.at[t.n++] = (struct turn){h->lots[i].there + jitter * part(h), (uint32_t)i};
        qsort(t.at, t.n, sizeof(*t.at), by_time);
        return t;
}

static inline double all_there(const struct history *h, const struct turn *at, size_t n)
{
        double when = 0;

        for (size_t i = 0; i < n; i++)
                when = fmax(when, h->lots[at[i].lot].there);
        return when;
}

static inline size_t at_most(size_t n, size_t left)
{
        return n < left ? n : left;
}

/* The stages of history_rope.c, from lots @from to @to. */
void history_strands(struct history *h, size_t from, size_t to);
void history_ropes(struct history *h, size_t from, size_t to);
void history_reels(struct history *h, size_t from, size_t to);
void history_consignments(struct history *h, size_t from, size_t to);

#endif
