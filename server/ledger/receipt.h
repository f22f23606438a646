#ifndef KW_LEDGER_RECEIPT_H
#define KW_LEDGER_RECEIPT_H
/* What an entry was answered with, kept for whoever sends it again. */
#include "store.h"

/**
 * kw_keep_findings - the findings about an entry as they are now, into @out as JSON and, where there are any, into its
 * receipt
 * @target: the entry that it put right; 0
 *
 * Findings stand beside the entry that they are about: the one put right, or the one that opened the run. Return: 0; a
 * negative errno.
 */
int kw_keep_findings(struct kw_ledger *l, int64_t seq, int64_t target, struct kw_buf *out);

/** kw_receipt_put - keep @findings, JSON, with a sum over them. Return: 0; a negative errno. */
int kw_receipt_put(struct kw_ledger *l, int64_t seq, const char *findings);
/** kw_receipt_get - append what was kept for an entry, "[]" where nothing was. Return: 0; a negative errno. */
int kw_receipt_get(struct kw_ledger *l, int64_t seq, struct kw_buf *out);
/** kw_receipts_check - @wrong: the first entry whose receipt is not what was written, 0: none. Return: 0; a negative
 * errno. */
int kw_receipts_check(struct kw_ledger *l, int64_t *wrong);

#endif
