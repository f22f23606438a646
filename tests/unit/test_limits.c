/*
 * Buckets of tokens under a clock of the test's own, and sentences brought onto one line.
 */
#include "limit.h"

#include "suite.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SECOND INT64_C(1000000)

static struct kw_rate *rate_of(int64_t per_minute, int64_t burst)
{
        struct kw_rate *rate = calloc(1, sizeof *rate);

        ck_assert_ptr_nonnull(rate);
        ck_assert_int_ge(sodium_init(), 0);
        kw_rate_init(rate, per_minute, burst);
        return rate;
}

static void end(struct kw_rate *rate)
{
        kw_rate_end(rate);
        free(rate);
}

/* How many of @n tries at once get a token. */
static int taken(struct kw_rate *rate, const char *who, int n, int64_t now)
{
        int got = 0;

        for (int i = 0; i < n; i++)
                got += kw_rate_take(rate, who, strlen(who), now) == 0;
        return got;
}

static const struct {
        const char *name;
        int64_t per_minute, burst;
        struct {
                int64_t at;
                int tries, got;
        } step[4];
} buckets[] = {
        {"a burst, then its rate",
         1200,
         40,
         {{0, 100, 40}, {SECOND, 100, 20}, {SECOND * 3 / 2, 100, 10}, {60 * SECOND, 100, 40}}},
        {"ten a minute", 10, 10, {{5, 50, 10}, {6 * SECOND, 50, 0}, {7 * SECOND, 50, 1}, {67 * SECOND, 50, 10}}},
        {"no limit", 0, 0, {{0, 1000, 1000}, {0, 1000, 1000}, {0, 0, 0}, {0, 0, 0}}},
        {"a clock that starts late",
         60,
         1,
         {{1000000 * SECOND, 5, 1}, {1000001 * SECOND, 5, 1}, {1000001 * SECOND, 5, 0}, {1000002 * SECOND, 1, 1}}},
};

START_TEST(test_buckets)
{
        struct kw_rate *rate = rate_of(buckets[_i].per_minute, buckets[_i].burst);

        for (size_t s = 0; s < 4; s++) {
                int got = taken(rate, "a", buckets[_i].step[s].tries, buckets[_i].step[s].at);
                ck_assert_msg(got == buckets[_i].step[s].got, "%s, step %zu: %d, not %d", buckets[_i].name, s, got,
                              buckets[_i].step[s].got);
        }
        end(rate);
}
END_TEST

START_TEST(test_the_wait_is_enough_and_not_more)
{
        struct kw_rate *rate = rate_of(1200, 40);
        int64_t wait;

        taken(rate, "a", 40, 0);
        wait = kw_rate_take(rate, "a", 1, 0);
        ck_assert_int_eq(wait, 50000);
        ck_assert_int_ne(kw_rate_take(rate, "a", 1, wait - 1), 0);
        ck_assert_int_eq(kw_rate_take(rate, "a", 1, wait), 0);
        end(rate);
}
END_TEST

START_TEST(test_callers_apart)
{
        struct kw_rate *rate = rate_of(60, 5);
        char who[16];

        ck_assert_int_eq(taken(rate, "a", 9, 0), 5);
        ck_assert_int_eq(taken(rate, "b", 9, 0), 5);
        ck_assert_int_eq(taken(rate, "", 9, 0), 5);
        /* more callers than there are places: none is refused for another's sake */
        for (int i = 0; i < 4 * KW_RATE_SETS * KW_RATE_WAYS; i++) {
                snprintf(who, sizeof who, "caller %d", i);
                ck_assert_int_eq(taken(rate, who, 1, SECOND), 1);
        }
        end(rate);
}
END_TEST

static const struct {
        const char *raw, *line;
} sentences[] = {
        {"plain", "plain"},
        {"", ""},
        {"two\nlines\r\n", "two\\x0alines\\x0d\\x0a"},
        {"\x1b[2J\x1b]0;title\x07", "\\x1b[2J\\x1b]0;title\\x07"},
        {"tab\t", "tab\\x09"},
        {"back\\slash", "back\\x5cslash"},
        {"Drahtseil \xc3\xa4\xc3\xb6\xc3\xbc \xe2\x82\xac \xf0\x9f\xaa\xa2",
         "Drahtseil \xc3\xa4\xc3\xb6\xc3\xbc \xe2\x82\xac \xf0\x9f\xaa\xa2"},
        {"c1 \xc2\x9b"
         "31m",
         "c1 \\xc2\\x9b31m"},
        {"separator \xe2\x80\xa8 here", "separator \\xe2\\x80\\xa8 here"},
        {"turned \xe2\x80\xae here", "turned \\xe2\\x80\\xae here"},
        {"cut \xe2\x82", "cut \\xe2\\x82"},
        {"stray \x80\xff", "stray \\x80\\xff"},
        {"overlong \xc0\xaf", "overlong \\xc0\\xaf"},
        {"rubbed\x7f", "rubbed\\x7f"},
};

START_TEST(test_one_line)
{
        char out[200];

        kw_one_line(out, sizeof out, sentences[_i].raw);
        ck_assert_str_eq(out, sentences[_i].line);
        /* cut to any size it ends well: what is there is the beginning */
        for (size_t size = 1; size <= strlen(sentences[_i].line); size++) {
                kw_one_line(out, size, sentences[_i].raw);
                ck_assert_uint_lt(strlen(out), size);
                ck_assert_int_eq(strncmp(out, sentences[_i].line, strlen(out)), 0);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, test_buckets, 0, sizeof buckets / sizeof buckets[0]);
        tcase_add_test(tests, test_the_wait_is_enough_and_not_more);
        tcase_add_test(tests, test_callers_apart);
        tcase_add_loop_test(tests, test_one_line, 0, sizeof sentences / sizeof sentences[0]);
}

int main(void)
{
        return run_suite("limits", add);
}
