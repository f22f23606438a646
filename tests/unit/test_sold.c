/*
 * How much of what was sold lies under gaps: each metre once, by the month in which it went out.
 */
#include "kinwire/sold.h"
#include "suite.h"

#include <inttypes.h>

static const struct {
        const char *what;
        int64_t at;
        int32_t year, month; /* from 1 */
} times[] = {
        {"the beginning", 0, 1970, 1},
        {"the second before it", -1, 1969, 12},
        {"end of a leap February", 1709251199, 2024, 2},
        {"beginning of March after it", 1709251200, 2024, 3},
        {"a century without a leap day", 4107542399, 2100, 2},
        {"and the March after it", 4107542400, 2100, 3},
        {"one that has it", 951868799, 2000, 2},
        {"end of a year", 1798761599, 2026, 12},
        {"beginning of the next", 1798761600, 2027, 1},
};

START_TEST(month_of_a_time)
{
        int32_t got = kw_sold_month(times[_i].at);

        ck_assert_msg(got == 12 * times[_i].year + times[_i].month - 1, "%s: %d-%02d", times[_i].what, got / 12,
                      got % 12 + 1);
}
END_TEST

/* Each month of eight hundred years begins where the one before ends. */
START_TEST(month_begins)
{
        for (int32_t month = 12 * 1600; month < 12 * 2400; month++) {
                ck_assert_int_eq(kw_sold_month(kw_sold_month_begins(month)), month);
                ck_assert_int_eq(kw_sold_month(kw_sold_month_begins(month) - 1), month - 1);
        }
        ck_assert_int_eq(kw_sold_month_begins(12 * 1970), 0);
}
END_TEST

static void add(struct kw_spans *spans, int64_t from, int64_t to)
{
        ck_assert_int_eq(kw_spans_add(spans, from, to), 0);
}

static void touch(struct kw_sold *sold, size_t kind, int64_t from, int64_t to)
{
        struct kw_spans spans = {0};

        add(&spans, from, to);
        ck_assert_int_eq(kw_sold_touch(sold, kind, &spans), 0);
        kw_spans_free(&spans);
}

/* Of a lot of which 100..200 and 300..400 went out. */
static const struct {
        const char *what;
        int64_t from, to, reach;
} reaches[] = {
        {"all of it", 0, 1000, 200},       {"before it", 0, 100, 0},        {"between the two", 200, 300, 0},
        {"a part of each", 150, 350, 100}, {"one millimetre", 399, 400, 1},
};

START_TEST(reach_of_a_span)
{
        struct kw_sold sold = {0};
        struct kw_spans spans = {0};

        add(&sold.sent, 100, 200);
        add(&sold.sent, 300, 400);
        add(&spans, reaches[_i].from, reaches[_i].to);
        ck_assert_msg(kw_sold_reach(&sold, &spans) == reaches[_i].reach, "%s", reaches[_i].what);
        kw_spans_free(&spans);
        kw_sold_free(&sold);
}
END_TEST

/* Two lots in one month, one in the next; kind 0 is grave, kind 1 is not. */
START_TEST(each_metre_once)
{
        struct kw_sold sold[3] = {{.lot = 1, .month = 24001}, {.lot = 2, .month = 24000}, {.lot = 3, .month = 24001}};
        struct kw_sold_month months[3];

        add(&sold[0].sent, 0, 1000);
        add(&sold[1].sent, 0, 500);
        add(&sold[2].sent, 0, 10);
        touch(&sold[0], 0, 100, 300);
        touch(&sold[0], 0, 200, 400);  /* overlaps the one before */
        touch(&sold[0], 1, 350, 600);  /* and another kind overlaps both */
        touch(&sold[1], 1, 450, 9000); /* reaches beyond what was sent */
        ck_assert_int_eq(kw_sold_months(sold, 3, 2, 1, months), 2);
        ck_assert_int_eq(months[0].month, 24000);
        ck_assert_int_eq(months[0].sold_mm, 500);
        ck_assert_int_eq(months[0].under_mm[0], 0);
        ck_assert_int_eq(months[0].under_mm[1], 50);
        ck_assert_int_eq(months[0].under_any_mm, 50);
        ck_assert_int_eq(months[0].under_broken_mm, 0);
        ck_assert_int_eq(months[1].sold_mm, 1010);
        ck_assert_int_eq(months[1].under_mm[0], 300);
        ck_assert_int_eq(months[1].under_mm[1], 250);
        ck_assert_int_eq(months[1].under_any_mm, 500);
        ck_assert_int_eq(months[1].under_broken_mm, 300);
        for (int i = 0; i < 3; i++)
                kw_sold_free(&sold[i]);
}
END_TEST

START_TEST(nothing_sold)
{
        struct kw_sold_month months[1];

        ck_assert_int_eq(kw_sold_months(NULL, 0, 2, 1, months), 0);
}
END_TEST

static void add_tests(TCase *tests)
{
        tcase_add_loop_test(tests, month_of_a_time, 0, sizeof(times) / sizeof(*times));
        tcase_add_test(tests, month_begins);
        tcase_add_loop_test(tests, reach_of_a_span, 0, sizeof(reaches) / sizeof(*reaches));
        tcase_add_test(tests, each_metre_once);
        tcase_add_test(tests, nothing_sold);
}

int main(void)
{
        return run_suite("sold", add_tests);
}
