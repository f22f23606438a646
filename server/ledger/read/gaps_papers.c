/*
 * Gaps about papers: tests, calibrations, and entries themselves.
 */
#include "gaps_inside.h"

#include "quality.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>

/* --- tests -------------------------------------------------------------------------------------------- */

/*
 * A reel is mostly tested on the rope that it was cut from, so tests on what its run took, and on what that made beside
 * it, count.
 */
static int sold_untested(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT 'lot', l.code, l.seq, NULL, 'none', l.id, 0, l.length_mm FROM lot l"
                        " WHERE l.id IN (SELECT lot FROM taken WHERE what = 'dispatch')"
                        " AND NOT EXISTS (SELECT 1 FROM test t WHERE t.lot = l.id)"
                        " AND NOT EXISTS (SELECT 1 FROM feed f JOIN test t ON t.lot = f.lot WHERE f.run = l.run)"
                        " AND NOT EXISTS (SELECT 1 FROM package p JOIN test t ON t.lot = p.lot WHERE p.run = l.run)",
                        "");

        return kw_gap_take(s, &q, rc);
}

/* A test that a specification asks for. */
struct asked_test {
        char property[48];
        bool per_run;
        int64_t n;
};

/*
 * Tests of a property on a lot, or on everything that its run made; those on what the run took count for a reel. CROSS
 * JOIN keeps the order: results found by their property first would be those of all lots.
 */
static int count_tests(struct kw_gap_search *s, const struct kw_lot_row *lot, const struct asked_test *asked,
                       int64_t *n)
{
        int64_t more = 0;
        int rc;

        if (asked->per_run && lot->run)
                rc = kw_one(s->r->ledger, n, 0,
                            "SELECT count(*) FROM package p JOIN test t ON t.lot = p.lot CROSS JOIN result x ON x.test "
                            "= t.id"
                            " AND x.property = ?2 WHERE p.run = ?1",
                            "it", lot->run, asked->property);
        else
                rc = kw_one(s->r->ledger, n, 0,
                            "SELECT count(*) FROM test t CROSS JOIN result x ON x.test = t.id AND x.property = ?2"
                            " WHERE t.lot = ?1",
                            "it", lot->id, asked->property);
        if (rc == 0 && lot->run && strcmp(lot->kind, "reel") == 0)
                rc = kw_one(s->r->ledger, &more, 0,
                            "SELECT count(*) FROM (SELECT DISTINCT lot FROM feed WHERE run = ?1) f"
                            " JOIN test t ON t.lot = f.lot CROSS JOIN result x ON x.test = t.id AND x.property = ?2",
                            "it", lot->run, asked->property);
        *n += more;
        return rc;
}

static int hold_against(struct kw_gap_search *s, const struct kw_spec_row *spec, const cJSON *tests,
                        const struct kw_lot_row *lot)
{
        const cJSON *test;
        int rc = 0;

        cJSON_ArrayForEach(test, tests)
        {
                struct asked_test asked = {.n = kw_json_int(test, "n", 1)};
                const char *per = kw_json_text(test, "per");
                char detail[128];
                int64_t n;

                snprintf(asked.property, sizeof(asked.property), "%s", kw_json_text(test, "property"));
                asked.per_run = per && strcmp(per, "run") == 0;
                rc = count_tests(s, lot, &asked, &n);
                if (rc || n >= asked.n)
                        continue;
                snprintf(detail, sizeof(detail), "%s %s", asked.property, spec->code);
                rc = kw_gap_add(s, "lot", lot->code, lot->seq, asked.n - n, detail);
                if (rc == 0)
                        rc = kw_gap_seed(s, lot->id, 0, lot->length_mm);
                break; /* one is enough to say that the lot is not tested as it should be */
        }
        return rc;
}

/* Of the specifications that stood when the lot was recorded, the one that is for it. */
static const struct kw_spec_row *spec_for(const struct kw_spec_row *specs, size_t n, const struct kw_lot_row *lot)
{
        const struct kw_spec_row *best = NULL;
        int closest = -1;

        for (size_t i = 0; i < n; i++) {
                const struct kw_spec_row *s = &specs[i];
                const bool last = i + 1 == n || strcmp(specs[i + 1].code, s->code) != 0 || specs[i + 1].seq > lot->seq;
                int fits = s->seq < lot->seq && last ? kw_spec_close(s, lot) : -1;

                if (fits < 0 || fits < closest || (fits == closest && best && s->seq < best->seq))
                        continue;
                closest = fits;
                best = s;
        }
        return best;
}

static int below_specification(struct kw_gap_search *s, const struct kw_spec_row *specs, cJSON *const *tests, size_t n)
{
        struct kw_query q;
        int rc = kw_ask(
                s->r->ledger, &q,
                "SELECT id, seq, code, kind, grade, construction, diameter_um, run, length_mm, tensile_kpa FROM lot",
                "");

        while (rc == 0 && (rc = kw_next(s->r->ledger, &q)) == 1) {
                const struct kw_lot_row lot = {.id = kw_int(&q, 0),
                                               .seq = kw_int(&q, 1),
                                               .code = kw_text(&q, 2),
                                               .kind = kw_text(&q, 3),
                                               .grade = kw_text(&q, 4),
                                               .construction = kw_text(&q, 5),
                                               .diameter_um = kw_int_or(&q, 6, KW_NONE),
                                               .run = kw_int_or(&q, 7, 0),
                                               .length_mm = kw_int(&q, 8),
                                               .tensile_kpa = kw_int_or(&q, 9, KW_NONE)};
                const struct kw_spec_row *spec = spec_for(specs, n, &lot);

                rc = spec ? hold_against(s, spec, tests[spec - specs], &lot) : 0;
        }
        kw_end(&q);
        return rc;
}

int kw_gaps_no_test(struct kw_gap_search *s)
{
        static const struct kw_json_limits limits = {.bytes = (size_t)1 << 20, .nodes = 10000};
        const struct kw_spec_row *specs;
        cJSON **tests;
        bool any = false;
        size_t n;
        int rc = sold_untested(s);

        if (rc == 0)
                rc = kw_read_specs(s->r, &specs, &n);
        if (rc)
                return rc;
        tests = kw_arena_get(&s->r->arena, (n + 1) * sizeof(*tests));
        if (!tests)
                return -ENOMEM;
        for (size_t i = 0; i <= n; i++)
                tests[i] = NULL;
        for (size_t i = 0; rc == 0 && i < n; i++) {
                if (specs[i].tests)
                        rc = kw_json_read(specs[i].tests, strlen(specs[i].tests), &limits, &tests[i], NULL);
                any = any || tests[i];
        }
        if (rc == 0 && any)
                rc = below_specification(s, specs, tests, n);
        for (size_t i = 0; i < n; i++)
                cJSON_Delete(tests[i]);
        return rc > 0 ? -EIO : rc;
}

/* Tests made outside the calibration that stood, or with what no calibration is known of: one gap an instrument. */
int kw_gaps_calibration(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(
                s->r->ledger, &q,
                "WITH made AS (SELECT t.instrument, t.seq, t.lot, t.at, (SELECT max(i.seq) FROM instrument i"
                "  WHERE i.code = t.instrument AND i.seq < t.seq) AS by FROM test t"
                "  WHERE t.instrument IS NOT NULL),"
                " outside AS (SELECT m.instrument, m.seq, m.lot, CASE WHEN i.seq IS NULL OR (i.calibrated IS NULL"
                "  AND i.valid_until IS NULL) THEN 'unknown' ELSE 'outside' END AS why FROM made m"
                "  LEFT JOIN instrument i ON i.seq = m.by WHERE i.seq IS NULL"
                "  OR (i.calibrated IS NULL AND i.valid_until IS NULL) OR m.at < i.calibrated"
                "  OR m.at > i.valid_until)"
                " SELECT DISTINCT 'instrument', o.instrument, min(o.seq) OVER each, count(*) OVER each, o.why, l.id, 0,"
                "  l.length_mm FROM outside o JOIN lot l ON l.id = o.lot"
                " WINDOW each AS (PARTITION BY o.instrument, o.why) ORDER BY o.instrument, o.why",
                "");

        return kw_gap_take(s, &q, rc);
}

/* --- entries ---------------------------------------------------------------------------------------------- */

/*
 * One gap for all that one person logged late at one terminal on one day: paper brought in, mostly. The detail says how
 * many, where and when.
 */
int kw_gaps_late(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "WITH late AS (SELECT seq, by, terminal || ' ' || substr(logged, 1, 10) AS place,"
                        "  unixepoch(logged) - unixepoch(at) AS late_s FROM entry WHERE kind NOT IN ('correct', 'void')"
                        "  AND unixepoch(logged) - unixepoch(at) > ?1),"
                        " counted AS (SELECT seq, by, place, count(*) OVER each AS n, min(seq) OVER each AS first,"
                        "  max(late_s) OVER each AS most FROM late WINDOW each AS (PARTITION BY by, place))"
                        " SELECT 'entries', c.by, c.first, c.most, c.n || ' ' || c.place, l.id, 0, l.length_mm"
                        " FROM counted c LEFT JOIN lot l ON l.id BETWEEN c.seq * 4096"
                        " AND c.seq * 4096 + 4095 ORDER BY c.by, c.place",
                        "i", s->settings->late_s);

        return kw_gap_take(s, &q, rc);
}

/* Of what the entry made, that which its kind is about. */
#define NAMED                                                                                                         \
        "FROM " KW_THINGS_OF("k.target") " WHERE type = CASE e.kind WHEN 'receive' THEN 'lot'"                        \
                                         " WHEN 'open' THEN 'run' WHEN 'certify' THEN 'certificate' WHEN 'dispatch' " \
                                         "THEN 'consignment'"                                                         \
                                         " ELSE e.kind END"

/* About the thing that the entry made: a run before the lots that came of it. What was voided has none any more. */
int kw_gaps_put_right(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(
                s->r->ledger, &q,
                "SELECT coalesce((SELECT type " NAMED "), e.kind), (SELECT code " NAMED "), k.target, k.seq,"
                "  CASE WHEN k.void THEN 'void: ' ELSE 'corrected: ' END || k.reason, l.id, 0, l.length_mm"
                " FROM (SELECT target, max(seq) AS seq, void, reason FROM correction GROUP BY target) k"
                " JOIN entry e ON e.seq = k.target"
                " LEFT JOIN lot l ON l.id BETWEEN k.target * 4096 AND k.target * 4096 + 4095 OR l.id = (SELECT lot "
                "FROM test t WHERE t.seq = k.target)"
                " ORDER BY k.target",
                "");

        return kw_gap_take(s, &q, rc);
}

/* A run rather than what came of it, and what came of it rather than a joint. */
#define FOUND "FROM " KW_THINGS_OF("f.seq") " WHERE type <> 'weld' ORDER BY type = 'lot', id LIMIT 1"

/* Answered is a finding about whose thing somebody wrote a note afterwards; masses and calibrations are kinds of their
 * own. */
int kw_gaps_finding(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(
                s->r->ledger, &q,
                "WITH about AS (SELECT f.seq, f.ord, f.text, (SELECT type " FOUND ") AS type, (SELECT code " FOUND
                ") AS code FROM finding f WHERE f.code NOT IN ('mass-balance', 'out-of-calibration')),"
                " open AS (SELECT seq, min(ord) AS ord, text, type, code FROM about a"
                "  WHERE NOT EXISTS (SELECT 1 FROM note n WHERE n.type = a.type AND n.code = a.code AND n.seq > a.seq)"
                "  GROUP BY seq)"
                " SELECT o.type, o.code, o.seq, NULL, o.text, l.id, 0, l.length_mm FROM open o"
                " LEFT JOIN lot l ON l.id BETWEEN o.seq * 4096 AND o.seq * 4096 + 4095 OR l.id = (SELECT lot FROM test "
                "t WHERE t.seq = o.seq)"
                " ORDER BY o.seq",
                "");

        return kw_gap_take(s, &q, rc);
}
