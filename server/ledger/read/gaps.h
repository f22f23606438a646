#ifndef KW_READ_GAPS_H
#define KW_READ_GAPS_H
/*
 * Gaps: where the record is broken or weak. What each kind is stands in one table (gaps.c); a kind's finder tells every
 * gap of its kind once, with the metal that it is about.
 *
 *      no-heat       metal of which no heat is recorded             no-times    a run without its beginning or its end
 *      heat-papers   a heat without mill certificate or analysis    overtaken   a certificate in force over what came
 * after it no-test       sold without a test; a test that a             calibration tests made outside a calibration
 *                    specification asks for is not there            late        logged long after it happened
 *      balance       masses unknown, or beyond the tolerance        put-right   an entry that was corrected or voided
 *      proportion    joints not seen, over a long way               finding     something odd that nobody has answered
 */
#include "read.h"

#include <stdatomic.h>

struct kw_gap_settings {
        int64_t long_mm; /* of output between two known points on a line, from which on it is a long way */
        int64_t late_s;  /* between happening and being logged, from which on that is late */
};
#define KW_GAP_LONG_MM ((int64_t)20 * 1000 * 1000)
#define KW_GAP_LATE_S  ((int64_t)3 * 86400)

/** Metal that a gap is about. */
struct kw_gap_seed {
        int64_t lot, from, to;
};

struct kw_gap_row {
        size_t kind;             /* in the table */
        const char *type, *code; /* of the thing; NULL: the entry itself */
        int64_t seq;             /* the entry that made it */
        int64_t figure;          /* what the kind counts: mm, seconds, tests, ...; KW_NONE */
        const char *detail;      /* which of several things it is, or a text from the ledger; may be NULL */
        size_t first, n;         /* its seeds */
};

struct kw_gap_list {
        struct kw_gap_row *rows;
        struct kw_gap_seed *seeds;
        size_t n, cap, n_seeds, cap_seeds;
};
void kw_gap_list_free(struct kw_gap_list *list);

/** kw_gap_kind - the name of kind @i, NULL past the last. */
const char *kw_gap_kind(size_t i);
/** kw_gap_broken - whether the chain is broken at such a gap; else it is only weak there. */
bool kw_gap_broken(size_t i);
/**
 * kw_read_gaps - every gap of every kind; texts stay valid as long as the reader
 * @index: for traces, held at the size of the view; NULL: by the tables
 * @stop: ends it when it becomes true; @told: of each kind before it is looked for
 * Return: 0; -ECANCELED; a negative errno.
 */
int kw_read_gaps(struct kw_reader *r, struct kw_index *index, const struct kw_gap_settings *settings,
                 const atomic_bool *stop, void (*told)(void *ctx, size_t done, size_t of), void *ctx,
                 struct kw_gap_list *out);

/** What was dispatched of a lot, and when. */
struct kw_sent_row {
        int64_t lot, from, to, at;
};
/** kw_read_sent - every length that was sent out, in order of lot and from. */
int kw_read_sent(struct kw_reader *r, const struct kw_sent_row **out, size_t *n);

#endif
