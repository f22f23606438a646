/*
 * Run rules: patterns on a chart of individuals that are worth a look though no result is beyond the limits.
 *
 *      upper  - - - - - - - - - - - - -   1 beyond this
 *      2 sigma  . . . . . . . . . . . .   2 of 3 beyond this, on one side
 *      1 sigma  . . . . . . . . . . . .   4 of 5 beyond this, on one side
 *      mean   -------------------------   8 in a row on one side
 *
 * The four of the Western Electric Statistical Quality Control Handbook (1956), as they are quoted; L. S. Nelson
 * (Journal of Quality Technology 16, 1984) counts nine in a row. All four together raise a false alarm once in 91.75
 * results of a normal process whose mean and deviation are known (Champ and Woodall, Technometrics 29, 1987): a mark
 * says look here, not that something is wrong.
 */
#include "kinwire/quality.h"

#include "wide.h"

#define HANDBOOK "Western Electric, Statistical Quality Control Handbook, 1956"

const struct kw_run_rule kw_run_rules[KW_RUN_RULES] = {
        {"1-beyond-3-sigma", 1, 1, 3, HANDBOOK},
        {"2-of-3-beyond-2-sigma", 2, 3, 2, HANDBOOK},
        {"4-of-5-beyond-1-sigma", 4, 5, 1, HANDBOOK},
        {"8-on-one-side", 8, 8, 0, HANDBOOK},
};

/* 1 above and -1 below the zone's line of @rule, 0 between the two lines. A third of a limit's distance is a sigma. */
static int side(const struct kw_run_rule *rule, int64_t value, const struct kw_chart *chart)
{
        kw_wide off = (kw_wide)value * 1000 - chart->mean;

        if (3 * off > rule->sigmas * ((kw_wide)chart->upper - chart->mean))
                return 1;
        return -3 * off > rule->sigmas * ((kw_wide)chart->mean - chart->lower) ? -1 : 0;
}

static bool completes(const struct kw_run_rule *rule, const int64_t *values, size_t i, const struct kw_chart *chart)
{
        int here = side(rule, values[i], chart), alike = 0;

        if (!here)
                return false;
        for (size_t k = 0; k < (size_t)rule->of && k <= i; k++)
                alike += side(rule, values[i - k], chart) == here;
        return alike >= rule->need;
}

void kw_run_rules_met(const int64_t *values, size_t n, const struct kw_chart *chart, uint8_t *met)
{
        for (size_t i = 0; i < n; i++) {
                met[i] = 0;
                for (int r = 0; r < KW_RUN_RULES && chart->range_mean > 0; r++)
                        if (completes(&kw_run_rules[r], values, i, chart))
                                met[i] |= (uint8_t)(1u << r);
        }
}
