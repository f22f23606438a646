/*
 * The run map: the design's rounding worked by hand, feeds from either end, known points.
 */
#include "kinwire/runmap.h"
#include "suite.h"

#include <inttypes.h>

#define NOTHING -1

/* With V = S a place on v is the same place on s, so that a point shows its uncertainty on either side. */
static const struct {
        const char *name;
        int64_t s, known[4];
        int32_t ppm;
        int64_t u;
} uncertain[] = {
        {"run's start", 0, {0, 60000}, 10000, 0},
        {"run's end", 60000, {0, 60000}, 10000, 0},
        {"half way", 30000, {0, 60000}, 10000, 300},
        {"a third of the way", 20000, {0, 60000}, 10000, 200},
        {"two thirds of the way", 40000, {0, 60000}, 10000, 200},
        {"at a seen weld", 30100, {0, 30100, 60000}, 10000, 0},
        {"half way to a seen weld", 15050, {0, 30100, 60000}, 10000, 151},
        {"after a seen weld", 30200, {0, 30100, 60000}, 10000, 1},
        {"between two seen welds", 35000, {0, 30000, 40000, 60000}, 10000, 50},
        {"1 mm from the start, rounded up", 1, {0, 60000}, 10000, 1},
        {"no tolerance", 30000, {0, 60000}, 0, 0},
        {"the greatest tolerance", 30000, {0, 60000}, 999999, 30000},
        {"1 ppm over the longest run", 500000000000, {0, 1000000000000}, 1, 500000},
};

START_TEST(how_sure_a_place_is)
{
        for (size_t i = 0; i < sizeof uncertain / sizeof *uncertain; i++) {
                struct kw_point points[4] = {0};
                struct kw_line line = {.points = points, .n_points = 1};
                for (size_t k = 1; k < 4 && uncertain[i].known[k]; k++)
                        points[line.n_points++] = (struct kw_point){uncertain[i].known[k], uncertain[i].known[k]};

                int64_t at = uncertain[i].s, u = uncertain[i].u;
                struct kw_span point = {at, at};
                const struct kw_spans in = {&point, 1, 1};
                struct kw_spans there = {0}, back = {0}, surely = {0};

                ck_assert_int_eq(kw_map_forward(&line, uncertain[i].ppm, &in, KW_POSSIBLE, &there), 0);
                ck_assert_int_eq(kw_map_back(&line, uncertain[i].ppm, &in, KW_POSSIBLE, &back), 0);
                ck_assert_int_eq(kw_map_forward(&line, uncertain[i].ppm, &in, KW_CERTAIN, &surely), 0);
                ck_assert_msg(there.at[0].from == at - u && there.at[0].to == at + u, "%s: %" PRId64 "..%" PRId64,
                              uncertain[i].name, there.at[0].from, there.at[0].to);
                ck_assert_msg(back.at[0].from == at - u && back.at[0].to == at + u, "%s, back: %" PRId64 "..%" PRId64,
                              uncertain[i].name, back.at[0].from, back.at[0].to);
                /* a bare joint is surely at a place only where the place is exact */
                ck_assert_msg(surely.n == (u == 0), "%s, certain", uncertain[i].name);
                ck_assert_int_eq(kw_map_nominal(&line, at), at);
                kw_spans_free(&there);
                kw_spans_free(&back);
                kw_spans_free(&surely);
        }
}
END_TEST

enum way { FORWARD, BACK };

/*
 * Worked by hand. On the line 0..3 -> 0..10, v = 1 is s = 3 1/3 and v = 2 is s = 6 2/3; with a tolerance of 10 %:
 *   possible lower end of 1: floor 3, d = 3, less ceil(0.3) = 2;  upper end of 2: ceil 7, d = 3, plus ceil(0.3) = 8
 *   certain lower end of 1: ceil 4, d = 4, plus ceil(0.4) = 5;    upper end of 2: floor 6, d = 4, less ceil(0.4) = 5
 * Back on 0..30 -> 0..100, s = 40 moves to 36 (possible) or 44 (certain), which is v = 10.8 or 13.2.
 */
static const struct {
        const char *name;
        struct kw_point points[4];
        int32_t ppm;
        enum way way;
        struct kw_span in, certain, possible;
} maps[] = {
        {"thirds, no tolerance", {{0, 0}, {3, 10}}, 0, FORWARD, {1, 2}, {4, 6}, {3, 7}},
        {"thirds, 10 %: nothing is certain", {{0, 0}, {3, 10}}, 100000, FORWARD, {1, 2}, {NOTHING, 0}, {2, 8}},
        {"the whole is exact", {{0, 0}, {3, 10}}, 100000, FORWARD, {0, 3}, {0, 10}, {0, 10}},
        {"from the start", {{0, 0}, {3, 10}}, 100000, FORWARD, {0, 1}, {0, 2}, {0, 5}},
        {"to the end", {{0, 0}, {3, 10}}, 100000, FORWARD, {2, 3}, {8, 10}, {5, 10}},
        {"back, no tolerance, nothing is certain", {{0, 0}, {3, 10}}, 0, BACK, {4, 7}, {NOTHING, 0}, {1, 3}},
        {"back, 10 %", {{0, 0}, {30, 100}}, 100000, BACK, {40, 70}, {14, 20}, {10, 22}},
        {"back, the whole", {{0, 0}, {3, 10}}, 100000, BACK, {0, 10}, {0, 3}, {0, 3}},
        {"back, from the start", {{0, 0}, {30, 100}}, 100000, BACK, {0, 50}, {0, 13}, {0, 17}},
        {"a span that shrinks to no length vanishes",
         {{0, 0}, {100, 100}},
         10000,
         FORWARD,
         {50, 52},
         {NOTHING, 0},
         {49, 53}},
        {"a millimetre is left", {{0, 0}, {100, 100}}, 10000, FORWARD, {50, 53}, {51, 52}, {49, 54}},
        {"across a seen weld, exact there", {{0, 0}, {10, 40}, {20, 60}}, 100000, FORWARD, {5, 10}, {22, 40}, {18, 40}},
        {"over a seen weld", {{0, 0}, {10, 40}, {20, 60}}, 100000, FORWARD, {5, 15}, {22, 49}, {18, 51}},
        {"after a seen weld", {{0, 0}, {10, 40}, {20, 60}}, 100000, FORWARD, {10, 15}, {40, 49}, {40, 51}},
        {"back over a seen weld", {{0, 0}, {10, 40}, {20, 60}}, 100000, BACK, {20, 50}, {6, 14}, {4, 16}},
        {"an end never passes a known point",
         {{0, 0}, {10, 40}, {20, 60}},
         999999,
         FORWARD,
         {9, 11},
         {NOTHING, 0},
         {32, 44}},
        {"back, a join seen at the end of what is made so far",
         {{0, 0}, {10, 40}, {20, 40}},
         0,
         BACK,
         {20, 40},
         {5, 10},
         {5, 10}},
        {"back, a join seen beyond what is made so far",
         {{0, 0}, {10, 60}, {20, 40}},
         0,
         BACK,
         {20, 40},
         {4, 6},
         {3, 7}},
        {"as long as a length may be",
         {{0, 0}, {1000000000000, 999999999999}},
         10000,
         FORWARD,
         {1, 999999999999},
         {2, 999999999997},
         {0, 999999999999}},
};

static bool as_expected(const struct kw_spans *got, struct kw_span expected)
{
        if (expected.from == NOTHING)
                return got->n == 0;
        return got->n == 1 && got->at[0].from == expected.from && got->at[0].to == expected.to;
}

START_TEST(rounding)
{
        for (size_t i = 0; i < sizeof maps / sizeof *maps; i++) {
                struct kw_span span = maps[i].in;
                const struct kw_spans in = {&span, 1, 1};
                struct kw_spans certain = {0}, possible = {0};
                struct kw_line line = {.points = maps[i].points, .n_points = 2};
                int (*map)(const struct kw_line *, int32_t, const struct kw_spans *, enum kw_which, struct kw_spans *) =
                        maps[i].way == FORWARD ? kw_map_forward : kw_map_back;

                while (line.n_points < 4 && maps[i].points[line.n_points].v)
                        line.n_points++;
                ck_assert_int_eq(map(&line, maps[i].ppm, &in, KW_CERTAIN, &certain), 0);
                ck_assert_int_eq(map(&line, maps[i].ppm, &in, KW_POSSIBLE, &possible), 0);
                ck_assert_msg(as_expected(&certain, maps[i].certain), "%s: certain %zu [%" PRId64 ",%" PRId64 "]",
                              maps[i].name, certain.n, certain.n ? certain.at[0].from : 0,
                              certain.n ? certain.at[0].to : 0);
                ck_assert_msg(as_expected(&possible, maps[i].possible), "%s: possible [%" PRId64 ",%" PRId64 "]",
                              maps[i].name, possible.n ? possible.at[0].from : 0, possible.n ? possible.at[0].to : 0);
                kw_spans_free(&certain);
                kw_spans_free(&possible);
        }
}
END_TEST

static const struct {
        const char *name;
        struct kw_point points[4];
        int64_t v, s;
} nominal[] = {
        {"a third", {{0, 0}, {3, 10}}, 1, 3},
        {"two thirds", {{0, 0}, {3, 10}}, 2, 7},
        {"a half, upwards", {{0, 0}, {4, 6}}, 1, 2},
        {"a half, upwards again", {{0, 0}, {4, 6}}, 3, 5},
        {"the start", {{0, 0}, {3, 10}}, 0, 0},
        {"the end", {{0, 0}, {3, 10}}, 3, 10},
        {"at a seen weld", {{0, 0}, {3, 10}, {5, 11}}, 3, 10},
        {"after a seen weld", {{0, 0}, {3, 10}, {6, 13}}, 4, 11},
        {"two joins seen", {{0, 0}, {3, 10}, {6, 13}, {8, 20}}, 7, 17},
};

START_TEST(nominal_place)
{
        for (size_t i = 0; i < sizeof nominal / sizeof *nominal; i++) {
                struct kw_line line = {.points = nominal[i].points, .n_points = 2};

                while (line.n_points < 4 && nominal[i].points[line.n_points].v)
                        line.n_points++;
                int64_t got = kw_map_nominal(&line, nominal[i].v);
                ck_assert_msg(got == nominal[i].s, "%s: %" PRId64, nominal[i].name, got);
        }
}
END_TEST

/* The feed took 100..300 of its lot and lies on the line from 1000 on. */
static const struct {
        const char *name;
        enum kw_off off;
        struct kw_span lot[4], line[4];
        bool back; /* whether the line's spans also give the lot's again */
} feeds[] = {
        {"inner, whole", KW_OFF_INNER, {{100, 300}}, {{1000, 1200}}, true},
        {"outer, whole", KW_OFF_OUTER, {{100, 300}}, {{1000, 1200}}, true},
        {"inner, a part", KW_OFF_INNER, {{110, 150}}, {{1010, 1050}}, true},
        {"outer, a part", KW_OFF_OUTER, {{110, 150}}, {{1150, 1190}}, true},
        {"inner, the lot's other parts stay out",
         KW_OFF_INNER,
         {{0, 150}, {280, 400}},
         {{1000, 1050}, {1180, 1200}},
         false},
        {"outer, the lot's other parts stay out",
         KW_OFF_OUTER,
         {{0, 150}, {280, 400}},
         {{1000, 1020}, {1150, 1200}},
         false},
        {"outer, three parts in the order of the line",
         KW_OFF_OUTER,
         {{110, 120}, {200, 210}, {280, 290}},
         {{1010, 1020}, {1090, 1100}, {1180, 1190}},
         true},
        {"inner, beside the feed", KW_OFF_INNER, {{0, 100}, {300, 400}}, {{0}}, false},
        {"outer, a bare joint at the upper end", KW_OFF_OUTER, {{300, 300}}, {{1000, 1000}}, true},
};

START_TEST(feeds_on_the_line)
{
        for (size_t i = 0; i < sizeof feeds / sizeof *feeds; i++) {
                const struct kw_feed feed = {.lot = 1, .from = 100, .to = 300, .v0 = 1000, .off = feeds[i].off};
                struct kw_spans lot = {0}, line = {0}, again = {0};
                size_t n = 0;

                for (size_t k = 0; k < 4 && feeds[i].lot[k].to; k++)
                        kw_spans_add(&lot, feeds[i].lot[k].from, feeds[i].lot[k].to);
                ck_assert_int_eq(kw_feed_to_line(&feed, &lot, &line), 0);
                for (; n < 4 && feeds[i].line[n].to; n++)
                        ck_assert_msg(n < line.n && line.at[n].from == feeds[i].line[n].from &&
                                              line.at[n].to == feeds[i].line[n].to,
                                      "%s: span %zu", feeds[i].name, n);
                ck_assert_msg(n == line.n, "%s: %zu spans", feeds[i].name, line.n);

                ck_assert_int_eq(kw_line_to_feed(&feed, &line, &again), 0);
                for (size_t k = 0; feeds[i].back && k < lot.n; k++)
                        ck_assert_msg(again.n == lot.n && again.at[k].from == lot.at[k].from &&
                                              again.at[k].to == lot.at[k].to,
                                      "%s: back, span %zu", feeds[i].name, k);
                kw_spans_free(&lot);
                kw_spans_free(&line);
                kw_spans_free(&again);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, how_sure_a_place_is);
        tcase_add_test(tests, rounding);
        tcase_add_test(tests, nominal_place);
        tcase_add_test(tests, feeds_on_the_line);
}

int main(void)
{
        return run_suite("runmap", add);
}
