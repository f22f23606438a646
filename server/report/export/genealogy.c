/*
 * The genealogy as JSON: what the report says, for whoever draws it otherwise, as the page of a genealogy does.
 *
 *      trace       the answer of GET /api/trace, whole
 *      received    of each lot that was received: heat, supply and who sent it
 *      material    the heats and supplies behind it, with their analyses
 *      runs        each once: machine, times, settings, who, and what is concerned of what went in and came out
 *      batches     treatments                          tests       of every lot of the trace
 *      holds       and what became of them             papers      certificates and consignments
 *      corrections, findings, notes                    of the entries that concern it
 *
 * The sections are those of report.c, of the same rows; it comes in pieces, so a heat of a whole year is no matter.
 */
#include "inside.h"

#include "ledger/read/certify.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct genealogy {
        struct kw_trace_writer trace;
        struct kw_selection told; /* runs, by the entry that logged them */
};

/* Of one lot of the trace, or of one entry: what it gives to a section. */
typedef int put_of_row(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out);
typedef int put_of_entry(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out);

static const struct kw_json_limits body_limits = {.bytes = (size_t)8 << 20, .nodes = 400000};

/* What stands of an entry, for cJSON_Delete(); NULL when it is void. */
static int body_of(struct kw_export *x, const struct kw_entry_row *entry, cJSON **out)
{
        const char *text;
        int rc = kw_read_standing_body(x->reader, entry, &text);

        *out = NULL;
        if (rc || !text)
                return rc;
        rc = kw_json_read(text, strlen(text), &body_limits, out, NULL);
        return rc > 0 ? -EIO : rc;
}

static void put_member(struct kw_buf *out, const cJSON *body, const char *name)
{
        struct kw_buf text = {0};

        if (!kw_json_get(body, name))
                return;
        kw_json_canonical(kw_json_get(body, name), &text);
        kw_put_raw(out, name, kw_buf_text(&text));
        out->failed = out->failed || text.failed;
        kw_buf_free(&text);
}

/* --- where the metal came from ---------------------------------------------------------------------- */

static int put_received(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        struct kw_source_row source;
        int rc;

        if (row->lot->run)
                return 0;
        rc = kw_read_source(x->reader, row->lot, &source);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", row->lot->code);
        kw_put_string(out, "heat", source.heat);
        kw_put_string(out, "supply", source.supply);
        kw_put_string(out, "supplier", source.supplier);
        kw_put_int(out, "entry", row->lot->seq);
        kw_put_object_end(out);
        return 0;
}

static int put_material(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        static const char *const members[] = {"heat", "supply",       "supplier",         "grade",
                                              "what", "supplier_lot", "mill_certificate", "analysis_ppm"};
        cJSON *body;
        int rc;

        if (strcmp(entry->kind, "heat") != 0 && strcmp(entry->kind, "supply") != 0)
                return 0;
        rc = body_of(x, entry, &body);
        if (rc || !body)
                return rc;
        kw_put_object(out, NULL);
        kw_put_int(out, "entry", entry->seq);
        for (size_t i = 0; i < sizeof(members) / sizeof(*members); i++)
                put_member(out, body, members[i]);
        kw_put_object_end(out);
        cJSON_Delete(body);
        return 0;
}

/* --- runs -------------------------------------------------------------------------------------------- */

static bool concerned(const struct kw_export *x, int64_t lot)
{
        return kw_hits_find(x->answer->hits, lot) != NULL;
}

static int put_feed(struct kw_export *x, const struct kw_run_row *run, size_t line, size_t i, struct kw_buf *out)
{
        const struct kw_feed *feed = &run->map.lines[line].feeds[i];
        const struct kw_lot_row *lot;
        const char *weld = NULL, *made_by = NULL;
        int rc = kw_read_lot(x->reader, feed->lot, &lot);

        if (rc == 0 && i)
                rc = kw_read_weld_before(x->reader, run, line, i, &weld, &made_by);
        if (rc || !lot)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "line", run->map.lines[line].label);
        kw_put_string(out, "lot", lot->code);
        kw_put_int(out, "from_mm", feed->from);
        kw_put_int(out, "to_mm", feed->to);
        kw_put_string(out, "off", feed->off == KW_OFF_INNER ? "inner" : "outer");
        kw_put_string(out, "weld", weld);
        kw_put_string(out, "made_by", made_by);
        kw_put_object_end(out);
        return 0;
}

static int put_feeds(struct kw_export *x, const struct kw_run_row *run, struct kw_buf *out)
{
        int64_t all = 0;
        int rc = 0;

        kw_put_array(out, "feeds");
        for (size_t i = 0; i < run->map.n_lines; i++) {
                for (size_t k = 0; rc == 0 && k < run->map.lines[i].n_feeds; k++, all++) {
                        if (concerned(x, run->map.lines[i].feeds[k].lot))
                                rc = put_feed(x, run, i, k, out);
                }
        }
        kw_put_array_end(out);
        kw_put_int(out, "feeds_in_all", all);
        return rc;
}

static int put_packages(struct kw_export *x, const struct kw_run_row *run, struct kw_buf *out)
{
        int rc = 0;

        kw_put_array(out, "packages");
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_package *package = &run->map.packages[i];
                const struct kw_lot_row *lot;

                if (!concerned(x, package->lot))
                        continue;
                rc = kw_read_lot(x->reader, package->lot, &lot);
                if (rc || !lot)
                        continue;
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", lot->code);
                kw_put_int(out, "s0_mm", package->s0);
                kw_put_int(out, "s1_mm", package->s1);
                kw_put_time(out, "doffed", run->packages[i].doffed);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_int(out, "packages_in_all", (int64_t)run->map.n_packages);
        return rc;
}

static int put_run_entry(struct kw_export *x, const struct kw_run_row *run, struct kw_buf *out)
{
        struct kw_entry_row entry;
        cJSON *body = NULL;
        int rc = kw_read_entry(x->reader, run->seq, &entry, NULL);

        if (rc == 0)
                rc = body_of(x, &entry, &body);
        if (rc)
                return rc;
        put_member(out, body, "settings");
        put_member(out, body, "supplies");
        kw_put_int(out, "entry", entry.seq);
        kw_put_string(out, "by", entry.by);
        kw_put_string(out, "terminal", entry.terminal);
        kw_put_string(out, "logged", entry.logged);
        kw_put_string(out, "standing", kw_standing_text(entry.standing));
        cJSON_Delete(body);
        return 0;
}

static int put_run(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        struct genealogy *g = x->own;
        const struct kw_run_row *run;
        const char *batch;
        int rc = kw_read_run(x->reader, row->lot->run, &run);

        if (rc || !run || kw_selected(&g->told, run->seq))
                return rc;
        kw_select(&g->told, run->seq);
        rc = kw_read_code(x->reader, KW_NAMED_BATCH, run->batch, &batch);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "run", run->code);
        kw_put_string(out, "process", run->process);
        kw_put_string(out, "machine", run->machine);
        kw_put_time(out, "started", run->started);
        kw_put_time(out, "ended", run->ended);
        kw_put_bool(out, "under_way", run->under_way);
        kw_put_string(out, "batch", batch);
        kw_put_string(out, "order", run->order);
        kw_put_int(out, "length_mm", run->map.length_mm);
        kw_put_int(out, "tolerance_ppm", run->map.tolerance_ppm);
        rc = put_run_entry(x, run, out);
        if (rc == 0)
                rc = put_feeds(x, run, out);
        if (rc == 0)
                rc = put_packages(x, run, out);
        kw_put_object_end(out);
        return rc;
}

static int put_batches(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        const struct kw_treatment_row *rows;
        size_t n;
        int rc = kw_read_batches_of(x->reader, row->lot, &rows, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "batch", rows[i].code);
                kw_put_string(out, "process", rows[i].process);
                kw_put_string(out, "machine", rows[i].machine);
                kw_put_time(out, "started", rows[i].started);
                kw_put_time(out, "ended", rows[i].ended);
                kw_put_string(out, "lot", row->lot->code);
                kw_put_spans(out, "spans", &rows[i].spans);
                kw_put_object_end(out);
        }
        return rc;
}

/* --- papers ------------------------------------------------------------------------------------------ */

static int put_tests(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        const struct kw_test_row *tests;
        size_t n;
        int rc = kw_read_tests_of(x->reader, row->lot->id, &tests, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "test", tests[i].code);
                kw_put_string(out, "lot", row->lot->code);
                kw_put_number(out, "at_mm", tests[i].at_mm);
                kw_put_time(out, "at", tests[i].at);
                kw_put_string(out, "instrument", tests[i].instrument);
                kw_put_object(out, "results");
                for (size_t k = 0; k < tests[i].n_results; k++)
                        kw_put_int(out, tests[i].results[k].property, tests[i].results[k].value);
                kw_put_object_end(out);
                kw_put_string(out, "verdict", tests[i].verdict);
                kw_put_int(out, "entry", tests[i].seq);
                kw_put_object_end(out);
        }
        return rc;
}

static int put_holds(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        const struct kw_hold_row *holds;
        size_t n;
        int rc = kw_read_holds_on(x->reader, row->lot->id, &holds, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "hold", holds[i].code);
                kw_put_string(out, "lot", row->lot->code);
                kw_put_time(out, "at", holds[i].at);
                kw_put_string(out, "reason", holds[i].reason);
                kw_put_spans(out, "spans", &holds[i].spans);
                kw_put_spans(out, "open", &holds[i].open);
                kw_put_array(out, "freed");
                for (size_t k = 0; k < holds[i].n_freed; k++) {
                        const struct kw_freed_row *freed = &holds[i].freed[k];

                        kw_put_object(out, NULL);
                        kw_put_string(out, "disposition", freed->disposition);
                        kw_put_time(out, "at", freed->at);
                        kw_put_string(out, "reason", freed->reason);
                        kw_put_spans(out, "spans", &freed->spans);
                        kw_put_int(out, "entry", freed->seq);
                        kw_put_object_end(out);
                }
                kw_put_array_end(out);
                kw_put_object_end(out);
        }
        return rc;
}

static int put_certificate(struct kw_export *x, const struct kw_certificate_row *row, const char *lot,
                           struct kw_buf *out)
{
        const struct kw_certificate_whole_row *c;
        struct kw_error none;
        int rc = kw_read_certificate(x->reader, row->code, &c, &none);

        if (rc)
                return rc > 0 ? -EIO : rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot);
        kw_put_string(out, "certificate", c->code);
        kw_put_string(out, "type", c->type);
        kw_put_time(out, "at", c->at);
        kw_put_int(out, "entry", c->seq);
        kw_put_string(out, "state", kw_certificate_is_text(c->is));
        kw_put_string(out, "withdrawn", c->withdrawn_seq ? c->withdrawn_reason : NULL);
        kw_put_string(out, "replaced_by", c->replaced_by);
        kw_put_marks(out, c);
        kw_put_object_end(out);
        return 0;
}

static int put_papers(struct kw_export *x, const struct kw_trace_row *row, struct kw_buf *out)
{
        const struct kw_certificate_row *certificates;
        size_t n;
        int rc = kw_read_certificates_of(x->reader, row->lot->id, &certificates, &n);

        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = put_certificate(x, &certificates[i], row->lot->code, out);
        if (rc == 0 && row->state.consignment) {
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", row->lot->code);
                kw_put_string(out, "consignment", row->state.consignment);
                kw_put_string(out, "consignee", row->state.consignee);
                kw_put_time(out, "at", row->state.dispatched);
                kw_put_object_end(out);
        }
        return rc;
}

/* --- of entries --------------------------------------------------------------------------------------- */

static int put_entry(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const char *about;
        int rc = kw_entry_about(x->reader, entry, &about);

        kw_put_int(out, "entry", entry->seq);
        kw_put_string(out, "kind", entry->kind);
        kw_put_string(out, "about", rc ? NULL : about);
        kw_put_string(out, "at", entry->at);
        return rc;
}

static int put_corrected(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < entry->n_corrections; i++) {
                const struct kw_correction_row *c = &entry->corrections[i];
                struct kw_entry_row by;

                rc = kw_read_entry(x->reader, c->seq, &by, NULL);
                if (rc)
                        continue;
                kw_put_object(out, NULL);
                rc = put_entry(x, entry, out);
                kw_put_bool(out, "void", c->is_void);
                kw_put_string(out, "reason", c->reason);
                kw_put_int(out, "by_entry", c->seq);
                kw_put_string(out, "by", by.by);
                kw_put_string(out, "logged", by.logged);
                kw_put_object_end(out);
        }
        return rc;
}

static int put_found(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        int rc = 0;

        if (!entry->n_findings)
                return 0;
        kw_put_object(out, NULL);
        rc = put_entry(x, entry, out);
        kw_put_findings(out, entry->findings, entry->n_findings, false);
        kw_put_object_end(out);
        return rc;
}

static int put_note(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        cJSON *body = NULL;
        int rc = strcmp(entry->kind, "note") == 0 ? body_of(x, entry, &body) : 0;

        if (rc || !body)
                return rc;
        kw_put_object(out, NULL);
        kw_put_int(out, "entry", entry->seq);
        kw_put_string(out, "at", entry->at);
        kw_put_string(out, "by", entry->by);
        put_member(out, body, "about");
        put_member(out, body, "text");
        kw_put_object_end(out);
        cJSON_Delete(body);
        return 0;
}

/* --- the document ------------------------------------------------------------------------------------- */

static const struct {
        const char *name;
        put_of_row *of_row;
        put_of_entry *of_entry;
        bool backing; /* of the entries behind it too, not only of those that concern it */
} sections[] = {
        {"received", .of_row = put_received}, {"material", .of_entry = put_material, .backing = true},
        {"runs", .of_row = put_run},          {"batches", .of_row = put_batches},
        {"tests", .of_row = put_tests},       {"holds", .of_row = put_holds},
        {"papers", .of_row = put_papers},     {"corrections", .of_entry = put_corrected},
        {"findings", .of_entry = put_found},  {"notes", .of_entry = put_note},
};

#define SECTIONS ((int)(sizeof(sections) / sizeof(*sections)))

/* Of the section under way, until it ends or the piece is full. Return: 1 when full. */
static int put_section(struct kw_export *x, struct kw_buf *out, size_t before, struct kw_error *err)
{
        const int i = x->stage - 1;
        const struct kw_selection *entries = sections[i].backing ? &x->entries : &x->about;
        int rc = 0;

        while (rc == 0) {
                struct kw_entry_row entry;
                int64_t next = sections[i].of_row ? ((size_t)x->at < x->answer->n_rows ? x->at + 1 : 0)
                                                  : kw_selected_next(entries, x->at);

                if (!next)
                        return 0;
                if (out->n - before >= KW_PIECE)
                        return 1;
                if (sections[i].of_row) {
                        rc = sections[i].of_row(x, &x->answer->rows[x->at], out);
                } else {
                        rc = kw_read_entry(x->reader, next, &entry, err);
                        if (rc == 0)
                                rc = sections[i].of_entry(x, &entry, out);
                }
                x->at = next;
        }
        return rc;
}

static int start(struct kw_export *x)
{
        struct genealogy *g = calloc(1, sizeof(*g));

        if (!g)
                return -ENOMEM;
        x->own = g;
        g->trace = (struct kw_trace_writer){.answer = x->answer, .as = KW_AS_JSON};
        return kw_selection_new(x->head.size, &g->told);
}

/* The head of the document, with the trace in it. Return: 1 when the piece is full. */
static int put_trace(struct kw_export *x, struct kw_buf *out)
{
        struct genealogy *g = x->own;
        int rc;

        if (!g->trace.stage) {
                out->comma = false;
                kw_put_object(out, NULL);
                kw_put_string(out, "logged", x->created);
                kw_put_int(out, "entries", x->about.n);
                kw_buf_text_add(out, ",\"trace\":");
        }
        rc = kw_trace_write(&g->trace, out);
        out->comma = true;
        x->comma = true;
        return rc;
}

int kw_genealogy_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const size_t before = out->n;
        int rc = x->own ? 0 : start(x);

        if (rc)
                return rc;
        if (!x->stage) {
                rc = put_trace(x, out);
                if (rc)
                        return rc;
                kw_put_array(out, sections[x->stage++].name);
                x->comma = out->comma;
        }
        out->comma = x->comma;
        for (;;) {
                rc = put_section(x, out, before, err);
                x->comma = out->comma;
                if (rc)
                        return rc;
                kw_put_array_end(out);
                x->at = 0;
                if (x->stage == SECTIONS)
                        break;
                kw_put_array(out, sections[x->stage++].name);
        }
        kw_put_object_end(out);
        kw_buf_add(out, "\n", 1);
        return 0;
}

void kw_genealogy_end(struct kw_export *x)
{
        struct genealogy *g = x->own;

        if (!g)
                return;
        kw_selection_free(&g->told);
        free(g);
        x->own = NULL;
}
