/*
 * Judging a test by the specification that stood when it was made, and finding the tests again that a changed
 * specification or calibration is about.
 */
#include "judge.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- which specification ------------------------------------------------------------------------------- */

static int64_t figure(struct kw_query *q, int column)
{
        return kw_is_null(q, column) ? KW_NO_FIGURE : kw_int(q, column);
}

/* The closest fit; of equals the one entered last. */
int kw_spec_choose(struct kw_ledger *l, int64_t seq, const struct kw_spec_lot *lot, struct kw_spec_named *out)
{
        struct kw_query q;
        int closest = -1;
        int rc = kw_ask(l, &q,
                        "SELECT id, code, version, what, grade, construction, from_um, below_um,"
                        " ifnull(tensile_kpa, 0) FROM spec s"
                        " WHERE what = ?1 AND seq < ?2 AND NOT EXISTS (SELECT 1 FROM spec n WHERE n.code = s.code"
                        " AND n.version > s.version AND n.seq < ?2) ORDER BY seq",
                        "ti", kw_spec_what(lot->kind), seq);

        *out = (struct kw_spec_named){.id = KW_NOT_JUDGED};
        while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                const struct kw_spec_scope scope = {.what = kw_text(&q, 3),
                                                    .grade = kw_text(&q, 4),
                                                    .construction = kw_text(&q, 5),
                                                    .from_um = figure(&q, 6),
                                                    .below_um = figure(&q, 7),
                                                    .tensile_kpa = kw_int(&q, 8)};
                int fits = kw_spec_fits(&scope, lot);

                rc = 0;
                if (fits < 0 || fits < closest)
                        continue;
                closest = fits;
                out->id = kw_int(&q, 0);
                snprintf(out->code, sizeof(out->code), "%s", kw_text(&q, 1));
                out->version = kw_int(&q, 2);
        }
        kw_end(&q);
        return rc;
}

int kw_spec_for(struct kw_work *w, const struct kw_lot_here *here, struct kw_spec_named *out)
{
        char grade[KW_GRADE], construction[201];
        struct kw_spec_lot lot = {.kind = here->kind, .diameter_um = here->diameter_um};
        struct kw_query q;
        int rc = kw_ask(w->l, &q, "SELECT construction, ifnull(tensile_kpa, 0) FROM lot WHERE id = ?1", "i", here->id);

        if (rc == 0)
                rc = kw_next(w->l, &q);
        if (rc == 1) {
                lot.tensile_kpa = kw_int(&q, 1);
                if (!kw_is_null(&q, 0)) {
                        snprintf(construction, sizeof(construction), "%s", kw_text(&q, 0));
                        lot.construction = construction;
                }
                rc = 0;
        }
        kw_end(&q);
        if (rc == 0)
                rc = kw_grade_here(w, here->id, NULL, grade);
        if (rc == 0 && grade[0])
                lot.grade = grade;
        *out = (struct kw_spec_named){.id = KW_NOT_JUDGED};
        return rc ? rc : kw_spec_choose(w->l, w->seq, &lot, out);
}

/* --- the verdict --------------------------------------------------------------------------------------- */

struct worst {
        char property[KW_CODE_MAX + 1];
        int64_t value, margin;
        bool any;
};

static int judge(struct kw_work *w, int64_t test, int64_t spec, struct worst *worst)
{
        struct kw_query q;
        int rc = kw_ask(w->l, &q,
                        "SELECT r.property, r.value, l.min, l.max FROM result r"
                        " JOIN spec_limit l ON l.spec = ?2 AND l.property = r.property WHERE r.test = ?1"
                        " ORDER BY r.property",
                        "ii", test, spec);

        while (rc == 0 && (rc = kw_next(w->l, &q)) == 1) {
                const struct kw_limit limit = {figure(&q, 2), figure(&q, 3)};
                int64_t margin = kw_margin(&limit, kw_int(&q, 1));

                rc = 0;
                /* the property named is the first that fails; else any will do */
                if (worst->any && (margin >= 0 || worst->margin < 0))
                        continue;
                worst->any = true;
                worst->margin = margin;
                worst->value = kw_int(&q, 1);
                snprintf(worst->property, sizeof(worst->property), "%s", kw_text(&q, 0));
        }
        kw_end(&q);
        return rc;
}

static int differs(struct kw_work *w, const char *said, const struct kw_spec_named *name, const struct worst *worst)
{
        if (worst->margin < 0)
                return kw_finding_with(w, "verdict-differs", "fails",
                                       KW_VALUES(KW_WORD("said", said), KW_WORD("spec", name->code),
                                                 KW_FIGURE("version", name->version),
                                                 KW_WORD("property", worst->property), KW_FIGURE("value", worst->value),
                                                 KW_FIGURE("beyond", -worst->margin)),
                                       "said to %s; by %s version %" PRId64 " it fails: %s %" PRId64 " is %" PRId64
                                       " beyond the limit",
                                       said, name->code, name->version, worst->property, worst->value, -worst->margin);
        return kw_finding_with(
                w, "verdict-differs", "passes",
                KW_VALUES(KW_WORD("said", said), KW_WORD("spec", name->code), KW_FIGURE("version", name->version)),
                "said to %s; by %s version %" PRId64 " it passes: no limit is passed", said, name->code, name->version);
}

int kw_judge_test(struct kw_work *w, int64_t test, const struct kw_lot_here *lot, const char *said,
                  struct kw_judgement *out)
{
        struct kw_spec_named name;
        struct worst worst = {0};
        int rc = kw_spec_for(w, lot, &name);

        out->spec = rc ? KW_NOT_JUDGED : name.id;
        if (rc == 0 && name.id)
                rc = judge(w, test, name.id, &worst);
        if (rc || !worst.any)
                return rc;
        out->verdict = worst.margin < 0 ? "fail" : "pass";
        return said && strcmp(said, out->verdict) != 0 ? differs(w, said, &name, &worst) : 0;
}

/* --- which tests a changed entry is about ------------------------------------------------------------------ */

#define WHAT "CASE l.kind WHEN 'coil' THEN 'wire' WHEN 'bobbin' THEN 'wire' WHEN 'reel' THEN 'rope' ELSE l.kind END"

static int lean_on_spec(struct kw_ledger *l, int64_t seq, const cJSON *body, struct kw_again **set)
{
        struct kw_query q;
        int64_t from, below, tensile;
        /* what any version of the code is for: another of them may be the one that stands now */
        int rc = kw_ask(l, &q,
                        "SELECT t.seq FROM spec s JOIN lot l ON " WHAT " = s.what JOIN test t ON t.lot = l.id"
                        " WHERE s.code IN (?2, (SELECT code FROM spec WHERE seq = ?1)) AND t.seq > ?1"
                        " AND (s.grade IS NULL OR s.grade = l.grade OR s.grade IN (SELECT e.grade FROM release_span x"
                        "      JOIN release e ON e.seq = x.seq WHERE x.lot = l.id))"
                        " AND (s.construction IS NULL OR s.construction = l.construction)"
                        " AND (s.tensile_kpa IS NULL OR s.tensile_kpa = l.tensile_kpa)"
                        " AND (s.from_um IS NULL OR l.diameter_um >= s.from_um)"
                        " AND (s.below_um IS NULL OR l.diameter_um < s.below_um)",
                        "it", seq, body ? kw_json_text(body, "spec") : "");

        if (rc == 0)
                rc = kw_leaning_rows(l, &q, set);
        if (rc || !body)
                return rc;
        rc = kw_ask(l, &q,
                    "SELECT t.seq FROM lot l JOIN test t ON t.lot = l.id WHERE " WHAT " = ?2 AND t.seq > ?1"
                    " AND (?3 IS NULL OR ?3 = l.grade OR ?3 IN (SELECT e.grade FROM release_span x"
                    "      JOIN release e ON e.seq = x.seq WHERE x.lot = l.id)) AND (?4 IS NULL OR ?4 = l.construction)"
                    " AND (?5 IS NULL OR l.diameter_um >= ?5) AND (?6 IS NULL OR l.diameter_um < ?6)"
                    " AND (?7 IS NULL OR ?7 = l.tensile_kpa)",
                    "itttIII", seq, kw_json_text(body, "what"), kw_json_text(body, "grade"),
                    kw_json_text(body, "construction"), kw_maybe(body, "diameter_from_um", &from),
                    kw_maybe(body, "diameter_below_um", &below), kw_maybe(body, "tensile_grade_kpa", &tensile));
        return rc ? rc : kw_leaning_rows(l, &q, set);
}

static int lean_on_instrument(struct kw_ledger *l, int64_t seq, const cJSON *body, struct kw_again **set)
{
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT seq FROM test WHERE seq > ?1 AND instrument IN"
                        " (?2, (SELECT code FROM instrument WHERE seq = ?1))",
                        "it", seq, body ? kw_json_text(body, "instrument") : "");

        return rc ? rc : kw_leaning_rows(l, &q, set);
}

int kw_leaning_on_judges(struct kw_ledger *l, int64_t seq, const char *kind, const cJSON *body, struct kw_again **set)
{
        if (strcmp(kind, "instrument") == 0)
                return lean_on_instrument(l, seq, body, set);
        return strcmp(kind, "spec") == 0 ? lean_on_spec(l, seq, body, set) : 0;
}
