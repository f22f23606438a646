/*
 * Certificates: an inspection document for finished reels, and its withdrawal.
 *
 * A reel may be certified when its chain reaches heats everywhere (a core may come from a supply), no hold lies on it,
 * what failed on it was passed later in the same property, and it has the passed tests that its specification needs, of
 * one heat where that asks for one. What is missing is said in full.
 */
#include "judge.h"

#include "kinwire/trace.h"
#include "read/read.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

struct missing {
        struct kw_reader *reader;
        const char *reel;
        struct kw_buf text;
        int count;
};

static void add_missing(struct missing *m, const char *fmt, const char *what)
{
        /* a person acts on the first few; the lot's page shows them all */
        if (m->count++ < 4)
                kw_buf_printf(&m->text, fmt, m->count > 1 ? "; " : "", m->reel, what);
}

static int no_heat(void *ctx, struct kw_hit *hit)
{
        struct missing *m = ctx;
        const struct kw_lot_row *lot;
        int rc;

        if (hit->depth)
                return 0;
        rc = kw_read_lot(m->reader, hit->lot, &lot);
        if (rc == 0 && lot && !lot->heat && strcmp(lot->kind, "core") != 0)
                add_missing(m, "%s%s is made of %s, which has no heat", lot->code);
        return rc;
}

static int chain(struct kw_work *w, const struct kw_lot_here *lot, struct missing *m)
{
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? kw_hits_add(hits, lot->id, 0, lot->length_mm, KW_CERTAIN) : -ENOMEM;

        if (rc == 0)
                rc = kw_reader_new(w->l, &m->reader);
        if (rc == 0)
                rc = kw_trace_back(kw_reader_genealogy(m->reader), hits, NULL);
        if (rc == 0)
                rc = kw_hits_each(hits, no_heat, m);
        kw_reader_free(m->reader);
        m->reader = NULL;
        kw_hits_free(hits);
        return rc;
}

/* A concession over the sample's place excuses what failed there before it. */
static int failures(struct kw_work *w, const struct kw_lot_here *lot, struct missing *m)
{
        struct kw_query q;
        int rc = kw_ask(w->l, &q,
                        "SELECT DISTINCT t.code FROM test t JOIN result r ON r.test = t.id WHERE t.lot = ?1 AND "
                        "t.verdict = 'fail'"
                        " AND NOT EXISTS (SELECT 1 FROM test p JOIN result s ON s.test = p.id WHERE p.lot = ?1"
                        " AND p.verdict = 'pass' AND p.id > t.id AND s.property = r.property)"
                        " AND NOT EXISTS (SELECT 1 FROM release_span s JOIN release e ON e.seq = s.seq"
                        " WHERE s.lot = ?1 AND e.disposition = 'concession' AND s.seq > t.seq"
                        " AND (t.at_mm IS NULL OR t.at_mm BETWEEN s.from_mm AND s.to_mm)) ORDER BY t.id",
                        "i", lot->id);

        while (rc == 0 && (rc = kw_next(w->l, &q)) == 1) {
                add_missing(m, "%s%s failed test %s and was not passed since", kw_text(&q, 0));
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

/* --- what the reel's specification asks for -------------------------------------------------------------- */

/* Passed tests of a property: on the reel and what it was cut from, or on all that came out of the runs that made
 * those. */
#define CUT_FROM                                                                                            \
        "WITH RECURSIVE own (lot) AS (VALUES (?1) UNION SELECT f.lot FROM own JOIN lot l ON l.id = own.lot" \
        " JOIN run r ON r.id = l.run AND r.process = 'cut' JOIN feed f ON f.run = r.id)"
#define PASSED " t.verdict = 'pass' AND EXISTS (SELECT 1 FROM result x WHERE x.test = t.id AND x.property = ?2)"

static int passed_tests(struct kw_work *w, int64_t lot, const char *property, bool per_run, int64_t *n)
{
        if (!per_run)
                return kw_one(w->l, n, 0,
                              CUT_FROM " SELECT count(*) FROM own JOIN test t ON t.lot = own.lot WHERE" PASSED, "it",
                              lot, property);
        return kw_one(w->l, n, 0,
                      CUT_FROM
                      " SELECT count(DISTINCT t.id) FROM own JOIN lot o ON o.id = own.lot"
                      " JOIN package p ON p.run = o.run AND p.lot <> 0 JOIN test t ON t.lot = p.lot WHERE" PASSED,
                      "it", lot, property);
}

static int needed_test(struct kw_work *w, const struct kw_lot_here *lot, const struct kw_spec_named *spec,
                       const cJSON *needed, struct missing *m)
{
        const char *property = kw_json_text(needed, "property");
        bool per_run = strcmp(kw_json_text(needed, "per"), "run") == 0;
        int64_t n = kw_json_int(needed, "n", 0), passed = 0;
        char text[160];
        int rc = passed_tests(w, lot->id, property, per_run, &passed);

        if (rc || passed >= n)
                return rc;
        snprintf(text, sizeof(text), "%" PRId64 " passed of %s%s by %s version %" PRId64 ", and has %" PRId64, n,
                 property, per_run ? " for its run" : "", spec->code, spec->version, passed);
        add_missing(m, "%s%s needs tests: %s", text);
        return 0;
}

static int needed_tests(struct kw_work *w, const struct kw_lot_here *lot, const struct kw_spec_named *spec,
                        const char *tests, struct missing *m)
{
        const cJSON *needed;
        cJSON *list = NULL;
        int rc = kw_json_read(tests, strlen(tests), &kw_json_entry_limits, &list, NULL);

        if (rc > 0)
                return -EBADMSG;
        cJSON_ArrayForEach(needed, list)
        {
                if (rc == 0)
                        rc = needed_test(w, lot, spec, needed, m);
        }
        cJSON_Delete(list);
        return rc;
}

static int one_heat(struct kw_work *w, const struct kw_lot_here *lot, const struct kw_spec_named *spec,
                    struct missing *m)
{
        const struct kw_lot_row *row;
        const char *const *heats;
        char text[120];
        size_t n = 0;
        int rc = kw_reader_new(w->l, &m->reader);

        if (rc == 0)
                rc = kw_read_lot(m->reader, lot->id, &row);
        if (rc == 0 && row)
                rc = kw_read_heats_in(m->reader, row, &heats, &n);
        kw_reader_free(m->reader);
        m->reader = NULL;
        if (rc || n < 2)
                return rc;
        snprintf(text, sizeof(text), "%zu heats, and %s version %" PRId64 " asks for one", n, spec->code,
                 spec->version);
        add_missing(m, "%s%s is of %s", text);
        return 0;
}

static int as_specified(struct kw_work *w, const struct kw_lot_here *lot, struct missing *m)
{
        struct kw_spec_named spec;
        struct kw_buf tests = {0};
        bool one = false;
        struct kw_query q;
        int rc = kw_spec_for(w, lot, &spec);

        if (rc || !spec.id)
                return rc;
        rc = kw_ask(w->l, &q, "SELECT tests, heats IS 'one' FROM spec WHERE id = ?1", "i", spec.id);
        if (rc == 0 && (rc = kw_next(w->l, &q)) == 1) {
                kw_buf_text_add(&tests, kw_text(&q, 0));
                one = kw_int(&q, 1) != 0;
                rc = tests.failed ? -ENOMEM : 0;
        }
        kw_end(&q);
        if (rc == 0)
                rc = needed_tests(w, lot, &spec, kw_buf_text(&tests), m);
        if (rc == 0 && one)
                rc = one_heat(w, lot, &spec, m);
        kw_buf_free(&tests);
        return rc;
}

static int judge_reel(struct kw_work *w, const struct kw_lot_here *lot, const char *pointer)
{
        struct kw_span whole = {0, lot->length_mm};
        struct kw_spans wanted = {.at = &whole, .n = 1, .cap = 1};
        struct missing m = {.reel = lot->code};
        int rc;

        if (!w->judge)
                return 0;
        rc = kw_check_wish(w, lot, &wanted, &(struct kw_wish){KW_TO_CERTIFY, NULL}, pointer);
        if (rc == 0)
                rc = chain(w, lot, &m);
        if (rc == 0)
                rc = failures(w, lot, &m);
        if (rc == 0)
                rc = as_specified(w, lot, &m);
        if (rc == 0 && m.count)
                rc = kw_refuse(w->err, KW_NOT_COMPLETE, pointer, "%.560s%s", kw_buf_text(&m.text),
                               m.count > 4 ? "; and more" : "");
        kw_buf_free(&m.text);
        return rc;
}

static int certify_reel(struct kw_work *w, int64_t certificate, const char *code, size_t i)
{
        char pointer[KW_ITEM_POINTER];
        struct kw_lot_here lot;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/reels/%zu", i);
        rc = kw_need_lot(w, code, pointer, &lot);
        if (rc == 0)
                rc = judge_reel(w, &lot, pointer);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO certificate_reel (certificate, lot, seq) VALUES (?1, ?2, ?3)", "iii",
                           certificate, lot.id, w->seq);
        return rc;
}

static int certify_test(struct kw_work *w, int64_t certificate, const char *code, size_t i)
{
        char pointer[KW_ITEM_POINTER];
        int64_t test;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/tests/%zu", i);
        rc = kw_need(w, "test", code, pointer, &test);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO certificate_test (certificate, test, seq) VALUES (?1, ?2, ?3)", "iii",
                           certificate, test, w->seq);
        return rc;
}

int kw_apply_certify(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS;
        const char *code = kw_json_text(w->body, "certificate");
        const cJSON *item;
        size_t i = 0;
        int rc = kw_define(w, "certificate", code, "/body/certificate", id);

        if (rc == 0)
                rc = kw_do(
                        w->l,
                        "INSERT INTO certificate (id, seq, code, type, statement, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                        "iittti", id, w->seq, code, kw_json_text(w->body, "type"), kw_json_text(w->body, "statement"),
                        w->at);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "reels"))
        {
                if (rc == 0)
                        rc = certify_reel(w, id, item->valuestring, i++);
        }
        i = 0;
        cJSON_ArrayForEach(item, kw_json_get(w->body, "tests"))
        {
                if (rc == 0)
                        rc = certify_test(w, id, item->valuestring, i++);
        }
        return rc;
}

int kw_apply_withdraw(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "certificate");
        int64_t id, withdrawn = 0;
        int rc = kw_need(w, "certificate", code, "/body/certificate", &id);

        if (rc == 0)
                rc = kw_one(w->l, &withdrawn, 0, "SELECT seq FROM withdrawal WHERE certificate = ?1", "i", id);
        if (rc == 0 && withdrawn)
                rc = kw_refuse(w->err, KW_NOT_OPEN, "/body/certificate",
                               "certificate %s was withdrawn already (entry %" PRId64 ")", code, withdrawn);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO withdrawal (seq, certificate, reason, at) VALUES (?1, ?2, ?3, ?4)",
                           "iiti", w->seq, id, kw_json_text(w->body, "reason"), w->at);
        return rc;
}
