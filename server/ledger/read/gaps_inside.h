#ifndef KW_READ_GAPS_INSIDE_H
#define KW_READ_GAPS_INSIDE_H
/* Finding gaps, from inside: gaps.c has the table, gaps_made.c what is about metal and runs,
 * gaps_overtaken.c what is about certificates, gaps_papers.c the rest. */
#include "gaps.h"
#include "reader.h"

struct kw_gap_search {
        struct kw_reader *r;
        struct kw_index *index; /* or NULL */
        const struct kw_gap_settings *settings;
        const atomic_bool *stop;
        size_t kind; /* that is looked for */
        struct kw_gap_list *out;
};

/** kw_gap_add - a gap without seeds yet; @type, @code and @detail are copied. Return: 0; -ENOMEM; -ECANCELED. */
int kw_gap_add(struct kw_gap_search *s, const char *type, const char *code, int64_t seq, int64_t figure,
               const char *detail);
/** kw_gap_seed - metal of the gap that was added last. */
int kw_gap_seed(struct kw_gap_search *s, int64_t lot, int64_t from, int64_t to);
/**
 * kw_gap_take - gaps out of a statement that gives type, code, seq, figure, detail, lot, its from and to
 * Rows with the same type, code and seq that follow one another are one gap; a NULL lot is no metal.
 * @rc: of kw_ask()
 */
int kw_gap_take(struct kw_gap_search *s, struct kw_query *q, int rc);

int kw_gaps_no_heat(struct kw_gap_search *s);
int kw_gaps_heat_papers(struct kw_gap_search *s);
int kw_gaps_balance(struct kw_gap_search *s);
int kw_gaps_proportion(struct kw_gap_search *s);
int kw_gaps_no_times(struct kw_gap_search *s);

int kw_gaps_no_test(struct kw_gap_search *s);
int kw_gaps_overtaken(struct kw_gap_search *s);
int kw_gaps_calibration(struct kw_gap_search *s);
int kw_gaps_late(struct kw_gap_search *s);
int kw_gaps_put_right(struct kw_gap_search *s);
int kw_gaps_finding(struct kw_gap_search *s);

#endif
