/*
 * Reading about quality: specifications, margins, and the strength of wire.
 */
#include "quality.h"

#include "reader.h"

#include <errno.h>
#include <string.h>

/* --- specifications ---------------------------------------------------------------------------------------- */

static int read_limits(struct kw_reader *r, struct kw_spec_row *spec)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT property, min, max FROM spec_limit WHERE spec = ?1 ORDER BY property",
                        "i", spec->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_limit_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_limit_row){kw_keep_text(r, &q, 0, &failed),
                                                     {kw_int_or(&q, 1, KW_NONE), kw_int_or(&q, 2, KW_NONE)}};
        }
        kw_end(&q);
        spec->limits = list.at;
        spec->n_limits = list.n;
        return failed ? -ENOMEM : rc;
}

static void take_spec(struct kw_reader *r, struct kw_query *q, struct kw_spec_row *row, bool *failed)
{
        *row = (struct kw_spec_row){.id = kw_int(q, 0),
                                    .seq = kw_int(q, 1),
                                    .at = kw_int(q, 2),
                                    .code = kw_keep_text(r, q, 3, failed),
                                    .version = kw_int(q, 4),
                                    .what = kw_keep_text(r, q, 5, failed),
                                    .grade = kw_keep_text(r, q, 6, failed),
                                    .construction = kw_keep_text(r, q, 7, failed),
                                    .from_um = kw_int_or(q, 8, KW_NONE),
                                    .below_um = kw_int_or(q, 9, KW_NONE),
                                    .joint_multiple = kw_int_or(q, 10, KW_NONE),
                                    .joint_of_um = kw_int_or(q, 11, KW_NONE),
                                    .heats = kw_keep_text(r, q, 12, failed),
                                    .tests = kw_keep_text(r, q, 13, failed),
                                    .tolerance = kw_keep_text(r, q, 14, failed),
                                    .stands = kw_int(q, 15) != 0,
                                    .source = kw_keep_text(r, q, 16, failed),
                                    .tensile_kpa = kw_int_or(q, 17, KW_NONE),
                                    .retests = kw_int_or(q, 18, KW_NONE)};
}

int kw_read_specs(struct kw_reader *r, const struct kw_spec_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT id, seq, at, code, version, what, grade, construction, from_um, below_um,"
                        " joint_multiple, joint_of_um, heats, tests, tolerance,"
                        " version = (SELECT max(version) FROM spec n WHERE n.code = s.code), source,"
                        " tensile_kpa, retests"
                        " FROM spec s ORDER BY code, version",
                        "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_spec_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        take_spec(r, &q, row, &failed);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = read_limits(r, (struct kw_spec_row *)list.at + i);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

int kw_spec_close(const struct kw_spec_row *s, const struct kw_lot_row *lot)
{
        const struct kw_spec_scope scope = {.what = s->what,
                                            .grade = s->grade,
                                            .construction = s->construction,
                                            .from_um = s->from_um,
                                            .below_um = s->below_um,
                                            .tensile_kpa = s->tensile_kpa == KW_NONE ? 0 : s->tensile_kpa};
        const struct kw_spec_lot asked = {.kind = lot->kind,
                                          .grade = lot->grade,
                                          .construction = lot->construction,
                                          .diameter_um = lot->diameter_um == KW_NONE ? 0 : lot->diameter_um,
                                          .tensile_kpa = lot->tensile_kpa == KW_NONE ? 0 : lot->tensile_kpa};

        return kw_spec_fits(&scope, &asked);
}

bool kw_spec_is_for(const struct kw_spec_row *spec, const struct kw_lot_row *lot)
{
        return kw_spec_close(spec, lot) >= 0;
}

int kw_read_spec_for(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_spec_row **out)
{
        const struct kw_spec_row *specs;
        int closest = -1;
        size_t n;
        int rc = kw_read_specs(r, &specs, &n);

        *out = NULL;
        for (size_t i = 0; rc == 0 && i < n; i++) {
                int close = specs[i].stands ? kw_spec_close(&specs[i], lot) : -1;

                /* as a test is judged: the closest, and of equals the one entered last */
                if (close < 0 || close < closest || (close == closest && *out && specs[i].seq < (*out)->seq))
                        continue;
                closest = close;
                *out = &specs[i];
        }
        return rc;
}

int kw_read_test_lot(struct kw_reader *r, const char *test, const struct kw_lot_row **lot, struct kw_error *err)
{
        int64_t id;
        int rc = kw_one(r->ledger, &id, 0,
                        "SELECT x.lot FROM thing t JOIN test x ON x.id = t.id WHERE t.type = 'test' AND t.code = ?1",
                        "t", test);

        if (rc == 0 && !id)
                return kw_refuse_with(err, KW_NOT_FOUND, NULL, "says",
                                      KW_VALUES(KW_WORD("type", "test"), KW_WORD("code", test)), "there is no test %s",
                                      test);
        return rc ? rc : kw_read_lot(r, id, lot);
}

/* --- margins ------------------------------------------------------------------------------------------------- */

int kw_read_margins(struct kw_reader *r, const struct kw_test_row *test, const struct kw_margin_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT x.property, x.value, l.min, l.max FROM result x"
                        " JOIN spec_limit l ON l.spec = ?2 AND l.property = x.property WHERE x.test = ?1"
                        " ORDER BY x.property",
                        "ii", test->id, test->spec);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_margin_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (!row)
                        break;
                *row = (struct kw_margin_row){.property = kw_keep_text(r, &q, 0, &failed),
                                              .value = kw_int(&q, 1),
                                              .limit = {kw_int_or(&q, 2, KW_NONE), kw_int_or(&q, 3, KW_NONE)}};
                row->margin = kw_margin(&row->limit, row->value);
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- the strength of wire -------------------------------------------------------------------------------------- */

struct forces {
        struct kw_list tests, values;
};

static int64_t force_of(struct kw_query *q, int64_t diameter_um)
{
        int64_t measured = kw_int_or(q, 3, diameter_um);

        if (!kw_is_null(q, 1))
                return kw_int(q, 1);
        return kw_is_null(q, 2) || measured <= 0 ? KW_NONE : kw_wire_force_n(kw_int(q, 2), measured);
}

static int take_forces(struct kw_reader *r, struct kw_query *q, int rc, int64_t diameter_um, struct forces *f)
{
        bool failed = false;

        while (rc == 0 && (rc = kw_next(r->ledger, q)) == 1) {
                int64_t force = force_of(q, diameter_um), *value;
                const char **code;

                rc = 0;
                if (force == KW_NONE)
                        continue;
                value = kw_list_more(&r->arena, &f->values, sizeof(*value));
                code = kw_list_more(&r->arena, &f->tests, sizeof(*code));
                if (!value || !code) {
                        rc = -ENOMEM;
                        break;
                }
                *value = force;
                *code = kw_keep_text(r, q, 0, &failed);
        }
        kw_end(q);
        return failed ? -ENOMEM : rc;
}

#define VALUE(property) "(SELECT value FROM result x WHERE x.test = t.id AND x.property = '" property "')"
#define FORCES          "SELECT t.code, " VALUE("breaking_n") ", " VALUE("tensile_kpa") ", " VALUE("diameter_um")

int kw_read_wire_strength(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_wire_strength *out)
{
        int64_t diameter = lot->diameter_um == KW_NONE ? 0 : lot->diameter_um;
        struct forces f = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, FORCES " FROM test t WHERE t.lot = ?1 ORDER BY t.code", "i", lot->id);

        *out = (struct kw_wire_strength){.breaking_n = KW_NONE, .from = "lot"};
        rc = take_forces(r, &q, rc, diameter, &f);
        if (rc == 0 && !f.values.n && lot->run) {
                out->from = "run";
                rc = kw_ask(r->ledger, &q,
                            FORCES " FROM package p JOIN test t ON t.lot = p.lot WHERE p.run = ?1 AND p.lot <> 0"
                                   " ORDER BY t.code",
                            "i", lot->run);
                rc = take_forces(r, &q, rc, diameter, &f);
        }
        if (rc)
                return rc;
        out->tests = f.tests.at;
        out->n_tests = f.tests.n;
        if (f.values.n)
                out->breaking_n = kw_readings_of(f.values.at, f.values.n).mean;
        else
                out->from = NULL;
        return 0;
}
