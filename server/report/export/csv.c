/*
 * The lots of an export as one table: where each lies on the run that made it, what was taken of it, and, of a trace,
 * which of it is affected (RFC 4180).
 *
 * A spreadsheet takes what begins with = + - or @ for a formula, so such a cell gets an apostrophe before it.
 */
#include "inside.h"

#include <inttypes.h>
#include <string.h>

static const char *const columns[] = {
        "lot",    "kind",         "entry", "made_at", "run",      "process",     "machine",
        "s0_mm",  "s1_mm",        "heat",  "supply",  "supplier", "grade",       "length_mm",
        "mass_g", "diameter_um",  "state", "left_mm", "location", "consignment", "consignee",
        "holds",  "certificates", "taken", "verdict", "certain",  "possible",
};

#define COLUMNS (sizeof(columns) / sizeof(*columns))

static void put_cell(struct kw_buf *out, const char *text)
{
        if (out->comma)
                kw_buf_add(out, ",", 1);
        out->comma = true;
        if (!text || !*text)
                return;
        kw_buf_add(out, "\"", 1);
        if (strchr("=+-@\t\r", text[0]))
                kw_buf_add(out, "'", 1);
        for (const char *c = text; *c; c++)
                kw_buf_add(out, *c == '"' ? "\"\"" : c, *c == '"' ? 2 : 1);
        kw_buf_add(out, "\"", 1);
}

static void put_number(struct kw_buf *out, int64_t n)
{
        if (out->comma)
                kw_buf_add(out, ",", 1);
        out->comma = true;
        if (n != KW_NONE)
                kw_buf_printf(out, "%" PRId64, n);
}

static void end_row(struct kw_buf *out)
{
        kw_buf_add(out, "\r\n", 2);
        out->comma = false;
}

static void put_time(struct kw_buf *out, int64_t seconds)
{
        char stamp[KW_STAMP_LEN + 1];

        kw_stamp_write(seconds, stamp);
        put_cell(out, stamp);
}

static void put_list(struct kw_buf *out, const char *const *texts, size_t n)
{
        struct kw_buf list = {0};

        for (size_t i = 0; i < n; i++)
                kw_buf_printf(&list, "%s%s", i ? " " : "", texts[i]);
        put_cell(out, kw_buf_text(&list));
        out->failed = out->failed || list.failed;
        kw_buf_free(&list);
}

static void put_spans(struct kw_buf *out, const struct kw_spans *spans)
{
        struct kw_buf list = {0};

        for (size_t i = 0; i < spans->n; i++)
                kw_buf_printf(&list, "%s%" PRId64 "-%" PRId64, i ? " " : "", spans->at[i].from, spans->at[i].to);
        put_cell(out, kw_buf_text(&list));
        out->failed = out->failed || list.failed;
        kw_buf_free(&list);
}

/* "0-20000 run S-0001/3 outer; 20000-20500 sample T-0007" */
static int put_taken(struct kw_export *x, const struct kw_lot_row *lot, struct kw_buf *out)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "run",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "dispatch"};
        const struct kw_claim_row *claims;
        struct kw_buf list = {0};
        size_t n;
        int rc = kw_read_claims(x->reader, lot, &claims, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_buf_printf(&list, "%s%" PRId64 "-%" PRId64 " %s", i ? "; " : "", claims[i].from, claims[i].to,
                              what[claims[i].what]);
                if (claims[i].code)
                        kw_buf_printf(&list, " %s", claims[i].code);
                if (claims[i].what == KW_CLAIM_FEED)
                        kw_buf_printf(&list, "/%s %s", claims[i].line, claims[i].inner ? "inner" : "outer");
        }
        put_cell(out, kw_buf_text(&list));
        out->failed = out->failed || list.failed;
        kw_buf_free(&list);
        return rc;
}

static int put_origin(struct kw_export *x, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_run_row *run;
        struct kw_source_row source;
        int rc = kw_read_run(x->reader, lot->run, &run);

        if (rc == 0)
                rc = kw_read_source(x->reader, lot, &source);
        if (rc)
                return rc;
        put_cell(out, run ? run->code : NULL);
        put_cell(out, run ? run->process : NULL);
        put_cell(out, run ? run->machine : NULL);
        put_number(out, run ? lot->s0 : KW_NONE);
        put_number(out, run ? lot->s0 + lot->length_mm : KW_NONE);
        put_cell(out, source.heat);
        put_cell(out, source.supply);
        put_cell(out, source.supplier);
        put_cell(out, source.grade);
        return 0;
}

static int put_lot(struct kw_export *x, int64_t id, struct kw_buf *out)
{
        const struct kw_hit *hit = x->answer ? kw_hits_find(x->answer->hits, id) : NULL;
        const struct kw_lot_row *lot;
        struct kw_lot_state state;
        int rc = kw_read_lot(x->reader, id, &lot);

        if (rc || !lot)
                return rc;
        put_cell(out, lot->code);
        put_cell(out, lot->kind);
        put_number(out, lot->seq);
        put_time(out, lot->at);
        rc = put_origin(x, lot, out);
        if (rc == 0)
                rc = kw_read_state(x->reader, lot, &state);
        if (rc)
                return rc;
        put_number(out, lot->length_mm);
        put_number(out, lot->mass_g);
        put_number(out, lot->diameter_um);
        put_cell(out, kw_lot_is_text(state.is));
        put_number(out, state.left_mm);
        put_cell(out, state.location);
        put_cell(out, state.consignment);
        put_cell(out, state.consignee);
        put_list(out, state.holds, state.n_holds);
        put_list(out, state.certificates, state.n_certificates);
        rc = put_taken(x, lot, out);
        put_cell(out, hit ? kw_verdict_text(kw_verdict_of(&hit->reach)) : NULL);
        put_spans(out, hit ? &hit->reach.certain : &(struct kw_spans){0});
        put_spans(out, hit ? &hit->reach.possible : &(struct kw_spans){0});
        end_row(out);
        return rc;
}

static void put_header(struct kw_buf *out)
{
        for (size_t i = 0; i < COLUMNS; i++) {
                kw_buf_printf(out, "%s%s", i ? "," : "", columns[i]);
        }
        end_row(out);
}

/* Of a trace its lots in its order, else every lot that the entries made. */
static int next_of_trace(struct kw_export *x, struct kw_buf *out, size_t before)
{
        int rc = 0;

        while (rc == 0 && (size_t)x->at < x->answer->n_rows) {
                if (out->n - before >= KW_PIECE)
                        return 1;
                rc = put_lot(x, x->answer->rows[x->at++].lot->id, out);
        }
        return rc;
}

static int next_of_entries(struct kw_export *x, struct kw_buf *out, size_t before)
{
        int64_t seq;
        int rc = 0;

        while (rc == 0 && (seq = kw_selected_next(&x->entries, x->at))) {
                const int64_t *lots;
                size_t n;

                if (out->n - before >= KW_PIECE)
                        return 1;
                rc = kw_read_lots_of_entry(x->reader, seq, &lots, &n);
                for (size_t i = 0; rc == 0 && i < n; i++)
                        rc = put_lot(x, lots[i], out);
                x->at = seq;
        }
        return rc;
}

int kw_csv_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const size_t before = out->n;

        (void)err;
        out->comma = false;
        if (!x->stage++)
                put_header(out);
        return x->answer ? next_of_trace(x, out, before) : next_of_entries(x, out, before);
}
