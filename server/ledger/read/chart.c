/*
 * Reading the results of a property for a chart. A retest repeats metal that had failed: it is no sample of the
 * process, and stays out.
 */
#include "chart.h"

#include "reader.h"

#include <errno.h>
#include <string.h>

#define COLUMNS                                                                                                  \
        "SELECT t.seq, t.at, x.value, t.code, l.code, l.kind, l.grade, l.construction, r.code, r.machine,"       \
        " t.instrument, t.verdict, l.id, l.diameter_um, l.tensile_kpa, t.at_mm, l.s0, s.code, s.version, m.min," \
        " m.max"
#define BESIDE                                                                                          \
        " JOIN lot l ON l.id = t.lot LEFT JOIN run r ON r.id = l.run LEFT JOIN spec s ON s.id = t.spec" \
        " LEFT JOIN spec_limit m ON m.spec = t.spec AND m.property = x.property"
/* ?1 property, ?2 and ?3 the time, ?4 to ?12 what else is asked; ?13 the one that the statement goes by */
#define WANTED                                                                                                   \
        " t.retest_of IS NULL AND t.at >= ?2 AND t.at <= ?3 AND (?4 IS NULL OR l.kind = ?4) AND (?5 IS NULL OR " \
        "l.grade = ?5)"                                                                                          \
        " AND (?6 IS NULL OR l.construction = ?6) AND (?7 IS NULL OR r.machine = ?7)"                            \
        " AND (?8 IS NULL OR t.instrument = ?8) AND (?9 IS NULL OR s.code = ?9)"                                 \
        " AND (?10 IS NULL OR l.tensile_kpa = ?10) AND (?11 IS NULL OR l.diameter_um >= ?11)"                    \
        " AND (?12 IS NULL OR l.diameter_um < ?12)"
#define LAST " ORDER BY t.at DESC, t.seq DESC"

static const char by_property[] = COLUMNS " FROM result x JOIN test t ON t.id = x.test" BESIDE
                                          " WHERE x.property = ?1 AND x.at >= ?2 AND x.at <= ?3 AND ?13 IS NULL"
                                          " AND" WANTED " ORDER BY x.at DESC, t.seq DESC";
static const char by_lot[] = COLUMNS " FROM test t CROSS JOIN result x ON x.test = t.id AND x.property = ?1" BESIDE
                                     " WHERE t.lot = ?13 AND" WANTED LAST;
static const char by_run[] = COLUMNS
        " FROM package p JOIN test t ON t.lot = p.lot CROSS JOIN result x ON x.test = t.id AND x.property = ?1" BESIDE
        " WHERE p.run = ?13 AND p.lot <> 0 AND" WANTED LAST;
static const char by_instrument[] =
        COLUMNS " FROM test t CROSS JOIN result x ON x.test = t.id AND x.property = ?1" BESIDE
                " WHERE t.instrument = ?8 AND ?13 IS NULL AND" WANTED LAST;

static void take(struct kw_reader *r, struct kw_query *q, struct kw_point_row *row, bool *failed)
{
        int64_t s0 = kw_int_or(q, 16, KW_NONE);

        *row = (struct kw_point_row){.seq = kw_int(q, 0),
                                     .at = kw_int(q, 1),
                                     .value = kw_int(q, 2),
                                     .test = kw_keep_text(r, q, 3, failed),
                                     .lot = kw_keep_text(r, q, 4, failed),
                                     .kind = kw_keep_text(r, q, 5, failed),
                                     .grade = kw_keep_text(r, q, 6, failed),
                                     .construction = kw_keep_text(r, q, 7, failed),
                                     .run = kw_keep_text(r, q, 8, failed),
                                     .machine = kw_keep_text(r, q, 9, failed),
                                     .instrument = kw_keep_text(r, q, 10, failed),
                                     .verdict = kw_keep_text(r, q, 11, failed),
                                     .lot_id = kw_int(q, 12),
                                     .diameter_um = kw_int_or(q, 13, KW_NONE),
                                     .tensile_kpa = kw_int_or(q, 14, KW_NONE),
                                     .at_mm = kw_int_or(q, 15, KW_NONE),
                                     .spec = kw_keep_text(r, q, 17, failed),
                                     .version = kw_int_or(q, 18, KW_NONE),
                                     .limit = {kw_int_or(q, 19, KW_NONE), kw_int_or(q, 20, KW_NONE)}};
        row->place_mm = row->at_mm == KW_NONE || s0 == KW_NONE ? KW_NONE : s0 + row->at_mm;
}

static bool on(const struct kw_spans *spans, int64_t mm)
{
        for (size_t i = 0; i < spans->n; i++)
                if (spans->at[i].from <= mm && mm <= spans->at[i].to)
                        return true;
        return false;
}

/* Whether the sample lies in the spans that are asked about; of unknown place, whether its lot does. */
static bool lies_within(const struct kw_hits *within, struct kw_point_row *row)
{
        const struct kw_hit *hit = within ? kw_hits_find(within, row->lot_id) : NULL;
        bool anywhere = row->at_mm == KW_NONE;

        if (!within)
                return true;
        if (!hit || !(anywhere ? hit->reach.possible.n > 0 : on(&hit->reach.possible, row->at_mm)))
                return false;
        row->possibly = anywhere || !on(&hit->reach.certain, row->at_mm);
        return true;
}

static int ask(struct kw_reader *r, const struct kw_points_wanted *w, struct kw_query *q)
{
        const char *sql = w->lot ? by_lot : w->run ? by_run : w->instrument ? by_instrument : by_property;
        int64_t by = w->lot ? w->lot : w->run;

        return kw_ask(r->ledger, q, sql,
                      "tiitttttt"
                      "IIII",
                      w->property, w->since, w->until, w->kind, w->grade, w->construction, w->machine, w->instrument,
                      w->spec, w->tensile_kpa == KW_NONE ? NULL : &w->tensile_kpa,
                      w->from_um == KW_NONE ? NULL : &w->from_um, w->below_um == KW_NONE ? NULL : &w->below_um,
                      by ? &by : NULL);
}

static void turn_round(struct kw_point_row *rows, size_t n)
{
        for (size_t i = 0; i < n / 2; i++) {
                struct kw_point_row row = rows[i];

                rows[i] = rows[n - 1 - i];
                rows[n - 1 - i] = row;
        }
}

int kw_read_points(struct kw_reader *r, const struct kw_points_wanted *wanted, const struct kw_point_row **out,
                   size_t *n, bool *more)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = ask(r, wanted, &q);

        *more = false;
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_point_row row, *kept;

                rc = 0;
                take(r, &q, &row, &failed);
                if (!lies_within(wanted->within, &row))
                        continue;
                *more = list.n == wanted->most;
                if (*more)
                        break;
                kept = kw_list_more(&r->arena, &list, sizeof(*kept));
                if (kept)
                        *kept = row;
                else
                        rc = -ENOMEM;
        }
        kw_end(&q);
        turn_round(list.at, list.n);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}
