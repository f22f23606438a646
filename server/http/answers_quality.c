/*
 * Questions about quality: charts, a test judged again, an instrument.
 */
#include "kinwire/process.h"
#include "server.h"

#include <string.h>

#define POINTS_MOST 5000 /* of a chart: more can't be told apart on it */
#define POINTS      500

int kw_ask_instrument(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        int rc = kw_request_code(r->part[0], "instrument", code, err);

        return rc ? rc : kw_answer_instrument(ledger, code, out, err);
}

/* ?spec=CODE&version=N; without a version, the one that stands. */
int kw_ask_judged(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *given = kw_request_query(r, "spec");
        char test[KW_CODE_MAX + 1], spec[KW_CODE_MAX + 1];
        int64_t version;
        int rc = kw_request_code(r->part[0], "test", test, err);

        if (!rc && !given)
                rc = kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter", KW_VALUES(KW_WORD("parameter", "spec")),
                                    "\"spec\" says by which specification to judge");
        if (!rc)
                rc = kw_request_code(given, "parameter \"spec\"", spec, err);
        if (!rc)
                rc = kw_request_int(r, "version", 1, 1000000, 0, &version, err);
        return rc ? rc : kw_answer_judged(ledger, test, spec, version, out, err);
}

/* --- charts -------------------------------------------------------------------------------------------------- */

struct chart {
        struct kw_chart_question q;
        char machine[KW_CODE_MAX + 1], instrument[KW_CODE_MAX + 1], spec[KW_CODE_MAX + 1], heat[KW_CODE_MAX + 1],
                run[KW_CODE_MAX + 1], lot[KW_CODE_MAX + 1];
};

/* What is not asked for: absent, or left empty in a form. */
static const char *asked(const struct kw_request *r, const char *name)
{
        const char *text = kw_request_query(r, name);

        return text && *text ? text : NULL;
}

static int read_codes(const struct kw_request *r, struct chart *c, struct kw_error *err)
{
        const struct {
                const char *name;
                char *room;
                const char **to;
        } codes[] = {
                {"machine", c->machine, &c->q.machine},
                {"instrument", c->instrument, &c->q.instrument},
                {"spec", c->spec, &c->q.spec},
                {"heat", c->heat, &c->q.heat},
                {"run", c->run, &c->q.run},
                {"lot", c->lot, &c->q.lot},
        };
        int rc = 0;

        for (size_t i = 0; !rc && i < sizeof(codes) / sizeof(*codes); i++) {
                const char *given = asked(r, codes[i].name);

                if (!given)
                        continue;
                rc = kw_request_code(given, codes[i].name, codes[i].room, err);
                *codes[i].to = codes[i].room;
        }
        return rc;
}

static int read_numbers(const struct kw_request *r, struct chart *c, struct kw_error *err)
{
        const struct {
                const char *name;
                int64_t low, high, otherwise;
                int64_t *to;
        } numbers[] = {
                {"tensile_grade_kpa", 1, 10000000, INT64_MIN, &c->q.tensile_kpa},
                {"diameter_from_um", 1, 1000000, INT64_MIN, &c->q.from_um},
                {"diameter_below_um", 1, 1000000, INT64_MIN, &c->q.below_um},
                {"limit", 2, POINTS_MOST, POINTS, &c->q.limit},
        };
        int rc = 0;

        for (size_t i = 0; !rc && i < sizeof(numbers) / sizeof(*numbers); i++) {
                *numbers[i].to = numbers[i].otherwise;
                if (asked(r, numbers[i].name))
                        rc = kw_request_int(r, numbers[i].name, numbers[i].low, numbers[i].high, numbers[i].otherwise,
                                            numbers[i].to, err);
        }
        return rc;
}

static int read_texts(const struct kw_request *r, struct chart *c, struct kw_error *err)
{
        const char *by = asked(r, "by"), *as = asked(r, "as");

        c->q.property = asked(r, "property");
        c->q.kind = asked(r, "kind");
        c->q.grade = asked(r, "grade");
        c->q.construction = asked(r, "construction");
        c->q.by_place = by && strcmp(by, "place") == 0;
        c->q.csv = (as && strcmp(as, "csv") == 0) || (!as && kw_request_wants_csv(r));
        if (!c->q.property)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter",
                                      KW_VALUES(KW_WORD("parameter", "property")),
                                      "\"property\" says what to chart, as in tensile_kpa");
        if (by && !c->q.by_place && strcmp(by, "time") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", by)),
                                      "a chart is by time or by place, not by \"%.20s\"", by);
        if (as && !c->q.csv && strcmp(as, "json") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", as)),
                                      "a chart comes as json or csv, not as \"%.20s\"", as);
        if (c->q.kind && !kw_lot_kind(c->q.kind))
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", c->q.kind)),
                                      "there is no kind of lot \"%.40s\"", c->q.kind);
        return 0;
}

static int read_chart(const struct kw_request *r, struct chart *c, struct kw_error *err)
{
        int rc = read_texts(r, c, err);

        if (!rc)
                rc = read_codes(r, c, err);
        if (!rc)
                rc = read_numbers(r, c, err);
        if (!rc)
                rc = kw_request_time(r, "since", INT64_MIN, &c->q.since, err);
        return rc ? rc : kw_request_time(r, "until", INT64_MAX, &c->q.until, err);
}

enum MHD_Result kw_answer_chart_page(struct kw_request *r)
{
        struct chart c = {.q = {.limit = POINTS}};
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = read_chart(r, &c, &err);

        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (!rc) {
                rc = kw_answer_chart(ledger, &c.q, &out, &err);
                kw_reader_give(r->http, ledger);
        }
        if (!rc)
                return kw_reply(r, MHD_HTTP_OK,
                                c.q.csv ? "text/csv; charset=utf-8; header=present" : "application/json", &out);
        kw_buf_free(&out);
        return kw_reply_problem(r, rc, &err);
}
