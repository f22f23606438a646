/*
 * Tests: results measured on a sample, the length that the sample took, and the verdict.
 */
#include "judge.h"

#include <inttypes.h>
#include <stdio.h>

/*
 * Where the sample was cut: at_mm on towards the outer end, or back from the outer end when at_mm is too near to it;
 * without at_mm, from the outer end of what is left.
 */
static int cut_sample(struct kw_work *w, const struct kw_lot_here *lot, const char *code, int64_t sample_mm)
{
        struct kw_stock stock;
        struct kw_spans pieces = {0};
        struct kw_take take = {.how = KW_TAKE_LENGTH, .length = sample_mm, .off = KW_OFF_OUTER};
        char name[KW_CLAIM_NAME];
        int rc = kw_stock_load(w->l, lot, &stock);

        if (rc)
                return rc;
        snprintf(name, sizeof(name), "the sample of test %s", code);
        if (kw_json_get(w->body, "at_mm")) {
                take.how = KW_TAKE_SPAN;
                take.from = kw_json_int(w->body, "at_mm", 0);
                if (take.from > lot->length_mm - sample_mm)
                        take.from = lot->length_mm - sample_mm;
                take.to = take.from + sample_mm;
        }
        rc = kw_stock_take(&stock, &take, name, &pieces, w->err);
        if (rc > 0)
                kw_error_at(w->err, "/body/sample_mm");
        if (rc == 0)
                rc = kw_take_rows(w, lot->id, &pieces, "sample", code);
        kw_spans_free(&pieces);
        kw_stock_free(&stock);
        return rc;
}

static int insert_result(struct kw_work *w, int64_t id, const char *property, int64_t value)
{
        return kw_do(w->l, "INSERT INTO result (test, property, value, at, seq) VALUES (?1, ?2, ?3, ?4, ?5)", "itiii",
                     id, property, value, w->at, w->seq);
}

/* Nothing is measured twice: what follows from readings is not stated beside them. */
static int check_stated_once(struct kw_work *w, const char *property, const char *read)
{
        char pointer[sizeof("/body/results/") + KW_PROPERTY_MAX];

        if (!kw_json_get(kw_json_get(w->body, "results"), property))
                return 0;
        snprintf(pointer, sizeof(pointer), "/body/results/%s", property);
        return kw_refuse_with(w->err, KW_BAD_VALUE, pointer, "from-readings",
                              KW_VALUES(KW_WORD("property", property), KW_WORD("of", read)),
                              "%s follows from the readings of %s; state it once", property, read);
}

/* The mean and the range are results like any other: of diameters in one section the range is the out-of-roundness. */
static int insert_readings(struct kw_work *w, int64_t id, const cJSON *list)
{
        char range[KW_PROPERTY_MAX + 1];
        struct kw_readings read;
        int64_t values[100];
        const cJSON *value;
        size_t n = 0;
        int rc;

        cJSON_ArrayForEach(value, list)
        {
                if (n < sizeof(values) / sizeof(*values))
                        values[n++] = (int64_t)value->valuedouble;
        }
        read = kw_readings_of(values, n);
        kw_range_property(list->string, range);
        rc = check_stated_once(w, list->string, list->string);
        if (rc == 0)
                rc = check_stated_once(w, range, list->string);
        if (rc == 0 && kw_json_get(kw_json_get(w->body, "readings"), range))
                rc = kw_refuse_with(w->err, KW_BAD_VALUE, "/body/readings", "from-readings",
                                    KW_VALUES(KW_WORD("property", range), KW_WORD("of", list->string)),
                                    "%s follows from the readings of %s", range, list->string);
        if (rc == 0)
                rc = insert_result(w, id, list->string, read.mean);
        return rc ? rc : insert_result(w, id, range, read.range);
}

static int insert_results(struct kw_work *w, int64_t id)
{
        const cJSON *result;
        int rc = 0;

        cJSON_ArrayForEach(result, kw_json_get(w->body, "results"))
        {
                if (rc == 0)
                        rc = insert_result(w, id, result->string, (int64_t)result->valuedouble);
        }
        cJSON_ArrayForEach(result, kw_json_get(w->body, "readings"))
        {
                if (rc == 0)
                        rc = insert_readings(w, id, result);
        }
        return rc;
}

/*
 * A retest repeats an earlier test of the same lot, in something that this had measured. It replaces nothing: the test
 * that failed keeps its verdict, and a trace from it is the same as before.
 */
static int find_repeated(struct kw_work *w, int64_t id, const struct kw_lot_here *lot, int64_t *first)
{
        const char *code = kw_json_text(w->body, "retest_of");
        int64_t of = 0, common = 0;
        int rc;

        *first = 0;
        if (!code)
                return 0;
        rc = kw_need(w, "test", code, "/body/retest_of", first);
        if (rc == 0)
                rc = kw_one(w->l, &of, 0, "SELECT lot FROM test WHERE id = ?1", "i", *first);
        if (rc == 0 && of != lot->id)
                return kw_refuse_with(w->err, KW_BAD_VALUE, "/body/retest_of", "retest-lot",
                                      KW_VALUES(KW_WORD("test", code), KW_WORD("lot", lot->code)),
                                      "test %s was made on another lot; a retest is made on the same one, %s", code,
                                      lot->code);
        if (rc == 0)
                rc = kw_one(w->l, &common, 0,
                            "SELECT 1 FROM result a JOIN result b ON b.test = ?2 AND b.property = a.property"
                            " WHERE a.test = ?1 LIMIT 1",
                            "ii", id, *first);
        if (rc == 0 && !common)
                rc = kw_refuse_with(w->err, KW_BAD_VALUE, "/body/retest_of", "retest-nothing",
                                    KW_VALUES(KW_WORD("test", code)),
                                    "nothing that test %s measured is measured again here", code);
        return rc;
}

/* What counts is what the sender said, and only where nothing was said what the specification gives. */
static int insert_test(struct kw_work *w, int64_t id, const char *code, const struct kw_lot_here *lot)
{
        const char *instrument = kw_json_text(w->body, "instrument"), *said = kw_json_text(w->body, "verdict");
        struct kw_judgement judged = {0};
        int64_t at, sample, repeated = 0;
        int rc = insert_results(w, id);

        if (rc == 0)
                rc = find_repeated(w, id, lot, &repeated);
        if (rc == 0 && instrument)
                rc = kw_check_calibration(w, instrument);
        if (rc == 0)
                rc = kw_judge_test(w, id, lot, said, &judged);
        if (rc)
                return rc;
        return kw_do(w->l,
                     "INSERT INTO test (id, seq, code, lot, at_mm, sample_mm, instrument, verdict, at, said, judged,"
                     " spec, retest_of) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
                     "iitiIIttittII", id, w->seq, code, lot->id, kw_maybe(w->body, "at_mm", &at),
                     kw_maybe(w->body, "sample_mm", &sample), instrument, said ? said : judged.verdict, w->at, said,
                     judged.verdict, judged.spec == KW_NOT_JUDGED ? NULL : &judged.spec, repeated ? &repeated : NULL);
}

int kw_apply_test(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS, sample = kw_json_int(w->body, "sample_mm", 0),
                at = kw_json_int(w->body, "at_mm", 0);
        const char *code = kw_json_text(w->body, "test");
        struct kw_lot_here lot;
        int rc = kw_define(w, "test", code, "/body/test", id);

        if (rc == 0)
                rc = kw_need_lot(w, kw_json_text(w->body, "lot"), "/body/lot", &lot);
        if (rc == 0 && at > lot.length_mm)
                rc = kw_refuse_with(w->err, KW_OUT_OF_RANGE, "/body/at_mm", "place",
                                    KW_VALUES(KW_WORD("lot", lot.code), KW_FIGURE("length_mm", lot.length_mm),
                                              KW_FIGURE("at_mm", at)),
                                    "%s is %" PRId64 " mm long; %" PRId64 " mm is not a place on it", lot.code,
                                    lot.length_mm, at);
        if (rc == 0 && sample > lot.length_mm)
                rc = kw_refuse_with(w->err, KW_OUT_OF_RANGE, "/body/sample_mm", "sample",
                                    KW_VALUES(KW_WORD("lot", lot.code), KW_FIGURE("length_mm", lot.length_mm),
                                              KW_FIGURE("sample_mm", sample)),
                                    "%s is %" PRId64 " mm long; a sample of %" PRId64 " mm can't come from it",
                                    lot.code, lot.length_mm, sample);
        if (rc == 0 && sample)
                rc = cut_sample(w, &lot, code, sample);
        return rc ? rc : insert_test(w, id, code, &lot);
}
