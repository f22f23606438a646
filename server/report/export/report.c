/*
 * The genealogy report: its title page, and its sections in order.
 */
#include "report.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* --- texts ----------------------------------------------------------------------------------------- */

const char *kw_words(struct kw_report *w, const char *fmt, ...)
{
        char *text = NULL;
        const char *kept;
        va_list ap;

        va_start(ap, fmt);
        if (vasprintf(&text, fmt, ap) < 0)
                text = NULL;
        va_end(ap);
        kept = text ? kw_arena_text(kw_reader_arena(w->r), text, &w->failed) : NULL;
        free(text);
        w->failed = w->failed || !kept;
        return kept ? kept : "";
}

const char *kw_metres(struct kw_report *w, int64_t mm)
{
        const char *text;
        size_t n;

        if (mm == KW_NONE)
                return "";
        if (mm % 1000 == 0)
                return kw_words(w, "%" PRId64, mm / 1000);
        text = kw_words(w, "%" PRId64 ".%03d", mm / 1000, (int)(mm % 1000));
        for (n = strlen(text); n && text[n - 1] == '0';)
                n--;
        return kw_words(w, "%.*s", (int)n, text);
}

const char *kw_span_text(struct kw_report *w, const struct kw_spans *spans)
{
        struct kw_buf list = {0};
        const char *text;

        for (size_t i = 0; i < spans->n; i++)
                kw_buf_printf(&list, "%s%s\xe2\x80\x93%s", i ? ", " : "", kw_metres(w, spans->at[i].from),
                              kw_metres(w, spans->at[i].to));
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

const char *kw_time_text(struct kw_report *w, int64_t seconds)
{
        char stamp[KW_STAMP_LEN + 1];

        if (seconds == KW_NONE)
                return "";
        kw_stamp_write(seconds, stamp);
        return kw_words(w, "%.10s %.5s", stamp, stamp + 11);
}

int kw_body_of(struct kw_report *w, const struct kw_entry_row *entry, cJSON **out)
{
        static const struct kw_json_limits limits = {.bytes = (size_t)8 << 20, .nodes = 400000};
        const char *text;
        int rc = kw_read_standing_body(w->r, entry, &text);

        *out = NULL;
        if (rc || !text)
                return rc;
        rc = kw_json_read(text, strlen(text), &limits, out, NULL);
        return rc > 0 ? -EIO : rc;
}

/* --- the title page --------------------------------------------------------------------------------- */

static const char *question_text(struct kw_report *w)
{
        static const char *const words[] = {[KW_FORWARD] = "what was made of it",
                                            [KW_BACK] = "what it was made of",
                                            [KW_KIN] = "what it was made of, and all that was made of the same heats"};

        return words[w->a->question.direction];
}

static void put_lot_facts(struct kw_report *w, const struct kw_trace_row *row)
{
        const struct kw_lot_row *lot = row->lot;

        kw_paper_fact(w->p, "Length",
                      kw_words(w, "%s m, %s", kw_metres(w, lot->length_mm),
                               strcmp(lot->length_from, "mass") == 0 ? "computed from its mass" : "counted"));
        if (lot->mass_g != KW_NONE)
                kw_paper_fact(w->p, "Mass",
                              kw_words(w, "%" PRId64 ".%03d kg", lot->mass_g / 1000, (int)(lot->mass_g % 1000)));
        if (lot->diameter_um != KW_NONE)
                kw_paper_fact(
                        w->p, "Diameter",
                        kw_words(w, "%" PRId64 ".%03d mm", lot->diameter_um / 1000, (int)(lot->diameter_um % 1000)));
        kw_paper_fact(w->p, "Construction", lot->construction);
        kw_paper_fact(w->p, "Order", lot->order);
        kw_paper_fact(w->p, "State", kw_lot_is_text(row->state.is));
        kw_paper_fact(w->p, "Location", row->state.location);
        if (row->state.consignment)
                kw_paper_fact(w->p, "Dispatched",
                              kw_words(w, "%s to %s, %s", row->state.consignment, row->state.consignee,
                                       kw_time_text(w, row->state.dispatched)));
        for (size_t i = 0; i < row->state.n_certificates; i++)
                kw_paper_fact(w->p, i ? " " : "Certificates", row->state.certificates[i]);
        for (size_t i = 0; i < row->state.n_holds; i++)
                kw_paper_fact(w->p, i ? " " : "On hold", row->state.holds[i]);
}

static const struct kw_trace_row *row_of(const struct kw_trace_answer *a, int64_t lot)
{
        for (size_t i = 0; i < a->n_rows; i++) {
                if (a->rows[i].lot->id == lot)
                        return &a->rows[i];
        }
        return NULL;
}

static void put_totals(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Kind of lot", 0.2, false},         {"Lots", 0.12, true},
                {"certainly", 0.14, true},           {"possibly only", 0.14, true},
                {"Length concerned, m", 0.22, true}, {"Mass, kg", 0.18, true}};

        kw_paper_space(w->p, 8);
        kw_paper_table(w->p, columns, 6);
        for (size_t i = 0; i < w->a->n_totals; i++) {
                const struct kw_trace_total *t = &w->a->totals[i];
                const struct kw_paper_cell cells[] = {
                        {t->kind, NULL},
                        {kw_words(w, "%zu", t->lots), NULL},
                        {kw_words(w, "%zu", t->certain), NULL},
                        {kw_words(w, "%zu", t->possible), NULL},
                        {kw_metres(w, t->affected_mm), NULL},
                        {t->affected_g == KW_NONE
                                 ? "not known"
                                 : kw_words(w, "%" PRId64 ".%03d", t->affected_g / 1000, (int)(t->affected_g % 1000)),
                         NULL},
                };

                kw_paper_row(w->p, cells);
        }
        kw_paper_table_end(w->p);
}

static int put_title_page(struct kw_report *w)
{
        const struct kw_question *q = &w->a->question;
        const struct kw_trace_row *row = NULL;
        struct kw_thing_row thing = {0};
        char root[KW_HASH_HEX];
        int rc = kw_read_thing(w->r, q->type, q->code, &thing, NULL);

        if (rc < 0)
                return rc;
        kw_hash_hex(&w->a->head.root, root);
        if (strcmp(q->type, "lot") == 0 && w->a->n_starts)
                row = row_of(w->a, w->a->starts[0].lot->id);
        kw_paper_text(w->p, "GENEALOGY REPORT");
        kw_paper_title(w->p, kw_words(w, "%s %s", row ? row->lot->kind : q->type, q->code));
        kw_paper_space(w->p, 6);
        kw_paper_fact(w->p, "Asked", question_text(w));
        if (q->part)
                kw_paper_fact(w->p, "Of its length",
                              kw_words(w, "%s to %s m", kw_metres(w, q->from_mm), kw_metres(w, q->to_mm)));
        if (q->window)
                kw_paper_fact(w->p, "In the time",
                              kw_words(w, "%s to %s",
                                       q->since == INT64_MIN ? "the beginning" : kw_time_text(w, q->since),
                                       q->until == INT64_MAX ? "the end" : kw_time_text(w, q->until)));
        if (row)
                put_lot_facts(w, row);
        else if (rc == 0)
                kw_paper_fact(w->p, "It is", thing.few.text);
        kw_paper_space(w->p, 8);
        kw_paper_fact(w->p, "Ledger",
                      kw_words(w, "%" PRId64 " entries, the last logged %.10s %.5s UTC", w->a->head.size, w->x->created,
                               w->x->created + 11));
        kw_paper_fact(w->p, "Entries", kw_words(w, "%" PRId64 " of them concern this", w->x->about.n));
        kw_paper_text(w->p, "Root over all entries (RFC 9162, SHA-256):");
        kw_paper_code(w->p, root);
        put_totals(w);
        kw_paper_text(
                w->p,
                "Certain: surely concerned. Possible: may be, as counters slip and lengths are nominal; how far is"
                " computed from each run's tolerance. Metres of a lot count from its inner end, the end wound on"
                " first. Times are UTC.");
        kw_paper_space(w->p, 10);
        kw_paper_contents(w->p);
        return 0;
}

/* --- the whole -------------------------------------------------------------------------------------- */

static const struct {
        const char *title;
        int (*write)(struct kw_report *w);
} sections[] = {
        {"Along its length", kw_section_ribbon},
        {"Heats and supplies", kw_section_material},
        {"Lots by stage", kw_section_stages},
        {"Joints", kw_section_joints},
        {"Tests", kw_section_tests},
        {"Holds, and what became of them", kw_section_holds},
        {"Certificates and consignments", kw_section_papers},
        {"Corrections", kw_section_corrections},
        {"Findings", kw_section_findings},
        {"Notes", kw_section_notes},
        {"Treatments in batches", kw_section_batches},
        {"Runs", kw_section_runs},
};

static int write_once(struct kw_report *w)
{
        int rc = put_title_page(w);

        for (size_t i = 0; rc == 0 && i < sizeof(sections) / sizeof(*sections); i++) {
                kw_paper_section(w->p, sections[i].title);
                rc = sections[i].write(w);
        }
        if (rc == 0)
                rc = kw_paper_end(w->p);
        return rc == 0 && w->failed ? -ENOMEM : rc;
}

int kw_report_write(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        struct kw_report w = {.x = x, .r = x->reader, .a = x->answer};
        const struct kw_question *q = &x->answer->question;
        char root[KW_HASH_HEX];
        const char *title = kw_words(&w, "Genealogy report: %s %s", q->type, q->code), *foot;
        struct kw_paper *first, *second = NULL;
        int rc;

        (void)err;
        kw_hash_hex(&x->head.root, root);
        foot = kw_words(&w, "%s %s \xc2\xb7 ledger %" PRId64 " \xc2\xb7 root %.16s\xe2\x80\xa6", q->type, q->code,
                        x->head.size, root);
        first = kw_paper_new(NULL, NULL, title, foot, x->created);
        w.p = first;
        rc = first ? write_once(&w) : -ENOMEM;
        if (rc == 0) {
                second = kw_paper_new(out, first, title, foot, x->created);
                w.p = second;
                rc = second ? write_once(&w) : -ENOMEM;
        }
        kw_paper_free(second);
        kw_paper_free(first);
        return rc;
}

int kw_report_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        return kw_report_write(x, out, err);
}
