/*
 * Answers about quality: how a test was judged, a rope's strength from its own wires, joints too near to each other,
 * specifications and instruments.
 *
 * A rope R of two strands of two wires, all 10 m, places one to one. In X wire 1 is A1 and A2, joined by W1 at 5000 mm;
 * wire 2 is B1 and B2, joined by W2 at 5100 mm. In Y wire 2 is C2 and C3, joined by W3 at 5000 mm. Both strands pay off
 * from the outer end, so on the rope W1 lies at 5000, W2 at 4900 and W3 at 5000 mm.
 */
#include "recorder.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define AT "2026-03-01T08:00:00Z"

static struct kw_ledger *ledger;

static void strand(const char *run, const char *line_1, const char *line_2, const char *out, int ppm)
{
        char body[800];

        snprintf(body, sizeof(body),
                 "{\"run\":\"%s\",\"process\":\"strand\",\"machine\":\"TUBE\",\"tolerance_ppm\":%d,\"lines\":["
                 "{\"line\":\"1\",\"feeds\":[%s]},{\"line\":\"2\",\"feeds\":[%s]}],"
                 "\"packages\":[{\"lot\":\"%s\",\"kind\":\"strand\",\"length_mm\":10000}]}",
                 run, ppm, line_1, line_2, out);
        record(ledger, "run", AT, body);
}

/* @ppm: how far the places in strand X may be out */
static void rope(int ppm)
{
        static const char *const bobbins[] = {"A1", "A2", "B1", "B2", "C1", "C2", "C3"};
        char body[200];

        ledger = recorder_new();
        record(ledger, "heat", AT, "{\"heat\":\"H1\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}");
        for (size_t i = 0; i < 7; i++) {
                snprintf(
                        body, sizeof(body),
                        "{\"lot\":\"%s\",\"kind\":\"bobbin\",\"heat\":\"H1\",\"diameter_um\":1000,\"length_mm\":20000}",
                        bobbins[i]);
                record(ledger, "receive", AT, body);
        }
        strand("S1", "{\"lot\":\"A1\",\"take_mm\":5000},{\"lot\":\"A2\",\"take_mm\":5000,\"weld\":\"W1\"}",
               "{\"lot\":\"B1\",\"take_mm\":5100},{\"lot\":\"B2\",\"take_mm\":4900,\"weld\":\"W2\"}", "X", ppm);
        strand("S2", "{\"lot\":\"C1\",\"take_mm\":10000}",
               "{\"lot\":\"C2\",\"take_mm\":5000},{\"lot\":\"C3\",\"take_mm\":5000,\"weld\":\"W3\"}", "Y", 0);
        record(ledger, "run", AT,
               "{\"run\":\"K1\",\"process\":\"close\",\"machine\":\"CLOSER\",\"tolerance_ppm\":0,\"lines\":["
               "{\"line\":\"1\",\"feeds\":[{\"lot\":\"X\"}]},{\"line\":\"2\",\"feeds\":[{\"lot\":\"Y\"}]}],"
               "\"packages\":[{\"lot\":\"R\",\"kind\":\"rope\",\"length_mm\":10000,\"diameter_um\":16000,"
               "\"construction\":\"6x19S-FC\"}]}");
}

static void test(const char *code, const char *lot, const char *results)
{
        char body[300];

        snprintf(body, sizeof(body), "{\"test\":\"%s\",\"lot\":\"%s\",\"results\":{%s}}", code, lot, results);
        record(ledger, "test", AT, body);
}

typedef int answer_of_lot(struct kw_ledger *l, const char *lot, struct kw_buf *out, struct kw_error *err);
typedef int answer_of_all(struct kw_ledger *l, struct kw_buf *out, struct kw_error *err);

static void expect(struct kw_buf *out, const char *const *pieces)
{
        for (; *pieces; pieces++)
                ck_assert_msg(strstr(kw_buf_text(out), *pieces), "no %s in %s", *pieces, kw_buf_text(out));
        cJSON_Delete(ask_json(out));
}

#define SAYS(...) ((const char *const[]){__VA_ARGS__, NULL})

static void expect_of(answer_of_lot *answer, const char *lot, const char *const *pieces)
{
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(answer(ledger, lot, &out, &err) == 0, "%s", err.text);
        kw_ledger_done(ledger);
        expect(&out, pieces);
}

static void expect_all(answer_of_all *answer, const char *const *pieces)
{
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(answer(ledger, &out, &err) == 0, "%s", err.text);
        kw_ledger_done(ledger);
        expect(&out, pieces);
}

START_TEST(strength)
{
        rope(0);
        test("T1", "A1", "\"breaking_n\":1000");
        test("T2", "A2", "\"breaking_n\":1100");
        test("T3", "A2", "\"breaking_n\":1300,\"tensile_kpa\":1");
        test("T4", "B1", "\"breaking_n\":1100");
        test("T5", "C1", "\"tensile_kpa\":1770000");
        test("T6", "C2", "\"tensile_kpa\":1770000,\"diameter_um\":1010");
        test("T7", "C3", "\"breaking_n\":1000");
        test("T8", "R", "\"breaking_n\":4000");
        /* A 1100, B1 0.51 x 1100 = 561, C1 1770 x pi/4 = 1390, C2 0.5 x 1418 (1.01 mm) = 709, C3 500 */
        expect_of(
                kw_answer_strength, "R",
                SAYS("{\"lot\":\"A2\",\"diameter_um\":1000,\"wires_milli\":500,\"length_mm\":5000,\"breaking_n\":1200,"
                     "\"from\":\"lot\",\"tests\":[\"T2\",\"T3\"]}",
                     "{\"lot\":\"B2\",\"diameter_um\":1000,\"wires_milli\":490,\"length_mm\":4900,"
                     "\"breaking_n\":null,\"from\":null,\"tests\":[]}",
                     "\"wires_milli\":4000,\"tested_milli\":3510,\"aggregate_n\":4260,\"area_um2\":3141593,"
                     "\"mass_g\":247,\"mass_g_km\":24700,",
                     "\"class\":\"6x19\",\"core\":\"fibre\"", "\"from_memory\":false",
                     /* 0.33 x 16^2 x 1770 N; 0.384 x 16^2 mm2; 0.359 x 16^2 kg/100 m */
                     "{\"grade_kpa\":1770000,\"force_n\":150000}", "\"area_um2\":98304000,\"mass_g_km\":919000",
                     "\"test\":\"T8\",\"lot\":\"R\",", "\"breaking_n\":4000,\"realisation_ppm\":null}"));
        test("T9", "B2", "\"breaking_n\":1300");
        /* 4260 + 0.49 x 1300 = 4897 */
        expect_of(kw_answer_strength, "R",
                  SAYS("\"tested_milli\":4000,\"aggregate_n\":4897,", "\"realisation_ppm\":816827}"));
        /* a reel that has no test of its own has that of the rope that it was cut from */
        record(ledger, "run", AT,
               "{\"run\":\"X1\",\"process\":\"cut\",\"machine\":\"CUT\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"R\","
               "\"take_mm\":10000}]}],\"packages\":[{\"lot\":\"RL1\",\"kind\":\"reel\",\"length_mm\":10000}]}");
        expect_of(kw_answer_strength, "RL1", SAYS("\"tested\":[{\"test\":\"T8\",\"lot\":\"R\","));
        /* a strand is no rope of the catalogue */
        expect_of(kw_answer_strength, "X", SAYS("\"wires_milli\":2000,", "\"catalogue\":null,\"tested\":[]"));
        kw_ledger_close(ledger);
}
END_TEST

/* A bobbin without tests has those of the others out of its run. */
START_TEST(strength_by_run)
{
        rope(0);
        record(ledger, "run", AT,
               "{\"run\":\"D1\",\"process\":\"wind\",\"machine\":\"W\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"C1\",\"take_mm\":200}]}],\"packages\":[{\"lot\":\"P1\",\"kind\":\"bobbin\",\"length_mm\":100},{"
               "\"lot\":"
               "\"P2\",\"kind\":\"bobbin\",\"length_mm\":100}]}");
        test("T1", "P1", "\"breaking_n\":1000");
        expect_of(kw_answer_strength, "P2",
                  SAYS("\"breaking_n\":1000,\"from\":\"run\",\"tests\":[\"T1\"]", "\"wires_milli\":1000,"));
        kw_ledger_close(ledger);
}
END_TEST

#define JOINTS(version, more) \
        "{\"spec\":\"RP\",\"version\":" version ",\"what\":\"rope\",\"limits\":{},\"tests\":[]" more "}"

START_TEST(joints_near)
{
        rope(0);
        expect_of(kw_answer_joints, "R", SAYS("\"distance\":null,\"near\":[]"));
        record(ledger, "spec", AT, JOINTS("1", ",\"joint_multiple\":18"));
        expect_of(kw_answer_joints, "R",
                  SAYS("\"distance\":{\"order\":null,\"spec\":\"RP\",\"version\":1,\"multiple\":18,\"of_um\":16000,"
                       "\"gap_mm\":288}",
                       "\"near\":[{\"a\":\"W2\",\"b\":\"W1\",\"strand\":\"close "
                       "1\",\"gap_mm\":100,\"sure\":\"surely\"}]"));
        /* 10 x 10 mm: a gap of just 100 mm passes */
        record(ledger, "spec", AT, JOINTS("2", ",\"joint_multiple\":10,\"joint_of_um\":10000"));
        expect_of(kw_answer_joints, "R", SAYS("\"gap_mm\":100}", "\"near\":[]"));
        record(ledger, "spec", AT, JOINTS("3", ",\"joint_multiple\":101,\"joint_of_um\":1000"));
        expect_of(kw_answer_joints, "R", SAYS("\"gap_mm\":101}", "\"sure\":\"surely\"}]"));
        kw_ledger_close(ledger);
}
END_TEST

/* What the order asks counts before what the specification asks. */
START_TEST(joints_near_by_order)
{
        rope(0);
        record(ledger, "spec", AT, JOINTS("1", ",\"joint_multiple\":1,\"joint_of_um\":10000"));
        record(ledger, "order", AT, "{\"order\":\"O1\",\"joint_distance_mm\":101}");
        record(ledger, "order", AT, "{\"order\":\"O2\"}");
        record(ledger, "run", AT,
               "{\"run\":\"X1\",\"process\":\"cut\",\"machine\":\"CUT\",\"tolerance_ppm\":0,\"order\":\"O1\",\"lines\":"
               "[{"
               "\"line\":\"1\",\"feeds\":[{\"lot\":\"R\",\"from_mm\":4000,\"to_mm\":6000}]}],\"packages\":[{\"lot\":"
               "\"RL1\","
               "\"kind\":\"reel\",\"length_mm\":2000,\"diameter_um\":16000}]}");
        expect_of(kw_answer_joints, "RL1",
                  SAYS("\"distance\":{\"order\":\"O1\",\"spec\":null,\"version\":null,\"multiple\":null,\"of_um\":null,"
                       "\"gap_mm\":101}",
                       "\"gap_mm\":100,\"sure\":\"surely\"}]"));
        record(ledger, "run", AT,
               "{\"run\":\"X2\",\"process\":\"cut\",\"machine\":\"CUT\",\"tolerance_ppm\":0,\"order\":\"O2\",\"lines\":"
               "[{"
               "\"line\":\"1\",\"feeds\":[{\"lot\":\"R\",\"from_mm\":0,\"to_mm\":4000}]}],\"packages\":[{\"lot\":"
               "\"RL2\","
               "\"kind\":\"reel\",\"length_mm\":4000,\"diameter_um\":16000}]}");
        expect_of(kw_answer_joints, "RL2", SAYS("\"distance\":{\"order\":null,\"spec\":\"RP\""));
        kw_ledger_close(ledger);
}
END_TEST

START_TEST(joints_possibly_near)
{
        /* W1 may lie at 4500 to 5500, W2 at 4410 to 5390 */
        rope(100000);
        record(ledger, "spec", AT, JOINTS("1", ",\"joint_multiple\":18"));
        expect_of(kw_answer_joints, "R", SAYS("\"strand\":\"close 1\",\"gap_mm\":100,\"sure\":\"possibly\"}]"));
        /* on the strand itself there is no way in to name */
        record(ledger, "spec", AT,
               "{\"spec\":\"ST\",\"version\":1,\"what\":\"strand\",\"limits\":{},\"tests\":[],\"joint_multiple\":18,"
               "\"joint_of_um\":16000}");
        expect_of(kw_answer_joints, "X", SAYS("\"near\":[{\"a\":\"W1\",\"b\":\"W2\",\"strand\":null,\"gap_mm\":100,"));
        kw_ledger_close(ledger);
}
END_TEST

START_TEST(judged)
{
        rope(0);
        record(ledger, "spec", AT,
               "{\"spec\":\"W\",\"version\":7,\"what\":\"wire\",\"tests\":[],\"limits\":{\"tensile_kpa\":{\"min\":"
               "1770000,"
               "\"max\":2090000},\"bends\":{\"min\":9},\"torsions\":{\"max\":40}}}");
        test("T1", "A1", "\"tensile_kpa\":2000000,\"bends\":8,\"lay_um\":3");
        expect_of(
                kw_answer_lot, "A1",
                SAYS("\"verdict\":\"fail\",\"said\":null,\"judged\":{\"spec\":\"W\",\"version\":7,\"verdict\":\"fail\","
                     "\"margins\":[{\"property\":\"bends\",\"value\":8,\"min\":9,\"max\":null,\"margin\":-1},"
                     "{\"property\":\"tensile_kpa\",\"value\":2000000,\"min\":1770000,\"max\":2090000,"
                     "\"margin\":90000}]}"));
        test("T2", "R", "\"breaking_n\":1");
        expect_of(kw_answer_lot, "R", SAYS("\"verdict\":null,\"said\":null,\"judged\":null"));
        kw_ledger_close(ledger);
}
END_TEST

START_TEST(lists)
{
        rope(0);
        expect_all(kw_answer_specs, SAYS("{\"specs\":[]}"));
        expect_all(kw_answer_instruments, SAYS("{\"instruments\":[]}"));
        record(ledger, "spec", AT,
               JOINTS("2", ",\"heats\":\"one\",\"tolerance_ppm\":{\"close\":5000},\"source\":\"from memory\""));
        record(ledger, "spec", AT,
               JOINTS("1", ",\"grade\":\"B\",\"diameter_from_um\":9"
                           "000,\"construction\":\"6x7-FC\""));
        expect_all(kw_answer_specs,
                   SAYS("{\"specs\":[{\"spec\":\"RP\",\"version\":1,\"stands\":false,\"what\":\"rope\",\"grade\":\"B\","
                        "\"construction\":\"6x7-FC\",\"diameter_from_um\":9000,\"diameter_below_um\":null,",
                        "\"version\":2,\"stands\":true,",
                        "\"heats\":\"one\",\"tolerance_ppm\":{\"close\":5000},\"source\":\"from memory\""));
        record(ledger, "instrument", AT, "{\"instrument\":\"U1\",\"what\":\"tensile machine\"}");
        record(ledger, "instrument", AT,
               "{\"instrument\":\"U1\",\"what\":\"tensile machine\",\"valid_until\":\"2027-01-01T00:00:00Z\"}");
        record(ledger, "test", AT, "{\"test\":\"T1\",\"lot\":\"A1\",\"instrument\":\"U1\",\"results\":{\"bends\":8}}");
        expect_all(kw_answer_instruments,
                   SAYS("\"instrument\":\"U1\",\"what\":\"tensile machine\",\"calibrated\":null,\"valid_until\":"
                        "\"2027-01-01T00:00:00Z\",\"found\":null,\"note\":null,\"last_used\":\"" AT
                        "\",\"entries\":2,"));
        kw_ledger_close(ledger);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, strength);
        tcase_add_test(tests, strength_by_run);
        tcase_add_test(tests, joints_near);
        tcase_add_test(tests, joints_near_by_order);
        tcase_add_test(tests, joints_possibly_near);
        tcase_add_test(tests, judged);
        tcase_add_test(tests, lists);
}

int main(void)
{
        return run_suite("answers about quality", add);
}
