/*
 * Limits, and which specification a lot is judged by.
 */
#include "kinwire/quality.h"

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
        if (scope->from_um == NONE && scope->below_um == NONE)
                return closeness;
        if (lot->diameter_um <= 0 || (scope->from_um != NONE && lot->diameter_um < scope->from_um) ||
            (scope->below_um != NONE && lot->diameter_um >= scope->below_um))
                return -1;
        return closeness + 1;
}
