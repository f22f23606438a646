#ifndef KW_REPORT_TRACE_H
#define KW_REPORT_TRACE_H
/*
 * The answer to a trace from inside: made by trace_ask.c, written by trace_json.c, trace_csv.c and trace_table.c.
 */
#include "put.h"

#define KW_TOTALS 16 /* more than there are kinds of lot */

/** One lot of the answer. */
struct kw_trace_row {
        const struct kw_lot_row *lot;
        const struct kw_reach *reach;
        enum kw_verdict verdict;
        int64_t affected_mm, affected_g;
        struct kw_lot_state state;
        struct kw_spans affected_left; /* what is possible and still there */
        int64_t affected_left_mm;
        const char *run; /* code of the run that made it */
};

/** The lots of one kind. */
struct kw_trace_total {
        const char *kind;
        size_t lots, certain, possible;
        int64_t affected_mm;
        int64_t affected_g; /* KW_NONE when the mass of any of them is not known */
};

/** A lot that the trace starts with. */
struct kw_trace_start {
        const struct kw_lot_row *lot;
        const struct kw_reach *reach;
};

struct kw_trace_answer {
        struct kw_question question;
        struct kw_head head;
        struct kw_reader *reader;
        struct kw_index *index; /* held while it is asked, or NULL */
        struct kw_hits *starts_hits, *hits;
        const struct kw_trace_row *rows; /* in order of depth, then code */
        size_t n_rows;
        const struct kw_trace_start *starts;
        size_t n_starts;
        const char *const *heats; /* in order; of a trace back or to the kin */
        size_t n_heats;
        struct kw_trace_total totals[KW_TOTALS];
        size_t n_totals;
        const struct kw_trace_row *const *sent; /* dispatched, in order of consignment, then as in rows */
        size_t n_sent;
};

const char *kw_direction_text(enum kw_direction direction);
const char *kw_verdict_text(enum kw_verdict verdict);

/** Each writes one piece of the answer; as kw_trace_write(), which says how. */
int kw_trace_write_json(struct kw_trace_writer *w, struct kw_buf *out);
int kw_trace_write_csv(struct kw_trace_writer *w, struct kw_buf *out);
int kw_trace_write_table(struct kw_trace_writer *w, struct kw_buf *out);

/** kw_trace_page - the rows that are wanted: from, and up to but not including. */
void kw_trace_page(const struct kw_trace_writer *w, size_t *from, size_t *to);
/** kw_trace_row_next - the next row that is wanted, NULL when there is none or the limit is reached. */
const struct kw_trace_row *kw_trace_row_next(struct kw_trace_writer *w);
/** kw_trace_piece_full - whether enough has been appended since @before bytes. */
bool kw_trace_piece_full(const struct kw_buf *out, size_t before);
/** kw_trace_more - the `after` of the next page, NULL when all rows were given. */
const char *kw_trace_more(const struct kw_trace_writer *w);

#endif
