#ifndef KINWIRE_GAPS_H
#define KINWIRE_GAPS_H
/*
 * Gaps in the record, each weighed by the metres of sold metal that it reaches, and how complete the record of what was
 * sold is, month by month.
 *
 * They are found and weighed together for one state of the ledger, which takes a second or more for a year of a large
 * mill; what is found is kept by the caller, in a file for the next start as well, and written out page by page.
 */
#include "kinwire/answer.h"
#include "kinwire/index.h"

#include <stdatomic.h>

/** From when on a way between known points is long, and an entry late. */
struct kw_gaps_asked {
        int64_t long_mm, late_s;
};
/** kw_gaps_usual - what counts where nothing else is asked. */
struct kw_gaps_asked kw_gaps_usual(void);

/** What another thread sees of a finding, and may say to it. */
struct kw_gaps_watch {
        atomic_bool stop; /* ends it when it becomes true */
        atomic_int far;   /* how far it is, of KW_GAPS_ALL */
};
#define KW_GAPS_ALL 1000

struct kw_gaps;

/**
 * kw_gaps_find - find and weigh every gap; inside a view of the ledger
 * @index: stands at the view's size and is nobody else's while this goes on; NULL: by the tables, which takes far
 * longer
 * Return: 0; -ECANCELED; a refusal; a negative errno.
 */
int kw_gaps_find(struct kw_ledger *ledger, struct kw_index *index, const struct kw_gaps_asked *asked,
                 struct kw_gaps_watch *watch, struct kw_gaps **out, struct kw_error *err);
void kw_gaps_free(struct kw_gaps *gaps);
/** kw_gaps_size - of the ledger that they were found in. */
int64_t kw_gaps_size(const struct kw_gaps *gaps);
const struct kw_gaps_asked *kw_gaps_asked(const struct kw_gaps *gaps);

/**
 * kw_gaps_save - put them into @file, for the next start; @ledger: inside a view of it
 * Return: 0; -EBUSY, another program is writing it; a refusal; another negative errno, with the file as it was.
 */
int kw_gaps_save(const struct kw_gaps *gaps, struct kw_ledger *ledger, const char *file, int64_t took_ms);
/**
 * kw_gaps_open - those that a file has, where it fits what @ledger looks at: of the size that they were found in
 * @why: receives what was wrong with a file that is not used; NULL: there was none
 * Return: 0; a negative errno, there are none to use.
 */
int kw_gaps_open(const char *file, struct kw_ledger *ledger, struct kw_gaps **out, int64_t *took_ms, const char **why);

/** kw_gaps_kind_known - whether there is such a kind of gap. */
bool kw_gaps_kind_known(const char *kind);

/**
 * Gaps on their way out, worst first, piece by piece.
 * @kind: of that kind only, or NULL; @after: how many to pass over; @limit: at most, 0 for all.
 */
struct kw_gaps_writer {
        const struct kw_gaps *gaps;
        bool csv;
        const char *kind;
        size_t after, limit;
        size_t next, passed, given; /* internal */
        bool begun;
};
/** kw_gaps_write - append the next piece (about 64 KiB) to @out. Return: 1, more to come; 0, the last; -ENOMEM. */
int kw_gaps_write(struct kw_gaps_writer *w, struct kw_buf *out);

#endif
