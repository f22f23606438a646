/*
 * Charts: which results are on one, in which order, and the limits that follow from them.
 */
#include "recorder.h"
#include "suite.h"

#include "kinwire/quality.h"

#include <stdio.h>
#include <string.h>

#define DAY "2026-03-01T08:00:00Z"

static struct kw_ledger *ledger;

/*
 * Run D1 on BLOCK-1 draws H1 and H2, 50 m each, to P1 and P2 of 50 m; D2 on BLOCK-2 draws H2 to Q1. Torsions: 30 and 32
 * on P1 (at 40 and at 10 m, in this order), 34 on P2, 50 on Q1.
 */
static void set_up(void)
{
        static const char *const tests[][2] = {
                {"2026-03-02T00:00:00Z",
                 "{\"test\":\"T1\",\"lot\":\"P1\",\"at_mm\":40000,\"results\":{\"torsions\":30,\"bends\":9},"
                 "\"instrument\":\"TB\"}"},
                {"2026-03-03T00:00:00Z",
                 "{\"test\":\"T2\",\"lot\":\"P1\",\"at_mm\":10000,\"results\":{\"torsions\":32}}"},
                {"2026-03-04T00:00:00Z", "{\"test\":\"T3\",\"lot\":\"P2\",\"results\":{\"torsions\":34}}"},
                {"2026-03-05T00:00:00Z",
                 "{\"test\":\"T4\",\"lot\":\"Q1\",\"at_mm\":0,\"results\":{\"torsions\":50},\"verdict\":\"fail\"}"},
                {"2026-03-06T00:00:00Z",
                 "{\"test\":\"T5\",\"lot\":\"Q1\",\"at_mm\":100,\"results\":{\"torsions\":99},\"retest_of\":\"T4\"}"},
        };

        ledger = recorder_new();
        record(ledger, "heat", DAY, "{\"heat\":\"H1\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}");
        record(ledger, "heat", DAY, "{\"heat\":\"H2\",\"supplier\":\"Northmark Steel\",\"grade\":\"C86D\"}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"A\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":2000,\"length_mm\":50000}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"B\",\"kind\":\"coil\",\"heat\":\"H2\",\"diameter_um\":2000,\"length_mm\":100000}");
        record(ledger, "run", DAY,
               "{\"run\":\"D1\",\"process\":\"wind\",\"machine\":\"BLOCK-1\",\"tolerance_ppm\":0,\"lines\":[{\"line\":"
               "\"1\","
               "\"feeds\":[{\"lot\":\"A\"},{\"lot\":\"B\",\"take_mm\":50000}]}],\"packages\":[{\"lot\":\"P1\",\"kind\":"
               "\"bobbin\",\"length_mm\":50000},{\"lot\":\"P2\",\"kind\":\"bobbin\",\"length_mm\":50000}]}");
        record(ledger, "run", DAY,
               "{\"run\":\"D2\",\"process\":\"wind\",\"machine\":\"BLOCK-2\",\"lines\":[{\"line\":\"1\",\"feeds\":[{"
               "\"lot\":\"B\"}]}],\"packages\":[{\"lot\":\"Q1\",\"kind\":\"coil\",\"length_mm\":50000}]}");
        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":1,\"what\":\"wire\",\"tests\":[],\"limits\":{\"torsions\":{\"min\":20,"
               "\"max\":60}}}");
        for (size_t i = 0; i < sizeof(tests) / sizeof(*tests); i++)
                record(ledger, "test", tests[i][0], tests[i][1]);
}

static void tear_down(void)
{
        kw_ledger_close(ledger);
}

static const struct kw_chart_question torsions = {.property = "torsions",
                                                  .since = INT64_MIN,
                                                  .until = INT64_MAX,
                                                  .tensile_kpa = KW_NO_FIGURE,
                                                  .from_um = KW_NO_FIGURE,
                                                  .below_um = KW_NO_FIGURE,
                                                  .limit = 500};

static int ask(const struct kw_chart_question *q, struct kw_buf *out)
{
        struct kw_error err = {0};
        int rc;

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        rc = kw_answer_chart(ledger, q, out, &err);
        kw_ledger_done(ledger);
        return rc;
}

/* The tests that are on it, in order: "T1 T2". */
static void expect(const struct kw_chart_question *q, const char *tests)
{
        struct kw_buf out = {0};
        char got[200] = "";
        cJSON *answer, *point;

        ck_assert_int_eq(ask(q, &out), 0);
        answer = ask_json(&out);
        cJSON_ArrayForEach(point, cJSON_GetObjectItem(answer, "points"))
        {
                snprintf(got + strlen(got), sizeof(got) - strlen(got), "%s%s", *got ? " " : "",
                         kw_json_text(point, "test"));
        }
        ck_assert_str_eq(got, tests);
        cJSON_Delete(answer);
}

/* What is asked for, and the tests that are on the chart then. A retest is no sample of the process. */
static const struct {
        const char *name;
        struct kw_chart_question q;
        const char *tests;
} asked[] = {
        {"all", {.property = "torsions"}, "T1 T2 T3 T4"},
        {"a machine", {.machine = "BLOCK-1"}, "T1 T2 T3"},
        {"another", {.machine = "BLOCK-2"}, "T4"},
        {"a run", {.run = "D1"}, "T1 T2 T3"},
        {"a run, of one heat", {.run = "D1", .heat = "H1"}, "T1 T2"},
        {"the other heat: T3's place is not known, but its lot is of it", {.heat = "H2"}, "T3 T4"},
        {"a kind", {.kind = "bobbin"}, "T1 T2 T3"},
        {"a lot", {.lot = "P1"}, "T1 T2"},
        {"a lot by place", {.lot = "P1", .by_place = true}, "T2 T1"},
        {"a run by place, less what has none", {.run = "D1", .by_place = true}, "T2 T1"},
        {"an instrument", {.instrument = "TB"}, "T1"},
        {"an instrument that has none", {.instrument = "TA"}, ""},
        {"a grade", {.grade = "C82D"}, ""}, /* of D1 both heats are in the run: its bobbins have no one grade */
        {"the other grade", {.grade = "C86D"}, "T4"},
        {"a specification", {.spec = "W"}, "T1 T2 T3 T4"},
        {"another specification", {.spec = "V"}, ""},
        {"a construction", {.construction = "6x19"}, ""},
};

START_TEST(which_points)
{
        struct kw_chart_question q = asked[_i].q;

        q.property = torsions.property;
        q.since = torsions.since;
        q.until = torsions.until;
        q.tensile_kpa = q.from_um = q.below_um = KW_NO_FIGURE;
        q.limit = torsions.limit;
        expect(&q, asked[_i].tests);
}
END_TEST

START_TEST(refused)
{
        struct kw_chart_question q = torsions;
        struct kw_buf out = {0};

        q.by_place = true;
        ck_assert_int_eq(ask(&q, &out), KW_BAD_REQUEST);
        q = torsions;
        q.since = 2;
        q.until = 1;
        ck_assert_int_eq(ask(&q, &out), KW_BAD_REQUEST);
        q = torsions;
        q.heat = "H9";
        ck_assert_int_eq(ask(&q, &out), KW_NOT_FOUND);
        kw_buf_free(&out);
}
END_TEST

/*
 * 30, 32, 34, 50: mean 36.5, moving ranges 2, 2, 16, mean 6.667; limits 36.5 -+ 2.66 x 6.667 = 18.767 and 54.233, and
 * 3.267 x 6.667 = 21.78. sigma = 6.667 / 1.128 = 5.910: Cp = 40 / 35.46 = 1.128, Cpk = (36.5 - 20) / 17.73 = 0.931.
 */
START_TEST(limits)
{
        static const char *const pieces[] = {
                "\"chart\":{\"mean_milli\":36500,\"lower_milli\":18767,\"upper_milli\":54233,\"range_mean_milli\":6667,"
                "\"range_upper_milli\":21780,\"beyond\":0,\"ranges_beyond\":0,\"rules\":[{\"rule\":\"1-beyond-3-"
                "sigma\","
                "\"need\":1,\"of\":1,\"sigmas\":3,\"source\":\"Western Electric, Statistical Quality Control Handbook, "
                "1956\",\"met\":0},",
                "\"capability\":{\"spec\":\"W\",\"version\":1,\"min\":20,\"max\":60,\"cp_milli\":1128,\"cpk_milli\":"
                "931},"
                "\"no_capability\":null",
                "\"products\":[{\"kind\":\"bobbin\",\"diameter_um\":2000,\"tensile_grade_kpa\":null,\"construction\":"
                "null,"
                "\"grade\":null,\"points\":3},{\"kind\":\"coil\"",
                "\"moving_range\":null",
                "\"moving_range\":16",
        };
        struct kw_buf out = {0};

        ck_assert_int_eq(ask(&torsions, &out), 0);
        for (size_t i = 0; i < sizeof(pieces) / sizeof(*pieces); i++)
                ck_assert_msg(strstr(kw_buf_text(&out), pieces[i]) != NULL, "no %s in %s", pieces[i],
                              kw_buf_text(&out));
        kw_buf_free(&out);
}
END_TEST

/* One far out of ten: beyond the limits of individuals, and both its ranges beyond theirs. */
START_TEST(beyond)
{
        struct kw_chart_question q = torsions;
        struct kw_buf out = {0};
        char body[200];

        for (int i = 0; i < 10; i++) {
                snprintf(body, sizeof(body), "{\"test\":\"X%d\",\"lot\":\"Q1\",\"results\":{\"bends\":%d}}", i,
                         i == 5 ? 40 : 20 + i % 2);
                record(ledger, "test", "2026-04-01T00:00:00Z", body);
        }
        q.property = "bends";
        q.lot = "Q1";
        ck_assert_int_eq(ask(&q, &out), 0);
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "\"beyond\":1,\"ranges_beyond\":2,\"rules\":[{"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "\"value\":40,\"verdict\":null,\"spec\":\"W\",\"version\":1,"
                                                        "\"min\":null,\"max\":null,\"sure\":null,\"beyond\":\"above\","
                                                        "\"moving_range\":20,\"range_beyond\":true,\"rules\":["
                                                        "\"1-beyond-3-sigma\"]}"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "\"capability\":null,\"no_capability\":\"no-limits\""));
        kw_buf_free(&out);
}
END_TEST

START_TEST(as_csv)
{
        struct kw_chart_question q = torsions;
        struct kw_buf out = {0};

        q.csv = true;
        q.lot = "P1";
        ck_assert_int_eq(ask(&q, &out), 0);
        ck_assert_str_eq(
                kw_buf_text(&out),
                "test,lot,run,machine,instrument,at,at_mm,place_mm,property,value,verdict,spec,version,min,max,"
                "moving_range,beyond,rules\r\n"
                "T1,P1,D1,BLOCK-1,TB,2026-03-02T00:00:00Z,40000,40000,torsions,30,pass,W,1,20,60,,,\r\n"
                "T2,P1,D1,BLOCK-1,,2026-03-03T00:00:00Z,10000,10000,torsions,32,pass,W,1,20,60,2,,\r\n");
        kw_buf_free(&out);
}
END_TEST

/* Ten about 20.5, then ten about 23.5: none is beyond the limits 19.2 and 24.8, but chance seldom does that. */
START_TEST(rules)
{
        struct kw_chart_question q = torsions;
        struct kw_buf out = {0};
        static const int met[] = {0, 8, 14, 6};
        char body[200];
        cJSON *answer;

        for (int i = 0; i < 20; i++) {
                snprintf(body, sizeof(body), "{\"test\":\"X%d\",\"lot\":\"Q1\",\"results\":{\"bends\":%d}}", i,
                         (i < 10 ? 20 : 23) + i % 2);
                record(ledger, "test", "2026-04-01T00:00:00Z", body);
        }
        q.property = "bends";
        q.lot = "Q1";
        ck_assert_int_eq(ask(&q, &out), 0);
        /* mean 22, mean range 20 / 19: a sigma is 0.933, so 20 is 2.14 of them away and 21 1.07. Every other one from
           the third completes 2 of 3; from the fourth 4 of 5; from the eighth 8: in each of the two halves. */
        answer = cJSON_Parse(kw_buf_text(&out));
        for (int i = 0; i < KW_RUN_RULES; i++) {
                const cJSON *rule =
                        cJSON_GetArrayItem(cJSON_GetObjectItem(cJSON_GetObjectItem(answer, "chart"), "rules"), i);

                ck_assert_int_eq(cJSON_GetObjectItem(rule, "met")->valueint, met[i]);
        }
        cJSON_Delete(answer);
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "\"rules\":[\"4-of-5-beyond-1-sigma\",\"8-on-one-side\"]"));
        kw_buf_free(&out);
        q.csv = true;
        ck_assert_int_eq(ask(&q, &out), 0);
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), ",4-of-5-beyond-1-sigma 8-on-one-side\r\n"));
        kw_buf_free(&out);
}
END_TEST

START_TEST(which_points_in_time)
{
        struct kw_chart_question q = torsions;

        q.since = 1772496000; /* 2026-03-03 */
        expect(&q, "T2 T3 T4");
        q.until = 1772582400; /* 2026-03-04 */
        expect(&q, "T2 T3");
        q = torsions;
        q.limit = 2;
        expect(&q, "T3 T4");
        q = torsions;
        q.property = "bends";
        expect(&q, "T1");
        q.property = "tensile_kpa";
        expect(&q, "");
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_loop_test(tests, which_points, 0, (int)(sizeof(asked) / sizeof(*asked)));
        tcase_add_test(tests, refused);
        tcase_add_test(tests, limits);
        tcase_add_test(tests, beyond);
        tcase_add_test(tests, rules);
        tcase_add_test(tests, as_csv);
        tcase_add_test(tests, which_points_in_time);
}

int main(void)
{
        return run_suite("charts", add);
}
