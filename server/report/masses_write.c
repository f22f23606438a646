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

/* What lost or gained most comes first; of equal ones the one that was recorded first. */
static int most_first(const void *a, const void *b)
{
        const struct kw_mass_run *x = *(const struct kw_mass_run *const *)a, *y = *(const struct kw_mass_run *const *)b;
        const int64_t lx = llabs(lost(x)), ly = llabs(lost(y));

        if (lx != ly)
                return lx > ly ? -1 : 1;
        return x->id < y->id ? -1 : x->id > y->id;
}

/* The first @most of all runs in that order. With many runs most fail the first comparison. Return: how many. */
static size_t choose_runs(const struct kw_mass_balance *b, const struct kw_mass_run **out, size_t most)
{
        const struct kw_mass_run *runs = b->runs.at;
        size_t n = 0;

        for (size_t i = 0; i < b->runs.n; i++) {
                const struct kw_mass_run *run = &runs[i];
                size_t low = 0, high = n;

                if (n == most && most_first(&run, &out[n - 1]) > 0)
                        continue;
                while (low < high) {
                        const size_t mid = (low + high) / 2;

                        if (most_first(&out[mid], &run) < 0)
                                low = mid + 1;
                        else
                                high = mid;
                }
                n += n < most;
                memmove(&out[low + 1], &out[low], (n - 1 - low) * sizeof(*out));
                out[low] = run;
        }
        return n;
}

/* In the order of the sides, what is most first. */
static int heavier(const void *a, const void *b)
{
        const struct kw_mass_row *x = a, *y = b;

        if (x->side != y->side)
                return x->side < y->side ? -1 : 1;
        if (x->mass_g != y->mass_g)
                return x->mass_g > y->mass_g ? -1 : 1;
        if ((x->code || y->code) && strcmp(x->code ? x->code : "", y->code ? y->code : "") != 0)
                return strcmp(x->code ? x->code : "", y->code ? y->code : "");
        if (strcmp(x->what, y->what) != 0)
                return strcmp(x->what, y->what);
        return strcmp(x->kind ? x->kind : "", y->kind ? y->kind : "");
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

static int put_run(struct kw_reader *r, const struct kw_mass_run *run, struct kw_buf *out)
{
        struct kw_run_name name;
        int rc = kw_read_run_name(r, run->id, &name);

        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "run", name.code);
        kw_put_string(out, "process", name.process);
        kw_put_string(out, "machine", name.machine);
        kw_put_int(out, "in_g", run->in_g);
        kw_put_int(out, "out_g", run->out_g);
        kw_put_int(out, "unaccounted_g", lost(run));
        kw_put_int(out, "allowed_g", run->allowed_g);
        kw_put_bool(out, "within", llabs(lost(run)) <= run->allowed_g);
        kw_put_object_end(out);
        return 0;
}

static int put_runs(const struct kw_mass_balance *b, struct kw_buf *out)
{
        const struct kw_mass_run *chosen[RUNS_MOST];
        const size_t n = choose_runs(b, chosen, RUNS_MOST);
        int rc = 0;

        kw_put_array(out, "runs");
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = put_run(b->r, chosen[i], out);
        kw_put_array_end(out);
        return rc;
}

static int64_t count_beyond(const struct kw_mass_balance *b)
{
        const struct kw_mass_run *runs = b->runs.at;
        int64_t n = 0;

        for (size_t i = 0; i < b->runs.n; i++)
                n += llabs(lost(&runs[i])) > runs[i].allowed_g;
        return n;
}

static int write_json(const struct kw_mass_balance *b, const struct kw_mass_question *q, const struct kw_head *head,
                      struct kw_buf *out)
{
        int rc;

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
        rc = put_runs(b, out);
        kw_put_object_end(out);
        return rc;
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

int kw_mass_write(struct kw_mass_balance *b, const struct kw_mass_question *q, const struct kw_head *head,
                  struct kw_buf *out)
{
        if (b->rows.n)
                qsort(b->rows.at, b->rows.n, sizeof(struct kw_mass_row), heavier);
        if (!q->csv)
                return write_json(b, q, head, out);
        write_csv(b, out);
        return 0;
}
