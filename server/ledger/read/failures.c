/*
 * Failed tests, and what excuses them: passes since, retests, a concession over the place or over the reel.
 */
#include "certify_inside.h"

#include <errno.h>
#include <string.h>

/*
 * With its verdict computed, a test failed in what is beyond its limits; with one that was said, in all it measured. A
 * retest that fails counts against the test that it repeats.
 */
#define AGAIN                                                                                                   \
        "(WITH RECURSIVE again (id) AS (SELECT id FROM test WHERE retest_of = t.id UNION"                       \
        " SELECT y.id FROM again JOIN test y ON y.retest_of = again.id) SELECT count(*) FROM again JOIN test p" \
        " ON p.id = again.id CROSS JOIN result s ON s.test = p.id WHERE s.property = r.property AND p.verdict = "
#define FAILURES                                                                                                    \
        " SELECT t.id, t.seq, t.code, o.code, r.property, t.lot, o.length_mm, t.at_mm, t.sample_mm,"                \
        " (SELECT count(*) FROM test p CROSS JOIN result s ON s.test = p.id WHERE p.lot = t.lot AND p.verdict = "   \
        "'pass'"                                                                                                    \
        " AND p.id > t.id AND p.retest_of IS NULL AND s.property = r.property), " AGAIN "'pass'), " AGAIN "'fail')" \
        " FROM own JOIN lot o ON o.id = own.lot JOIN test t ON t.lot = own.lot AND t.verdict = 'fail'"              \
        " CROSS JOIN result r ON r.test = t.id WHERE (t.judged IS NOT 'fail' OR EXISTS (SELECT 1 FROM spec_limit l" \
        " WHERE l.spec = t.spec AND l.property = r.property AND (r.value < l.min OR r.value > l.max)))"             \
        " AND NOT EXISTS (SELECT 1 FROM test f WHERE f.id = t.retest_of AND f.verdict = 'fail')"                    \
        " ORDER BY t.id, r.property"

/* What a failure is held against, beside its row. */
struct circumstance {
        int64_t lot;
        int64_t again_passed, again_failed; /* its retests */
        struct kw_failure failure;
};

/* What concessions after an entry cover of a lot; @seq: the last of them. */
static int conceded(struct kw_reader *r, int64_t lot, int64_t after, struct kw_spans *out, int64_t *seq)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT s.from_mm, s.to_mm, e.seq FROM release_span s JOIN release e ON e.seq = s.seq"
                        " WHERE s.lot = ?1 AND e.seq > ?2 AND e.disposition = 'concession' ORDER BY e.seq",
                        "ii", lot, after);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                *seq = kw_int(&q, 2);
                rc = kw_spans_add(out, kw_int(&q, 0), kw_int(&q, 1));
        }
        kw_end(&q);
        kw_spans_unite(out);
        return rc;
}

/* Its retests where there are any; else whatever was tested after it. @retests: as the specification has it. */
static void count_passes(const struct circumstance *c, int64_t retests, struct kw_failure *failure)
{
        bool again = c->again_passed + c->again_failed > 0;

        failure->passes_needed = retests != KW_NONE ? retests : again ? KW_RETESTS : 1;
        if (again)
                failure->passed_since = c->again_failed ? 0 : c->again_passed;
}

static int excuse(struct kw_reader *r, const struct kw_lot_row *reel, const struct circumstance *c, int64_t retests,
                  struct kw_failure_row *row)
{
        struct kw_failure failure = c->failure;
        struct kw_spans own = {0}, whole = {0};
        int64_t seq = 0, reel_seq = 0;
        int rc = conceded(r, c->lot, row->seq, &own, &seq);

        if (rc == 0)
                rc = conceded(r, reel->id, row->seq, &whole, &reel_seq);
        count_passes(c, retests, &failure);
        if (rc == 0) {
                failure.conceded = &own;
                failure.reel_conceded = whole.n == 1 && whole.at[0].from == 0 && whole.at[0].to == reel->length_mm;
                row->excused = kw_failure_excused(&failure);
                row->conceded = row->excused && failure.passed_since < failure.passes_needed;
                row->concession = !row->conceded ? 0 : failure.reel_conceded ? reel_seq : seq;
        }
        kw_spans_free(&own);
        kw_spans_free(&whole);
        return rc;
}

static void take_failure(struct kw_reader *r, struct kw_query *q, struct kw_failure_row *row, struct circumstance *c,
                         bool *failed)
{
        int64_t at = kw_int_or(q, 7, KW_NONE), sample = kw_int_or(q, 8, 0);

        *row = (struct kw_failure_row){.id = kw_int(q, 0),
                                       .seq = kw_int(q, 1),
                                       .test = kw_keep_text(r, q, 2, failed),
                                       .lot = kw_keep_text(r, q, 3, failed),
                                       .property = kw_keep_text(r, q, 4, failed)};
        *c = (struct circumstance){
                kw_int(q, 5),
                kw_int(q, 10),
                kw_int(q, 11),
                {.place = at == KW_NONE ? (struct kw_span){0, kw_int(q, 6)} : (struct kw_span){at, at + sample},
                 .passed_since = kw_int(q, 9)}};
        if (c->failure.place.to > kw_int(q, 6))
                c->failure.place.to = kw_int(q, 6);
}

int kw_read_failures(struct kw_reader *r, const struct kw_lot_row *lot, enum kw_whose whose,
                     const struct kw_lot_row *reel, const struct kw_failure_row **out, size_t *n)
{
        static const char *const asked[] = {
                [KW_AND_CUT_FROM] = CUT_FROM FAILURES, [KW_ALONE] = "WITH own (lot) AS (VALUES (?1))" FAILURES};
        struct kw_list rows = {0}, circumstances = {0};
        const struct kw_spec_row *spec = NULL;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, asked[whose], "i", lot->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_failure_row *row = kw_list_more(&r->arena, &rows, sizeof(*row));
                struct circumstance *c = kw_list_more(&r->arena, &circumstances, sizeof(*c));

                rc = row && c ? 0 : -ENOMEM;
                if (rc == 0)
                        take_failure(r, &q, row, c, &failed);
        }
        kw_end(&q);
        if (rc == 0 && rows.n)
                rc = kw_read_spec_for(r, reel, &spec);
        for (size_t i = 0; rc == 0 && i < rows.n; i++)
                rc = excuse(r, reel, (struct circumstance *)circumstances.at + i, spec ? spec->retests : KW_NONE,
                            (struct kw_failure_row *)rows.at + i);
        *out = rows.at;
        *n = rows.n;
        return failed ? -ENOMEM : rc;
}
