#ifndef KINWIRE_IMPORT_H
#define KINWIRE_IMPORT_H
/*
 * A test machine's file read by the mapping that the ledger keeps for its instrument.
 */
#include "kinwire/ledger.h"

/**
 * kw_import_read - each row of the file as an entry, to @row in order, until that returns other than 0
 * @ledger:     inside a view; the mapping is the latest note about the instrument that has these heads
 * @instrument: a code in its form
 * @row:        receives the entry as it would be sent, and the line of the file
 *
 * Return: 0; what @row returned; KW_BAD_VALUE with line and column, KW_MISSING where no mapping is kept for these
 * heads, KW_TOO_LARGE; -ENOMEM.
 */
int kw_import_read(struct kw_ledger *ledger, const char *instrument, const char *text, size_t n,
                   int (*row)(void *ctx, const struct kw_buf *entry, size_t line), void *ctx, struct kw_error *err);

#endif
