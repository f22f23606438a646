/*
 * Judging tests: by the specification that stood when the test was recorded, and by the calibration of its instrument.
 * After every correction the ledger verifies, so what was redone is what replaying gives.
 */
#include "recorder.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define DAY  "2026-03-01T08:00:00Z"
#define WIRE "\"what\":\"wire\",\"tests\":[]"

static struct kw_ledger *ledger;

static void set_up(void)
{
        ledger = recorder_new();
        record(ledger, "heat", DAY, "{\"heat\":\"H1\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"C1\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":1200,\"length_mm\":100000}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"C2\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":2000,\"length_mm\":100000}");
}

static void tear_down(void)
{
        kw_ledger_close(ledger);
}

static void verifies(void)
{
        struct kw_error err = {0};
        int64_t wrong;
        int rc = kw_ledger_verify(ledger, NULL, NULL, &wrong, &err);

        ck_assert_msg(rc == 0, "%s", err.text);
}

/* A test on @lot with one tensile result; its number is given by @test. */
static void test(const char *test_code, const char *lot, int tensile, const char *more, const char *at)
{
        char body[400];

        snprintf(body, sizeof(body), "{\"test\":\"%s\",\"lot\":\"%s\",\"results\":{\"tensile_kpa\":%d}%s}", test_code,
                 lot, tensile, more);
        record(ledger, "test", at, body);
}

/* @body NULL: takes the entry back. */
static void put_right(const char *entry, const char *body)
{
        char text[800];

        if (body)
                snprintf(text, sizeof(text), "{\"entry\":\"%s\",\"reason\":\"r\",\"body\":%s}", entry, body);
        else
                snprintf(text, sizeof(text), "{\"entry\":\"%s\",\"reason\":\"r\"}", entry);
        record(ledger, body ? "correct" : "void", DAY, text);
        verifies();
}

static cJSON *lot_answer(const char *lot)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(kw_answer_lot(ledger, lot, &out, &err) == 0, "%s", err.text);
        kw_ledger_done(ledger);
        return ask_json(&out);
}

/* @verdict of @test, "none" for none; and whether a finding of its lot has the code @finding (NULL: there is none). */
static void expect(const char *test_code, const char *lot, const char *verdict, const char *finding)
{
        cJSON *answer = lot_answer(lot), *item;
        bool met = false;

        cJSON_ArrayForEach(item, cJSON_GetObjectItem(answer, "tests"))
        {
                const cJSON *got = cJSON_GetObjectItem(item, "verdict");

                if (strcmp(kw_json_text(item, "test"), test_code) != 0)
                        continue;
                met = true;
                ck_assert_msg(strcmp(cJSON_IsString(got) ? got->valuestring : "none", verdict) == 0, "%s: %s",
                              test_code, cJSON_IsString(got) ? got->valuestring : "none");
        }
        ck_assert_msg(met, "%s", test_code);
        item = cJSON_GetArrayItem(cJSON_GetObjectItem(answer, "findings"), 0);
        if (finding)
                ck_assert_msg(item && strcmp(kw_json_text(item, "code"), finding) == 0, "%s: %s", test_code,
                              item ? kw_json_text(item, "text") : "no finding");
        else
                ck_assert_msg(!item, "%s: %s", test_code, item ? kw_json_text(item, "text") : "");
        cJSON_Delete(answer);
}

START_TEST(no_spec_no_verdict)
{
        test("T1", "C1", 1700000, "", DAY);
        test("T2", "C2", 1700000, ",\"verdict\":\"pass\"", DAY);
        expect("T1", "C1", "none", NULL);
        expect("T2", "C2", "pass", NULL);
        verifies();
}
END_TEST

#define SPEC1 "{\"spec\":\"W\",\"version\":1," WIRE ",\"limits\":{\"tensile_kpa\":{\"min\":1770000,\"max\":2090000}}}"

/* Values on and beside the limits, with and without a verdict of the sender's. */
static const struct {
        int tensile;
        const char *said, *verdict, *finding;
} judged[] = {
        {1770000, "", "pass", NULL},
        {1769999, "", "fail", NULL},
        {2090000, "", "pass", NULL},
        {2090001, "", "fail", NULL},
        {1700000, ",\"verdict\":\"fail\"", "fail", NULL},
        {1800000, ",\"verdict\":\"fail\"", "fail", "verdict-differs"},
        {1700000, ",\"verdict\":\"pass\"", "pass", "verdict-differs"},
};

START_TEST(judged_by_limits)
{
        record(ledger, "spec", DAY, SPEC1);
        test("T1", "C1", judged[_i].tensile, judged[_i].said, DAY);
        expect("T1", "C1", judged[_i].verdict, judged[_i].finding);
        verifies();
}
END_TEST

START_TEST(a_version_stands_until_the_next)
{
        record(ledger, "spec", DAY, SPEC1);
        test("T1", "C1", 1800000, "", DAY);
        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":2," WIRE ",\"limits\":{\"tensile_kpa\":{\"min\":1900000}}}");
        test("T2", "C2", 1800000, "", DAY);
        /* an older version that is entered late does not stand */
        record(ledger, "spec", DAY, "{\"spec\":\"V\",\"version\":1,\"what\":\"rod\",\"tests\":[],\"limits\":{}}");
        expect("T1", "C1", "pass", NULL);
        expect("T2", "C2", "fail", NULL);
        ck_assert_int_eq(record_refused(ledger, "spec", DAY, SPEC1), KW_CODE_TAKEN);
        verifies();
}
END_TEST

START_TEST(the_closest_fit_judges)
{
        record(ledger, "spec", DAY,
               "{\"spec\":\"THIN\",\"version\":1," WIRE ",\"diameter_below_um\":1500,"
               "\"limits\":{\"tensile_kpa\":{\"min\":1900000}}}");
        record(ledger, "spec", DAY, SPEC1);
        test("T1", "C1", 1800000, "", DAY);
        test("T2", "C2", 1800000, "", DAY);
        expect("T1", "C1", "fail", NULL);
        expect("T2", "C2", "pass", NULL);
        /* what it does not limit it does not judge */
        record(ledger, "test", DAY, "{\"test\":\"T3\",\"lot\":\"C2\",\"results\":{\"bends\":3}}");
        expect("T3", "C2", "none", NULL);
}
END_TEST

/* A computed failure is a failure: a trace from the test starts with its lot, and the reel can't be certified. */
START_TEST(a_computed_failure_counts)
{
        record(ledger, "spec", DAY, SPEC1);
        test("T1", "C1", 1000000, "", DAY);
        ck_assert_int_eq(
                record_refused(ledger, "certify", DAY, "{\"certificate\":\"K\",\"type\":\"3.1\",\"reels\":[\"C1\"]}"),
                KW_NOT_COMPLETE);
        test("T2", "C1", 1800000, "", DAY);
        record(ledger, "certify", DAY, "{\"certificate\":\"K\",\"type\":\"3.1\",\"reels\":[\"C1\"]}");
        verifies();
}
END_TEST

static void certify(const char *certificate, const char *reel, int refused)
{
        char body[200];

        snprintf(body, sizeof(body), "{\"certificate\":\"%s\",\"type\":\"3.1\",\"reels\":[\"%s\"]}", certificate, reel);
        if (refused)
                ck_assert_int_eq(record_refused(ledger, "certify", DAY, body), refused);
        else
                record(ledger, "certify", DAY, body);
}

/* A rope's tests count for the reels that are cut from it, and for its run. */
START_TEST(needed_tests)
{
        record(ledger, "run", DAY,
               "{\"run\":\"K1\",\"process\":\"close\",\"machine\":\"M\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"C1\"}]}]"
               ",\"packages\":[{\"lot\":\"R1\",\"kind\":\"rope\",\"length_mm\":40000},{\"lot\":\"R2\",\"kind\":"
               "\"rope\","
               "\"length_mm\":60000}]}");
        record(ledger, "run", DAY,
               "{\"run\":\"X1\",\"process\":\"cut\",\"machine\":\"M\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"R1\","
               "\"take_mm\":30000}]}],\"packages\":[{\"lot\":\"RL1\",\"kind\":\"reel\",\"length_mm\":30000}]}");
        certify("K0", "RL1", 0);
        certify("K1", "RL1", KW_NOT_COMPLETE); /* K0 stands for it */
        record(ledger, "withdraw", DAY, "{\"certificate\":\"K0\",\"reason\":\"r\"}");
        record(ledger, "spec", DAY,
               "{\"spec\":\"RP\",\"version\":1,\"what\":\"rope\",\"limits\":{},\"tests\":[{\"property\":\"breaking_n\","
               "\"per\":"
               "\"lot\",\"n\":1},{\"property\":\"lay_um\",\"per\":\"run\",\"n\":2}]}");
        certify("K1", "RL1", KW_NOT_COMPLETE);
        record(ledger, "test", DAY,
               "{\"test\":\"T1\",\"lot\":\"R1\",\"results\":{\"breaking_n\":9,\"lay_um\":1},\"verdict\":\"pass\"}");
        certify("K1", "RL1", KW_NOT_COMPLETE);
        record(ledger, "test", DAY, "{\"test\":\"T2\",\"lot\":\"R2\",\"results\":{\"lay_um\":1}}");
        certify("K1", "RL1", KW_NOT_COMPLETE); /* not judged, so not passed */
        record(ledger, "test", DAY, "{\"test\":\"T3\",\"lot\":\"R2\",\"results\":{\"lay_um\":1},\"verdict\":\"pass\"}");
        certify("K1", "RL1", 0);
        certify("K2", "R2", KW_NOT_COMPLETE); /* R2 itself was not broken */
        verifies();
}
END_TEST

START_TEST(one_heat)
{
        record(ledger, "heat", DAY, "{\"heat\":\"H2\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"C9\",\"kind\":\"coil\",\"heat\":\"H2\",\"diameter_um\":1200,\"length_mm\":100000}");
        record(ledger, "run", DAY,
               "{\"run\":\"K1\",\"process\":\"close\",\"machine\":\"M\",\"tolerance_ppm\":0,\"lines\":[{\"line\":\"1\","
               "\"feeds\":[{\"lot\":\"C1\"},{\"lot\":\"C9\"}]}],\"packages\":[{\"lot\":\"R1\",\"kind\":\"rope\","
               "\"length_mm\":100000},{\"lot\":\"R2\",\"kind\":\"rope\",\"length_mm\":50000},{\"lot\":\"R3\",\"kind\":"
               "\"rope\",\"length_mm\":50000}]}");
        record(ledger, "spec", DAY,
               "{\"spec\":\"RP\",\"version\":1,\"what\":\"rope\",\"limits\":{},\"tests\":[],\"heats\":\"one\"}");
        certify("K1", "R1", 0); /* it ends where the second heat begins */
        certify("K2", "R3", 0);
        record(ledger, "run", DAY,
               "{\"run\":\"K2\",\"process\":\"close\",\"machine\":\"M\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"R1\"}]},{"
               "\"line\":\"2\",\"feeds\":[{\"lot\":\"R3\"}]}],\"packages\":[{\"lot\":\"R4\",\"kind\":\"rope\","
               "\"length_mm\":40000}]}");
        certify("K3", "R4", KW_NOT_COMPLETE);
        record(ledger, "spec", DAY,
               "{\"spec\":\"RP\",\"version\":2,\"what\":\"rope\",\"limits\":{},\"tests\":[],\"heats\":\"any\"}");
        certify("K3", "R4", 0);
        verifies();
}
END_TEST

START_TEST(specs_put_right)
{
        char first[40], second[40];

        record(ledger, "spec", DAY, SPEC1);
        snprintf(first, sizeof(first), "%s", recorder_key());
        test("T1", "C1", 1700000, "", DAY);
        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":2," WIRE
               ",\"diameter_below_um\":1500,\"limits\":{\"tensile_kpa\":{\"min\":1600000}}}");
        snprintf(second, sizeof(second), "%s", recorder_key());
        test("T2", "C1", 1700000, "", DAY);
        test("T3", "C2", 1700000, "", DAY);
        expect("T1", "C1", "fail", NULL);
        expect("T2", "C1", "pass", NULL);
        expect("T3", "C2", "none", NULL); /* version 2 stands, and it is not for this diameter */
        put_right(first, "{\"spec\":\"W\",\"version\":1," WIRE ",\"limits\":{\"tensile_kpa\":{\"min\":1650000}}}");
        expect("T1", "C1", "pass", NULL);
        put_right(second, NULL);
        expect("T2", "C1", "pass", NULL);
        expect("T3", "C2", "pass", NULL);
        put_right(second, "{\"spec\":\"X\",\"version\":1," WIRE
                          ",\"diameter_from_um\":1500,\"limits\":{\"tensile_kpa\":{\"min\":1950000}}}");
        expect("T2", "C1", "pass", NULL);
        expect("T3", "C2", "fail", NULL);
        put_right(first, NULL);
        expect("T1", "C1", "none", NULL);
        expect("T2", "C1", "none", NULL);
        expect("T3", "C2", "fail", NULL);
}
END_TEST

/* A lot of another diameter is judged by another specification. */
START_TEST(lots_put_right)
{
        char lot[40];

        record(ledger, "receive", DAY,
               "{\"lot\":\"C3\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":1200,\"length_mm\":100000}");
        snprintf(lot, sizeof(lot), "%s", recorder_key());
        record(ledger, "spec", DAY,
               "{\"spec\":\"THIN\",\"version\":1," WIRE ",\"diameter_below_um\":1500,"
               "\"limits\":{\"tensile_kpa\":{\"min\":1900000}}}");
        test("T1", "C3", 1800000, "", DAY);
        expect("T1", "C3", "fail", NULL);
        put_right(lot, "{\"lot\":\"C3\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":1600,\"length_mm\":100000}");
        expect("T1", "C3", "none", NULL);
}
END_TEST

#define UTM(from, until)                                                                                              \
        "{\"instrument\":\"UTM-1\",\"what\":\"tensile machine\",\"calibrated\":\"" from "\",\"valid_until\":\"" until \
        "\"}"
#define BY_UTM ",\"instrument\":\"UTM-1\""

static const struct {
        const char *name, *at, *finding;
} calibrations[] = {
        {"on the first second", "2026-01-01T00:00:00Z", NULL},
        {"before it", "2025-12-31T23:59:59Z", "out-of-calibration"},
        {"on the last second", "2026-06-30T00:00:00Z", NULL},
        {"after it", "2026-06-30T00:00:01Z", "out-of-calibration"},
};

START_TEST(calibration)
{
        record(ledger, "instrument", DAY, UTM("2026-01-01T00:00:00Z", "2026-06-30T00:00:00Z"));
        test("T1", "C1", 1, BY_UTM, calibrations[_i].at);
        expect("T1", "C1", "none", calibrations[_i].finding);
        verifies();
}
END_TEST

START_TEST(calibration_renewed_and_put_right)
{
        char renewed[40];

        test("T0", "C2", 1, BY_UTM, "2027-01-01T00:00:00Z");
        record(ledger, "instrument", DAY, UTM("2026-01-01T00:00:00Z", "2026-06-30T00:00:00Z"));
        record(ledger, "instrument", DAY, UTM("2026-06-29T00:00:00Z", "2026-12-31T00:00:00Z"));
        snprintf(renewed, sizeof(renewed), "%s", recorder_key());
        test("T1", "C1", 1, BY_UTM, "2026-08-01T00:00:00Z");
        expect("T0", "C2", "none", NULL);
        expect("T1", "C1", "none", NULL);
        put_right(renewed, UTM("2026-09-01T00:00:00Z", "2026-12-31T00:00:00Z"));
        expect("T1", "C1", "none", "out-of-calibration");
        put_right(renewed, "{\"instrument\":\"UTM-2\",\"what\":\"another\"}");
        expect("T1", "C1", "none", "out-of-calibration");
        put_right(renewed, UTM("2026-06-29T00:00:00Z", "2026-12-31T00:00:00Z"));
        expect("T1", "C1", "none", NULL);
        put_right(renewed, NULL);
        expect("T1", "C1", "none", "out-of-calibration");
        expect("T0", "C2", "none", NULL);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_test(tests, no_spec_no_verdict);
        tcase_add_loop_test(tests, judged_by_limits, 0, (int)(sizeof(judged) / sizeof(*judged)));
        tcase_add_test(tests, a_version_stands_until_the_next);
        tcase_add_test(tests, the_closest_fit_judges);
        tcase_add_test(tests, a_computed_failure_counts);
        tcase_add_test(tests, needed_tests);
        tcase_add_test(tests, one_heat);
        tcase_add_test(tests, specs_put_right);
        tcase_add_test(tests, lots_put_right);
        tcase_add_loop_test(tests, calibration, 0, (int)(sizeof(calibrations) / sizeof(*calibrations)));
        tcase_add_test(tests, calibration_renewed_and_put_right);
}

int main(void)
{
        return run_suite("judging", add);
}
