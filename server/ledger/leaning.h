#ifndef KW_LEDGER_LEANING_H
#define KW_LEDGER_LEANING_H
/* Which entries lean on an entry. */
#include "store.h"

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

/** One entry to be done again. */
struct kw_again {
        int64_t seq;
        bool done;
        UT_hash_handle hh;
};

/** kw_again_add - put @seq into the set. Return: 1 when it is new, 0 when it was there; -ENOMEM. */
int kw_again_add(struct kw_again **set, int64_t seq);
void kw_again_free(struct kw_again **set);

/** kw_leaning - add to @set every entry that leans on @seq, and those that lean on them, and so on; @seq itself is
 * added. */
int kw_leaning(struct kw_ledger *l, int64_t seq, struct kw_again **set);

/** kw_leaning_on_lot - add every entry after @seq that takes from the lot, with all that lean on it. */
int kw_leaning_on_lot(struct kw_ledger *l, int64_t lot, int64_t seq, struct kw_again **set);

/** kw_leaning_rows - add the entries whose numbers a started query gives, with all that lean on them; ends the query.
 */
int kw_leaning_rows(struct kw_ledger *l, struct kw_query *q, struct kw_again **set);

#endif
