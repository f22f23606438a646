#ifndef KW_LEDGER_SCRATCH_H
#define KW_LEDGER_SCRATCH_H
/* A ledger that nobody keeps, into which another is replayed so that the two can be compared. */
#include "store.h"

#include <cjson/cJSON.h>

/**
 * kw_scratch_open - an empty ledger in a temporary file that vanishes when it is closed
 * @of: what is replayed into it, whose rules hold in it; NULL: none is
 */
int kw_scratch_open(const struct kw_ledger *of, struct kw_ledger **out, struct kw_error *err);

/**
 * kw_replay - put a stored entry into a scratch ledger and derive what follows, judging nothing
 * Return: 0; KW_BAD_VALUE when its leaf does not say what its columns say, its hash is another, or it can't be derived.
 */
int kw_replay(struct kw_ledger *scratch, const struct kw_stored *e, struct kw_error *err);

/**
 * The same in parts, for who does them apart:
 * kw_replay_check - what is to be seen of the entry by itself; gives its leaf, which may also be there after a refusal
 * kw_replay_in_turn - whether it follows @size others
 * kw_replay_checked - derive it and add it
 */
int kw_replay_check(const struct kw_stored *e, cJSON **leaf, struct kw_error *err);
int kw_replay_in_turn(const struct kw_stored *e, int64_t size, struct kw_error *err);
int kw_replay_checked(struct kw_ledger *scratch, const struct kw_stored *e, const cJSON *leaf, struct kw_error *err);

/** kw_rebuild - empty the derived tables and fill them again from the entries; inside a transaction. */
int kw_rebuild(struct kw_ledger *l, struct kw_error *err);

#endif
