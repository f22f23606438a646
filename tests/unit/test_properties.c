/*
 * Properties that hold in any mill, tried on random ones.
 *
 * The strongest: whatever the counters' true errors were, as long as they lay within the tolerance, what is called
 * certain is affected, and what is affected is called possible. A true course of events is drawn at random, a
 * millimetre of wire is followed through it in floating point, and the trace must agree.
 */
#include "mill.h"
#include "suite.h"

#include <math.h>
#include <string.h>

#define MILLS 250

/* One true course of events: on each line of each run the counter was off by @off times the uncertainty, -1 .. 1. */
struct truth {
        struct mill *m;
        double off[MILL_RUNS][MILL_LINES];
        const struct kw_hits *origin;
};

static struct truth draw_truth(struct mill *m, struct dice *d, const struct kw_hits *origin)
{
        struct truth t = {.m = m, .origin = origin};

        for (size_t i = 0; i < MILL_RUNS; i++)
                for (size_t j = 0; j < MILL_LINES; j++) {
                        int64_t kind = dice_between(d, 0, 3);
                        double any = (double)dice_between(d, -1000, 1000) / 1000;

                        t.off[i][j] = kind == 0 ? 1 : kind == 1 ? -1 : any;
                }
        return t;
}

static double off_of(const struct truth *t, const struct kw_run *run, size_t line)
{
        for (size_t i = 0; i < t->m->n_runs; i++)
                if (&t->m->runs[i].run == run)
                        return t->off[i][line];
        abort();
}

static const struct kw_point *piece_at_s(const struct kw_line *line, long double s)
{
        size_t i = 0;

        while (i + 2 < line->n_points && (long double)line->points[i + 1].s <= s)
                i++;
        return &line->points[i];
}

/* The x with x + off u(x) = s: the other way round, since each half of a piece is stretched by 1 + off t or 1 - off t.
 */
static long double undo_error(const struct kw_run *run, const struct kw_line *line, double off, long double s)
{
        const struct kw_point *p = piece_at_s(line, s);
        long double a = (long double)p[0].s, b = (long double)p[1].s, t = off * (long double)run->tolerance_ppm / 1e6L;
        long double low = a + (s - a) / (1 + t);

        return low <= (a + b) / 2 ? low : b - (b - s) / (1 - t);
}

static long double s_to_v(const struct kw_line *line, long double s)
{
        const struct kw_point *p = piece_at_s(line, s);

        return (long double)p[0].v +
               (s - (long double)p[0].s) * (long double)(p[1].v - p[0].v) / (long double)(p[1].s - p[0].s);
}

static long double v_to_s(const struct kw_line *line, long double v)
{
        size_t i = 0;

        while (i + 2 < line->n_points && (long double)line->points[i + 1].v <= v)
                i++;
        const struct kw_point *p = &line->points[i];
        return (long double)p[0].s +
               (v - (long double)p[0].v) * (long double)(p[1].s - p[0].s) / (long double)(p[1].v - p[0].v);
}

static bool lies_on(const struct kw_spans *spans, long double x)
{
        for (size_t i = 0; i < spans->n; i++)
                if ((long double)spans->at[i].from <= x && x <= (long double)spans->at[i].to)
                        return true;
        return false;
}

static bool in_origin(const struct truth *t, int64_t lot, long double x)
{
        const struct kw_hit *hit = kw_hits_find(t->origin, lot);

        return hit && lies_on(&hit->reach.certain, x);
}

/* Whether the wire at @x of @lot was made of something in the origin, on any line. */
static bool made_of_origin(const struct truth *t, int64_t lot, long double x)
{
        if (in_origin(t, lot, x))
                return true;
        const struct kw_run *run = mill_run_of(t->m, mill_lot_of(t->m, lot)->maker);
        if (!run)
                return false;

        long double s = x;
        for (size_t i = 0; i < run->n_packages; i++)
                if (run->packages[i].lot == lot)
                        s += (long double)run->packages[i].s0;
        for (size_t i = 0; i < run->n_lines; i++) {
                const struct kw_line *line = &run->lines[i];
                long double v = s_to_v(line, undo_error(run, line, off_of(t, run, i), s));

                for (size_t j = 0; j < line->n_feeds; j++) {
                        const struct kw_feed *f = &line->feeds[j];
                        long double along = v - (long double)f->v0;

                        if (along < 0 || along > (long double)(f->to - f->from))
                                continue;
                        if (made_of_origin(t, f->lot,
                                           f->off == KW_OFF_INNER ? (long double)f->from + along
                                                                  : (long double)f->to - along))
                                return true;
                }
        }
        return false;
}

/* Whether the wire at @x of @lot went into something in the origin. The error is read from the output's side. */
static bool went_into_origin(const struct truth *t, int64_t lot, long double x)
{
        if (in_origin(t, lot, x))
                return true;
        for (size_t i = 0; i < t->m->n_runs; i++) {
                const struct kw_run *run = &t->m->runs[i].run;

                for (size_t j = 0; j < run->n_lines; j++)
                        for (size_t k = 0; k < run->lines[j].n_feeds; k++) {
                                const struct kw_feed *f = &run->lines[j].feeds[k];

                                if (f->lot != lot || x < (long double)f->from || x > (long double)f->to)
                                        continue;
                                long double along =
                                        f->off == KW_OFF_INNER ? x - (long double)f->from : (long double)f->to - x;
                                long double s = undo_error(run, &run->lines[j], t->off[i][j],
                                                           v_to_s(&run->lines[j], (long double)f->v0 + along));

                                for (size_t p = 0; p < run->n_packages; p++)
                                        if (run->packages[p].lot && (long double)run->packages[p].s0 <= s &&
                                            s <= (long double)run->packages[p].s1 &&
                                            went_into_origin(t, run->packages[p].lot,
                                                             s - (long double)run->packages[p].s0))
                                                return true;
                        }
        }
        return false;
}

static void random_origin(struct mill *m, struct dice *d, struct kw_hits *hits)
{
        for (int64_t i = dice_between(d, 1, 3); i > 0; i--) {
                int64_t lot = dice_between(d, 1, (int64_t)m->n_lots), length = mill_lot_of(m, lot)->length;
                int64_t from = dice_between(d, 0, length - 1), to = dice_between(d, from + 1, length);

                if (dice_between(d, 0, 1)) {
                        from = 0;
                        to = length;
                }
                ck_assert_int_eq(kw_hits_add(hits, lot, from, to, KW_CERTAIN), 0);
        }
}

static struct kw_hits *copy(const struct kw_hits *hits, struct mill *m)
{
        struct kw_hits *c = kw_hits_new();

        for (size_t i = 1; i <= m->n_lots; i++) {
                const struct kw_hit *hit = kw_hits_find(hits, (int64_t)i);

                for (size_t k = 0; hit && k < hit->reach.certain.n; k++)
                        kw_hits_add(c, hit->lot, hit->reach.certain.at[k].from, hit->reach.certain.at[k].to,
                                    KW_CERTAIN);
                for (size_t k = 0; hit && k < hit->reach.possible.n; k++)
                        kw_hits_add(c, hit->lot, hit->reach.possible.at[k].from, hit->reach.possible.at[k].to,
                                    KW_POSSIBLE);
        }
        return c;
}

typedef int trace_fn(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within);
typedef bool true_fn(const struct truth *t, int64_t lot, long double x);

/* --- the shape of an answer ------------------------------------------------------------------- */

static void in_order(const struct kw_spans *s, int64_t length)
{
        for (size_t i = 0; i < s->n; i++) {
                ck_assert_int_lt(s->at[i].from, s->at[i].to);
                if (i)
                        ck_assert_int_gt(s->at[i].from, s->at[i - 1].to);
        }
        if (s->n) {
                ck_assert_int_ge(s->at[0].from, 0);
                ck_assert_int_le(s->at[s->n - 1].to, length);
        }
}

static int64_t outside(const struct kw_spans *inner, const struct kw_spans *outer)
{
        struct kw_spans rest = {0};

        ck_assert_int_eq(kw_spans_minus(inner, outer, &rest), 0);
        int64_t total = kw_spans_total(&rest);
        kw_spans_free(&rest);
        return total;
}

static int well_formed(void *ctx, struct kw_hit *hit)
{
        struct mill *m = ctx;
        const struct mill_lot *lot = mill_lot_of(m, hit->lot);

        ck_assert_uint_gt(hit->reach.possible.n, 0);
        in_order(&hit->reach.certain, lot->length);
        in_order(&hit->reach.possible, lot->length);
        ck_assert_int_eq(outside(&hit->reach.certain, &hit->reach.possible), 0);
        ck_assert_uint_eq(hit->depth, lot->depth);
        return 0;
}

/* --- against the truth ------------------------------------------------------------------------ */

static void against_truth(struct mill *m, struct dice *d, const struct kw_hits *origin, const struct kw_hits *answer,
                          true_fn *affected)
{
        static const struct kw_reach nothing;
        struct truth t = draw_truth(m, d, origin);

        for (size_t lot = 1; lot <= m->n_lots; lot++) {
                const struct kw_hit *hit = kw_hits_find(answer, (int64_t)lot);
                const struct kw_reach *reach = hit ? &hit->reach : &nothing;

                for (int i = 0; i < 4; i++) {
                        long double x = (long double)dice_between(d, 0, m->lots[lot - 1].length - 1) + 0.5L;
                        bool is = affected(&t, (int64_t)lot, x);

                        ck_assert_msg(!is || lies_on(&reach->possible, x), "%s at %.1Lf is affected, and not possible",
                                      m->lots[lot - 1].name, x);
                        ck_assert_msg(is || !lies_on(&reach->certain, x), "%s at %.1Lf is certain, and not affected",
                                      m->lots[lot - 1].name, x);
                }
        }
}

static void answers_hold(uint64_t seed, trace_fn *trace, true_fn *affected)
{
        struct dice d = {seed};
        struct mill *m = mill_random(&d, seed % 3 ? 200000 : 0, true);
        struct kw_genealogy g = mill_genealogy(m);

        for (int i = 0; i < 4; i++) {
                struct kw_hits *origin = kw_hits_new();

                random_origin(m, &d, origin);
                struct kw_hits *answer = copy(origin, m);
                ck_assert_int_eq(trace(&g, answer, NULL), 0);
                kw_hits_each(answer, well_formed, m);
                for (int k = 0; k < 4; k++)
                        against_truth(m, &d, origin, answer, affected);
                kw_hits_free(answer);
                kw_hits_free(origin);
        }
        mill_free(m);
}

START_TEST(forward_agrees_with_any_truth)
{
        for (uint64_t seed = 1; seed <= MILLS; seed++)
                answers_hold(seed, kw_trace_forward, made_of_origin);
}
END_TEST

START_TEST(back_agrees_with_any_truth)
{
        for (uint64_t seed = 1; seed <= MILLS; seed++)
                answers_hold(seed, kw_trace_back, went_into_origin);
}
END_TEST

/* --- the nominal millimetre ------------------------------------------------------------------- */

/* Follows @x of @lot by proportion to where it ended. Return: false when it was scrapped. */
static bool follow(struct mill *m, int64_t *lot, long double *x)
{
        for (size_t i = 0; i < m->n_runs; i++) {
                const struct kw_run *run = &m->runs[i].run;

                for (size_t j = 0; j < run->n_lines; j++)
                        for (size_t k = 0; k < run->lines[j].n_feeds; k++) {
                                const struct kw_feed *f = &run->lines[j].feeds[k];

                                if (f->lot != *lot || *x < (long double)f->from || *x > (long double)f->to)
                                        continue;
                                long double along =
                                        f->off == KW_OFF_INNER ? *x - (long double)f->from : (long double)f->to - *x;
                                long double s = v_to_s(&run->lines[j], (long double)f->v0 + along);
                                size_t p = 0;

                                while (s > (long double)run->packages[p].s1)
                                        p++;
                                *lot = run->packages[p].lot;
                                *x = s - (long double)run->packages[p].s0;
                                return *lot != 0 && follow(m, lot, x);
                        }
        }
        return true;
}

START_TEST(a_millimetre_is_found_where_it_went_and_where_it_came_from)
{
        for (uint64_t seed = 1; seed <= MILLS; seed++) {
                struct dice d = {seed};
                struct mill *m = mill_random(&d, 900000, true);
                struct kw_genealogy g = mill_genealogy(m);

                for (int i = 0; i < 20; i++) {
                        int64_t from_lot = dice_between(&d, 1, (int64_t)m->n_lots), to_lot = from_lot;
                        int64_t mm = dice_between(&d, 0, mill_lot_of(m, from_lot)->length - 1);
                        long double x = (long double)mm + 0.5L, y = x;

                        if (!follow(m, &to_lot, &y))
                                continue;
                        struct kw_hits *there = kw_hits_new(), *back = kw_hits_new();
                        kw_hits_add(there, from_lot, mm, mm + 1, KW_CERTAIN);
                        int64_t y_mm = (int64_t)fminl(floorl(y), (long double)mill_lot_of(m, to_lot)->length - 1);
                        kw_hits_add(back, to_lot, y_mm, y_mm + 1, KW_CERTAIN);
                        ck_assert_int_eq(kw_trace_forward(&g, there, NULL), 0);
                        ck_assert_int_eq(kw_trace_back(&g, back, NULL), 0);
                        const struct kw_hit *end = kw_hits_find(there, to_lot), *start = kw_hits_find(back, from_lot);
                        ck_assert_msg(end && lies_on(&end->reach.possible, y), "seed %d: forward", (int)seed);
                        ck_assert_msg(start && lies_on(&start->reach.possible, x), "seed %d: back", (int)seed);
                        kw_hits_free(there);
                        kw_hits_free(back);
                }
                mill_free(m);
        }
}
END_TEST

/* --- two origins ------------------------------------------------------------------------------ */

static int add_all(void *ctx, struct kw_hit *hit)
{
        for (size_t i = 0; i < hit->reach.certain.n; i++)
                kw_hits_add(ctx, hit->lot, hit->reach.certain.at[i].from, hit->reach.certain.at[i].to, KW_CERTAIN);
        for (size_t i = 0; i < hit->reach.possible.n; i++)
                kw_hits_add(ctx, hit->lot, hit->reach.possible.at[i].from, hit->reach.possible.at[i].to, KW_POSSIBLE);
        return 0;
}

/*
 * What is possible from both is what is possible from either. What is certain may be more: two affected coils welded
 * together leave no doubtful gap at their weld.
 */
static void trace_of_both(uint64_t seed, trace_fn *trace)
{
        struct dice d = {seed};
        struct mill *m = mill_random(&d, 900000, true);
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *a = kw_hits_new(), *b = kw_hits_new(), *both = kw_hits_new(), *either = kw_hits_new();

        random_origin(m, &d, a);
        random_origin(m, &d, b);
        kw_hits_each(a, add_all, both);
        kw_hits_each(b, add_all, both);
        ck_assert_int_eq(trace(&g, a, NULL), 0);
        ck_assert_int_eq(trace(&g, b, NULL), 0);
        ck_assert_int_eq(trace(&g, both, NULL), 0);
        kw_hits_each(a, add_all, either);
        kw_hits_each(b, add_all, either);

        ck_assert_uint_eq(kw_hits_count(both), kw_hits_count(either));
        for (size_t i = 1; i <= m->n_lots; i++) {
                const struct kw_hit *x = kw_hits_find(both, (int64_t)i), *y = kw_hits_find(either, (int64_t)i);

                ck_assert_int_eq(!x, !y);
                if (!x || !y)
                        continue;
                ck_assert_uint_eq(x->reach.possible.n, y->reach.possible.n);
                ck_assert_int_eq(outside(&x->reach.possible, &y->reach.possible), 0);
                ck_assert_int_eq(outside(&y->reach.possible, &x->reach.possible), 0);
                ck_assert_int_eq(outside(&y->reach.certain, &x->reach.certain), 0);
        }
        kw_hits_free(a);
        kw_hits_free(b);
        kw_hits_free(both);
        kw_hits_free(either);
        mill_free(m);
}

START_TEST(possible_of_both_is_possible_of_either)
{
        for (uint64_t seed = 1; seed <= 4 * MILLS; seed++) {
                trace_of_both(seed, kw_trace_forward);
                trace_of_both(seed, kw_trace_back);
        }
}
END_TEST

/* --- makeup and joints ------------------------------------------------------------------------ */

START_TEST(makeup_is_the_trace_kept_to_one_lot)
{
        for (uint64_t seed = 1; seed <= MILLS; seed++) {
                struct dice d = {seed};
                struct mill *m = mill_random(&d, 900000, true);
                struct kw_genealogy g = mill_genealogy(m);

                for (int i = 0; i < 10; i++) {
                        int64_t lot = dice_between(&d, 1, (int64_t)m->n_lots), group[3];
                        struct kw_hits *family = kw_hits_new(), *all = kw_hits_new();
                        struct kw_reach makeup;
                        char got[MILL_TEXT] = "", expected[MILL_TEXT] = "";

                        for (size_t k = 0; k < 3; k++) {
                                do
                                        group[k] = dice_between(&d, 1, (int64_t)m->n_lots);
                                while (group[k] == lot && m->n_lots > 1);
                                kw_hits_add(all, group[k], 0, KW_LENGTH_MAX, KW_CERTAIN);
                        }
                        ck_assert_int_eq(kw_ancestry(&g, lot, family), 0);
                        ck_assert_int_eq(kw_makeup(&g, family, lot, group, 3, &makeup), 0);
                        ck_assert_int_eq(kw_trace_forward(&g, all, NULL), 0);

                        const struct kw_hit *hit = kw_hits_find(all, lot);
                        mill_tell_spans(&makeup.certain, got);
                        mill_tell_spans(&makeup.possible, got);
                        mill_tell_spans(hit ? &hit->reach.certain : &(struct kw_spans){0}, expected);
                        mill_tell_spans(hit ? &hit->reach.possible : &(struct kw_spans){0}, expected);
                        ck_assert_str_eq(got, expected);
                        kw_reach_free(&makeup);
                        kw_hits_free(family);
                        kw_hits_free(all);
                }
                mill_free(m);
        }
}
END_TEST

/* The ranges of a joint's ways together are its trace; only a bare point on a boundary may be told once or twice. */
static void joint_against_trace(struct mill *m, const struct kw_joints *joints, const struct kw_joint_place *place,
                                int64_t lot)
{
        struct kw_genealogy g = mill_genealogy(m);
        const struct kw_run *run = mill_run_of(m, place->run);
        struct kw_hits *hits = kw_hits_new();
        struct kw_spans ways = {0}, none = {0};

        ck_assert_int_eq(kw_weld_spans(run, place->line, run->lines[place->line].feeds[place->feed].v0, 0, hits), 0);
        ck_assert_int_eq(kw_trace_forward(&g, hits, NULL), 0);
        for (size_t i = 0; i < joints->n; i++)
                if (memcmp(&joints->at[i].place, place, sizeof *place) == 0)
                        kw_spans_add(&ways, joints->at[i].possible.from, joints->at[i].possible.to);
        kw_spans_unite(&ways);

        struct kw_hit *hit = kw_hits_find(hits, lot);
        const struct kw_spans *traced = hit ? &hit->reach.possible : &none;
        ck_assert_int_eq(outside(&ways, traced), 0);
        ck_assert_int_eq(outside(traced, &ways), 0);
        kw_spans_free(&ways);
        kw_hits_free(hits);
}

START_TEST(joints_are_the_traces_of_bare_joints)
{
        size_t seen = 0;

        for (uint64_t seed = 1; seed <= MILLS; seed++) {
                struct dice d = {seed};
                struct mill *m = mill_random(&d, 300000, true);
                struct kw_genealogy g = mill_genealogy(m);

                for (int i = 0; i < 5; i++) {
                        int64_t lot = dice_between(&d, 1, (int64_t)m->n_lots);
                        struct kw_hits *family = kw_hits_new();
                        struct kw_joints joints = {0};

                        ck_assert_int_eq(kw_ancestry(&g, lot, family), 0);
                        ck_assert_int_eq(kw_joints_on(&g, family, lot, &joints), 0);
                        for (size_t r = 0; r < m->n_runs; r++)
                                for (size_t l = 0; l < m->runs[r].run.n_lines; l++)
                                        for (size_t f = 1; f < m->runs[r].lines[l].n_feeds; f++)
                                                joint_against_trace(m, &joints,
                                                                    &(struct kw_joint_place){m->runs[r].run.id, l, f},
                                                                    lot);
                        for (size_t k = 0; k < joints.n; k++) {
                                const struct kw_joint *j = &joints.at[k];

                                if (k)
                                        ck_assert_int_ge(j->possible.from, joints.at[k - 1].possible.from);
                                if (j->nominal)
                                        ck_assert(j->possible.from <= j->at_mm && j->at_mm <= j->possible.to);
                                ck_assert_int_eq(j->steps[0].run, mill_lot_of(m, lot)->maker);
                                ck_assert_int_eq(j->steps[j->n_steps - 1].run, j->place.run);
                                ck_assert_uint_eq(j->steps[j->n_steps - 1].line, j->place.line);
                        }
                        seen += joints.n;
                        kw_joints_free(&joints);
                        kw_hits_free(family);
                }
                mill_free(m);
        }
        ck_assert_uint_gt(seen, MILLS);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, forward_agrees_with_any_truth);
        tcase_add_test(tests, back_agrees_with_any_truth);
        tcase_add_test(tests, a_millimetre_is_found_where_it_went_and_where_it_came_from);
        tcase_add_test(tests, possible_of_both_is_possible_of_either);
        tcase_add_test(tests, makeup_is_the_trace_kept_to_one_lot);
        tcase_add_test(tests, joints_are_the_traces_of_bare_joints);
}

int main(void)
{
        return run_suite("properties", add);
}
