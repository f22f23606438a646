/*
 * Charts of a property over time: individuals with their moving ranges, and capability.
 *
 *      limits = mean -+ 2.66 MR      upper limit of the ranges = 3.267 MR      MR = mean of |x(i) - x(i-1)|
 *      sigma = MR / d2(2)            Cp = (max - min) / 6 sigma                Cpk = nearest limit / 3 sigma
 */
#include "kinwire/quality.h"

#include "wide.h"

#define NONE KW_NO_FIGURE

int64_t kw_d2(int n)
{
        static const int16_t d2[] = {1128, 1693, 2059, 2326, 2534, 2704, 2847, 2970, 3078};

        return n >= 2 && n <= 10 ? d2[n - 2] : NONE;
}

/* To the nearest, halves away from zero; @d > 0. */
static int64_t nearest(kw_wide n, kw_wide d)
{
        return (int64_t)((n + (n < 0 ? -d : d) / 2) / d);
}

bool kw_chart_of(const int64_t *values, size_t n, struct kw_chart *out)
{
        kw_wide sum = 0, moved = 0, count = (kw_wide)n;

        if (n < 2)
                return false;
        for (size_t i = 0; i < n; i++) {
                sum += values[i];
                if (i)
                        moved += values[i] < values[i - 1] ? values[i - 1] - values[i] : values[i] - values[i - 1];
        }
        *out = (struct kw_chart){
                .mean = nearest(sum * 1000, count),
                .range_mean = nearest(moved * 1000, count - 1),
                .lower = nearest(sum * 1000 * (count - 1) - KW_INDIVIDUALS_FACTOR * moved * count, count * (count - 1)),
                .upper = nearest(sum * 1000 * (count - 1) + KW_INDIVIDUALS_FACTOR * moved * count, count * (count - 1)),
                .range_upper = nearest(KW_MOVING_RANGE_FACTOR * moved, count - 1)};
        for (size_t i = 0; i < n; i++)
                out->beyond += values[i] * (kw_wide)1000 < out->lower || values[i] * (kw_wide)1000 > out->upper;
        return true;
}

/* @distance / (@sigmas x range mean / d2), thousandths; both in thousandths, as d2 is. */
static int64_t in_sigmas(kw_wide distance, int sigmas, const struct kw_chart *chart)
{
        return nearest(distance * kw_d2(2), (kw_wide)sigmas * chart->range_mean);
}

struct kw_capability kw_capability_of(const struct kw_chart *chart, const struct kw_limit *limit)
{
        struct kw_capability out = {NONE, NONE};

        if (chart->range_mean <= 0)
                return out;
        if (limit->min != NONE)
                out.cpk = in_sigmas(chart->mean - (kw_wide)limit->min * 1000, 3, chart);
        if (limit->max != NONE) {
                int64_t above = in_sigmas((kw_wide)limit->max * 1000 - chart->mean, 3, chart);

                out.cpk = out.cpk == NONE || above < out.cpk ? above : out.cpk;
        }
        if (limit->min != NONE && limit->max != NONE)
                out.cp = in_sigmas(((kw_wide)limit->max - limit->min) * 1000, 6, chart);
        return out;
}
