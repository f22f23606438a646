/*
 * What is left of a lot, and what may be taken of it: a length is consumed once.
 */
#include "kinwire/plan.h"
#include "suite.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define MOST 5

struct taken {
        int64_t from, to; /* to 0 ends the list */
};

static void claim_all(struct kw_stock *stock, const struct taken *taken)
{
        char name[20];

        for (int i = 0; taken[i].to; i++) {
                snprintf(name, sizeof name, "run DR-%d", i + 1);
                ck_assert_int_eq(kw_stock_claim(stock, taken[i].from, taken[i].to, name, NULL), 0);
        }
}

static void same(const char *name, const struct kw_spans *got, const struct taken *expected)
{
        size_t n = 0;

        for (; expected[n].to; n++)
                ck_assert_msg(n < got->n && got->at[n].from == expected[n].from && got->at[n].to == expected[n].to,
                              "%s: piece %zu is %" PRId64 "..%" PRId64, name, n, n < got->n ? got->at[n].from : 0,
                              n < got->n ? got->at[n].to : 0);
        ck_assert_msg(got->n == n, "%s: %zu pieces", name, got->n);
}

/* Of a lot of 100. */
static const struct {
        const char *name;
        struct taken before[MOST];
        int64_t from, to;
        int answer;
        const char *who;
} claims[] = {
        {"the whole", {{0}}, 0, 100, 0, NULL},
        {"between two", {{0, 20}, {80, 100}}, 20, 80, 0, NULL},
        {"touching is not taking twice", {{20, 40}}, 40, 41, 0, NULL},
        {"the last millimetre twice", {{0, 50}}, 49, 60, KW_ALREADY_CONSUMED, "run DR-1"},
        {"the first of several in the way is named",
         {{60, 70}, {10, 20}, {30, 40}},
         0,
         100,
         KW_ALREADY_CONSUMED,
         "run DR-2"},
        {"inside another", {{0, 100}}, 40, 50, KW_ALREADY_CONSUMED, "run DR-1"},
        {"before the inner end", {{0}}, -1, 10, KW_OUT_OF_RANGE, NULL},
        {"beyond the outer end", {{0}}, 90, 101, KW_OUT_OF_RANGE, NULL},
        {"no length", {{0}}, 50, 50, KW_OUT_OF_RANGE, NULL},
        {"backwards", {{0}}, 60, 50, KW_OUT_OF_RANGE, NULL},
};

START_TEST(claiming)
{
        for (size_t i = 0; i < sizeof claims / sizeof *claims; i++) {
                struct kw_stock stock = {.code = "BB-1", .length_mm = 100};
                struct kw_error err = {0};

                claim_all(&stock, claims[i].before);
                size_t n = stock.n;
                int r = kw_stock_claim(&stock, claims[i].from, claims[i].to, "run ST-9", &err);
                ck_assert_msg(r == claims[i].answer, "%s: %d", claims[i].name, r);
                ck_assert_uint_eq(stock.n, n + (r == 0));
                if (claims[i].who)
                        ck_assert_msg(strstr(err.text, claims[i].who) != NULL, "%s: %s", claims[i].name, err.text);
                if (r != 0)
                        ck_assert_msg(strstr(err.text, "BB-1") != NULL, "%s: %s", claims[i].name, err.text);
                for (size_t k = 1; k < stock.n; k++)
                        ck_assert_int_le(stock.claims[k - 1].to, stock.claims[k].from);
                kw_stock_free(&stock);
        }
}
END_TEST

static const struct {
        const char *name;
        struct taken before[MOST], left[MOST];
} lefts[] = {
        {"nothing taken", {{0}}, {{0, 100}}},
        {"all taken", {{0, 100}}, {{0}}},
        {"the ends", {{0, 10}, {90, 100}}, {{10, 90}}},
        {"the middle", {{40, 60}}, {{0, 40}, {60, 100}}},
        {"side by side", {{60, 80}, {40, 60}}, {{0, 40}, {80, 100}}},
};

START_TEST(what_is_left)
{
        for (size_t i = 0; i < sizeof lefts / sizeof *lefts; i++) {
                struct kw_stock stock = {.code = "BB-1", .length_mm = 100};
                struct kw_spans left = {0};

                claim_all(&stock, lefts[i].before);
                ck_assert_int_eq(kw_stock_left(&stock, &left), 0);
                same(lefts[i].name, &left, lefts[i].left);
                kw_spans_free(&left);
                kw_stock_free(&stock);
        }
}
END_TEST

static const struct {
        const char *name;
        struct taken before[MOST];
        struct kw_take take;
        int answer;
        struct taken pieces[MOST];
} takes[] = {
        {"all of it", {{0}}, {.how = KW_TAKE_ALL}, 0, {{0, 100}}},
        {"all that is left, from the outer end", {{40, 60}}, {.how = KW_TAKE_ALL}, 0, {{60, 100}, {0, 40}}},
        {"all that is left, from the inner end",
         {{40, 60}},
         {.how = KW_TAKE_ALL, .off = KW_OFF_INNER},
         0,
         {{0, 40}, {60, 100}}},
        {"so much from the outer end", {{0}}, {.how = KW_TAKE_LENGTH, .length = 30}, 0, {{70, 100}}},
        {"so much from the inner end", {{0}}, {.how = KW_TAKE_LENGTH, .length = 30, .off = KW_OFF_INNER}, 0, {{0, 30}}},
        {"over a gap, outer", {{40, 60}}, {.how = KW_TAKE_LENGTH, .length = 50}, 0, {{60, 100}, {30, 40}}},
        {"over a gap, inner",
         {{40, 60}},
         {.how = KW_TAKE_LENGTH, .length = 50, .off = KW_OFF_INNER},
         0,
         {{0, 40}, {60, 70}}},
        {"just what is left", {{0, 70}}, {.how = KW_TAKE_LENGTH, .length = 30}, 0, {{70, 100}}},
        {"more than is left", {{0, 70}}, {.how = KW_TAKE_LENGTH, .length = 31}, KW_OUT_OF_RANGE, {{0}}},
        {"of nothing left", {{0, 100}}, {.how = KW_TAKE_ALL}, KW_ALREADY_CONSUMED, {{0}}},
        {"an interval", {{0, 20}}, {.how = KW_TAKE_SPAN, .from = 20, .to = 30}, 0, {{20, 30}}},
        {"an interval that is gone",
         {{0, 21}},
         {.how = KW_TAKE_SPAN, .from = 20, .to = 30},
         KW_ALREADY_CONSUMED,
         {{0}}},
};

START_TEST(taking)
{
        for (size_t i = 0; i < sizeof takes / sizeof *takes; i++) {
                struct kw_stock stock = {.code = "BB-1", .length_mm = 100};
                struct kw_spans pieces = {0}, left = {0}, before = {0};
                struct kw_error err = {0};

                claim_all(&stock, takes[i].before);
                ck_assert_int_eq(kw_stock_left(&stock, &before), 0);
                int r = kw_stock_take(&stock, &takes[i].take, "run ST-9", &pieces, &err);
                ck_assert_msg(r == takes[i].answer, "%s: %d %s", takes[i].name, r, err.text);
                same(takes[i].name, &pieces, takes[i].pieces);
                ck_assert_int_eq(kw_stock_left(&stock, &left), 0);
                ck_assert_int_eq(kw_spans_total(&before), kw_spans_total(&left) + kw_spans_total(&pieces));
                kw_spans_free(&pieces);
                kw_spans_free(&left);
                kw_spans_free(&before);
                kw_stock_free(&stock);
        }
}
END_TEST

START_TEST(an_empty_lot_says_who_took_it)
{
        struct kw_stock stock = {.code = "BB-1", .length_mm = 100};
        struct kw_spans pieces = {0};
        struct kw_error err;

        claim_all(&stock, (const struct taken[]){{0, 10}, {10, 20}, {0}});
        ck_assert_int_eq(kw_stock_claim(&stock, 20, 60, "run DR-1", NULL), 0);
        ck_assert_int_eq(kw_stock_claim(&stock, 60, 90, "the sample of test T-7", NULL), 0);
        ck_assert_int_eq(kw_stock_claim(&stock, 90, 100, "run CL-4", NULL), 0);
        ck_assert_int_eq(kw_stock_take(&stock, &(struct kw_take){.how = KW_TAKE_ALL}, "run ST-9", &pieces, &err),
                         KW_ALREADY_CONSUMED);
        ck_assert_str_eq(err.text,
                         "nothing is left of BB-1; it was taken by run DR-1, run DR-2, the sample of test T-7");
        kw_spans_free(&pieces);
        kw_stock_free(&stock);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, claiming);
        tcase_add_test(tests, what_is_left);
        tcase_add_test(tests, taking);
        tcase_add_test(tests, an_empty_lot_says_who_took_it);
}

int main(void)
{
        return run_suite("stock", add);
}
