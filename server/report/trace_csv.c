/*
 * The lots of a trace as CSV (RFC 4180): a header row, CRLF.
 */
#include "cell.h"
#include "trace.h"

#include <inttypes.h>
#include <string.h>

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
        kw_csv_first(out, row->lot->code);
        kw_csv_text(out, row->lot->kind);
        kw_csv_text(out, kw_verdict_text(row->verdict));
        kw_csv_number(out, row->lot->length_mm);
        kw_csv_number(out, row->affected_mm);
        kw_csv_number(out, row->affected_g);
        kw_csv_number(out, row->state.left_mm);
        kw_csv_text(out, kw_lot_is_text(row->state.is));
        kw_csv_text(out, row->state.location);
        kw_csv_text(out, row->state.consignee);
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
