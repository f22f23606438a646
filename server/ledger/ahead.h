#ifndef KW_LEDGER_AHEAD_H
#define KW_LEDGER_AHEAD_H
/*
 * Entries read and checked ahead of whoever replays them: one thread reads, one a processor hashes and parses, and the
 * caller takes them in order. Deriving has to be done in order and by one; everything before it need not.
 */
#include "store.h"

#include <cjson/cJSON.h>

struct kw_ahead;

/** An entry as it stands and as it was parsed. rc: 0, or what its check said, with the sentence in @err. */
struct kw_ahead_entry {
        struct kw_stored stored;
        cJSON *leaf; /* the reader's */
        int rc;
        struct kw_error err;
};

/**
 * kw_ahead_new - begin with the entry after @after; @l is not to be used for anything else until kw_ahead_free()
 * @check: of one entry, called by any thread; gives the parsed leaf
 *
 * Return: 0; a negative errno.
 */
typedef int kw_ahead_check(const struct kw_stored *e, cJSON **leaf, struct kw_error *err);
int kw_ahead_new(struct kw_ledger *l, int64_t after, kw_ahead_check *check, struct kw_ahead **out);
/**
 * kw_ahead_next - the next entry; good until the next call
 * Return: 1; 0, there is none; a refusal or a negative errno: it can't be read on.
 */
int kw_ahead_next(struct kw_ahead *a, struct kw_ahead_entry **out, struct kw_error *err);
void kw_ahead_free(struct kw_ahead *a);

#endif
