/*
 * A trace as the JSON of the API: what was asked and of which ledger, where it starts, lot by lot, sums, what to
 * contain.
 */
#include "trace.h"

#include <string.h>

/*
 * Every page says of the whole answer where it starts and what is to be contained, as long as that is no longer than a
 * page may be; a longer list of lots goes with the rows. Who was sent what is never cut: it is what has to be told at
 * once.
 */
#define LISTED_ON_A_PAGE 5000

enum stage { STAGE_HEAD, STAGE_STARTS, STAGE_LOTS, STAGE_TAIL, STAGE_DONE };

static void put_question(const struct kw_trace_answer *a, struct kw_buf *out)
{
        const struct kw_question *q = &a->question;
        char origin[sizeof(q->type) + sizeof(q->code) + 1];

        strcpy(origin, q->type);
        strcat(origin, ":");
        strcat(origin, q->code);
        kw_put_string(out, "origin", origin);
        kw_put_string(out, "direction", kw_direction_text(q->direction));
        kw_put_head(out, "ledger", &a->head);
        if (q->part) {
                kw_put_int(out, "from_mm", q->from_mm);
                kw_put_int(out, "to_mm", q->to_mm);
        }
        if (q->window && q->since != INT64_MIN)
                kw_put_time(out, "since", q->since);
        if (q->window && q->until != INT64_MAX)
                kw_put_time(out, "until", q->until);
        if (q->direction != KW_FORWARD)
                kw_put_texts(out, "heats", a->heats, a->n_heats);
        kw_put_int(out, "count", (int64_t)a->n_rows);
        kw_put_int(out, "start_count", (int64_t)a->n_starts);
}

static void put_start(const struct kw_trace_start *start, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", start->lot->code);
        kw_put_spans(out, "certain", &start->reach->certain);
        kw_put_spans(out, "possible", &start->reach->possible);
        kw_put_object_end(out);
}

static void put_row(const struct kw_trace_row *row, struct kw_buf *out)
{
        const struct kw_lot_row *lot = row->lot;
        const struct kw_lot_state *state = &row->state;

        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_string(out, "kind", lot->kind);
        kw_put_int(out, "depth", lot->depth);
        kw_put_string(out, "run", row->run);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_string(out, "length_from", lot->length_from);
        kw_put_number(out, "mass_g", lot->mass_g);
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_string(out, "verdict", kw_verdict_text(row->verdict));
        kw_put_spans(out, "certain", &row->reach->certain);
        kw_put_spans(out, "possible", &row->reach->possible);
        kw_put_int(out, "affected_mm", row->affected_mm);
        kw_put_number(out, "affected_g", row->affected_g);
        kw_put_spans(out, "left", &state->left);
        kw_put_int(out, "left_mm", state->left_mm);
        kw_put_int(out, "affected_left_mm", row->affected_left_mm);
        kw_put_string(out, "state", kw_lot_is_text(state->is));
        kw_put_string(out, "location", state->location);
        kw_put_string(out, "consignment", state->consignment);
        kw_put_string(out, "consignee", state->consignee);
        kw_put_time(out, "dispatched", state->dispatched);
        kw_put_texts(out, "holds", state->holds, state->n_holds);
        kw_put_texts(out, "certificates", state->certificates, state->n_certificates);
        kw_put_object_end(out);
}

static void put_totals(const struct kw_trace_answer *a, struct kw_buf *out)
{
        kw_put_array(out, "totals");
        for (size_t i = 0; i < a->n_totals; i++) {
                const struct kw_trace_total *total = &a->totals[i];

                kw_put_object(out, NULL);
                kw_put_string(out, "kind", total->kind);
                kw_put_int(out, "lots", (int64_t)total->lots);
                kw_put_int(out, "certain", (int64_t)total->certain);
                kw_put_int(out, "possible", (int64_t)total->possible);
                kw_put_int(out, "affected_mm", total->affected_mm);
                kw_put_number(out, "affected_g", total->affected_g);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

/* One consignment, from row @i of the dispatched; gives the row after its last. */
static size_t put_consignment(const struct kw_trace_answer *a, size_t i, struct kw_buf *out)
{
        const struct kw_lot_state *first = &a->sent[i]->state;

        kw_put_object(out, NULL);
        kw_put_string(out, "consignment", first->consignment);
        kw_put_string(out, "consignee", first->consignee);
        kw_put_time(out, "at", first->dispatched);
        kw_put_array(out, "reels");
        for (; i < a->n_sent && strcmp(a->sent[i]->state.consignment, first->consignment) == 0; i++)
                kw_put_string(out, NULL, a->sent[i]->lot->code);
        kw_put_array_end(out);
        kw_put_object_end(out);
        return i;
}

static void put_containment(const struct kw_trace_writer *w, struct kw_buf *out)
{
        const struct kw_trace_answer *a = w->answer;
        size_t from = 0, to = a->n_rows, count = 0;

        for (size_t i = 0; i < a->n_rows; i++)
                count += a->rows[i].state.left_mm > 0;
        if (w->limit && count > LISTED_ON_A_PAGE) {
                from = w->next - w->given;
                to = w->next;
        }
        kw_put_object(out, "containment");
        kw_put_int(out, "count", (int64_t)count);
        kw_put_array(out, "lots");
        for (size_t i = from; i < to; i++) {
                if (a->rows[i].state.left_mm > 0)
                        kw_put_string(out, NULL, a->rows[i].lot->code);
        }
        kw_put_array_end(out);
        kw_put_array(out, "consignments");
        for (size_t i = 0; i < a->n_sent;)
                i = put_consignment(a, i, out);
        kw_put_array_end(out);
        kw_put_object_end(out);
}

/* Starts are rows as well, and in the same order. */
static bool starts_before(const struct kw_trace_start *start, const struct kw_trace_row *row)
{
        if (start->lot->depth != row->lot->depth)
                return start->lot->depth < row->lot->depth;
        return strcmp(start->lot->code, row->lot->code) < 0;
}

/* Which starts the page lists, by what of the rows it does. */
static void page_of_starts(struct kw_trace_writer *w)
{
        const struct kw_trace_answer *a = w->answer;
        size_t from, to;

        w->start = 0;
        w->start_end = a->n_starts;
        if (!w->limit || a->n_starts <= LISTED_ON_A_PAGE)
                return;
        kw_trace_page(w, &from, &to);
        while (w->start < a->n_starts && (from == to || starts_before(&a->starts[w->start], &a->rows[from])))
                w->start++;
        while (to < a->n_rows && w->start_end > w->start && !starts_before(&a->starts[w->start_end - 1], &a->rows[to]))
                w->start_end--;
}

static void put_head(struct kw_trace_writer *w, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        put_question(w->answer, out);
        kw_put_array(out, "starts");
        page_of_starts(w);
        w->stage = STAGE_STARTS;
}

static void put_starts(struct kw_trace_writer *w, struct kw_buf *out, size_t before)
{
        out->comma = w->any;
        while (w->start < w->start_end) {
                put_start(&w->answer->starts[w->start++], out);
                w->any = true;
                if (kw_trace_piece_full(out, before))
                        return;
        }
        kw_put_array_end(out);
        kw_put_array(out, "lots");
        w->stage = STAGE_LOTS;
}

static void put_lots(struct kw_trace_writer *w, struct kw_buf *out, size_t before)
{
        const struct kw_trace_row *row;

        out->comma = w->given > 0;
        while ((row = kw_trace_row_next(w))) {
                put_row(row, out);
                if (kw_trace_piece_full(out, before))
                        return;
        }
        kw_put_array_end(out);
        w->stage = STAGE_TAIL;
}

static void put_tail(struct kw_trace_writer *w, struct kw_buf *out)
{
        out->comma = true;
        if (w->limit)
                kw_put_string(out, "next", kw_trace_more(w));
        put_totals(w->answer, out);
        put_containment(w, out);
        kw_put_object_end(out);
        w->stage = STAGE_DONE;
}

int kw_trace_write_json(struct kw_trace_writer *w, struct kw_buf *out)
{
        size_t before = out->n;

        if (w->stage == STAGE_HEAD) {
                out->comma = false;
                put_head(w, out);
        }
        if (w->stage == STAGE_STARTS)
                put_starts(w, out, before);
        if (w->stage == STAGE_LOTS && !kw_trace_piece_full(out, before))
                put_lots(w, out, before);
        if (w->stage == STAGE_TAIL)
                put_tail(w, out);
        return w->stage != STAGE_DONE;
}
