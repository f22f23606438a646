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

#endif
