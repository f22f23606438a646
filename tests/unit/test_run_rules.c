/*
 * Run rules: on a made-up chart whose lines lie at whole numbers, which results complete which pattern.
 */
#include "suite.h"

#include "kinwire/quality.h"

#include <string.h>

/* Mean 0, a sigma 10: lines at 10, 20, 30 both ways. */
static const struct kw_chart tens = {.mean = 0, .range_mean = 11280, .lower = -30000, .upper = 30000};

/* Rules as digits: 1, 2, 3, 4 in the table's order; "24" meets the second and the fourth, "-" none. */
static const struct {
        const char *name;
        int64_t values[12];
        size_t n;
        const char *met[12];
} cases[] = {
        {"a limit", {30, 31, -30, -31}, 4, {"-", "12", "-", "12"}},
        {"on 2 sigma is not beyond it", {20, 20, 20}, 3, {"-", "-", "-"}},
        {"2 of 3", {21, 5, 21, 0}, 4, {"-", "-", "2", "-"}},
        {"too far apart", {21, 5, 5, 21}, 4, {"-", "-", "-", "-"}},
        {"on the two sides", {21, -21, 0}, 3, {"-", "-", "-"}},
        {"the third completes nothing that lies outside the zone", {-21, -21, 5, -21}, 4, {"-", "2", "-", "2"}},
        {"4 of 5, one of them on the other side", {11, 11, -5, 11, 11}, 5, {"-", "-", "-", "-", "3"}},
        {"4 of 5 needs five or fewer", {-11, -11, -11, -11}, 4, {"-", "-", "-", "3"}},
        {"on 1 sigma", {10, 10, 10, 10, 10}, 5, {"-", "-", "-", "-", "-"}},
        {"8 in a row", {1, 2, 3, 1, 2, 3, 1, 2, 3, -1, 1}, 11, {"-", "-", "-", "-", "-", "-", "-", "4", "4", "-", "-"}},
        {"the mean breaks a row", {1, 1, 1, 1, 1, 1, 1, 0, 1}, 9, {"-", "-", "-", "-", "-", "-", "-", "-", "-"}},
        {"several at once", {-1, -1, -1, -1, -21, -21, -11, -31}, 8, {"-", "-", "-", "-", "-", "2", "-", "1234"}},
};

START_TEST(patterns)
{
        uint8_t met[12];

        kw_run_rules_met(cases[_i].values, cases[_i].n, &tens, met);
        for (size_t i = 0; i < cases[_i].n; i++) {
                char got[KW_RUN_RULES + 1] = "";

                for (int r = 0; r < KW_RUN_RULES; r++)
                        if (met[i] >> r & 1)
                                got[strlen(got)] = (char)('1' + r);
                ck_assert_msg(strcmp(*got ? got : "-", cases[_i].met[i]) == 0, "%s: result %zu meets %s, not %s",
                              cases[_i].name, i + 1, *got ? got : "none", cases[_i].met[i]);
        }
}
END_TEST

/* The first rule is the chart's own limits, also where these are rounded; and what never varies meets none. */
START_TEST(agrees_with_the_limits)
{
        int64_t values[60], level[9] = {7, 7, 7, 7, 7, 7, 7, 7, 7};
        uint8_t met[60];
        struct kw_chart c;
        size_t first = 0;

        for (int i = 0; i < 60; i++)
                values[i] = (int64_t)i * 7919 % 23 - (i == 30 ? 90 : 0);
        ck_assert(kw_chart_of(values, 60, &c));
        kw_run_rules_met(values, 60, &c, met);
        for (size_t i = 0; i < 60; i++)
                first += met[i] & 1;
        ck_assert_uint_eq(first, c.beyond);
        ck_assert_uint_ge(first, 1);
        ck_assert(kw_chart_of(level, 9, &c));
        kw_run_rules_met(level, 9, &c, met);
        for (size_t i = 0; i < 9; i++)
                ck_assert_uint_eq(met[i], 0);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, patterns, 0, (int)(sizeof(cases) / sizeof(*cases)));
        tcase_add_test(tests, agrees_with_the_limits);
}

int main(void)
{
        return run_suite("run rules", add);
}
