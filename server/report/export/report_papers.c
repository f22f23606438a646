/*
 * A report's papers: tests, holds, certificates and consignments, corrections, findings and notes.
 */
#include "report.h"

#include "ledger/read/certify.h"
#include "ledger/read/holds.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

static void say_none(struct kw_report *w, size_t n)
{
        kw_paper_table_end(w->p);
        if (!n)
                kw_paper_text(w->p, "None recorded.");
}

/* --- tests ------------------------------------------------------------------------------------------ */

static const char *results_of(struct kw_report *w, const struct kw_test_row *test)
{
        struct kw_buf list = {0};
        const char *text;

        for (size_t i = 0; i < test->n_results; i++)
                kw_buf_printf(&list, "%s%s %" PRId64, i ? ", " : "", test->results[i].property, test->results[i].value);
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static int put_tests_of(struct kw_report *w, const struct kw_lot_row *lot, size_t *n)
{
        const struct kw_test_row *tests;
        size_t n_tests;
        int rc = kw_read_tests_of(w->r, lot->id, &tests, &n_tests);

        for (size_t i = 0; rc == 0 && i < n_tests; i++, ++*n) {
                const struct kw_paper_cell cells[] = {{tests[i].code, NULL},
                                                      {lot->code, NULL},
                                                      {kw_metres(w, tests[i].at_mm), NULL},
                                                      {kw_time_text(w, tests[i].at), NULL},
                                                      {tests[i].instrument, NULL},
                                                      {results_of(w, &tests[i]), NULL},
                                                      {tests[i].verdict ? tests[i].verdict : "none given", NULL},
                                                      {kw_words(w, "%" PRId64, tests[i].seq), NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

int kw_section_tests(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Test", 0.1, false},       {"Lot", 0.12, false},     {"At, m", 0.09, true},    {"Time", 0.14, false},
                {"Instrument", 0.1, false}, {"Results", 0.29, false}, {"Verdict", 0.09, false}, {"Entry", 0.07, true}};
        size_t n = 0;
        int rc = 0;

        kw_paper_text(w->p, "Each value is in the unit that its name ends in: um, kpa, n, mg_m2.");
        kw_paper_table(w->p, columns, 8);
        for (size_t i = 0; rc == 0 && i < w->a->n_rows; i++)
                rc = put_tests_of(w, w->a->rows[i].lot, &n);
        say_none(w, n);
        return rc;
}

/* --- holds ------------------------------------------------------------------------------------------- */

static const char *outcome_of(struct kw_report *w, const struct kw_hold_row *hold)
{
        struct kw_buf list = {0};
        const char *text;

        for (size_t i = 0; i < hold->n_freed; i++)
                kw_buf_printf(&list, "%s%s: %s m, %s, %s (%" PRId64 ")", i ? "; " : "", hold->freed[i].disposition,
                              kw_span_text(w, &hold->freed[i].spans), kw_time_text(w, hold->freed[i].at),
                              hold->freed[i].reason, hold->freed[i].seq);
        if (hold->open.n)
                kw_buf_printf(&list, "%sopen: %s m", list.n ? "; " : "", kw_span_text(w, &hold->open));
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static int put_holds_on(struct kw_report *w, const struct kw_lot_row *lot, size_t *n)
{
        const struct kw_hold_row *holds;
        size_t n_holds;
        int rc = kw_read_holds_on(w->r, lot->id, &holds, &n_holds);

        for (size_t i = 0; rc == 0 && i < n_holds; i++, ++*n) {
                const struct kw_paper_cell cells[] = {{holds[i].code, NULL},
                                                      {lot->code, NULL},
                                                      {kw_span_text(w, &holds[i].spans), NULL},
                                                      {kw_time_text(w, holds[i].at), NULL},
                                                      {holds[i].reason, NULL},
                                                      {outcome_of(w, &holds[i]), NULL},
                                                      {kw_words(w, "%" PRId64, holds[i].id / KW_HOLD_IDS), NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

int kw_section_holds(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Hold", 0.09, false},  {"Lot", 0.11, false},   {"Of it, m", 0.14, false},
                {"Since", 0.14, false}, {"Reason", 0.2, false}, {"What became of it, by entry", 0.25, false},
                {"Entry", 0.07, true}};
        size_t n = 0;
        int rc = 0;

        kw_paper_table(w->p, columns, 7);
        for (size_t i = 0; rc == 0 && i < w->a->n_rows; i++)
                rc = put_holds_on(w, w->a->rows[i].lot, &n);
        say_none(w, n);
        return rc;
}

/* --- certificates and consignments --------------------------------------------------------------------- */

/* How it stands: what has overtaken it is named. */
static int standing_of(struct kw_report *w, const char *code, const char **text, int64_t *seq)
{
        const struct kw_certificate_whole_row *c;
        struct kw_error none;
        struct kw_buf list = {0};
        int rc = kw_read_certificate(w->r, code, &c, &none);

        if (rc)
                return rc > 0 ? -EIO : rc;
        for (size_t i = 0; i < c->n_marks; i++)
                if (!c->marks[i].cleared)
                        kw_buf_printf(&list, "%s%s: %s %s, %s", list.n ? "; " : "", kw_mark_text(c->marks[i].what),
                                      c->marks[i].type, c->marks[i].code, c->marks[i].text);
        *text = c->withdrawn_seq ? kw_words(w, "withdrawn %s: %s", kw_time_text(w, c->withdrawn), c->withdrawn_reason)
                : c->replaced_by ? kw_words(w, "replaced by %s", c->replaced_by)
                : list.n         ? kw_words(w, "overtaken: %s", kw_buf_text(&list))
                                 : "stands";
        *seq = c->seq;
        w->failed = w->failed || list.failed;
        kw_buf_free(&list);
        return 0;
}

static int put_consignment(struct kw_report *w, const struct kw_trace_row *row)
{
        struct kw_thing_row thing;
        int rc = kw_read_thing(w->r, "consignment", row->state.consignment, &thing, NULL);

        if (rc)
                return rc > 0 ? -EIO : rc;
        const struct kw_paper_cell cells[] = {{row->lot->code, NULL},
                                              {kw_words(w, "consignment %s", row->state.consignment), NULL},
                                              {kw_time_text(w, row->state.dispatched), NULL},
                                              {kw_words(w, "to %s", row->state.consignee), NULL},
                                              {kw_words(w, "%" PRId64, thing.seq), NULL}};

        kw_paper_row(w->p, cells);
        return 0;
}

static int put_papers_of(struct kw_report *w, const struct kw_trace_row *row, size_t *n)
{
        const struct kw_certificate_row *certificates;
        size_t n_certificates;
        int rc = kw_read_certificates_of(w->r, row->lot->id, &certificates, &n_certificates);

        for (size_t i = 0; rc == 0 && i < n_certificates; i++, ++*n) {
                const struct kw_certificate_row *c = &certificates[i];
                const char *standing = "";
                int64_t seq = 0;

                rc = standing_of(w, c->code, &standing, &seq);
                if (rc)
                        break;
                const struct kw_paper_cell cells[] = {{row->lot->code, NULL},
                                                      {kw_words(w, "certificate %s, type %s", c->code, c->type), NULL},
                                                      {kw_time_text(w, c->at), NULL},
                                                      {standing, NULL},
                                                      {kw_words(w, "%" PRId64, seq), NULL}};

                kw_paper_row(w->p, cells);
        }
        if (rc == 0 && row->state.consignment) {
                rc = put_consignment(w, row);
                ++*n;
        }
        return rc;
}

int kw_section_papers(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {{"Lot", 0.15, false},
                                                         {"Paper", 0.28, false},
                                                         {"Time", 0.15, false},
                                                         {"How it stands", 0.35, false},
                                                         {"Entry", 0.07, true}};
        size_t n = 0;
        int rc = 0;

        kw_paper_table(w->p, columns, 5);
        for (size_t i = 0; rc == 0 && i < w->a->n_rows; i++)
                rc = put_papers_of(w, &w->a->rows[i], &n);
        say_none(w, n);
        return rc;
}

/* --- corrections, findings, notes ----------------------------------------------------------------------- */

/* The rows that an entry gives to a section; @n counts them. */
typedef int put_entry(struct kw_report *w, const struct kw_entry_row *entry, size_t *n);

static int each_entry(struct kw_report *w, const struct kw_paper_column *columns, size_t n_columns, put_entry *put)
{
        size_t n = 0;
        int rc = 0;

        kw_paper_table(w->p, columns, n_columns);
        for (int64_t seq = 0; rc == 0 && (seq = kw_selected_next(&w->x->about, seq));) {
                struct kw_entry_row entry;

                rc = kw_read_entry(w->r, seq, &entry, NULL);
                if (rc == 0)
                        rc = put(w, &entry, &n);
        }
        say_none(w, n);
        return rc;
}

static const char *entry_text(struct kw_report *w, const struct kw_entry_row *entry, int *rc)
{
        const char *about;

        *rc = kw_entry_about(w->r, entry, &about);
        return *rc ? "" : kw_words(w, "%" PRId64 ": %s %s, %.10s", entry->seq, entry->kind, about, entry->at);
}

static int put_corrections(struct kw_report *w, const struct kw_entry_row *entry, size_t *n)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < entry->n_corrections; i++, ++*n) {
                const struct kw_correction_row *c = &entry->corrections[i];
                const char *what = entry_text(w, entry, &rc);
                struct kw_entry_row by;

                if (rc == 0)
                        rc = kw_read_entry(w->r, c->seq, &by, NULL);
                if (rc == 0) {
                        const struct kw_paper_cell cells[] = {{what, NULL},
                                                              {c->is_void ? "void" : "corrected", NULL},
                                                              {kw_words(w, "%" PRId64 ", logged %.10s %.5s by %s",
                                                                        c->seq, by.logged, by.logged + 11, by.by),
                                                               NULL},
                                                              {c->reason, NULL}};

                        kw_paper_row(w->p, cells);
                }
        }
        return rc;
}

int kw_section_corrections(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Entry", 0.26, false}, {"It was", 0.1, false}, {"By entry", 0.26, false}, {"Reason", 0.38, false}};

        return each_entry(w, columns, 4, put_corrections);
}

static int put_findings(struct kw_report *w, const struct kw_entry_row *entry, size_t *n)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < entry->n_findings; i++, ++*n) {
                const struct kw_paper_cell cells[] = {{entry_text(w, entry, &rc), NULL},
                                                      {entry->findings[i].code, NULL},
                                                      {entry->findings[i].text, NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

int kw_section_findings(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Entry", 0.28, false}, {"Finding", 0.17, false}, {"What is odd about it", 0.55, false}};

        return each_entry(w, columns, 3, put_findings);
}

static int put_note(struct kw_report *w, const struct kw_entry_row *entry, size_t *n)
{
        cJSON *body = NULL;
        int rc = strcmp(entry->kind, "note") == 0 ? kw_body_of(w, entry, &body) : 0;

        if (body) {
                const struct kw_paper_cell cells[] = {
                        {kw_words(w, "%" PRId64 ", %.10s %.5s", entry->seq, entry->at, entry->at + 11), NULL},
                        {kw_words(w, "%s", kw_json_text(body, "about")), NULL},
                        {entry->by, NULL},
                        {kw_words(w, "%s", kw_json_text(body, "text")), NULL}};

                ++*n;
                kw_paper_row(w->p, cells);
        }
        cJSON_Delete(body);
        return rc;
}

int kw_section_notes(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Entry", 0.2, false}, {"About", 0.17, false}, {"By", 0.1, false}, {"Note", 0.53, false}};

        return each_entry(w, columns, 4, put_note);
}
