#ifndef KW_READ_PERIOD_H
#define KW_READ_PERIOD_H
/* What happened in a time: runs, lots received, and what was taken of lots other than by runs. */
#include "read.h"

/** [since, until), seconds since 1970. */
struct kw_period {
        int64_t since, until;
};

/** kw_read_runs_in - ids of the runs that ended then (or were recorded, where no end is), on @machine or, NULL, on any;
 * in order of id. */
int kw_read_runs_in(struct kw_reader *r, const char *machine, const struct kw_period *in, const int64_t **out,
                    size_t *n);
/** kw_read_received_in - ids of the lots received then. */
int kw_read_received_in(struct kw_reader *r, const struct kw_period *in, const int64_t **out, size_t *n);

struct kw_taken_row {
        int64_t lot, from, to;
        enum kw_claim_kind what; /* not a feed */
        const char *code;
};
/** kw_read_taken_in - samples, scrap and dispatches of then. */
int kw_read_taken_in(struct kw_reader *r, const struct kw_period *in, const struct kw_taken_row **out, size_t *n);

#endif
