#ifndef KINWIRE_MACHINE_FILE_H
#define KINWIRE_MACHINE_FILE_H
/*
 * A test machine's own file: CSV, read by the mapping of its columns that is kept for the instrument, row by row to
 * test entries.
 *
 * The shop's testing page reads such files in the browser (web/shop/csv.js) by the same rules; the cases that both are
 * held to are in tests/standards/machine-files.json. A row's key is made of the instrument and the row's cells, so that
 * a file that is posted again, whole or longer by then, records nothing twice.
 */
#include "kinwire/entry.h"

#define KW_CSV_COLUMNS 64
#define KW_CSV_ROWS    20000
#define KW_MAPPING     "kinwire mapping 1 " /* what a note with a mapping begins with */

/** A file taken apart. Rows without any text are left out; row 0 is that of the heads. */
struct kw_csv {
        char *room;
        const char **cells; /* n_rows * n_columns */
        size_t *lines;      /* where each row begins, from 1 */
        size_t n_rows, n_columns;
};

/**
 * kw_csv_read - RFC 4180, strictly, with ',', ';' or tab between cells (the one that the first line has most of)
 *
 * Blanks around a cell are no part of it. Refused are a quotation mark inside an unquoted cell or left open, anything
 * between a closing one and the next separator, a row of another number of cells than the first, what is not UTF-8, and
 * control characters; @err has the line and the values "column" (from 1) and "text".
 *
 * Return: 0; KW_BAD_VALUE, KW_TOO_LARGE; -ENOMEM. Free with kw_csv_free() in every case.
 */
int kw_csv_read(const char *text, size_t n, struct kw_csv *out, struct kw_error *err);
void kw_csv_free(struct kw_csv *csv);
/** kw_csv_row - the cells of row @i */
const char *const *kw_csv_row(const struct kw_csv *csv, size_t i);

/**
 * kw_row_key - the key of a row: a name-based UUID (RFC 9562, version 5) of the JSON [instrument, cell, cell, ...]
 */
int kw_row_key(const char *instrument, const char *const *cells, size_t n, char key[KW_KEY_LEN + 1]);
/** kw_sha1 - FIPS 180-4; for names only, where nobody's word hangs on it. */
void kw_sha1(const void *bytes, size_t n, unsigned char out[20]);

/**
 * kw_machine_figure - a cell as the stored whole number
 * @target:  the member that it becomes: "diameter_um", "at_mm", ...
 * @unit:    the column's, NULL for the stored quantity's usual one (m, mm, MPa, kN, g/m2); one in the cell comes first
 * @decimal: '.' or ','; the other one may part thousands
 *
 * Return: whether it can be read; rounded half away from zero.
 */
bool kw_machine_figure(const char *text, const char *target, const char *unit, char decimal, int64_t *out);

/**
 * kw_mapping_fits - whether a note's text is a mapping for these heads
 * @out: receives it when it is, for the caller to cJSON_Delete()
 */
bool kw_mapping_fits(const char *note, const struct kw_csv *csv, cJSON **out);

/**
 * kw_machine_row - row @i as an entry of kind test, as it would be sent
 * Return: 0; KW_BAD_VALUE with the line and the values "head", "text" and "column"; -ENOMEM.
 */
int kw_machine_row(const struct kw_csv *csv, size_t i, const cJSON *mapping, const char *instrument,
                   struct kw_buf *entry, struct kw_error *err);

#endif
