#ifndef KW_REPORT_CELL_H
#define KW_REPORT_CELL_H
/*
 * Cells of CSV (RFC 4180): quotation marks where a cell needs them.
 *
 * A spreadsheet takes a cell that begins with = + - or @ for a formula, so such a text gets an apostrophe before it.
 */
#include "kinwire/buf.h"

/** kw_csv_first - the first cell of a row; NULL: an empty one. */
void kw_csv_first(struct kw_buf *out, const char *text);
/** kw_csv_text - a comma and the next cell. */
void kw_csv_text(struct kw_buf *out, const char *text);
/** kw_csv_number - the same of a number; KW_NONE: an empty cell. */
void kw_csv_number(struct kw_buf *out, int64_t value);

#endif
