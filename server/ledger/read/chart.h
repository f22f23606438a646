#ifndef KW_READ_CHART_H
#define KW_READ_CHART_H
/* The results of one property, as a chart wants them. */
#include "read.h"

#include "kinwire/quality.h"

/** Which results. NULL, 0 or KW_NONE where it is not asked for. */
struct kw_points_wanted {
        const char *property;
        int64_t since, until; /* of the test; INT64_MIN and INT64_MAX where not bounded */
        const char *kind, *grade, *construction, *machine, *instrument, *spec;
        int64_t tensile_kpa, from_um, below_um;
        int64_t lot, run;             /* ids */
        const struct kw_hits *within; /* only samples that lie in these spans; of unknown place: whose lot does */
        size_t most;                  /* the last so many in order of time */
};

/** A result. */
struct kw_point_row {
        int64_t seq, at, value;
        const char *test, *lot, *kind, *grade, *construction, *run, *machine, *instrument, *verdict;
        int64_t lot_id, diameter_um, tensile_kpa;
        int64_t at_mm;    /* on its lot */
        int64_t place_mm; /* on the output of the run that made the lot */
        const char *spec;
        int64_t version;
        struct kw_limit limit;
        bool possibly; /* of @within: the sample may lie in it; else it surely does */
};

/**
 * kw_read_points - in order of time, then of entry
 * @more: whether there are earlier ones than @wanted->most
 *
 * Read by lot, run or instrument where one is asked for, else by property and time: never more than the results of the
 * one property.
 */
int kw_read_points(struct kw_reader *r, const struct kw_points_wanted *wanted, const struct kw_point_row **out,
                   size_t *n, bool *more);

#endif
