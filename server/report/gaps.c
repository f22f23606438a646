/*
 * Finding and weighing gaps.
 *
 * A gap weighs the metres of sent lots in the forward trace of its metal. Every gap is a trace of its own; for a kind's
 * share all its metal is traced together, so that what two gaps reach is counted once.
 */
#include "gaps.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct kw_gaps_asked kw_gaps_usual(void)
{
        return (struct kw_gaps_asked){.long_mm = KW_GAP_LONG_MM, .late_s = KW_GAP_LATE_S};
}

int64_t kw_gaps_size(const struct kw_gaps *gaps)
{
        return gaps->head.size;
}

const struct kw_gaps_asked *kw_gaps_asked(const struct kw_gaps *gaps)
{
        return &gaps->asked;
}

bool kw_gaps_kind_known(const char *kind)
{
        const char *name;

        for (size_t i = 0; (name = kw_gap_kind(i)); i++) {
                if (strcmp(name, kind) == 0)
                        return true;
        }
        return false;
}

/* --- what was sold -------------------------------------------------------------------------------- */

/* A sent lot as a trace names it: by its number in the index, or by its id where there is no index. */
struct named {
        uint64_t name;
        struct kw_sold *sold;
};

struct scales {
        struct kw_gaps *g;
        struct kw_index *index;
        struct kw_walk *walk;
        struct kw_sold *sold;
        size_t n_sold;
        struct named *by_number, *by_id; /* in order of name */
        size_t n_numbers;
        struct kw_gaps_watch *watch;
};

/* How much of the time a finding takes is over when all gaps are found, and when each is weighed. */
#define FOUND   (KW_GAPS_ALL * 6 / 10)
#define WEIGHED (KW_GAPS_ALL * 9 / 10)

static void tell_found(void *ctx, size_t done, size_t of)
{
        atomic_store(&((struct kw_gaps_watch *)ctx)->far, (int)(FOUND * done / of));
}

static void tell_weighed(struct scales *s, size_t done)
{
        atomic_store(&s->watch->far, FOUND + (int)((WEIGHED - FOUND) * done / s->g->list.n));
}

static int by_name(const void *a, const void *b)
{
        const struct named *x = a, *y = b;

        return x->name < y->name ? -1 : x->name > y->name;
}

static struct kw_sold *sold_named(const struct named *list, size_t n, uint64_t name)
{
        const struct named key = {.name = name};
        const struct named *found = n ? bsearch(&key, list, n, sizeof(key), by_name) : NULL;

        return found ? found->sold : NULL;
}

/* A lot is of the month in which the first of it went out. */
static int gather_sold(struct scales *s, const struct kw_sent_row *sent, size_t n)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < n; i++) {
                struct kw_sold *last = s->n_sold ? &s->sold[s->n_sold - 1] : NULL;

                if (!last || last->lot != sent[i].lot) {
                        last = &s->sold[s->n_sold++];
                        *last = (struct kw_sold){.lot = sent[i].lot, .month = kw_sold_month(sent[i].at)};
                }
                rc = kw_spans_add(&last->sent, sent[i].from, sent[i].to);
        }
        for (size_t i = 0; i < s->n_sold; i++)
                kw_spans_unite(&s->sold[i].sent);
        return rc;
}

static int name_sold(struct scales *s)
{
        s->by_number = calloc(s->n_sold + 1, sizeof(*s->by_number));
        s->by_id = calloc(s->n_sold + 1, sizeof(*s->by_id));
        if (!s->by_number || !s->by_id)
                return -ENOMEM;
        for (size_t i = 0; i < s->n_sold; i++) {
                uint32_t number;

                s->by_id[i] = (struct named){(uint64_t)s->sold[i].lot, &s->sold[i]};
                if (s->index && kw_index_number(s->index, s->sold[i].lot, &number) == 0)
                        s->by_number[s->n_numbers++] = (struct named){number, &s->sold[i]};
        }
        qsort(s->by_number, s->n_numbers, sizeof(*s->by_number), by_name);
        qsort(s->by_id, s->n_sold, sizeof(*s->by_id), by_name);
        return 0;
}

static int read_sold(struct scales *s)
{
        const struct kw_sent_row *sent;
        size_t n;
        int rc = kw_read_sent(s->g->reader, &sent, &n);

        if (rc)
                return rc;
        s->sold = calloc(n + 1, sizeof(*s->sold));
        rc = s->sold ? gather_sold(s, sent, n) : -ENOMEM;
        return rc ? rc : name_sold(s);
}

/* --- weighing ----------------------------------------------------------------------------------------- */

/* What is done with each sent lot that a trace reaches. */
typedef int reached(void *ctx, struct kw_sold *sold, const struct kw_spans *possible);

static int follow_index(struct scales *s, const struct kw_gap_row *gap, size_t n, reached *fn, void *ctx)
{
        const struct kw_walk_hit *hits;
        const struct kw_narrow *spans;
        struct kw_spans possible = {0};
        size_t n_hits;
        int rc = kw_walk_begin(s->walk);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_gap_seed *seeds = s->g->list.seeds + gap[i].first;

                for (size_t k = 0; rc == 0 && k < gap[i].n; k++) {
                        uint32_t number;

                        if (seeds[k].to > UINT32_MAX || kw_index_number(s->index, seeds[k].lot, &number))
                                return -EOVERFLOW;
                        rc = kw_walk_seed(s->walk, number,
                                          (struct kw_narrow){(uint32_t)seeds[k].from, (uint32_t)seeds[k].to});
                }
        }
        if (rc == 0)
                rc = kw_walk_forward(s->walk);
        if (rc)
                return rc;
        hits = kw_walk_hits(s->walk, &n_hits);
        spans = kw_walk_spans(s->walk);
        for (size_t i = 0; rc == 0 && i < n_hits; i++) {
                struct kw_sold *sold = sold_named(s->by_number, s->n_numbers, hits[i].lot);

                kw_spans_clear(&possible);
                for (uint32_t k = 0; sold && rc == 0 && k < hits[i].possible; k++)
                        rc = kw_spans_add(&possible, spans[hits[i].at_possible + k].from,
                                          spans[hits[i].at_possible + k].to);
                if (sold && rc == 0)
                        rc = fn(ctx, sold, &possible);
        }
        kw_spans_free(&possible);
        return rc;
}

struct passing {
        struct scales *s;
        reached *fn;
        void *ctx;
};

static int pass_on(void *ctx, struct kw_hit *hit)
{
        struct passing *p = ctx;
        struct kw_sold *sold = sold_named(p->s->by_id, p->s->n_sold, (uint64_t)hit->lot);

        return sold ? p->fn(p->ctx, sold, &hit->reach.possible) : 0;
}

static int follow_tables(struct scales *s, const struct kw_gap_row *gap, size_t n, reached *fn, void *ctx)
{
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? 0 : -ENOMEM;

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_gap_seed *seeds = s->g->list.seeds + gap[i].first;

                for (size_t k = 0; rc == 0 && k < gap[i].n; k++)
                        rc = kw_hits_add(hits, seeds[k].lot, seeds[k].from, seeds[k].to, KW_CERTAIN);
        }
        if (rc == 0)
                rc = kw_trace_forward(kw_reader_genealogy(s->g->reader), hits, NULL);
        if (rc == 0)
                rc = kw_hits_each(hits, pass_on, &(struct passing){s, fn, ctx});
        kw_hits_free(hits);
        return rc;
}

/* The sent lots that the metal of @n gaps side by side reaches. */
static int follow(struct scales *s, const struct kw_gap_row *gap, size_t n, reached *fn, void *ctx)
{
        int rc = s->walk ? follow_index(s, gap, n, fn, ctx) : -EOVERFLOW;

        if (rc == -EOVERFLOW)
                rc = follow_tables(s, gap, n, fn, ctx);
        if (rc == 0 && atomic_load(&s->watch->stop))
                rc = -ECANCELED;
        return rc;
}

static int add_weight(void *ctx, struct kw_sold *sold, const struct kw_spans *possible)
{
        struct kw_gap_weight *w = ctx;
        int64_t mm = kw_sold_reach(sold, possible);

        if (mm < 0)
                return (int)mm;
        w->sold_mm += mm;
        w->lots += mm > 0;
        return 0;
}

static int weigh_each(struct scales *s)
{
        struct kw_gap_list *list = &s->g->list;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < list->n; i++) {
                struct kw_gap_weight *w = &s->g->weights[i];

                for (size_t k = 0; k < list->rows[i].n; k++) {
                        const struct kw_gap_seed *seed = &list->seeds[list->rows[i].first + k];

                        w->metal_mm += seed->to - seed->from;
                }
                if (list->rows[i].n)
                        rc = follow(s, &list->rows[i], 1, add_weight, w);
                tell_weighed(s, i);
        }
        return rc;
}

struct touching {
        size_t kind;
};

static int touch(void *ctx, struct kw_sold *sold, const struct kw_spans *possible)
{
        return kw_sold_touch(sold, ((struct touching *)ctx)->kind, possible);
}

/* The gaps of a kind follow one another. */
static int weigh_kinds(struct scales *s)
{
        struct kw_gap_list *list = &s->g->list;
        int rc = 0;

        for (size_t i = 0, end; rc == 0 && i < list->n; i = end) {
                struct touching t = {list->rows[i].kind};

                for (end = i; end < list->n && list->rows[end].kind == t.kind;)
                        end++;
                s->g->totals[t.kind].gaps = (int64_t)(end - i);
                rc = follow(s, &list->rows[i], end - i, touch, &t);
        }
        return rc;
}

static int sum_up(struct scales *s)
{
        struct kw_gaps *g = s->g;
        uint32_t broken = 0;
        int64_t n;

        g->months = calloc(s->n_sold + 1, sizeof(*g->months));
        if (!g->months)
                return -ENOMEM;
        for (size_t k = 0; k < g->kinds; k++)
                broken |= kw_gap_broken(k) ? UINT32_C(1) << k : 0;
        n = kw_sold_months(s->sold, s->n_sold, g->kinds, broken, g->months);
        if (n < 0)
                return (int)n;
        g->n_months = (size_t)n;
        for (size_t i = 0; i < g->n_months; i++) {
                g->sold_mm += g->months[i].sold_mm;
                g->under_any_mm += g->months[i].under_any_mm;
                g->under_broken_mm += g->months[i].under_broken_mm;
                for (size_t k = 0; k < g->kinds; k++)
                        g->totals[k].under_mm += g->months[i].under_mm[k];
        }
        return 0;
}

/* --- the order ---------------------------------------------------------------------------------------- */

static int worst_first(const void *a, const void *b, void *ctx)
{
        const struct kw_gaps *g = ctx;
        const size_t i = *(const size_t *)a, k = *(const size_t *)b;

        if (g->weights[i].sold_mm != g->weights[k].sold_mm)
                return g->weights[i].sold_mm > g->weights[k].sold_mm ? -1 : 1;
        if (g->weights[i].metal_mm != g->weights[k].metal_mm)
                return g->weights[i].metal_mm > g->weights[k].metal_mm ? -1 : 1;
        return i < k ? -1 : i > k;
}

static int put_in_order(struct kw_gaps *g)
{
        g->order = calloc(g->list.n + 1, sizeof(*g->order));
        if (!g->order)
                return -ENOMEM;
        for (size_t i = 0; i < g->list.n; i++)
                g->order[i] = i;
        qsort_r(g->order, g->list.n, sizeof(*g->order), worst_first, g);
        return 0;
}

/* --- all of it ------------------------------------------------------------------------------------------ */

static int weigh(struct kw_gaps *g, struct kw_index *index, struct kw_gaps_watch *watch)
{
        struct scales s = {.g = g, .index = index, .watch = watch};
        int rc = index ? kw_walk_new(index, &s.walk) : 0;

        g->weights = calloc(g->list.n + 1, sizeof(*g->weights));
        if (rc == 0 && !g->weights)
                rc = -ENOMEM;
        if (rc == 0)
                rc = read_sold(&s);
        if (rc == 0)
                rc = weigh_each(&s);
        if (rc == 0)
                rc = weigh_kinds(&s);
        if (rc == 0)
                rc = sum_up(&s);
        for (size_t i = 0; i < s.n_sold; i++)
                kw_sold_free(&s.sold[i]);
        free(s.sold);
        free(s.by_number);
        free(s.by_id);
        kw_walk_free(s.walk);
        return rc ? rc : put_in_order(g);
}

static int find(struct kw_gaps *g, struct kw_ledger *ledger, struct kw_index *index, struct kw_gaps_watch *watch,
                struct kw_error *err)
{
        const struct kw_gap_settings settings = {.long_mm = g->asked.long_mm, .late_s = g->asked.late_s};
        int rc = kw_ledger_head(ledger, &g->head, err);

        if (rc == 0)
                rc = kw_reader_new(ledger, &g->reader);
        while (kw_gap_kind(g->kinds))
                g->kinds++;
        if (rc == 0)
                rc = kw_read_gaps(g->reader, index, &settings, &watch->stop, tell_found, watch, &g->list);
        if (rc == 0)
                rc = weigh(g, index, watch);
        return rc == -ECANCELED || !g->reader ? rc : kw_reader_failed(g->reader, rc, err);
}

int kw_gaps_find(struct kw_ledger *ledger, struct kw_index *index, const struct kw_gaps_asked *asked,
                 struct kw_gaps_watch *watch, struct kw_gaps **out, struct kw_error *err)
{
        struct kw_gaps *g = calloc(1, sizeof(*g));
        int rc;

        if (!g)
                return -ENOMEM;
        g->asked = *asked;
        rc = find(g, ledger, index, watch, err);
        if (rc) {
                kw_gaps_free(g);
                return rc;
        }
        *out = g;
        return 0;
}

void kw_gaps_free(struct kw_gaps *g)
{
        if (!g)
                return;
        kw_reader_free(g->reader);
        kw_gap_list_free(&g->list);
        free(g->weights);
        free(g->order);
        free(g->months);
        free(g);
}
