/*
 * A property over time, or along what a run made: the results as individuals with their moving ranges, the limits that
 * follow from them, and how well the process keeps what the specification allows.
 *
 * A retest repeats metal that had failed; it is no sample of the process and stays out.
 */
#include "cell.h"
#include "put.h"

#include "kinwire/index.h"
#include "ledger/read/chart.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PRODUCTS_SHOWN 20

struct chart {
        const struct kw_chart_question *q;
        struct kw_reader *r;
        const struct kw_point_row **points; /* in the order of the chart */
        int64_t *values;
        uint8_t *rules; /* that each meets; none where not drawn */
        size_t n;
        size_t unplaced; /* left out: nobody wrote down where on its lot the sample was cut */
        bool more;
        bool drawn; /* limits could be computed */
        struct kw_chart limits;
};

/* --- which results ------------------------------------------------------------------------------------------ */

static int id_of(struct chart *c, const char *type, const char *code, int64_t *id, struct kw_error *err)
{
        struct kw_thing_row thing;
        int rc = code ? kw_read_thing(c->r, type, code, &thing, err) : 0;

        *id = code && rc == 0 ? thing.id : 0;
        return rc;
}

/* All that was made of a heat, by its place. */
static int made_of_heat(struct chart *c, struct kw_ledger *ledger, int64_t heat, struct kw_hits *hits)
{
        struct kw_index *index = kw_ledger_hold_index(ledger);
        int rc = kw_heat_coils(c->r, heat, hits), by_index = -EOVERFLOW;

        if (rc == 0 && index)
                by_index = kw_index_forward(index, hits);
        if (index)
                kw_index_give(index);
        if (rc || by_index != -EOVERFLOW)
                return rc ? rc : by_index;
        return kw_trace_forward(kw_reader_genealogy(c->r), hits, NULL);
}

static int read_points(struct chart *c, struct kw_ledger *ledger, const struct kw_point_row **rows, size_t *n,
                       struct kw_error *err)
{
        const struct kw_chart_question *q = c->q;
        struct kw_points_wanted wanted = {.property = q->property,
                                          .since = q->since,
                                          .until = q->until,
                                          .kind = q->kind,
                                          .grade = q->grade,
                                          .construction = q->construction,
                                          .machine = q->machine,
                                          .instrument = q->instrument,
                                          .spec = q->spec,
                                          .tensile_kpa = q->tensile_kpa,
                                          .from_um = q->from_um,
                                          .below_um = q->below_um,
                                          .most = (size_t)q->limit};
        struct kw_hits *within = NULL;
        int64_t heat;
        int rc = id_of(c, "lot", q->lot, &wanted.lot, err);

        if (rc == 0)
                rc = id_of(c, "run", q->run, &wanted.run, err);
        if (rc == 0)
                rc = id_of(c, "heat", q->heat, &heat, err);
        if (rc == 0 && q->heat) {
                within = kw_hits_new();
                rc = within ? made_of_heat(c, ledger, heat, within) : -ENOMEM;
                wanted.within = within;
        }
        if (rc == 0)
                rc = kw_read_points(c->r, &wanted, rows, n, &c->more);
        kw_hits_free(within);
        return rc;
}

/* --- their order ----------------------------------------------------------------------------------------------- */

static int64_t place_of(const struct chart *c, const struct kw_point_row *row)
{
        return c->q->lot ? row->at_mm : row->place_mm;
}

static int by_place(const void *a, const void *b, void *ctx)
{
        const struct kw_point_row *x = *(const struct kw_point_row *const *)a,
                                  *y = *(const struct kw_point_row *const *)b;
        int64_t p = place_of(ctx, x), q = place_of(ctx, y);

        return p != q ? (p > q) - (p < q) : (x->seq > y->seq) - (x->seq < y->seq);
}

static int put_in_order(struct chart *c, const struct kw_point_row *rows, size_t n)
{
        c->points = kw_arena_get(kw_reader_arena(c->r), (n + 1) * sizeof(const void *));
        c->values = kw_arena_get(kw_reader_arena(c->r), (n + 1) * sizeof(*c->values));
        c->rules = kw_arena_get(kw_reader_arena(c->r), n + 1);
        if (!c->points || !c->values || !c->rules)
                return -ENOMEM;
        for (size_t i = 0; i < n; i++) {
                if (c->q->by_place && place_of(c, &rows[i]) == KW_NONE)
                        c->unplaced++;
                else
                        c->points[c->n++] = &rows[i];
        }
        if (c->q->by_place)
                qsort_r(c->points, c->n, sizeof(const void *), by_place, c);
        for (size_t i = 0; i < c->n; i++)
                c->values[i] = c->points[i]->value;
        c->drawn = kw_chart_of(c->values, c->n, &c->limits);
        memset(c->rules, 0, n + 1);
        if (c->drawn)
                kw_run_rules_met(c->values, c->n, &c->limits, c->rules);
        return 0;
}

static int64_t moving_range(const struct chart *c, size_t i)
{
        return i ? llabs(c->values[i] - c->values[i - 1]) : KW_NONE;
}

static const char *beyond(const struct chart *c, size_t i)
{
        if (!c->drawn)
                return NULL;
        return c->values[i] * 1000 > c->limits.upper ? "above" : c->values[i] * 1000 < c->limits.lower ? "below" : NULL;
}

static bool range_beyond(const struct chart *c, size_t i)
{
        return c->drawn && i && moving_range(c, i) * 1000 > c->limits.range_upper;
}

static bool meets(const struct chart *c, size_t i, int rule)
{
        return c->rules[i] >> rule & 1;
}

/* --- as JSON --------------------------------------------------------------------------------------------------- */

static void put_point(const struct chart *c, size_t i, struct kw_buf *out)
{
        const struct kw_point_row *p = c->points[i];

        kw_put_object(out, NULL);
        kw_put_int(out, "entry", p->seq);
        kw_put_string(out, "test", p->test);
        kw_put_string(out, "lot", p->lot);
        kw_put_time(out, "at", p->at);
        kw_put_number(out, "at_mm", p->at_mm);
        kw_put_number(out, "place_mm", p->place_mm);
        kw_put_string(out, "run", p->run);
        kw_put_string(out, "machine", p->machine);
        kw_put_string(out, "instrument", p->instrument);
        kw_put_int(out, "value", p->value);
        kw_put_string(out, "verdict", p->verdict);
        kw_put_string(out, "spec", p->spec);
        kw_put_number(out, "version", p->version);
        kw_put_number(out, "min", p->limit.min);
        kw_put_number(out, "max", p->limit.max);
        kw_put_string(out, "sure", !c->q->heat ? NULL : p->possibly ? "possibly" : "surely");
        kw_put_string(out, "beyond", beyond(c, i));
        kw_put_number(out, "moving_range", moving_range(c, i));
        kw_put_bool(out, "range_beyond", range_beyond(c, i));
        kw_put_array(out, "rules");
        for (int rule = 0; rule < KW_RUN_RULES; rule++)
                if (meets(c, i, rule))
                        kw_put_string(out, NULL, kw_run_rules[rule].name);
        kw_put_array_end(out);
        kw_put_object_end(out);
}

/* Each rule, and how many results complete its pattern. */
static void put_rules(const struct chart *c, struct kw_buf *out)
{
        kw_put_array(out, "rules");
        for (int rule = 0; rule < KW_RUN_RULES; rule++) {
                int64_t met = 0;

                for (size_t i = 0; i < c->n; i++)
                        met += meets(c, i, rule);
                kw_put_object(out, NULL);
                kw_put_string(out, "rule", kw_run_rules[rule].name);
                kw_put_int(out, "need", kw_run_rules[rule].need);
                kw_put_int(out, "of", kw_run_rules[rule].of);
                kw_put_int(out, "sigmas", kw_run_rules[rule].sigmas);
                kw_put_string(out, "source", kw_run_rules[rule].source);
                kw_put_int(out, "met", met);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

static void put_limits(const struct chart *c, struct kw_buf *out)
{
        size_t ranges = 0;

        for (size_t i = 0; i < c->n; i++)
                ranges += range_beyond(c, i);
        if (!c->drawn) {
                kw_put_null(out, "chart");
                return;
        }
        kw_put_object(out, "chart");
        kw_put_int(out, "mean_milli", c->limits.mean);
        kw_put_int(out, "lower_milli", c->limits.lower);
        kw_put_int(out, "upper_milli", c->limits.upper);
        kw_put_int(out, "range_mean_milli", c->limits.range_mean);
        kw_put_int(out, "range_upper_milli", c->limits.range_upper);
        kw_put_int(out, "beyond", (int64_t)c->limits.beyond);
        kw_put_int(out, "ranges_beyond", (int64_t)ranges);
        put_rules(c, out);
        kw_put_object_end(out);
}

static bool limited(const struct kw_point_row *p)
{
        return p->limit.min != KW_NONE || p->limit.max != KW_NONE;
}

/* Against the limits that the tests were judged by, where those are one and the same. */
static void put_capability(const struct chart *c, struct kw_buf *out)
{
        const struct kw_point_row *by = NULL;
        struct kw_capability found;
        bool same = true;

        for (size_t i = 0; i < c->n; i++) {
                const struct kw_point_row *p = c->points[i];

                if (!limited(p))
                        continue;
                same = same && (!by || (by->limit.min == p->limit.min && by->limit.max == p->limit.max));
                by = p;
        }
        if (!by || !same || !c->drawn) {
                kw_put_null(out, "capability");
                kw_put_string(out, "no_capability", !c->drawn ? "too-few" : !by ? "no-limits" : "limits-differ");
                return;
        }
        found = kw_capability_of(&c->limits, &by->limit);
        kw_put_object(out, "capability");
        kw_put_string(out, "spec", by->spec);
        kw_put_int(out, "version", by->version);
        kw_put_number(out, "min", by->limit.min);
        kw_put_number(out, "max", by->limit.max);
        kw_put_number(out, "cp_milli", found.cp == KW_NO_FIGURE ? KW_NONE : found.cp);
        kw_put_number(out, "cpk_milli", found.cpk == KW_NO_FIGURE ? KW_NONE : found.cpk);
        kw_put_object_end(out);
        kw_put_null(out, "no_capability");
}

static bool same_text(const char *a, const char *b)
{
        return a == b || (a && b && strcmp(a, b) == 0);
}

static bool same_product(const struct kw_point_row *a, const struct kw_point_row *b)
{
        return strcmp(a->kind, b->kind) == 0 && a->diameter_um == b->diameter_um && a->tensile_kpa == b->tensile_kpa &&
               same_text(a->construction, b->construction) && same_text(a->grade, b->grade);
}

/* Limits over unlike products mean nothing; so the answer says what is in it. */
static void put_products(const struct chart *c, struct kw_buf *out)
{
        const struct kw_point_row *first[PRODUCTS_SHOWN];
        int64_t count[PRODUCTS_SHOWN] = {0};
        size_t n = 0, others = 0, k;

        for (size_t i = 0; i < c->n; i++) {
                for (k = 0; k < n && !same_product(first[k], c->points[i]); k++)
                        ;
                if (k == n && n == PRODUCTS_SHOWN) {
                        others++;
                        continue;
                }
                if (k == n)
                        first[n++] = c->points[i];
                count[k]++;
        }
        kw_put_array(out, "products");
        for (k = 0; k < n; k++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "kind", first[k]->kind);
                kw_put_number(out, "diameter_um", first[k]->diameter_um);
                kw_put_number(out, "tensile_grade_kpa", first[k]->tensile_kpa);
                kw_put_string(out, "construction", first[k]->construction);
                kw_put_string(out, "grade", first[k]->grade);
                kw_put_int(out, "points", count[k]);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_int(out, "of_other_products", (int64_t)others);
}

static void put_json(const struct chart *c, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "property", c->q->property);
        kw_put_string(out, "by", c->q->by_place ? "place" : "time");
        kw_put_bool(out, "more", c->more);
        kw_put_int(out, "unplaced", (int64_t)c->unplaced);
        put_limits(c, out);
        put_capability(c, out);
        put_products(c, out);
        kw_put_array(out, "points");
        for (size_t i = 0; i < c->n; i++)
                put_point(c, i, out);
        kw_put_array_end(out);
        kw_put_object_end(out);
}

/* --- as CSV ---------------------------------------------------------------------------------------------------- */

/* Their names, a space between. */
static void csv_rules(const struct chart *c, size_t i, struct kw_buf *out)
{
        char names[KW_RUN_RULES * 40] = "";

        for (int rule = 0; rule < KW_RUN_RULES; rule++)
                if (meets(c, i, rule))
                        snprintf(names + strlen(names), sizeof(names) - strlen(names), "%s%s", *names ? " " : "",
                                 kw_run_rules[rule].name);
        kw_csv_text(out, names);
}

static void put_csv(const struct chart *c, struct kw_buf *out)
{
        kw_buf_text_add(out,
                        "test,lot,run,machine,instrument,at,at_mm,place_mm,property,value,verdict,spec,version,min,max,"
                        "moving_range,beyond,rules\r\n");
        for (size_t i = 0; i < c->n; i++) {
                const struct kw_point_row *p = c->points[i];
                char at[KW_STAMP_LEN + 1];

                kw_stamp_write(p->at, at);
                kw_csv_first(out, p->test);
                kw_csv_text(out, p->lot);
                kw_csv_text(out, p->run);
                kw_csv_text(out, p->machine);
                kw_csv_text(out, p->instrument);
                kw_csv_text(out, at);
                kw_csv_number(out, p->at_mm);
                kw_csv_number(out, p->place_mm);
                kw_csv_text(out, c->q->property);
                kw_csv_number(out, p->value);
                kw_csv_text(out, p->verdict);
                kw_csv_text(out, p->spec);
                kw_csv_number(out, p->version);
                kw_csv_number(out, p->limit.min);
                kw_csv_number(out, p->limit.max);
                kw_csv_number(out, moving_range(c, i));
                kw_csv_text(out, beyond(c, i));
                csv_rules(c, i, out);
                kw_buf_text_add(out, "\r\n");
        }
}

/* --- the whole ------------------------------------------------------------------------------------------------- */

static int answer(struct chart *c, struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_point_row *rows;
        size_t n;
        int rc = read_points(c, ledger, &rows, &n, err);

        if (rc == 0)
                rc = put_in_order(c, rows, n);
        if (rc)
                return rc;
        if (c->q->csv)
                put_csv(c, out);
        else
                put_json(c, out);
        return 0;
}

int kw_answer_chart(struct kw_ledger *ledger, const struct kw_chart_question *q, struct kw_buf *out,
                    struct kw_error *err)
{
        struct chart c = {.q = q};
        int rc;

        if (q->by_place && !q->run && !q->lot)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "by-place", NULL,
                                      "a chart by place is along one run or one lot; say which");
        if (q->since > q->until)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "since-until", NULL, "since is later than until");
        rc = kw_reader_new(ledger, &c.r);
        if (rc)
                return rc;
        rc = answer(&c, ledger, out, err);
        rc = kw_finish(c.r, out, rc, err);
        kw_reader_free(c.r);
        return rc;
}
