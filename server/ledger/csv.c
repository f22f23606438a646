/*
 * CSV, strictly (RFC 4180): what a spreadsheet would guess at is refused, with the line and the column.
 */
#include "kinwire/machine_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct reader {
        const char *at, *end;
        size_t line, column, width;
        char mark;
        char *to; /* in the room, which is as large as the text */
        size_t cap, n;
        struct kw_csv *out;
        struct kw_error *err;
};

static int refuse(const struct reader *r, const char *as, const char *what)
{
        int rc = kw_refuse_with(r->err, KW_BAD_VALUE, NULL, as, KW_VALUES(KW_FIGURE("column", (int64_t)r->column)),
                                "line %zu, column %zu: %s", r->line, r->column, what);

        if (r->err)
                r->err->line = r->line;
        return rc;
}

/* What stands most often between cells in the first line, outside of quotation marks. */
static char separator(const char *at, const char *end)
{
        static const char marks[] = ",;\t";
        size_t count[3] = {0}, best = 0;

        for (; at < end && *at != '\n'; at++) {
                const char *stop = *at == '"' ? memchr(at + 1, '"', (size_t)(end - at - 1)) : NULL;

                if (stop && !memchr(at, '\n', (size_t)(stop - at)))
                        at = stop;
                else if (*at && strchr(marks, *at))
                        count[strchr(marks, *at) - marks]++;
        }
        for (size_t i = 1; i < 3; i++)
                if (count[i] > count[best])
                        best = i;
        return marks[best];
}

/* The bytes of the next character; 0: it is not UTF-8, or one that no file of figures has. */
static size_t character(const char *at, const char *end)
{
        const unsigned char *c = (const unsigned char *)at;
        size_t n = c[0] < 0x80 ? 1 : c[0] < 0xc2 ? 0 : c[0] < 0xe0 ? 2 : c[0] < 0xf0 ? 3 : c[0] < 0xf5 ? 4 : 0;

        if (n > (size_t)(end - at) || (n == 1 && ((c[0] < 0x20 && !strchr("\t\r\n", c[0])) || c[0] == 0x7f || !c[0])))
                return 0;
        for (size_t i = 1; i < n; i++)
                if ((c[i] & 0xc0) != 0x80)
                        return 0;
        if ((c[0] == 0xe0 && c[1] < 0xa0) || (c[0] == 0xed && c[1] > 0x9f) || (c[0] == 0xf0 && c[1] < 0x90) ||
            (c[0] == 0xf4 && c[1] > 0x8f))
                return 0;
        return n;
}

static int copy_character(struct reader *r)
{
        size_t n = character(r->at, r->end);

        if (!n)
                return refuse(r, "not-text", "this is not text in UTF-8");
        memcpy(r->to, r->at, n);
        r->to += n;
        r->at += n;
        return 0;
}

static bool at_break(const struct reader *r)
{
        return r->at == r->end || *r->at == r->mark || *r->at == '\n' || *r->at == '\r';
}

static bool blank(char c)
{
        return c == ' ' || c == '\t';
}

static void skip_blanks(struct reader *r)
{
        while (r->at < r->end && blank(*r->at) && *r->at != r->mark)
                r->at++;
}

static int quoted(struct reader *r)
{
        r->at++;
        for (;;) {
                if (r->at == r->end)
                        return refuse(r, "open-quote", "a quotation mark is left open");
                if (*r->at == '"') {
                        r->at++;
                        if (r->at == r->end || *r->at != '"')
                                break;
                }
                if (*r->at == '\n')
                        r->line++;
                int rc = copy_character(r);
                if (rc)
                        return rc;
        }
        skip_blanks(r);
        return at_break(r) ? 0 : refuse(r, "after-quote", "something stands behind a closing quotation mark");
}

/* One cell, and whether it ended its row. */
static int cell(struct reader *r, bool *ended)
{
        char *from = r->to;
        int rc = 0;

        if (r->n == r->cap) {
                size_t cap = r->cap ? 2 * r->cap : 256;
                const char **more = reallocarray(r->out->cells, cap, sizeof(*more));

                if (!more)
                        return -ENOMEM;
                r->out->cells = more;
                r->cap = cap;
        }
        skip_blanks(r);
        if (r->at < r->end && *r->at == '"') {
                rc = quoted(r);
        } else {
                while (rc == 0 && !at_break(r))
                        rc = *r->at == '"' ? refuse(r, "stray-quote", "a quotation mark stands inside a cell")
                                           : copy_character(r);
        }
        if (rc)
                return rc;
        while (from < r->to && blank(*from))
                from++;
        while (from < r->to && blank(r->to[-1]))
                r->to--;
        *r->to++ = '\0';
        r->out->cells[r->n++] = from;
        if (r->at < r->end && *r->at == '\r') {
                r->at++;
                if (r->at < r->end && *r->at != '\n')
                        return refuse(r, "not-text", "a line ends in half");
        }
        *ended = r->at == r->end || *r->at == '\n';
        r->at += r->at < r->end;
        return 0;
}

static int row(struct reader *r)
{
        size_t first = r->n, begun = r->line, *lines;
        bool ended = false, any = false;
        int rc = 0;

        for (r->column = 1; rc == 0 && !ended; r->column++) {
                rc = r->column > KW_CSV_COLUMNS ? refuse(r, "too-wide", "there are too many cells in a row")
                                                : cell(r, &ended);
                any |= rc == 0 && r->out->cells[r->n - 1][0];
        }
        if (rc)
                return rc;
        r->line++;
        if (!any) {
                r->n = first;
                return 0;
        }
        if (!r->out->n_rows)
                r->out->n_columns = r->n;
        if (r->n - first != r->out->n_columns) {
                r->line = begun;
                r->column = r->n - first;
                return refuse(r, "cells", "the row has another number of cells than the first");
        }
        if (r->out->n_rows == KW_CSV_ROWS)
                return kw_refuse(r->err, KW_TOO_LARGE, NULL, "a file may have %d rows", KW_CSV_ROWS);
        lines = r->out->n_rows % 256 ? r->out->lines
                                     : reallocarray(r->out->lines, r->out->n_rows + 256, sizeof(*lines));
        if (!lines)
                return -ENOMEM;
        r->out->lines = lines;
        lines[r->out->n_rows++] = begun;
        return 0;
}

int kw_csv_read(const char *text, size_t n, struct kw_csv *out, struct kw_error *err)
{
        struct reader r = {.at = text, .end = text + n, .line = 1, .out = out, .err = err};
        int rc = 0;

        memset(out, 0, sizeof(*out));
        if (n >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
                r.at += 3;
        /* a cell is never longer than it was, and the NUL after it takes the place of what ended it, but for the last
         */
        out->room = r.to = malloc(n + 1);
        if (!out->room)
                return -ENOMEM;
        r.mark = separator(r.at, r.end);
        while (rc == 0 && r.at < r.end)
                rc = row(&r);
        if (rc == 0 && !out->n_rows)
                rc = kw_refuse_with(err, KW_BAD_VALUE, NULL, "empty", NULL, "there is nothing in the file");
        return rc;
}

const char *const *kw_csv_row(const struct kw_csv *csv, size_t i)
{
        return csv->cells + i * csv->n_columns;
}

void kw_csv_free(struct kw_csv *csv)
{
        free(csv->room);
        free(csv->cells);
        free(csv->lines);
        memset(csv, 0, sizeof(*csv));
}
