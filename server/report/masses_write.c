/*
 * A balance written out: JSON, or its rows as CSV (RFC 4180).
 */
#include "cell.h"
#include "masses.h"

#include <stdlib.h>
#include <string.h>

#define RUNS_MOST 200 /* of those that lost most */

static const char *const sides[] = {[KW_IN] = "in", [KW_OUT] = "out"};

static int64_t lost(const struct kw_mass_run *r)
{
        return r->in_g - r->out_g;
}

static int most_first(const void *a, const void *b)
{
        const struct kw_mass_run *x = a, *y = b;
        const int64_t lx = llabs(lost(x)), ly = llabs(lost(y));

        return lx != ly ? (lx > ly ? -1 : 1) : strcmp(x->run, y->run);
}

/* In the order of the sides, what is most first. */
static int heavier(const void *a, const void *b)
{
        const struct kw_mass_row *x = a, *y = b;

        if (x->side != y->side)
                return x->side < y->side ? -1 : 1;
        if (x->mass_g != y->mass_g)
                return x->mass_g > y->mass_g ? -1 : 1;
        return strcmp(x->code ? x->code : "", y->code ? y->code : "");
}

static bool within(const struct kw_mass_balance *b)
{
        return llabs(b->sum_g[KW_IN] - b->sum_g[KW_OUT]) <= b->allowed_g;
}

static void put_row(const struct kw_mass_row *row, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "side", sides[row->side]);
        kw_put_string(out, "what", row->what);
        kw_put_string(out, "type", row->type);
        kw_put_string(out, "code", row->code);
        kw_put_string(out, "kind", row->kind);
        kw_put_int(out, "lots", row->lots);
        kw_put_int(out, "length_mm", row->length_mm);
        kw_put_int(out, "mass_g", row->mass_g);
        kw_put_int(out, "computed_g", row->computed_g);
        kw_put_object_end(out);
}

static void put_run(const struct kw_mass_run *run, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "run", run->run);
        kw_put_string(out, "process", run->process);
        kw_put_string(out, "machine", run->machine);
        kw_put_int(out, "in_g", run->in_g);
        kw_put_int(out, "out_g", run->out_g);
        kw_put_int(out, "unaccounted_g", lost(run));
        kw_put_int(out, "allowed_g", run->allowed_g);
        kw_put_bool(out, "within", llabs(lost(run)) <= run->allowed_g);
        kw_put_object_end(out);
}

static int64_t count_beyond(const struct kw_mass_balance *b)
{
        const struct kw_mass_run *runs = b->runs.at;
        int64_t n = 0;

        for (size_t i = 0; i < b->runs.n; i++)
                n += llabs(lost(&runs[i])) > runs[i].allowed_g;
        return n;
}

static void write_json(const struct kw_mass_balance *b, const struct kw_mass_question *q, const struct kw_head *head,
                       struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "origin", q->origin);
        kw_put_time(out, "since", q->timed && q->in.since != INT64_MIN ? q->in.since : KW_NONE);
        kw_put_time(out, "until", q->timed && q->in.until != INT64_MAX ? q->in.until : KW_NONE);
        kw_put_head(out, "ledger", head);
        kw_put_array(out, "rows");
        for (size_t i = 0; i < b->rows.n; i++)
                put_row((struct kw_mass_row *)b->rows.at + i, out);
        kw_put_array_end(out);
        kw_put_int(out, "in_g", b->sum_g[KW_IN]);
        kw_put_int(out, "out_g", b->sum_g[KW_OUT]);
        kw_put_int(out, "unaccounted_g", b->sum_g[KW_IN] - b->sum_g[KW_OUT]);
        kw_put_int(out, "allowed_g", b->allowed_g);
        kw_put_bool(out, "within", within(b));
        kw_put_int(out, "unknown", b->unknown);
        kw_put_int(out, "run_count", (int64_t)b->runs.n);
        kw_put_int(out, "beyond_count", count_beyond(b));
        kw_put_array(out, "runs");
        for (size_t i = 0; i < b->runs.n && i < RUNS_MOST; i++)
                put_run((struct kw_mass_run *)b->runs.at + i, out);
        kw_put_array_end(out);
        kw_put_object_end(out);
}

static void write_csv(const struct kw_mass_balance *b, struct kw_buf *out)
{
        kw_buf_text_add(out, "side,what,type,code,kind,lots,length_mm,mass_g,computed_g\r\n");
        for (size_t i = 0; i < b->rows.n; i++) {
                const struct kw_mass_row *row = (struct kw_mass_row *)b->rows.at + i;

                kw_csv_first(out, sides[row->side]);
                kw_csv_text(out, row->what);
                kw_csv_text(out, row->type);
                kw_csv_text(out, row->code);
                kw_csv_text(out, row->kind);
                kw_csv_number(out, row->lots);
                kw_csv_number(out, row->length_mm);
                kw_csv_number(out, row->mass_g);
                kw_csv_number(out, row->computed_g);
                kw_buf_text_add(out, "\r\n");
        }
        kw_csv_first(out, sides[KW_OUT]);
        kw_csv_text(out, "unaccounted");
        kw_buf_text_add(out, ",,,,,,");
        kw_buf_printf(out, "%lld,\r\n", (long long)(b->sum_g[KW_IN] - b->sum_g[KW_OUT]));
}

void kw_mass_write(struct kw_mass_balance *b, const struct kw_mass_question *q, const struct kw_head *head,
                   struct kw_buf *out)
{
        if (b->rows.n)
                qsort(b->rows.at, b->rows.n, sizeof(struct kw_mass_row), heavier);
        if (b->runs.n)
                qsort(b->runs.at, b->runs.n, sizeof(struct kw_mass_run), most_first);
        if (q->csv)
                write_csv(b, out);
        else
                write_json(b, q, head, out);
}
