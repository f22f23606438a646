/*
 * The table of forms, and the beginning of an export: its trace, and which entries it holds.
 */
#include "inside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct kw_form_row forms[] = {
        {{"entries", "application/x-ndjson", "ndjson", "the stored entries, one a line; kinwire load reads them"},
         .loads = true,
         .next = kw_entries_next},
        {{"csv", "text/csv; charset=utf-8; header=present", "csv", "the lots with their places, for a spreadsheet"},
         .next = kw_csv_next},
        {{"epcis", "application/ld+json", "jsonld", "EPCIS 2.0 JSON-LD"}, .next = kw_epcis_next},
        {{"prov", "application/json", "prov.json", "W3C PROV-JSON"}, .next = kw_prov_next, .end = kw_prov_end},
        {{"report", "application/pdf", "pdf", "a genealogy report"},
         .of_origin = true,
         .back_by_default = true,
         .next = kw_report_next},
        {{"genealogy", "application/json", "json", "what the report says, as JSON"},
         .of_origin = true,
         .back_by_default = true,
         .next = kw_genealogy_next,
         .end = kw_genealogy_end},
        {{"pack", "application/zip", "zip", "an evidence pack that an auditor checks without the mill"},
         .back_by_default = true,
         .select = kw_pack_select,
         .next = kw_pack_next,
         .end = kw_pack_end},
};

#define FORMS (sizeof(forms) / sizeof(*forms))

const struct kw_export_form *kw_export_form(size_t i)
{
        return i < FORMS ? &forms[i].form : NULL;
}

const struct kw_export_form *kw_export_form_named(const char *name)
{
        for (size_t i = 0; i < FORMS; i++) {
                if (strcmp(forms[i].form.name, name) == 0)
                        return &forms[i].form;
        }
        return NULL;
}

/* --- which entries ------------------------------------------------------------------------------ */

/* The codes of a trace's lots in order: each text of each entry that was put right is looked for among them. */
struct codes {
        const char **at;
        size_t n;
};

static int by_text(const void *a, const void *b)
{
        return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static int codes_of(const struct kw_trace_answer *a, struct codes *out)
{
        *out = (struct codes){.at = malloc((a->n_rows + 1) * sizeof(*out->at)), .n = a->n_rows};
        if (!out->at)
                return -ENOMEM;
        for (size_t i = 0; i < a->n_rows; i++)
                out->at[i] = a->rows[i].lot->code;
        qsort(out->at, out->n, sizeof(*out->at), by_text);
        return 0;
}

static bool is_wanted(void *ctx, const char *code)
{
        const struct codes *codes = ctx;

        return bsearch(&code, codes->at, codes->n, sizeof(*codes->at), by_text) != NULL;
}

static int select_of_trace(struct kw_export *x)
{
        const struct kw_trace_answer *a = x->answer;
        struct codes codes = {0};
        int rc = kw_select_thing(x->reader, a->question.type, a->question.code, &x->entries);

        for (size_t i = 0; rc == 0 && i < a->n_rows; i++)
                rc = kw_select_lot(x->reader, a->rows[i].lot->id, &x->entries);
        if (rc == 0)
                rc = codes_of(a, &codes);
        if (rc == 0)
                rc = kw_select_put_right(x->reader, is_wanted, &codes, &x->entries);
        free(codes.at);
        return rc ? rc : kw_selection_copy(&x->entries, &x->about);
}

static int select_entries(struct kw_export *x, struct kw_error *err)
{
        int rc = kw_selection_new(x->head.size, &x->entries);

        if (rc)
                return rc;
        switch (x->scope.what) {
        case KW_SCOPE_ALL:
                for (int64_t seq = 1; seq <= x->head.size; seq++)
                        kw_select(&x->entries, seq);
                return 0;
        case KW_SCOPE_TIMES:
                rc = kw_select_times(x->reader, x->scope.since, x->scope.until, &x->entries);
                break;
        case KW_SCOPE_ORIGIN:
                rc = select_of_trace(x);
                break;
        }
        if (rc == 0 && x->form->select)
                rc = x->form->select(x, err);
        if (rc)
                return rc;
        return kw_closing_new(&x->entries, x->form->loads ? KW_CLOSED_TO_LOAD : KW_CLOSED_TO_READ, &x->closing);
}

#define GATHERED_AT_ONCE 2000 /* entries: some hundredths of a second */

/* What stands behind the entries may be most of a large ledger, so it is gathered a piece at a time as well. */
static int gather(struct kw_export *x)
{
        int rc = x->closing ? kw_closing_go(x->closing, x->reader, GATHERED_AT_ONCE) : 0;

        if (rc == 0) {
                kw_closing_free(x->closing);
                x->closing = NULL;
        }
        return rc;
}

/* --- beginning and end -------------------------------------------------------------------------- */

static void choose_direction(struct kw_export *x)
{
        static const char *const finished[] = {"lot", "certificate", "consignment"};

        if (x->scope.direction_said || !x->form->back_by_default)
                return;
        for (size_t i = 0; i < sizeof(finished) / sizeof(*finished); i++) {
                if (strcmp(x->scope.question.type, finished[i]) == 0)
                        x->scope.question.direction = KW_BACK;
        }
}

static int read_created(struct kw_export *x)
{
        struct kw_entry_row last;
        int rc;

        snprintf(x->created, sizeof(x->created), "1970-01-01T00:00:00Z");
        if (!x->head.size)
                return 0;
        rc = kw_read_entry(x->reader, x->head.size, &last, NULL);
        if (rc == 0)
                snprintf(x->created, sizeof(x->created), "%s", last.logged);
        return rc;
}

static int begin(struct kw_export *x, struct kw_error *err)
{
        int rc = kw_ledger_head(x->ledger, &x->head, err);

        if (rc == 0 && x->scope.what == KW_SCOPE_ORIGIN)
                rc = kw_trace_ask(x->ledger, &x->scope.question, &x->answer, err);
        if (rc == 0)
                rc = kw_reader_new(x->ledger, &x->reader);
        if (rc)
                return rc;
        rc = read_created(x);
        if (rc == 0)
                rc = select_entries(x, err);
        rc = kw_reader_failed(x->reader, rc, err);
        kw_reader_free(x->reader);
        x->reader = NULL;
        return rc;
}

int kw_export_start(struct kw_ledger *ledger, const struct kw_scope *scope, const struct kw_export_form *form,
                    struct kw_export **out, struct kw_error *err)
{
        /* the form is the first member of its row */
        const struct kw_form_row *row = (const struct kw_form_row *)form;
        struct kw_export *x;
        int rc;

        if (row->of_origin && scope->what != KW_SCOPE_ORIGIN)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "one-origin", KW_VALUES(KW_WORD("text", scope->asked)),
                                      "a %s is of one origin, as in lot:RL-0001; %s is too much for it", form->name,
                                      scope->asked);
        x = calloc(1, sizeof(*x));
        if (!x)
                return -ENOMEM;
        x->ledger = ledger;
        x->scope = *scope;
        x->form = row;
        choose_direction(x);
        rc = begin(x, err);
        if (rc) {
                kw_export_end(x);
                return rc;
        }
        *out = x;
        return 0;
}

int kw_export_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        int rc = kw_reader_new(x->ledger, &x->reader);

        if (rc == 0)
                rc = gather(x);
        if (rc == 0)
                rc = x->form->next(x, out, err);
        if (x->reader)
                rc = kw_reader_failed(x->reader, rc, err);
        kw_reader_free(x->reader);
        x->reader = NULL;
        return rc >= 0 && out->failed ? -ENOMEM : rc;
}

bool kw_export_gathers(const struct kw_export *x, int64_t *done, int64_t *of)
{
        *done = x->closing ? kw_closing_gone(x->closing) : x->entries.n;
        *of = x->entries.n;
        return x->closing != NULL;
}

void kw_export_end(struct kw_export *x)
{
        if (!x)
                return;
        if (x->form->end)
                x->form->end(x);
        kw_reader_free(x->reader);
        kw_trace_answer_free(x->answer);
        kw_closing_free(x->closing);
        kw_selection_free(&x->entries);
        kw_selection_free(&x->about);
        free(x);
}
