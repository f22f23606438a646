/*
 * A trace as a table for a terminal: lot by lot in metres, then sums by kind and what to contain.
 */
#include "trace.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Millimetres as metres, all three decimals: the answer is exact to the millimetre. */
static void put_metres(struct kw_buf *out, int64_t mm, int width)
{
        char text[32];

        snprintf(text, sizeof(text), "%" PRId64 ".%03d", mm / 1000, (int)(mm % 1000));
        kw_buf_printf(out, "  %*s", width, text);
}

static void put_span_list(struct kw_buf *out, const struct kw_spans *spans)
{
        if (!spans->n)
                kw_buf_text_add(out, "none");
        for (size_t i = 0; i < spans->n; i++)
                kw_buf_printf(out, "%s%" PRId64 ".%03d-%" PRId64 ".%03d", i ? ", " : "", spans->at[i].from / 1000,
                              (int)(spans->at[i].from % 1000), spans->at[i].to / 1000, (int)(spans->at[i].to % 1000));
}

static int lot_width(const struct kw_trace_answer *a)
{
        size_t width = 3;

        for (size_t i = 0; i < a->n_rows; i++) {
                size_t n = strlen(a->rows[i].lot->code);

                width = n > width ? n : width;
        }
        return (int)width;
}

static void put_title(const struct kw_trace_answer *a, struct kw_buf *out)
{
        char hex[KW_HASH_HEX];

        kw_hash_hex(&a->head.root, hex);
        kw_buf_printf(out, "%s:%s, %s: %zu lots, in a ledger of %" PRId64 " entries (head %.16s)\n", a->question.type,
                      a->question.code, kw_direction_text(a->question.direction), a->n_rows, a->head.size, hex);
        if (a->question.direction != KW_FORWARD) {
                kw_buf_text_add(out, "heats:");
                for (size_t i = 0; i < a->n_heats; i++)
                        kw_buf_printf(out, " %s", a->heats[i]);
                kw_buf_text_add(out, a->n_heats ? "\n" : " none\n");
        }
        kw_buf_printf(out, "\n%-*s  %-6s  %-8s  %14s  %14s  %14s  %-10s  %s\n", lot_width(a), "LOT", "KIND", "VERDICT",
                      "LENGTH m", "AFFECTED m", "LEFT m", "STATE", "CERTAIN m / POSSIBLE m / WHERE");
}

static void put_row(const struct kw_trace_row *row, int width, struct kw_buf *out)
{
        const struct kw_lot_state *state = &row->state;

        kw_buf_printf(out, "%-*s  %-6s  %-8s", width, row->lot->code, row->lot->kind, kw_verdict_text(row->verdict));
        put_metres(out, row->lot->length_mm, 14);
        put_metres(out, row->affected_mm, 14);
        put_metres(out, state->left_mm, 14);
        kw_buf_printf(out, "  %-10s  ", kw_lot_is_text(state->is));
        put_span_list(out, &row->reach->certain);
        kw_buf_text_add(out, " / ");
        put_span_list(out, &row->reach->possible);
        if (state->consignment)
                kw_buf_printf(out, " / %s in %s", state->consignee, state->consignment);
        else if (state->location)
                kw_buf_printf(out, " / %s", state->location);
        kw_buf_text_add(out, "\n");
}

static void put_totals(const struct kw_trace_answer *a, struct kw_buf *out)
{
        kw_buf_printf(out, "\n%-8s  %6s  %8s  %9s  %14s  %12s\n", "KIND", "LOTS", "CERTAIN", "POSSIBLE", "AFFECTED m",
                      "kg");
        for (size_t i = 0; i < a->n_totals; i++) {
                const struct kw_trace_total *total = &a->totals[i];

                kw_buf_printf(out, "%-8s  %6zu  %8zu  %9zu", total->kind, total->lots, total->certain, total->possible);
                put_metres(out, total->affected_mm, 14);
                if (total->affected_g == KW_NONE)
                        kw_buf_printf(out, "  %12s\n", "not known");
                else
                        kw_buf_printf(out, "  %8" PRId64 ".%03d\n", total->affected_g / 1000,
                                      (int)(total->affected_g % 1000));
        }
}

static void put_containment(const struct kw_trace_answer *a, struct kw_buf *out)
{
        size_t n = 0;

        for (size_t i = 0; i < a->n_rows; i++)
                n += a->rows[i].state.left_mm > 0;
        kw_buf_printf(out, "\nTo contain: %zu lots with length left, %zu dispatched\n", n, a->n_sent);
        for (size_t i = 0; i < a->n_sent; i++)
                kw_buf_printf(out, "  %s  %s  %s\n", a->sent[i]->state.consignment, a->sent[i]->state.consignee,
                              a->sent[i]->lot->code);
}

int kw_trace_write_table(struct kw_trace_writer *w, struct kw_buf *out)
{
        const struct kw_trace_row *row;
        size_t before = out->n;
        int width = lot_width(w->answer);

        if (w->stage == 0)
                put_title(w->answer, out);
        w->stage = 1;
        while ((row = kw_trace_row_next(w))) {
                put_row(row, width, out);
                if (kw_trace_piece_full(out, before))
                        return 1;
        }
        put_totals(w->answer, out);
        put_containment(w->answer, out);
        return 0;
}
