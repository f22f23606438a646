/*
 * A lot's papers: tests, certificates, treatments, notes and findings.
 */
#include "reader.h"

#include <errno.h>

/* --- tests ---------------------------------------------------------------------------------------- */

static int read_results(struct kw_reader *r, struct kw_test_row *test)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT property, value FROM result WHERE test = ?1 ORDER BY property", "i",
                        test->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_result_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_result_row){kw_keep_text(r, &q, 0, &failed), kw_int(&q, 1)};
        }
        kw_end(&q);
        test->results = list.at;
        test->n_results = list.n;
        return failed ? -ENOMEM : rc;
}

int kw_read_tests_of(struct kw_reader *r, int64_t lot, const struct kw_test_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT t.id, t.seq, t.at, t.code, t.instrument, t.verdict, t.at_mm, t.sample_mm, t.said,"
                " ifnull(t.spec, 0), s.code, s.version, t.judged, f.code FROM test t LEFT JOIN spec s ON s.id = t.spec"
                " LEFT JOIN test f ON f.id = t.retest_of"
                " WHERE t.lot = ?1 ORDER BY t.at_mm, t.code",
                "i", lot);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_test_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_test_row){.id = kw_int(&q, 0),
                                                    .seq = kw_int(&q, 1),
                                                    .at = kw_int(&q, 2),
                                                    .code = kw_keep_text(r, &q, 3, &failed),
                                                    .instrument = kw_keep_text(r, &q, 4, &failed),
                                                    .verdict = kw_keep_text(r, &q, 5, &failed),
                                                    .at_mm = kw_int_or(&q, 6, KW_NONE),
                                                    .sample_mm = kw_int_or(&q, 7, KW_NONE),
                                                    .said = kw_keep_text(r, &q, 8, &failed),
                                                    .spec = kw_int(&q, 9),
                                                    .spec_code = kw_keep_text(r, &q, 10, &failed),
                                                    .spec_version = kw_int(&q, 11),
                                                    .judged = kw_keep_text(r, &q, 12, &failed),
                                                    .retest_of = kw_keep_text(r, &q, 13, &failed)};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = read_results(r, (struct kw_test_row *)list.at + i);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- certificates --------------------------------------------------------------------------------- */

int kw_read_certificates_of(struct kw_reader *r, int64_t lot, const struct kw_certificate_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT c.code, c.type, c.at, w.at, w.reason FROM certificate_reel l"
                        " JOIN certificate c ON c.id = l.certificate"
                        " LEFT JOIN withdrawal w ON w.seq = (SELECT min(seq) FROM withdrawal WHERE certificate = c.id)"
                        " WHERE l.lot = ?1 ORDER BY c.code",
                        "i", lot);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_certificate_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_certificate_row){.code = kw_keep_text(r, &q, 0, &failed),
                                                           .type = kw_keep_text(r, &q, 1, &failed),
                                                           .at = kw_int(&q, 2),
                                                           .withdrawn = kw_int_or(&q, 3, KW_NONE),
                                                           .withdrawn_reason = kw_keep_text(r, &q, 4, &failed)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- treatments ------------------------------------------------------------------------------------- */

/* What a batch needs besides, to find what was left of the lot at its time. */
struct when {
        int64_t from, to, at, seq;
};

static int find_length(struct kw_reader *r, const struct kw_lot_row *lot, const struct when *when, struct kw_spans *out)
{
        struct kw_spans spans = {0};
        int rc = when->from != KW_NONE ? kw_spans_add(&spans, when->from, when->to)
                                       : kw_read_left_before(r, lot, when->at, when->seq, &spans);

        if (rc == 0)
                rc = kw_arena_spans(&r->arena, &spans, out);
        kw_spans_free(&spans);
        return rc;
}

int kw_read_batches_of(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_treatment_row **out,
                       size_t *n)
{
        struct kw_list list = {0}, whens = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT b.code, b.process, b.machine, b.started, b.ended, l.from_mm, l.to_mm, coalesce(b.started, "
                "b.at), b.seq"
                " FROM batch_lot l JOIN batch b ON b.id = l.batch WHERE l.lot = ?1 ORDER BY b.at, b.code, l.from_mm",
                "i", lot->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_treatment_row *row = kw_list_more(&r->arena, &list, sizeof(*row));
                struct when *when = kw_list_more(&r->arena, &whens, sizeof(*when));

                rc = row && when ? 0 : -ENOMEM;
                if (rc)
                        break;
                *row = (struct kw_treatment_row){.code = kw_keep_text(r, &q, 0, &failed),
                                                 .process = kw_keep_text(r, &q, 1, &failed),
                                                 .machine = kw_keep_text(r, &q, 2, &failed),
                                                 .started = kw_int_or(&q, 3, KW_NONE),
                                                 .ended = kw_int_or(&q, 4, KW_NONE)};
                *when = (struct when){kw_int_or(&q, 5, KW_NONE), kw_int_or(&q, 6, KW_NONE), kw_int(&q, 7),
                                      kw_int(&q, 8)};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = find_length(r, lot, (struct when *)whens.at + i, &((struct kw_treatment_row *)list.at + i)->spans);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- notes and findings ------------------------------------------------------------------------------- */

int kw_read_notes(struct kw_reader *r, const char *type, const char *code, const struct kw_note_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT n.seq, n.at, e.by, n.text FROM note n JOIN entry e ON e.seq = n.seq"
                        " WHERE n.type = ?1 AND n.code = ?2 ORDER BY n.seq",
                        "tt", type, code);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_note_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_note_row){kw_int(&q, 0), kw_int(&q, 1), kw_keep_text(r, &q, 2, &failed),
                                                    kw_keep_text(r, &q, 3, &failed)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* The thing that an entry is about: of those it made, the one that its kind names, else the first. */
#define ABOUT                                                      \
        "coalesce((SELECT type || ':' || code FROM " KW_THINGS_OF( \
                "f.seq") " WHERE type = e.kind),"                  \
                         " (SELECT type || ':' || code FROM " KW_THINGS_OF("f.seq") " ORDER BY id LIMIT 1))"

static int take_findings(struct kw_reader *r, struct kw_query *q, int rc, const struct kw_finding_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;

        while (rc == 0 && (rc = kw_next(r->ledger, q)) == 1) {
                struct kw_finding_row *row = kw_list_more(&r->arena, &list, sizeof(*row));
                int64_t at = 0;

                rc = row ? 0 : -ENOMEM;
                if (rc)
                        break;
                kw_stamp_read(kw_text(q, 3), &at);
                *row = (struct kw_finding_row){.seq = kw_int(q, 0),
                                               .at = at,
                                               .code = kw_keep_text(r, q, 1, &failed),
                                               .text = kw_keep_text(r, q, 2, &failed),
                                               .about = kw_keep_text(r, q, 4, &failed),
                                               .said = kw_keep_text(r, q, 5, &failed)};
        }
        kw_end(q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

#define FINDINGS "SELECT f.seq, f.code, f.text, e.at, " ABOUT ", f.said FROM finding f JOIN entry e ON e.seq = f.seq"

int kw_read_findings_of(struct kw_reader *r, int64_t seq, int64_t lot, const struct kw_finding_row **out, size_t *n)
{
        struct kw_query q;
        int rc;

        if (lot)
                rc = kw_ask(r->ledger, &q,
                            FINDINGS " WHERE f.seq IN (SELECT ?1 UNION SELECT seq FROM test WHERE lot = ?2)"
                                     " ORDER BY f.seq, f.ord",
                            "ii", seq, lot);
        else /* asked for each entry of an export: a set of one is made anew each time */
                rc = kw_ask(r->ledger, &q, FINDINGS " WHERE f.seq = ?1 ORDER BY f.ord", "i", seq);
        return take_findings(r, &q, rc, out, n);
}

int kw_read_findings(struct kw_reader *r, size_t most, const struct kw_finding_row **out, size_t *n)
{
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT f.seq, f.code, f.text, e.at, " ABOUT
                ", f.said FROM (SELECT seq, ord, code, text, said FROM finding ORDER BY seq DESC, ord DESC LIMIT ?1) f"
                " JOIN entry e ON e.seq = f.seq ORDER BY f.seq DESC, f.ord DESC",
                "i", (int64_t)most);

        return take_findings(r, &q, rc, out, n);
}
