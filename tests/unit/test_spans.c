/*
 * Spans as sets of length: putting in order, union, part, difference, both.
 */
#include "kinwire/spans.h"
#include "suite.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define MOST 8

/* A list written down: ended by a span that runs backwards. */
#define END          \
        {            \
                1, 0 \
        }

static struct kw_spans list(const struct kw_span *from)
{
        struct kw_spans s = {0};

        for (; from->from <= from->to; from++)
                ck_assert_int_eq(kw_spans_add(&s, from->from, from->to), 0);
        return s;
}

static void same(const char *name, const struct kw_spans *got, const struct kw_span *expected)
{
        char text[1000] = "";
        bool equal = true;
        size_t i;

        for (i = 0; i < got->n; i++) {
                size_t n = strlen(text);

                snprintf(text + n, sizeof text - n, "[%" PRId64 ",%" PRId64 "]", got->at[i].from, got->at[i].to);
        }
        for (i = 0; equal && expected[i].from <= expected[i].to; i++)
                equal = i < got->n && got->at[i].from == expected[i].from && got->at[i].to == expected[i].to;
        ck_assert_msg(equal && i == got->n, "%s: got %s", name, text);
}

static const struct {
        const char *name;
        struct kw_span in[MOST], out[MOST];
} unite[] = {
        {"nothing", {END}, {END}},
        {"one", {{3, 9}, END}, {{3, 9}, END}},
        {"out of order", {{20, 30}, {0, 10}, END}, {{0, 10}, {20, 30}, END}},
        {"touching coils leave no gap", {{0, 10}, {10, 20}, END}, {{0, 20}, END}},
        {"a millimetre apart", {{0, 10}, {11, 20}, END}, {{0, 10}, {11, 20}, END}},
        {"overlapping", {{5, 15}, {0, 10}, END}, {{0, 15}, END}},
        {"one within another", {{0, 100}, {20, 30}, {40, 50}, END}, {{0, 100}, END}},
        {"a point alone", {{5, 5}, END}, {{5, 5}, END}},
        {"a point twice", {{5, 5}, {5, 5}, END}, {{5, 5}, END}},
        {"a point at an end", {{5, 5}, {5, 9}, END}, {{5, 9}, END}},
        {"a chain", {{30, 40}, {0, 10}, {10, 20}, {20, 31}, END}, {{0, 40}, END}},
};

START_TEST(uniting)
{
        for (size_t i = 0; i < sizeof unite / sizeof *unite; i++) {
                struct kw_spans s = list(unite[i].in);

                kw_spans_unite(&s);
                same(unite[i].name, &s, unite[i].out);
                kw_spans_free(&s);
        }
}
END_TEST

START_TEST(dropping_points)
{
        struct kw_spans s = list((const struct kw_span[]){{0, 0}, {1, 5}, {7, 7}, {8, 9}, END});

        kw_spans_drop_points(&s);
        same("points go", &s, (const struct kw_span[]){{1, 5}, {8, 9}, END});
        kw_spans_free(&s);
}
END_TEST

static const struct {
        const char *name;
        struct kw_span a[MOST], b[MOST], out[MOST];
} merge[] = {
        {"nothing into nothing", {END}, {END}, {END}},
        {"into nothing", {END}, {{1, 2}, END}, {{1, 2}, END}},
        {"nothing into something", {{1, 2}, END}, {END}, {{1, 2}, END}},
        {"between", {{0, 10}, {20, 30}, END}, {{10, 20}, END}, {{0, 30}, END}},
        {"side by side", {{20, 30}, END}, {{0, 10}, {40, 50}, END}, {{0, 10}, {20, 30}, {40, 50}, END}},
};

START_TEST(merging)
{
        for (size_t i = 0; i < sizeof merge / sizeof *merge; i++) {
                struct kw_spans a = list(merge[i].a), b = list(merge[i].b);

                ck_assert_int_eq(kw_spans_merge(&a, &b), 0);
                same(merge[i].name, &a, merge[i].out);
                kw_spans_free(&a);
                kw_spans_free(&b);
        }
}
END_TEST

static const struct {
        const char *name;
        struct kw_span in[MOST];
        int64_t from, to, shift;
        struct kw_span out[MOST];
} clip[] = {
        {"nothing", {END}, 0, 10, 0, {END}},
        {"within", {{2, 4}, END}, 0, 10, 0, {{2, 4}, END}},
        {"across both ends", {{0, 100}, END}, 20, 30, 20, {{0, 10}, END}},
        {"touching from below has no length there", {{0, 20}, END}, 20, 30, 0, {END}},
        {"touching from above has no length there", {{30, 40}, END}, 20, 30, 0, {END}},
        {"several, shifted", {{0, 5}, {8, 12}, {18, 22}, {40, 50}, END}, 10, 20, 10, {{0, 2}, {8, 10}, END}},
        {"shifted up", {{0, 5}, END}, 0, 5, -7, {{7, 12}, END}},
        {"a point inside", {{15, 15}, END}, 10, 20, 0, {{15, 15}, END}},
        {"a point at the lower end", {{10, 10}, END}, 10, 20, 0, {{10, 10}, END}},
        {"a point at the upper end", {{20, 20}, END}, 10, 20, 0, {{20, 20}, END}},
        {"a point outside", {{21, 21}, END}, 10, 20, 0, {END}},
};

START_TEST(clipping)
{
        for (size_t i = 0; i < sizeof clip / sizeof *clip; i++) {
                struct kw_spans in = list(clip[i].in), out = {0};

                ck_assert_int_eq(kw_spans_clip(&in, clip[i].from, clip[i].to, clip[i].shift, &out), 0);
                same(clip[i].name, &out, clip[i].out);
                kw_spans_free(&in);
                kw_spans_free(&out);
        }
}
END_TEST

START_TEST(clipping_appends)
{
        struct kw_spans in = list((const struct kw_span[]){{0, 5}, END}),
                        out = list((const struct kw_span[]){{90, 99}, END});

        ck_assert_int_eq(kw_spans_clip(&in, 0, 3, 0, &out), 0);
        same("appended", &out, (const struct kw_span[]){{90, 99}, {0, 3}, END});
        kw_spans_clear(&out);
        same("cleared", &out, (const struct kw_span[]){END});
        kw_spans_free(&in);
        kw_spans_free(&out);
}
END_TEST

static const struct {
        const char *name;
        struct kw_span a[MOST], b[MOST], minus[MOST], both[MOST];
} pairs[] = {
        {"nothing", {END}, {{0, 9}, END}, {END}, {END}},
        {"from nothing taken", {{0, 9}, END}, {END}, {{0, 9}, END}, {END}},
        {"the same", {{0, 9}, END}, {{0, 9}, END}, {END}, {{0, 9}, END}},
        {"out of the middle", {{0, 9}, END}, {{3, 5}, END}, {{0, 3}, {5, 9}, END}, {{3, 5}, END}},
        {"below", {{5, 9}, END}, {{0, 7}, END}, {{7, 9}, END}, {{5, 7}, END}},
        {"above", {{5, 9}, END}, {{7, 20}, END}, {{5, 7}, END}, {{7, 9}, END}},
        {"touching on both sides", {{5, 9}, END}, {{0, 5}, {9, 12}, END}, {{5, 9}, END}, {END}},
        {"two out of one",
         {{0, 20}, END},
         {{2, 4}, {6, 8}, END},
         {{0, 2}, {4, 6}, {8, 20}, END},
         {{2, 4}, {6, 8}, END}},
        {"one out of two", {{0, 5}, {10, 15}, END}, {{3, 12}, END}, {{0, 3}, {12, 15}, END}, {{3, 5}, {10, 12}, END}},
        {"a point in a span", {{5, 5}, END}, {{0, 9}, END}, {END}, {{5, 5}, END}},
        {"a point at an end of a span", {{5, 5}, END}, {{5, 9}, END}, {END}, {{5, 5}, END}},
        {"a point takes no length away", {{0, 9}, END}, {{5, 5}, END}, {{0, 9}, END}, {{5, 5}, END}},
        {"a point beside", {{5, 5}, END}, {{6, 9}, END}, {{5, 5}, END}, {END}},
        {"point and point", {{5, 5}, END}, {{5, 5}, END}, {END}, {{5, 5}, END}},
};

START_TEST(difference_and_both)
{
        for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
                struct kw_spans a = list(pairs[i].a), b = list(pairs[i].b), out = {0};

                ck_assert_int_eq(kw_spans_minus(&a, &b, &out), 0);
                same(pairs[i].name, &out, pairs[i].minus);
                kw_spans_clear(&out);
                ck_assert_int_eq(kw_spans_both(&a, &b, &out), 0);
                same(pairs[i].name, &out, pairs[i].both);
                kw_spans_clear(&out);
                ck_assert_int_eq(kw_spans_both(&b, &a, &out), 0);
                same(pairs[i].name, &out, pairs[i].both);
                kw_spans_free(&a);
                kw_spans_free(&b);
                kw_spans_free(&out);
        }
}
END_TEST

static const struct {
        const char *name;
        struct kw_span in[MOST];
        int64_t from, to;
        bool meets;
} meets[] = {
        {"nothing", {END}, 0, 10, false},
        {"overlapping", {{5, 15}, END}, 0, 10, true},
        {"touching below", {{10, 15}, END}, 0, 10, false},
        {"touching above", {{10, 15}, END}, 15, 20, false},
        {"after one that touches", {{0, 5}, {7, 9}, END}, 5, 8, true},
        {"before it", {{7, 9}, END}, 0, 5, false},
        {"a point at an end", {{10, 10}, END}, 0, 10, true},
        {"a point outside", {{11, 11}, END}, 0, 10, false},
        {"the last of many", {{0, 1}, {3, 4}, {6, 7}, {9, 10}, {12, 13}, END}, 12, 99, true},
};

START_TEST(meeting)
{
        for (size_t i = 0; i < sizeof meets / sizeof *meets; i++) {
                struct kw_spans s = list(meets[i].in);

                ck_assert_msg(kw_spans_meets(&s, meets[i].from, meets[i].to) == meets[i].meets, "%s", meets[i].name);
                kw_spans_free(&s);
        }
}
END_TEST

START_TEST(total)
{
        struct kw_spans s = list((const struct kw_span[]){{0, 5}, {7, 7}, {10, 1000000000000}, END});

        ck_assert_int_eq(kw_spans_total(&s), 5 + 999999999990);
        kw_spans_free(&s);
        ck_assert_int_eq(kw_spans_total(&s), 0);
}
END_TEST

START_TEST(many)
{
        struct kw_spans s = {0};

        for (int64_t i = 10000; i-- > 0;)
                ck_assert_int_eq(kw_spans_add(&s, 3 * i, 3 * i + 2), 0);
        kw_spans_unite(&s);
        ck_assert_uint_eq(s.n, 10000);
        ck_assert_int_eq(s.at[4711].from, 3 * 4711);
        ck_assert_int_eq(kw_spans_total(&s), 20000);
        kw_spans_free(&s);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, uniting);
        tcase_add_test(tests, dropping_points);
        tcase_add_test(tests, merging);
        tcase_add_test(tests, clipping);
        tcase_add_test(tests, clipping_appends);
        tcase_add_test(tests, difference_and_both);
        tcase_add_test(tests, meeting);
        tcase_add_test(tests, total);
        tcase_add_test(tests, many);
}

int main(void)
{
        return run_suite("spans", add);
}
