/*
 * The lots of a trace as CSV (RFC 4180): a header row, CRLF, quotation marks where a cell needs them.
 *
 * A spreadsheet takes a cell that begins with = + - or @ for a formula, so such a cell gets an apostrophe before it.
 */
#include "trace.h"

#include <inttypes.h>
#include <string.h>

static void put_cell(struct kw_buf *out, const char *text)
{
        bool quote;

        kw_buf_text_add(out, ",");
        if (!text)
                return;
        quote = strpbrk(text, ",\"\r\n") != NULL;
        kw_buf_text_add(out, quote ? "\"" : "");
        if (*text && strchr("=+-@\t\r", *text))
                kw_buf_text_add(out, "'");
        for (; *text; text++) {
                if (*text == '"')
                        kw_buf_text_add(out, "\"");
                kw_buf_add(out, text, 1);
        }
        kw_buf_text_add(out, quote ? "\"" : "");
}

static void put_number_cell(struct kw_buf *out, int64_t value)
{
        kw_buf_text_add(out, ",");
        if (value != KW_NONE)
                kw_buf_printf(out, "%" PRId64, value);
}

static void put_spans_cell(struct kw_buf *out, const struct kw_spans *spans)
{
        kw_buf_text_add(out, ",");
        for (size_t i = 0; i < spans->n; i++)
                kw_buf_printf(out, "%s%" PRId64 "-%" PRId64, i ? " " : "", spans->at[i].from, spans->at[i].to);
}

/* Codes hold neither commas nor quotation marks. */
static void put_codes_cell(struct kw_buf *out, const char *const *codes, size_t n)
{
        kw_buf_text_add(out, n && codes[0][0] == '-' ? ",'" : ",");
        for (size_t i = 0; i < n; i++)
                kw_buf_printf(out, "%s%s", i ? " " : "", codes[i]);
}

static void put_row(const struct kw_trace_row *row, struct kw_buf *out)
{
        kw_buf_printf(out, "%s%s", row->lot->code[0] == '-' ? "'" : "", row->lot->code);
        put_cell(out, row->lot->kind);
        put_cell(out, kw_verdict_text(row->verdict));
        put_number_cell(out, row->lot->length_mm);
        put_number_cell(out, row->affected_mm);
        put_number_cell(out, row->affected_g);
        put_number_cell(out, row->state.left_mm);
        put_cell(out, kw_lot_is_text(row->state.is));
        put_cell(out, row->state.location);
        put_cell(out, row->state.consignee);
        put_codes_cell(out, row->state.holds, row->state.n_holds);
        put_spans_cell(out, &row->reach->certain);
        put_spans_cell(out, &row->reach->possible);
        kw_buf_text_add(out, "\r\n");
}

int kw_trace_write_csv(struct kw_trace_writer *w, struct kw_buf *out)
{
        const struct kw_trace_row *row;
        size_t before = out->n;

        if (w->stage == 0)
                kw_buf_text_add(out,
                                "lot,kind,verdict,length_mm,affected_mm,affected_g,left_mm,state,location,consignee,"
                                "holds,certain,possible\r\n");
        w->stage = 1;
        while ((row = kw_trace_row_next(w))) {
                put_row(row, out);
                if (kw_trace_piece_full(out, before))
                        return 1;
        }
        return 0;
}
