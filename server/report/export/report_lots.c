/*
 * A report's lots: drawn along their length, the heats that they are of, and all of them by stage.
 */
#include "report.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

#define RIBBONS_MOST 60 /* more than that are a table, not a picture */

/* --- along the length --------------------------------------------------------------------------------- */

static const struct kw_json_limits answer_limits = {.bytes = (size_t)64 << 20, .nodes = 4000000};

static int parse(struct kw_buf *text, int rc, cJSON **out)
{
        *out = NULL;
        if (rc == 0)
                rc = text->failed ? -ENOMEM : kw_json_read(kw_buf_text(text), text->n, &answer_limits, out, NULL);
        kw_buf_free(text);
        return rc > 0 ? -EIO : rc;
}

static int read_spans(const cJSON *list, struct kw_spans *out)
{
        const cJSON *span;
        int rc = 0;

        cJSON_ArrayForEach(span, list)
        {
                if (rc == 0)
                        rc = kw_spans_add(out, (int64_t)span->child->valuedouble,
                                          (int64_t)span->child->next->valuedouble);
        }
        return rc;
}

static int put_part(struct kw_report *w, const cJSON *part, int64_t length)
{
        const char *heat = kw_json_text(part, "heat"), *supply = kw_json_text(part, "supply");
        struct kw_reach reach = {0};
        const struct kw_paper_ribbon ribbon = {length, &reach.possible, &reach.certain};
        int rc = read_spans(kw_json_get(part, "certain"), &reach.certain);

        if (rc == 0)
                rc = read_spans(kw_json_get(part, "possible"), &reach.possible);
        if (rc == 0)
                kw_paper_ribbon(w->p,
                                heat     ? kw_words(w, "heat %s", heat)
                                : supply ? kw_words(w, "supply %s", supply)
                                         : "no heat known",
                                &ribbon);
        kw_reach_free(&reach);
        return rc;
}

/* Where joints are nominally; those of which only a range is known are in the table of joints. */
static int put_joint_marks(struct kw_report *w, const struct kw_lot_row *lot)
{
        struct kw_buf text = {0};
        struct kw_list marks = {0};
        cJSON *json;
        const cJSON *joint;
        int rc = parse(&text, kw_answer_joints(w->x->ledger, lot->code, &text, NULL), &json);

        cJSON_ArrayForEach(joint, kw_json_get(json, "joints"))
        {
                const cJSON *at = kw_json_get(joint, "at_mm");
                int64_t *mark = cJSON_IsNumber(at) ? kw_list_more(kw_reader_arena(w->r), &marks, sizeof(*mark)) : NULL;

                if (mark)
                        *mark = (int64_t)at->valuedouble;
        }
        if (rc == 0 && marks.n)
                kw_paper_marks(w->p, kw_words(w, "%zu joints", marks.n), lot->length_mm, marks.at, marks.n);
        cJSON_Delete(json);
        return rc;
}

static int put_makeup(struct kw_report *w, const struct kw_lot_row *lot)
{
        struct kw_buf text = {0};
        cJSON *json;
        const cJSON *part;
        int rc = parse(&text, kw_answer_makeup(w->x->ledger, lot->code, "heat", NULL, &text, NULL), &json);

        if (rc)
                return rc;
        kw_paper_heading(w->p, kw_words(w, "%s %s, %s m, by heat", lot->kind, lot->code, kw_metres(w, lot->length_mm)));
        cJSON_ArrayForEach(part, kw_json_get(json, "parts"))
        {
                if (rc == 0)
                        rc = put_part(w, part, lot->length_mm);
        }
        cJSON_Delete(json);
        if (rc == 0)
                rc = put_joint_marks(w, lot);
        kw_paper_scale(w->p, lot->length_mm);
        return rc;
}

static void put_affected(struct kw_report *w)
{
        size_t shown = 0, there = 0;

        for (size_t i = 0; i < w->a->n_rows; i++) {
                const struct kw_trace_row *row = &w->a->rows[i];
                const struct kw_paper_ribbon ribbon = {row->lot->length_mm, &row->reach->possible,
                                                       &row->reach->certain};

                if (!row->state.left_mm && !row->state.consignment)
                        continue;
                there++;
                if (shown == RIBBONS_MOST)
                        continue;
                shown++;
                kw_paper_ribbon(w->p, kw_words(w, "%s, %s m", row->lot->code, kw_metres(w, row->lot->length_mm)),
                                &ribbon);
        }
        if (there > shown)
                kw_paper_text(w->p, kw_words(w, "%zu more are in the table of lots by stage.", there - shown));
        if (!there)
                kw_paper_text(w->p, "Nothing of it is left, and nothing was dispatched.");
}

int kw_section_ribbon(struct kw_report *w)
{
        int rc = 0;

        kw_paper_text(w->p, "Dark: certain. Pale: possible.");
        for (size_t i = 0; rc == 0 && i < w->a->n_starts && i < RIBBONS_MOST; i++) {
                if (w->a->starts[i].lot->run)
                        rc = put_makeup(w, w->a->starts[i].lot);
        }
        if (rc == 0 && w->a->question.direction != KW_BACK) {
                kw_paper_heading(w->p, "Lots of which something is left, and lots dispatched");
                put_affected(w);
        }
        return rc;
}

/* --- heats and supplies --------------------------------------------------------------------------------- */

static const char *analysis_of(struct kw_report *w, const cJSON *body)
{
        struct kw_buf list = {0};
        const cJSON *element;
        const char *text;

        cJSON_ArrayForEach(element, kw_json_get(body, "analysis_ppm"))
        {
                int64_t ppm = (int64_t)element->valuedouble;

                kw_buf_printf(&list, "%s%s %" PRId64 ".%04d %%", list.n ? ", " : "", element->string, ppm / 10000,
                              (int)(ppm % 10000));
        }
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static int put_material(struct kw_report *w, const struct kw_entry_row *entry)
{
        cJSON *body;
        int rc = kw_body_of(w, entry, &body);

        if (rc || !body)
                return rc;
        if (strcmp(entry->kind, "heat") == 0) {
                const struct kw_paper_cell cells[] = {
                        {kw_words(w, "heat %s", kw_json_text(body, "heat")), NULL},
                        {kw_words(w, "%s", kw_json_text(body, "grade")), NULL},
                        {kw_words(w, "%s", kw_json_text(body, "supplier")), NULL},
                        {kw_json_text(body, "mill_certificate")
                                 ? kw_words(w, "%s", kw_json_text(body, "mill_certificate"))
                                 : "",
                         NULL},
                        {analysis_of(w, body), NULL},
                        {kw_words(w, "%" PRId64, entry->seq), NULL}};

                kw_paper_row(w->p, cells);
        } else {
                const struct kw_paper_cell cells[] = {{kw_words(w, "supply %s", kw_json_text(body, "supply")), NULL},
                                                      {"", NULL},
                                                      {kw_words(w, "%s", kw_json_text(body, "supplier")), NULL},
                                                      {kw_json_text(body, "supplier_lot")
                                                               ? kw_words(w, "%s", kw_json_text(body, "supplier_lot"))
                                                               : "",
                                                       NULL},
                                                      {kw_words(w, "%s", kw_json_text(body, "what")), NULL},
                                                      {kw_words(w, "%" PRId64, entry->seq), NULL}};

                kw_paper_row(w->p, cells);
        }
        cJSON_Delete(body);
        return 0;
}

int kw_section_material(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {{"Heat or supply", 0.14, false},
                                                         {"Grade", 0.08, false},
                                                         {"Supplier", 0.18, false},
                                                         {"Certificate or lot", 0.15, false},
                                                         {"Analysis, or what it is", 0.38, false},
                                                         {"Entry", 0.07, true}};
        const struct kw_selection *entries = &w->x->entries;
        int rc = 0;

        kw_paper_table(w->p, columns, 6);
        for (int64_t seq = 0; rc == 0 && (seq = kw_selected_next(entries, seq));) {
                struct kw_entry_row entry;

                rc = kw_read_entry(w->r, seq, &entry, NULL);
                if (rc == 0 && (strcmp(entry.kind, "heat") == 0 || strcmp(entry.kind, "supply") == 0))
                        rc = put_material(w, &entry);
        }
        kw_paper_table_end(w->p);
        return rc;
}

/* --- by stage ---------------------------------------------------------------------------------------------- */

static const struct kw_paper_column stage_columns[] = {
        {"Lot", 0.13, false},       {"Made by, or of", 0.14, false}, {"Length, m", 0.1, true},
        {"Concerned", 0.12, false}, {"Possible, m", 0.26, false},    {"How", 0.08, false},
        {"State", 0.17, false},
};

static const char *state_of(struct kw_report *w, const struct kw_trace_row *row)
{
        const struct kw_lot_state *s = &row->state;

        if (s->consignment)
                return kw_words(w, "%s to %s", s->consignment, s->consignee);
        if (!s->left_mm)
                return kw_lot_is_text(s->is);
        return kw_words(w, "%s, %s m left%s%s", kw_lot_is_text(s->is), kw_metres(w, s->left_mm),
                        s->location ? ", " : "", s->location ? s->location : "");
}

/* A length that is in many pieces is told by its ends and its sum; the ribbon beside it shows them. */
static const char *possible_of(struct kw_report *w, const struct kw_spans *spans)
{
        if (spans->n <= 3)
                return kw_span_text(w, spans);
        return kw_words(w, "%s \xe2\x80\xa6 %s: %zu lengths, together %s", kw_metres(w, spans->at[0].from),
                        kw_metres(w, spans->at[spans->n - 1].to), spans->n, kw_metres(w, kw_spans_total(spans)));
}

static int put_row(struct kw_report *w, const struct kw_trace_row *row)
{
        const struct kw_paper_ribbon ribbon = {row->lot->length_mm, &row->reach->possible, &row->reach->certain};
        const char *from = row->run;
        int rc = 0;

        if (!from) {
                struct kw_source_row source;

                rc = kw_read_source(w->r, row->lot, &source);
                from = rc              ? ""
                       : source.heat   ? kw_words(w, "heat %s, entry %" PRId64, source.heat, row->lot->seq)
                       : source.supply ? kw_words(w, "supply %s, entry %" PRId64, source.supply, row->lot->seq)
                                       : kw_words(w, "no heat known, entry %" PRId64, row->lot->seq);
        }
        if (rc == 0) {
                const struct kw_paper_cell cells[] = {{row->lot->code, NULL},
                                                      {from, NULL},
                                                      {kw_metres(w, row->lot->length_mm), NULL},
                                                      {"", &ribbon},
                                                      {possible_of(w, &row->reach->possible), NULL},
                                                      {kw_verdict_text(row->verdict), NULL},
                                                      {state_of(w, row), NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

static bool same_stage(const struct kw_trace_row *a, const struct kw_trace_row *b)
{
        return a->lot->depth == b->lot->depth && strcmp(a->lot->kind, b->lot->kind) == 0;
}

/* Rows are in order of depth, then code; a stage is the lots of one kind at one depth. */
int kw_section_stages(struct kw_report *w)
{
        const struct kw_trace_row *rows = w->a->rows;
        int rc = 0;

        for (size_t first = 0; rc == 0 && first < w->a->n_rows; first++) {
                size_t n = 0;
                bool told = false;

                for (size_t i = first; i > 0 && rows[i - 1].lot->depth == rows[first].lot->depth; i--)
                        told = told || same_stage(&rows[i - 1], &rows[first]);
                if (told)
                        continue;
                for (size_t i = first; i < w->a->n_rows && rows[i].lot->depth == rows[first].lot->depth; i++)
                        n += same_stage(&rows[i], &rows[first]);
                kw_paper_heading(
                        w->p, rows[first].lot->depth
                                      ? kw_words(w, "Stage %u: %zu %s%s", rows[first].lot->depth, n,
                                                 rows[first].lot->kind, n == 1 ? "" : "s")
                                      : kw_words(w, "Received: %zu %s%s", n, rows[first].lot->kind, n == 1 ? "" : "s"));
                kw_paper_table(w->p, stage_columns, 7);
                for (size_t i = first; rc == 0 && i < w->a->n_rows && rows[i].lot->depth == rows[first].lot->depth;
                     i++) {
                        if (same_stage(&rows[i], &rows[first]))
                                rc = put_row(w, &rows[i]);
                }
                kw_paper_table_end(w->p);
        }
        return rc;
}

/* --- joints --------------------------------------------------------------------------------------------------- */

static const char *path_of(struct kw_report *w, const cJSON *path)
{
        struct kw_buf list = {0};
        const cJSON *step;
        const char *text;

        cJSON_ArrayForEach(step, path) kw_buf_printf(&list, "%s%s", list.n ? " \xe2\x80\xba " : "", step->valuestring);
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static int put_joints(struct kw_report *w, const struct kw_lot_row *lot)
{
        static const struct kw_paper_column columns[] = {{"At, m", 0.1, true},        {"Possible, m", 0.18, false},
                                                         {"Joint", 0.2, false},       {"Made in", 0.1, false},
                                                         {"by", 0.07, false},         {"Machine", 0.1, false},
                                                         {"Way to here", 0.25, false}};
        struct kw_buf text = {0};
        cJSON *json;
        const cJSON *joint;
        int rc = parse(&text, kw_answer_joints(w->x->ledger, lot->code, &text, NULL), &json);

        if (rc)
                return rc;
        kw_paper_heading(w->p, kw_words(w, "On %s %s", lot->kind, lot->code));
        if (!kw_json_get(kw_json_get(json, "joints"), "weld") && !kw_json_get(json, "joints")->child)
                kw_paper_text(w->p, "None.");
        else
                kw_paper_table(w->p, columns, 7);
        cJSON_ArrayForEach(joint, kw_json_get(json, "joints"))
        {
                const cJSON *at = kw_json_get(joint, "at_mm"), *range = kw_json_get(joint, "possible");
                const char *weld = kw_json_text(joint, "weld"), *by = kw_json_text(joint, "made_by");
                const struct kw_paper_cell cells[] = {
                        {cJSON_IsNumber(at) ? kw_metres(w, (int64_t)at->valuedouble) : "range", NULL},
                        {kw_words(w, "%s\xe2\x80\x93%s", kw_metres(w, (int64_t)range->child->valuedouble),
                                  kw_metres(w, (int64_t)range->child->next->valuedouble)),
                         NULL},
                        {weld ? kw_words(w, "%s", weld) : "", NULL},
                        {kw_words(w, "%s", kw_json_text(joint, "made_in")), NULL},
                        {by ? kw_words(w, "%s", by) : "", NULL},
                        {kw_words(w, "%s", kw_json_text(joint, "machine")), NULL},
                        {path_of(w, kw_json_get(joint, "path")), NULL}};

                kw_paper_row(w->p, cells);
        }
        kw_paper_table_end(w->p);
        cJSON_Delete(json);
        return 0;
}

int kw_section_joints(struct kw_report *w)
{
        int rc = 0;
        size_t told = 0;

        for (size_t i = 0; rc == 0 && i < w->a->n_starts && i < RIBBONS_MOST; i++) {
                if (!w->a->starts[i].lot->run)
                        continue;
                told++;
                rc = put_joints(w, w->a->starts[i].lot);
        }
        if (!told)
                kw_paper_text(w->p, "What the question starts with was received, not made here.");
        return rc;
}
