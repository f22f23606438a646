#ifndef KW_LEDGER_CORRECT_H
#define KW_LEDGER_CORRECT_H
/* Putting an entry right, and doing again what follows from it. */
#include "work.h"

/**
 * kw_apply_correction - the derived rows of a correct or void entry
 * @w: the work of the correcting entry; @w->body its body, the inner one in its normal form
 * Return: 0; a refusal: KW_UNKNOWN_ENTRY, KW_BAD_VALUE, or what an entry that follows would be refused with.
 */
int kw_apply_correction(struct kw_work *w);

/** kw_derived - names of the derived tables with the columns they are ordered by, ended by a row without a name. */
struct kw_derived {
        const char *name;
        const char *order; /* behind seq */
};
extern const struct kw_derived kw_derived[];

/** kw_undo_entry - remove the rows that the entry at @seq made. */
int kw_undo_entry(struct kw_ledger *l, int64_t seq);

/**
 * kw_target_kind - the kind of the entry that a correct or void names, for the check of its inner body
 * @key, @kind: receive the target's; @kind has room for 16
 */
int kw_find_target(struct kw_ledger *l, const char *entry_key, const char *pointer, int64_t *seq, char kind[16],
                   struct kw_error *err);

#endif
