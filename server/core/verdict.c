/*
 * Limits, which specification a lot is judged by, and what tests and their retests come to.
 */
#include "kinwire/quality.h"

#include <stdio.h>
#include <string.h>

#define NONE KW_NO_FIGURE

int64_t kw_margin(const struct kw_limit *limit, int64_t value)
{
        int64_t low = limit->min == NONE ? NONE : value - limit->min;
        int64_t high = limit->max == NONE ? NONE : limit->max - value;

        if (low == NONE || high == NONE)
                return low == NONE ? high : low;
        return low < high ? low : high;
}

const char *kw_spec_what(const char *kind)
{
        static const struct {
                const char *kind, *what;
        } kinds[] = {{"coil", "wire"}, {"bobbin", "wire"}, {"reel", "rope"}};

        for (size_t i = 0; i < sizeof(kinds) / sizeof(*kinds); i++)
                if (strcmp(kinds[i].kind, kind) == 0)
                        return kinds[i].what;
        return kind;
}

/* Whether what is asked for is there; counted where it is asked for at all. */
static bool same(const char *asked, const char *got, int *closeness)
{
        if (!asked)
                return true;
        ++*closeness;
        return got && strcmp(asked, got) == 0;
}

int kw_spec_fits(const struct kw_spec_scope *scope, const struct kw_spec_lot *lot)
{
        int closeness = 0;

        if (strcmp(scope->what, kw_spec_what(lot->kind)) != 0)
                return -1;
        if (!same(scope->grade, lot->grade, &closeness) || !same(scope->construction, lot->construction, &closeness))
                return -1;
        if (scope->tensile_kpa && ++closeness && scope->tensile_kpa != lot->tensile_kpa)
                return -1;
        if (scope->from_um == NONE && scope->below_um == NONE)
                return closeness;
        if (lot->diameter_um <= 0 || (scope->from_um != NONE && lot->diameter_um < scope->from_um) ||
            (scope->below_um != NONE && lot->diameter_um >= scope->below_um))
                return -1;
        return closeness + 1;
}

/* UN/CEFACT Recommendation 20, common codes of the units in which the ledger keeps a property */
static const struct unit {
        const char *end, *code;
} units[] = {{"_mg_m2", "GO"}, {"_kpa", "KPA"}, {"_ppm", "59"}, {"_um", "4H"},
             {"_mm", "MMT"},   {"_n", "NEW"},   {"_g", "GRM"},  {NULL, "C62"}};

/* How the name of a property ends; where it has no unit, the last row: a plain number. */
static const struct unit *unit_of(const char *property)
{
        const struct unit *u = units;
        size_t n = strlen(property);

        for (; u->end; u++) {
                size_t end = strlen(u->end);

                if (n > end && strcmp(property + n - end, u->end) == 0)
                        break;
        }
        return u;
}

const char *kw_property_unit(const char *property)
{
        return unit_of(property)->code;
}

void kw_range_property(const char *property, char out[KW_PROPERTY_MAX + 1])
{
        const struct unit *unit = unit_of(property);
        size_t n = strlen(property) - (unit->end ? strlen(unit->end) : 0);

        snprintf(out, KW_PROPERTY_MAX + 1, "%.*s_range%s", (int)n, property, property + n);
}

/* --- retests ------------------------------------------------------------------------------------------- */

static const struct kw_tried *find(const struct kw_tried *tried, size_t n, int64_t id)
{
        for (size_t i = 0; id && i < n; i++)
                if (tried[i].id == id)
                        return &tried[i];
        return NULL;
}

/* The test that started it; @n steps at most, whatever is said of what. */
static const struct kw_tried *first_of(const struct kw_tried *tried, size_t n, const struct kw_tried *test)
{
        for (size_t i = 0; i < n; i++) {
                const struct kw_tried *before = find(tried, n, test->retest_of);

                if (!before)
                        break;
                test = before;
        }
        return test;
}

static bool made_good(const struct kw_tried *tried, size_t n, const struct kw_tried *failed, int64_t retests)
{
        int64_t passed = 0;

        for (size_t i = 0; i < n; i++) {
                if (&tried[i] == failed || first_of(tried, n, &tried[i]) != failed)
                        continue;
                if (!tried[i].passed)
                        return false;
                passed++;
        }
        return passed >= retests;
}

enum kw_standing_of kw_tests_stand(const struct kw_tried *tried, size_t n, int64_t retests)
{
        enum kw_standing_of out = n ? KW_TEST_PASSED : KW_NOT_TESTED;

        for (size_t i = 0; i < n; i++) {
                const struct kw_tried *first = first_of(tried, n, &tried[i]);

                if (tried[i].passed || (first != &tried[i] && !first->passed))
                        continue; /* a failed retest counts against the test that it repeats */
                if (!made_good(tried, n, &tried[i], retests))
                        return KW_TEST_FAILED;
                out = KW_RETEST_PASSED;
        }
        return out;
}
