#ifndef KW_READ_PERIOD_H
#define KW_READ_PERIOD_H
/* What happened in a time: runs, lots received, and what was taken of lots other than by runs. */
#include "read.h"

#include "kinwire/undone.h"

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
        int64_t lot, from, to, at;
        enum kw_claim_kind what; /* not a feed */
        const char *code;
};
/** kw_read_taken_in - samples, scrap and dispatches of then. */
int kw_read_taken_in(struct kw_reader *r, const struct kw_period *in, const struct kw_taken_row **out, size_t *n);
/** kw_read_taken_by - those of one entry. */
int kw_read_taken_by(struct kw_reader *r, int64_t seq, const struct kw_taken_row **out, size_t *n);

/** What of an entry counts in a balance over a time. */
enum kw_counts { KW_COUNTS_RUN, KW_COUNTS_RECEIVED, KW_COUNTS_TAKEN };
/**
 * kw_each_counted - @fn for each of entries @first to @last that counts, with the time at which it does; of one that
 * took of several lots more than once
 * Return: 0; what @fn returned; a negative errno.
 */
int kw_each_counted(struct kw_ledger *ledger, int64_t first, int64_t last,
                    int (*fn)(void *ctx, int64_t seq, enum kw_counts what, int64_t at), void *ctx);
/** Who told what was undone. What the writer did not tell is read off the tables. As long as nothing was put right
 * there, these tell: what leans on a run that was gone on with still does. */
enum kw_told {
        KW_TOLD,           /* the writer */
        KW_TOLD_SINCE,     /* the writer, of what came after its first word */
        KW_TOLD_BY_NOBODY, /* another program wrote */
};
/**
 * kw_each_changed - @fn for each entry up to @from that came to say something else by those after it, up to @to: what
 * was undone, and runs that were gone on with; for some that did not as well, and for some after @from
 * @undone: what the writer told
 *
 * Return: 0; what @fn returned; without having called it: -EAGAIN, the writer has not told yet; -ESTALE, there is
 * nothing that tells; another negative errno.
 */
int kw_each_changed(struct kw_ledger *ledger, struct kw_undone *undone, int64_t from, int64_t to, enum kw_told by,
                    int (*fn)(void *ctx, int64_t seq), void *ctx);
/** kw_any_put_right - whether there is a correction among entries @first to @last. Return: 1; 0; a negative errno. */
int kw_any_put_right(struct kw_ledger *ledger, int64_t first, int64_t last);

/** What a run is called. */
struct kw_run_name {
        const char *code, *process, *machine;
};
int kw_read_run_name(struct kw_reader *r, int64_t id, struct kw_run_name *out);

#endif
