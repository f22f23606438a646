/*
 * Every allocation failing in turn: the answer is -ENOMEM, nothing leaks, and what must stay unchanged does.
 *
 * The linker sends the program's own allocations through the counters below (--wrap).
 */
#include "mill.h"
#include "suite.h"

#include <errno.h>

static struct {
        bool armed;
        long until_failure; /* allocations that still succeed */
        long live;          /* blocks not yet freed, counted while armed */
        long failures;
} heap;

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
void *__real_reallocarray(void *p, size_t n, size_t size);
void __real_free(void *p);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);
void *__wrap_reallocarray(void *p, size_t n, size_t size);
void __wrap_free(void *p);

static bool fails(void)
{
        /* the n-th and no other: what comes after a failure must not rely on failing as well */
        if (!heap.armed || heap.until_failure-- != 0)
                return false;
        heap.failures++;
        return true;
}

static void *counted(void *p)
{
        if (heap.armed && p)
                heap.live++;
        return p;
}

void *__wrap_malloc(size_t n)
{
        return fails() ? NULL : counted(__real_malloc(n));
}

void *__wrap_calloc(size_t n, size_t size)
{
        return fails() ? NULL : counted(__real_calloc(n, size));
}

void *__wrap_realloc(void *p, size_t n)
{
        if (fails())
                return NULL;
        return p ? __real_realloc(p, n) : counted(__real_realloc(p, n));
}

void *__wrap_reallocarray(void *p, size_t n, size_t size)
{
        if (fails())
                return NULL;
        return p ? __real_reallocarray(p, n, size) : counted(__real_reallocarray(p, n, size));
}

void __wrap_free(void *p)
{
        if (heap.armed && p)
                heap.live--;
        __real_free(p);
}

static void coils_to_rope(struct mill *m)
{
        mill_split_bobbin(m, 1000);
        for (char name[] = "S0"; name[1] < '9'; name[1]++)
                mill_package(m, name, 125);
        mill_close(m);
        mill_run(m, "CL", 0);
        mill_line(m, "1");
        for (char name[] = "S0"; name[1] < '9'; name[1]++)
                mill_feed(m, name, 0, 125, KW_OFF_OUTER, 0);
        mill_package(m, "R1", 300);
        mill_package(m, "R2", 700);
        mill_close(m);
}

/* What went wrong while allocations were counted. Check allocates for its own assertions, so these wait. */
static const char *broken;
#define must(what)                      \
        do {                            \
                if (!(what) && !broken) \
                        broken = #what; \
        } while (0)

/* --- what is tried ---------------------------------------------------------------------------- */

static int forward(struct mill *m)
{
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? kw_hits_add(hits, mill_lot_id(m, "C"), 0, 500, KW_CERTAIN) : -ENOMEM;

        if (r == 0)
                r = kw_trace_forward(&g, hits, NULL);
        kw_hits_free(hits);
        return r;
}

static int back(struct mill *m)
{
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? kw_hits_add(hits, mill_lot_id(m, "R2"), 100, 500, KW_CERTAIN) : -ENOMEM;

        if (r == 0)
                r = kw_trace_back(&g, hits, NULL);
        kw_hits_free(hits);
        return r;
}

static int makeup(struct mill *m)
{
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *family = kw_hits_new();
        int64_t lot = mill_lot_id(m, "R2"), coils[] = {mill_lot_id(m, "C"), mill_lot_id(m, "D")};
        struct kw_reach reach = {0};
        int r = family ? kw_ancestry(&g, lot, family) : -ENOMEM;

        if (r == 0) {
                r = kw_makeup(&g, family, lot, coils, 2, &reach);
                if (r != 0)
                        must(reach.certain.n + reach.possible.n == 0);
        }
        kw_reach_free(&reach);
        kw_hits_free(family);
        return r;
}

static int joints(struct mill *m)
{
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *family = kw_hits_new();
        struct kw_joints list = {0};
        int64_t lot = mill_lot_id(m, "R2");
        int r = family ? kw_ancestry(&g, lot, family) : -ENOMEM;

        if (r == 0)
                r = kw_joints_on(&g, family, lot, &list);
        if (r == 0)
                must(list.n >= 9);
        kw_joints_free(&list);
        kw_hits_free(family);
        return r;
}

static int weld(struct mill *m)
{
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? kw_weld_spans(mill_run_of(m, mill_run_id(m, "ST")), 0, 520, 50, hits) : -ENOMEM;

        kw_hits_free(hits);
        return r;
}

/* So many lots that the table of hits grows; after a failure it must still hold what it held, and take more. */
static int many_hits(struct mill *m)
{
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? 0 : -ENOMEM, failed_at = -1;

        (void)m;
        for (int lot = 1; hits && lot <= 700; lot++) {
                int one = kw_hits_add(hits, lot, 0, lot, KW_CERTAIN);

                must(one == 0 || one == -ENOMEM);
                if (one != 0) {
                        r = one;
                        failed_at = lot;
                }
                must(!kw_hits_find(hits, lot) == (one != 0));
        }
        for (int lot = 1; hits && lot <= 700; lot++)
                must(!kw_hits_find(hits, lot) == (lot == failed_at));
        kw_hits_free(hits);
        return r;
}

static bool same(const struct kw_spans *a, const struct kw_spans *b)
{
        for (size_t i = 0; i < a->n && i < b->n; i++)
                if (a->at[i].from != b->at[i].from || a->at[i].to != b->at[i].to)
                        return false;
        return a->n == b->n;
}

/* Each operation appends to a list of one span, which must be just that after a failure. */
static int spans(struct mill *m)
{
        struct kw_span few[] = {{0, 10}, {20, 30}, {40, 50}, {60, 70}}, kept = {1000, 1001};
        const struct kw_spans four = {few, 4, 4}, one = {&kept, 1, 1};
        struct kw_feed feed = {.lot = 1, .from = 0, .to = 100, .off = KW_OFF_OUTER};
        const struct kw_line *line = &mill_run_of(m, mill_run_id(m, "DR"))->lines[0];
        int r = 0;

        for (int what = 0; r == 0 && what < 7; what++) {
                struct kw_spans out = {0};

                r = kw_spans_add(&out, kept.from, kept.to);
                if (r < 0)
                        return r;
                switch (what) {
                case 0:
                        r = kw_spans_merge(&out, &four);
                        break;
                case 1:
                        r = kw_spans_clip(&four, 5, 65, 5, &out);
                        break;
                case 2:
                        r = kw_spans_minus(&four, &one, &out);
                        break;
                case 3:
                        r = kw_spans_both(&four, &four, &out);
                        break;
                case 4:
                        r = kw_map_forward(line, 0, &four, KW_POSSIBLE, &out);
                        break;
                case 5:
                        r = kw_map_back(line, 0, &four, KW_CERTAIN, &out);
                        break;
                case 6:
                        r = kw_feed_to_line(&feed, &four, &out);
                        break;
                }
                if (r != 0)
                        must(same(&out, &one));
                kw_spans_free(&out);
        }
        return r;
}

/* A hit that is there already stays as it was when its spans find no room. */
static int hit_unchanged(struct mill *m)
{
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? 0 : -ENOMEM;

        (void)m;
        for (int64_t i = 0; hits && i < 20; i++) {
                struct kw_hit *hit = kw_hits_find(hits, 1);
                size_t certain = hit ? hit->reach.certain.n : 0, possible = hit ? hit->reach.possible.n : 0;
                int one = kw_hits_add(hits, 1, 10 * i, 10 * i + 5, i % 3 ? KW_CERTAIN : KW_POSSIBLE);

                if (one == 0)
                        continue;
                r = one;
                must(kw_hits_find(hits, 1) == hit);
                if (hit) {
                        must(hit->reach.certain.n == certain);
                        must(hit->reach.possible.n == possible);
                }
        }
        kw_hits_free(hits);
        return r;
}

static const struct {
        const char *name;
        int (*try)(struct mill *m);
        long least; /* failures that there must be before it succeeds: that the loop is a real one */
} tries[] = {
        {"forward", forward, 20},
        {"back", back, 20},
        {"makeup", makeup, 30},
        {"joints", joints, 60},
        {"weld", weld, 5},
        {"spans", spans, 14},
        {"many hits", many_hits, 2000},
        {"a hit unchanged", hit_unchanged, 5},
};

START_TEST(every_allocation_fails_once)
{
        struct mill *m = mill_new();
        long n = 0;
        int r;

        coils_to_rope(m);
        do {
                heap.live = 0;
                heap.failures = 0;
                heap.until_failure = n++;
                heap.armed = true;
                r = tries[_i].try(m);
                heap.armed = false;
                ck_assert_msg(!broken, "%s, allocation %ld: not so: %s", tries[_i].name, n, broken ? broken : "");
                ck_assert_msg(r == 0 || r == -ENOMEM, "%s: %d", tries[_i].name, r);
                ck_assert_msg(heap.live == 0, "%s, allocation %ld: %ld blocks leaked", tries[_i].name, n, heap.live);
                ck_assert_msg((r == 0) == (heap.failures == 0), "%s, allocation %ld: passed over", tries[_i].name, n);
        } while (r != 0);
        ck_assert_msg(n > tries[_i].least, "%s: %ld allocations", tries[_i].name, n);
        mill_free(m);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_allocation_fails_once, 0, sizeof tries / sizeof *tries);
}

int main(void)
{
        return run_suite("memory", add);
}
