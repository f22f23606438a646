/*
 * The document of a certificate: what it says, fixed when it is issued.
 *
 * Every figure stands beside the number of the entry that it comes from ("entry"), and "rests_on" lists all entries
 * that made what lies in the reels, so that a correction of any of them shows. It is bounded: a heat's places on a reel
 * are listed as far as there are few, else summed up; a rope of 300 bobbins gives some 300 entries to rest on and as
 * many heats as it has.
 */
#include "certify_inside.h"

#include "../work.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define TESTS_MOST 200 /* in one document */

struct conceded {
        int64_t test, entry;
};

int kw_writing_keep(struct kw_writing *w, struct kw_list *list, int64_t value)
{
        int64_t *at = kw_list_more(&w->r->arena, list, sizeof(*at));

        if (!at)
                return -ENOMEM;
        *at = value;
        return 0;
}

static int by_value(const void *a, const void *b)
{
        int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

        return (x > y) - (x < y);
}

static void put_in_order(struct kw_list *list)
{
        int64_t *at = list->at;
        size_t kept = 0;

        if (list->n)
                qsort(at, list->n, sizeof(*at), by_value);
        for (size_t i = 0; i < list->n; i++)
                if (!kept || at[kept - 1] != at[i])
                        at[kept++] = at[i];
        list->n = kept;
}

/* Every value of a query, kept; ends it. */
static int keep_rows(struct kw_writing *w, struct kw_query *q, int rc, struct kw_list *list)
{
        while (rc == 0 && (rc = kw_next(w->r->ledger, q)) == 1)
                rc = kw_writing_keep(w, list, kw_int(q, 0));
        kw_end(q);
        return rc;
}

/* --- what it rests on ---------------------------------------------------------------------------------------- */

static int rest_on(struct kw_writing *w, int64_t id)
{
        return id ? kw_writing_keep(w, &w->rests, id / KW_IDS) : 0;
}

static int gather_metal(struct kw_writing *w)
{
        int rc = kw_read_within(w->r, w->reels, w->n_reels, &w->within, &w->n_within);

        for (size_t i = 0; rc == 0 && i < w->n_within; i++) {
                const struct kw_lot_row *lot = w->within[i].lot;
                struct kw_query q;

                rc = kw_writing_keep(w, &w->rests, lot->seq);
                if (rc == 0)
                        rc = rest_on(w, lot->heat);
                if (rc == 0)
                        rc = rest_on(w, lot->supply);
                if (rc == 0 && lot->heat)
                        rc = kw_writing_keep(w, &w->heats, lot->heat);
                if (rc == 0 && lot->run) {
                        rc = kw_ask(w->r->ledger, &q, "SELECT seq FROM step WHERE run_seq = ?1", "i",
                                    lot->run / KW_IDS);
                        rc = keep_rows(w, &q, rc, &w->rests);
                }
        }
        put_in_order(&w->heats);
        return rc;
}

static int find_reels(struct kw_writing *w)
{
        const cJSON *one;
        size_t most = (size_t)cJSON_GetArraySize(kw_json_get(w->body, "reels"));
        struct kw_error none;
        int rc = 0;

        w->reels = kw_arena_get(&w->r->arena, (most + 1) * sizeof(*w->reels));
        if (!w->reels)
                return -ENOMEM;
        cJSON_ArrayForEach(one, kw_json_get(w->body, "reels"))
        {
                if (rc == 0)
                        rc = kw_read_lot_named(w->r, one->valuestring, &w->reels[w->n_reels], &none);
                if (rc == 0)
                        w->n_reels++;
                rc = rc == KW_NOT_FOUND ? 0 : rc;
        }
        return rc;
}

/* --- the tests ------------------------------------------------------------------------------------------------ */

/* Those that the specification asks for of the whole run. */
static int run_tests(struct kw_writing *w, const struct kw_lot_row *reel, const struct kw_spec_row *spec)
{
        const cJSON *asked;
        cJSON *list = NULL;
        int rc = kw_json_read(spec->tests, strlen(spec->tests), &kw_json_entry_limits, &list, NULL);

        rc = rc > 0 ? -EBADMSG : rc;
        cJSON_ArrayForEach(asked, list)
        {
                struct kw_query q;

                if (rc || strcmp(kw_json_text(asked, "per"), "run") != 0)
                        continue;
                rc = kw_ask(w->r->ledger, &q,
                            CUT_FROM " SELECT DISTINCT t.id FROM own JOIN lot o ON o.id = own.lot"
                                     " JOIN package p ON p.run = o.run AND p.lot <> 0 JOIN test t ON t.lot = p.lot"
                                     " WHERE t.verdict = 'pass' AND EXISTS (SELECT 1 FROM result x WHERE x.test = t.id"
                                     " AND x.property = ?2)",
                            "it", reel->id, kw_json_text(asked, "property"));
                rc = keep_rows(w, &q, rc, &w->tests);
        }
        cJSON_Delete(list);
        return rc;
}

static int own_tests(struct kw_writing *w, const struct kw_lot_row *reel)
{
        const struct kw_failure_row *failures;
        const struct kw_spec_row *spec;
        struct kw_query q;
        size_t n = 0;
        int rc = kw_ask(w->r->ledger, &q, CUT_FROM " SELECT t.id FROM own JOIN test t ON t.lot = own.lot", "i",
                        reel->id);

        rc = keep_rows(w, &q, rc, &w->tests);
        if (rc == 0)
                rc = kw_read_spec_for(w->r, reel, &spec);
        if (rc == 0 && spec)
                rc = run_tests(w, reel, spec);
        if (rc == 0)
                rc = kw_read_failures(w->r, reel, KW_AND_CUT_FROM, reel, &failures, &n);
        for (size_t i = 0; rc == 0 && i < n; i++) {
                struct conceded *c;

                if (!failures[i].concession)
                        continue;
                c = kw_list_more(&w->r->arena, &w->concessions, sizeof(*c));
                if (!c)
                        return -ENOMEM;
                *c = (struct conceded){failures[i].id, failures[i].concession};
                rc = kw_writing_keep(w, &w->rests, failures[i].concession);
        }
        return rc;
}

static int gather_tests(struct kw_writing *w)
{
        const cJSON *one;
        int64_t id;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < w->n_reels; i++)
                rc = own_tests(w, w->reels[i]);
        cJSON_ArrayForEach(one, kw_json_get(w->body, "tests"))
        {
                if (rc == 0)
                        rc = kw_thing_id(w->r->ledger, "test", one->valuestring, &id);
                if (rc == 0 && id)
                        rc = kw_writing_keep(w, &w->tests, id);
        }
        put_in_order(&w->tests);
        for (size_t i = 0; rc == 0 && i < w->tests.n; i++)
                rc = rest_on(w, ((int64_t *)w->tests.at)[i]);
        return rc;
}

static int64_t concession_of(const struct kw_writing *w, int64_t test)
{
        const struct conceded *c = w->concessions.at;

        for (size_t i = 0; i < w->concessions.n; i++)
                if (c[i].test == test)
                        return c[i].entry;
        return KW_NONE;
}

static const struct kw_margin_row *margin_of(const struct kw_margin_row *margins, size_t n, const char *property)
{
        for (size_t i = 0; i < n; i++)
                if (strcmp(margins[i].property, property) == 0)
                        return &margins[i];
        return NULL;
}

static int put_results(struct kw_writing *w, const struct kw_test_row *test)
{
        const struct kw_margin_row *margins = NULL;
        size_t n = 0;
        int rc = test->spec ? kw_read_margins(w->r, test, &margins, &n) : 0;

        kw_put_array(w->out, "results");
        for (size_t i = 0; rc == 0 && i < test->n_results; i++) {
                const struct kw_margin_row *margin = margin_of(margins, n, test->results[i].property);

                kw_put_object(w->out, NULL);
                kw_put_string(w->out, "property", test->results[i].property);
                kw_put_int(w->out, "value", test->results[i].value);
                if (margin) {
                        kw_put_number_if(w->out, "min", margin->limit.min);
                        kw_put_number_if(w->out, "max", margin->limit.max);
                        kw_put_int(w->out, "margin", margin->margin);
                }
                kw_put_object_end(w->out);
        }
        kw_put_array_end(w->out);
        return rc;
}

static int put_test(struct kw_writing *w, const struct kw_test_row *test, const char *lot)
{
        char at[KW_STAMP_LEN + 1];
        int rc;

        kw_stamp_write(test->at, at);
        kw_put_object(w->out, NULL);
        kw_put_string(w->out, "test", test->code);
        kw_put_int(w->out, "entry", test->seq);
        kw_put_string(w->out, "lot", lot);
        kw_put_string(w->out, "at", at);
        kw_put_number_if(w->out, "at_mm", test->at_mm);
        kw_put_text_if(w->out, "instrument", test->instrument);
        kw_put_text_if(w->out, "verdict", test->verdict);
        if (test->spec) {
                kw_put_object(w->out, "spec");
                kw_put_string(w->out, "spec", test->spec_code);
                kw_put_int(w->out, "version", test->spec_version);
                kw_put_int(w->out, "entry", test->spec / KW_IDS);
                kw_put_object_end(w->out);
        }
        kw_put_number_if(w->out, "conceded", concession_of(w, test->id));
        rc = put_results(w, test);
        kw_put_object_end(w->out);
        return rc ? rc : rest_on(w, test->spec);
}

static int put_test_of(struct kw_writing *w, int64_t id)
{
        const struct kw_lot_row *lot;
        const struct kw_test_row *tests;
        int64_t on;
        size_t n = 0;
        int rc = kw_one(w->r->ledger, &on, 0, "SELECT lot FROM test WHERE id = ?1", "i", id);

        if (rc == 0)
                rc = kw_read_lot(w->r, on, &lot);
        if (rc == 0)
                rc = kw_read_tests_of(w->r, on, &tests, &n);
        for (size_t i = 0; rc == 0 && lot && i < n; i++)
                if (tests[i].id == id)
                        rc = put_test(w, &tests[i], lot->code);
        return rc;
}

static int put_tests(struct kw_writing *w)
{
        const int64_t *ids = w->tests.at;
        int rc = 0;

        kw_put_array(w->out, "tests");
        for (size_t i = 0; rc == 0 && i < w->tests.n && i < TESTS_MOST; i++)
                rc = put_test_of(w, ids[i]);
        kw_put_array_end(w->out);
        if (w->tests.n > TESTS_MOST)
                kw_put_int(w->out, "tests_not_shown", (int64_t)(w->tests.n - TESTS_MOST));
        return rc;
}

static int put_concessions(struct kw_writing *w)
{
        struct kw_list entries = {0};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < w->concessions.n; i++)
                rc = kw_writing_keep(w, &entries, ((struct conceded *)w->concessions.at)[i].entry);
        put_in_order(&entries);
        kw_put_array(w->out, "concessions");
        for (size_t i = 0; rc == 0 && i < entries.n; i++) {
                struct kw_query q;

                rc = kw_ask(w->r->ledger, &q,
                            "SELECT h.code, e.reason FROM release e JOIN hold h ON h.id = e.hold WHERE e.seq = ?1", "i",
                            ((int64_t *)entries.at)[i]);
                if (rc == 0 && (rc = kw_next(w->r->ledger, &q)) == 1) {
                        kw_put_object(w->out, NULL);
                        kw_put_string(w->out, "hold", kw_text(&q, 0));
                        kw_put_int(w->out, "entry", ((int64_t *)entries.at)[i]);
                        kw_put_string(w->out, "reason", kw_text(&q, 1));
                        kw_put_object_end(w->out);
                        rc = 0;
                }
                kw_end(&q);
        }
        kw_put_array_end(w->out);
        return rc;
}

/* --- the heats -------------------------------------------------------------------------------------------------- */

static int put_heat(struct kw_writing *w, int64_t id)
{
        struct kw_query q;
        int rc = kw_ask(w->r->ledger, &q,
                        "SELECT code, supplier, grade, mill_certificate, analysis, seq FROM heat WHERE id = ?1", "i",
                        id);

        if (rc == 0 && (rc = kw_next(w->r->ledger, &q)) == 1) {
                kw_put_object(w->out, NULL);
                kw_put_string(w->out, "heat", kw_text(&q, 0));
                kw_put_int(w->out, "entry", kw_int(&q, 5));
                kw_put_string(w->out, "supplier", kw_text(&q, 1));
                kw_put_string(w->out, "grade", kw_text(&q, 2));
                kw_put_text_if(w->out, "mill_certificate", kw_text(&q, 3));
                if (!kw_is_null(&q, 4))
                        kw_put_raw(w->out, "analysis_ppm", kw_text(&q, 4));
                kw_put_object_end(w->out);
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static int put_heats(struct kw_writing *w)
{
        int rc = 0;

        kw_put_array(w->out, "heats");
        for (size_t i = 0; rc == 0 && i < w->heats.n; i++)
                rc = put_heat(w, ((int64_t *)w->heats.at)[i]);
        kw_put_array_end(w->out);
        return rc;
}

/* --- who and what for ----------------------------------------------------------------------------------------------
 */

static void put_member(struct kw_writing *w, const char *name)
{
        const cJSON *member = kw_json_get(w->body, name);
        struct kw_buf text = {0};

        if (!member)
                return;
        kw_json_canonical(member, &text);
        kw_put_raw(w->out, name, kw_buf_text(&text));
        w->out->failed = w->out->failed || text.failed;
        kw_buf_free(&text);
}

static void put_heading(struct kw_writing *w, const struct kw_issue *issue)
{
        const struct kw_document_row *document = kw_document(kw_json_text(w->body, "type"));

        kw_put_int(w->out, "form", 1);
        kw_put_string(w->out, "certificate", kw_json_text(w->body, "certificate"));
        kw_put_string(w->out, "type", document->name);
        kw_put_string(w->out, "title", document->title);
        kw_put_string(w->out, "declares", document->declares);
        kw_put_string(w->out, "issued", issue->at);
        kw_put_int(w->out, "entry", issue->body_seq);
        kw_put_int(w->out, "of", issue->seq);
        put_member(w, "address");
        put_member(w, "replaces");
        put_member(w, "statement");
        put_member(w, "countersigned");
        if (kw_json_get(w->body, "signed")) {
                put_member(w, "signed");
        } else {
                kw_put_object(w->out, "signed");
                kw_put_string(w->out, "name", issue->by);
                kw_put_object_end(w->out);
        }
        kw_put_array(w->out, "caution");
        for (const char *const *line = kw_rope_caution; *line; line++)
                kw_put_string(w->out, NULL, *line);
        kw_put_string(w->out, NULL, kw_certificate_caution);
        kw_put_array_end(w->out);
}

static int too_large(struct kw_writing *w, struct kw_error *err)
{
        return kw_refuse_with(
                err, KW_TOO_LARGE, "/body/reels", "document", KW_VALUES(KW_FIGURE("reels", (int64_t)w->n_reels)),
                "the document of these %zu reels would be larger than %d KiB: give them several certificates",
                w->n_reels, KW_DOCUMENT_MAX / 1024);
}

int kw_read_document(struct kw_reader *r, const cJSON *body, const struct kw_issue *issue, struct kw_buf *out,
                     struct kw_error *err)
{
        static int (*const parts[])(struct kw_writing *) = {kw_put_document_reels, put_heats, put_tests,
                                                            put_concessions};
        struct kw_writing w = {.r = r, .body = body, .out = out};
        int rc = find_reels(&w);

        if (rc == 0)
                rc = gather_metal(&w);
        if (rc == 0)
                rc = gather_tests(&w);
        kw_put_object(out, NULL);
        put_heading(&w, issue);
        for (size_t i = 0; rc == 0 && i < sizeof(parts) / sizeof(*parts); i++)
                rc = parts[i](&w);
        put_in_order(&w.rests);
        kw_put_array(out, "rests_on");
        for (size_t i = 0; i < w.rests.n; i++)
                kw_put_int(out, NULL, ((int64_t *)w.rests.at)[i]);
        kw_put_array_end(out);
        kw_put_object_end(out);
        kw_buf_text(out);
        if (rc == 0 && out->failed)
                rc = -ENOMEM;
        return rc == 0 && out->n > KW_DOCUMENT_MAX ? too_large(&w, err) : rc;
}
