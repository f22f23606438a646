/*
 * Gaps written out: JSON with the totals and the months before the list, or the list as CSV (RFC 4180).
 */
#include "cell.h"
#include "gaps.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define PIECE ((size_t)64 * 1024)

static void put_kinds(const struct kw_gaps *g, struct kw_buf *out)
{
        kw_put_array(out, "kinds");
        for (size_t k = 0; k < g->kinds; k++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "kind", kw_gap_kind(k));
                kw_put_bool(out, "broken", kw_gap_broken(k));
                kw_put_int(out, "gaps", g->totals[k].gaps);
                kw_put_int(out, "under_mm", g->totals[k].under_mm);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

static void put_months(const struct kw_gaps *g, struct kw_buf *out)
{
        kw_put_array(out, "months");
        for (size_t i = 0; i < g->n_months; i++) {
                const struct kw_sold_month *m = &g->months[i];
                char name[24];

                snprintf(name, sizeof(name), "%04d-%02d", m->month / 12, m->month % 12 + 1);
                kw_put_object(out, NULL);
                kw_put_string(out, "month", name);
                kw_put_int(out, "sold_mm", m->sold_mm);
                kw_put_int(out, "unbroken_mm", m->sold_mm - m->under_broken_mm);
                kw_put_int(out, "whole_mm", m->sold_mm - m->under_any_mm);
                kw_put_object(out, "under");
                for (size_t k = 0; k < g->kinds; k++)
                        kw_put_int(out, kw_gap_kind(k), m->under_mm[k]);
                kw_put_object_end(out);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

static bool wanted(const struct kw_gaps_writer *w, const struct kw_gap_row *row)
{
        return !w->kind || strcmp(kw_gap_kind(row->kind), w->kind) == 0;
}

static int64_t count(const struct kw_gaps_writer *w)
{
        int64_t n = 0;

        for (size_t i = 0; i < w->gaps->list.n; i++)
                n += wanted(w, &w->gaps->list.rows[i]);
        return n;
}

static void begin_json(const struct kw_gaps_writer *w, struct kw_buf *out)
{
        const struct kw_gaps *g = w->gaps;

        kw_put_object(out, NULL);
        kw_put_head(out, "ledger", &g->head);
        kw_put_object(out, "settings");
        kw_put_int(out, "long_mm", g->asked.long_mm);
        kw_put_int(out, "late_s", g->asked.late_s);
        kw_put_object_end(out);
        kw_put_int(out, "sold_mm", g->sold_mm);
        kw_put_int(out, "unbroken_mm", g->sold_mm - g->under_broken_mm);
        kw_put_int(out, "whole_mm", g->sold_mm - g->under_any_mm);
        put_kinds(g, out);
        put_months(g, out);
        kw_put_int(out, "count", count(w));
        kw_put_array(out, "gaps");
}

static void put_json(const struct kw_gaps *g, size_t i, struct kw_buf *out)
{
        const struct kw_gap_row *row = &g->list.rows[i];

        kw_put_object(out, NULL);
        kw_put_string(out, "kind", kw_gap_kind(row->kind));
        kw_put_string(out, "type", row->type);
        kw_put_string(out, "code", row->code);
        kw_put_int(out, "entry", row->seq);
        kw_put_number(out, "figure", row->figure);
        kw_put_string(out, "detail", row->detail);
        kw_put_int(out, "metal_mm", g->weights[i].metal_mm);
        kw_put_int(out, "sold_mm", g->weights[i].sold_mm);
        kw_put_int(out, "lots", g->weights[i].lots);
        kw_put_object_end(out);
}

/* The next place in the order that is wanted; false when there is none or the limit is reached. */
static bool next_row(struct kw_gaps_writer *w, size_t *i)
{
        const struct kw_gaps *g = w->gaps;

        while (w->next < g->list.n && !(w->limit && w->given >= w->limit)) {
                *i = g->order[w->next++];
                if (!wanted(w, &g->list.rows[*i]))
                        continue;
                if (w->passed++ < w->after)
                        continue;
                w->given++;
                return true;
        }
        return false;
}

static int write_json(struct kw_gaps_writer *w, struct kw_buf *out)
{
        const size_t before = out->n;
        size_t i;

        if (!w->begun)
                begin_json(w, out);
        else
                out->comma = true;
        w->begun = true;
        while (next_row(w, &i)) {
                put_json(w->gaps, i, out);
                if (out->n - before >= PIECE)
                        return 1;
        }
        kw_put_array_end(out);
        kw_put_number(out, "after",
                      (int64_t)(w->after + w->given) < count(w) && w->given ? (int64_t)(w->after + w->given) : KW_NONE);
        kw_put_object_end(out);
        return 0;
}

static void put_csv(const struct kw_gaps *g, size_t i, struct kw_buf *out)
{
        const struct kw_gap_row *row = &g->list.rows[i];

        kw_csv_first(out, kw_gap_kind(row->kind));
        kw_csv_text(out, row->type);
        kw_csv_text(out, row->code);
        kw_csv_number(out, row->seq);
        kw_csv_number(out, row->figure);
        kw_csv_number(out, g->weights[i].metal_mm);
        kw_csv_number(out, g->weights[i].sold_mm);
        kw_csv_number(out, g->weights[i].lots);
        kw_csv_text(out, row->detail);
        kw_buf_text_add(out, "\r\n");
}

static int write_csv(struct kw_gaps_writer *w, struct kw_buf *out)
{
        const size_t before = out->n;
        size_t i;

        if (!w->begun)
                kw_buf_text_add(out, "kind,type,code,entry,figure,metal_mm,sold_mm,lots,detail\r\n");
        w->begun = true;
        while (next_row(w, &i)) {
                put_csv(w->gaps, i, out);
                if (out->n - before >= PIECE)
                        return 1;
        }
        return 0;
}

int kw_gaps_write(struct kw_gaps_writer *w, struct kw_buf *out)
{
        int more = w->csv ? write_csv(w, out) : write_json(w, out);

        return out->failed ? -ENOMEM : more;
}
