/*
 * What is measured: readings and their mean and range, retests, the tensile grade, the tolerance that a specification
 * gives a run, calibrations found bad, and charts. After each story the ledger verifies: replaying gives the same.
 */
#include "recorder.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define DAY "2026-03-01T08:00:00Z"

static struct kw_ledger *ledger;

static void set_up(void)
{
        ledger = recorder_new();
        record(ledger, "heat", DAY, "{\"heat\":\"H1\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"C1\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":2000,\"length_mm\":100000}");
        record(ledger, "receive", DAY,
               "{\"lot\":\"C2\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":2000,\"length_mm\":100000}");
}

static void tear_down(void)
{
        struct kw_error err = {0};
        int64_t wrong;
        int rc = kw_ledger_verify(ledger, NULL, NULL, &wrong, &err);

        ck_assert_msg(rc == 0, "%s", err.text);
        kw_ledger_close(ledger);
}

static void says(const char *text, const char *piece)
{
        ck_assert_msg(strstr(text, piece) != NULL, "no %s in %s", piece, text);
}

/* The answer about a lot has @piece in it. */
static void lot_says(const char *lot, const char *piece)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(kw_answer_lot(ledger, lot, &out, &err) == 0, "%s", err.text);
        kw_ledger_done(ledger);
        says(kw_buf_text(&out), piece);
        kw_buf_free(&out);
}

static void test(const char *code, const char *lot, const char *more)
{
        char body[400];

        snprintf(body, sizeof(body), "{\"test\":\"%s\",\"lot\":\"%s\",%s}", code, lot, more);
        record(ledger, "test", DAY, body);
}

/* --- readings ------------------------------------------------------------------------------------------------- */

START_TEST(readings)
{
        /* rope of 16 mm: mean 16 to 16.8, and any two readings within 4 % (EN 12385-4:2002) */
        record(ledger, "receive", DAY,
               "{\"lot\":\"R1\",\"kind\":\"reel\",\"heat\":\"H1\",\"diameter_um\":16000,\"length_mm\":100000}");
        record(ledger, "spec", DAY,
               "{\"spec\":\"ROPE\",\"version\":1,\"what\":\"rope\",\"tests\":[],\"limits\":{\"diameter_um\":{\"min\":"
               "16000,"
               "\"max\":16800},\"diameter_range_um\":{\"max\":640}}}");
        test("T1", "R1", "\"readings\":{\"diameter_um\":[16350,16410,16390,16355]}");
        lot_says("R1", "\"results\":{\"diameter_range_um\":60,\"diameter_um\":16376}");
        lot_says("R1", "\"verdict\":\"pass\",\"said\":null");
        /* each reading is within, but two of them are too far apart */
        test("T2", "R1", "\"readings\":{\"diameter_um\":[16050,16700,16400,16400]},\"results\":{\"lay_um\":100000}");
        lot_says("R1", "{\"property\":\"diameter_range_um\",\"value\":650,\"min\":null,\"max\":640,\"margin\":-10}");
        lot_says("R1", "\"lay_um\":100000");
        ck_assert_int_eq(record_refused(ledger, "test", DAY,
                                        "{\"test\":\"T3\",\"lot\":\"R1\",\"readings\":{\"diameter_um\":[1,2]},"
                                        "\"results\":{\"diameter_um\":1}}"),
                         KW_BAD_VALUE);
        ck_assert_int_eq(record_refused(ledger, "test", DAY,
                                        "{\"test\":\"T3\",\"lot\":\"R1\",\"readings\":{\"diameter_um\":[1,2]},"
                                        "\"results\":{\"diameter_range_um\":1}}"),
                         KW_BAD_VALUE);
        ck_assert_int_eq(record_refused(ledger, "test", DAY,
                                        "{\"test\":\"T3\",\"lot\":\"R1\",\"readings\":{\"diameter_um\":[1,2],"
                                        "\"diameter_range_um\":[1,2]}}"),
                         KW_BAD_VALUE);
}
END_TEST

/* --- retests -------------------------------------------------------------------------------------------------- */

static void expect_trace(const char *origin, const char *piece)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_question q;

        ck_assert_int_eq(kw_question_read(origin, "forward", &q, &err), 0);
        ask_trace(ledger, &q, KW_AS_JSON, &out);
        says(kw_buf_text(&out), piece);
        kw_buf_free(&out);
}

START_TEST(retests)
{
        record(ledger, "run", DAY,
               "{\"run\":\"D1\",\"process\":\"wind\",\"machine\":\"W\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
               "\"C1\"}]}],\"packages\":[{\"lot\":\"P1\",\"kind\":\"bobbin\",\"length_mm\":40000},{\"lot\":\"P2\","
               "\"kind\":\"bobbin\",\"length_mm\":60000}]}");
        test("T1", "P1", "\"at_mm\":20000,\"results\":{\"torsions\":20},\"verdict\":\"fail\"");
        test("T2", "P2", "\"at_mm\":10000,\"results\":{\"torsions\":30},\"verdict\":\"pass\"");
        expect_trace("test:T1", "{\"lot\":\"P2\",\"certain\":[],\"possible\":[[0,10000]]}");
        /* two good retests beside it: the verdict stays, and so does what is in doubt */
        test("T3", "P1", "\"at_mm\":20500,\"results\":{\"torsions\":30},\"verdict\":\"pass\",\"retest_of\":\"T1\"");
        test("T4", "P1", "\"at_mm\":21000,\"results\":{\"torsions\":31},\"verdict\":\"pass\",\"retest_of\":\"T3\"");
        lot_says("P1", "\"test\":\"T1\",\"at_mm\":20000,\"sample_mm\":null,\"instrument\":null,\"retest_of\":null,"
                       "\"verdict\":\"fail\"");
        lot_says("P1", "\"test\":\"T4\",\"at_mm\":21000,\"sample_mm\":null,\"instrument\":null,\"retest_of\":\"T3\"");
        expect_trace("test:T1", "{\"lot\":\"P2\",\"certain\":[],\"possible\":[[0,10000]]}");
        /* a test that is no retest is a good sample beside it */
        test("T5", "P1", "\"at_mm\":30000,\"results\":{\"torsions\":30},\"verdict\":\"pass\"");
        expect_trace("test:T1", "\"possible\":[[0,40000]]}],\"lots\":[");
        ck_assert_int_eq(
                record_refused(ledger, "test", DAY,
                               "{\"test\":\"T9\",\"lot\":\"P2\",\"results\":{\"torsions\":1},\"retest_of\":\"T1\"}"),
                KW_BAD_VALUE);
        ck_assert_int_eq(
                record_refused(ledger, "test", DAY,
                               "{\"test\":\"T9\",\"lot\":\"P1\",\"results\":{\"bends\":1},\"retest_of\":\"T1\"}"),
                KW_BAD_VALUE);
        ck_assert_int_eq(
                record_refused(ledger, "test", DAY,
                               "{\"test\":\"T9\",\"lot\":\"P1\",\"results\":{\"torsions\":1},\"retest_of\":\"T8\"}"),
                KW_UNKNOWN_TEST);
}
END_TEST

/* A retest leans on its test: to void the test that it repeats is refused, to correct it is not. */
START_TEST(a_repeated_test_put_right)
{
        char first[40], body[300];

        test("T1", "C1", "\"results\":{\"torsions\":20},\"verdict\":\"fail\"");
        snprintf(first, sizeof(first), "%s", recorder_key());
        test("T2", "C1", "\"results\":{\"torsions\":30},\"retest_of\":\"T1\"");
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\"}", first);
        ck_assert_int_ne(record_refused(ledger, "void", DAY, body), 0);
        snprintf(body, sizeof(body),
                 "{\"entry\":\"%s\",\"reason\":\"r\",\"body\":{\"test\":\"T1\",\"lot\":\"C1\",\"results\":{"
                 "\"torsions\":19},"
                 "\"verdict\":\"fail\"}}",
                 first);
        record(ledger, "correct", DAY, body);
        lot_says("C1", "\"retest_of\":\"T1\"");
        lot_says("C1", "\"torsions\":19");
}
END_TEST

/* --- the tensile grade ---------------------------------------------------------------------------------------- */

#define RUN(run, process, more, feeds, packages)                                                            \
        "{\"run\":\"" run "\",\"process\":\"" process "\",\"machine\":\"M\"" more ",\"lines\":[" feeds "]," \
        "\"packages\":[" packages "]}"
#define LINE(n, lot)       "{\"line\":\"" n "\",\"feeds\":[{\"lot\":\"" lot "\"}]}"
#define MADE(lot, kind, n) "{\"lot\":\"" lot "\",\"kind\":\"" kind "\",\"length_mm\":" n "}"

START_TEST(tensile_grade)
{
        record(ledger, "run", DAY,
               RUN("D1", "draw", "", LINE("1", "C1"),
                   "{\"lot\":\"B1\",\"kind\":\"bobbin\",\"length_mm\":400000,\"diameter_um\":1000,"
                   "\"tensile_grade_kpa\":1770000}"));
        record(ledger, "order", DAY, "{\"order\":\"O1\",\"tensile_grade_kpa\":1770000}");
        record(ledger, "run", DAY,
               RUN("D2", "draw", ",\"order\":\"O1\"", LINE("1", "C2"),
                   "{\"lot\":\"B2\",\"kind\":\"bobbin\",\"length_mm\":400000,\"diameter_um\":1000}"));
        record(ledger, "supply", DAY, "{\"supply\":\"F1\",\"what\":\"fibre core\",\"supplier\":\"Tarn\"}");
        record(ledger, "receive", DAY, "{\"lot\":\"FC\",\"kind\":\"core\",\"supply\":\"F1\",\"length_mm\":400000}");
        lot_says("B1", "\"tensile_grade_kpa\":1770000");
        lot_says("B2", "\"tensile_grade_kpa\":1770000");
        record(ledger, "run", DAY,
               RUN("S1", "strand", "", LINE("1", "B1") "," LINE("2", "B2") "," LINE("core", "FC"),
                   MADE("S1", "strand", "400000")));
        /* as the wires laid in it; the fibre core is not asked */
        lot_says("S1", "\"tensile_grade_kpa\":1770000");
        record(ledger, "receive", DAY,
               "{\"lot\":\"S9\",\"kind\":\"strand\",\"heat\":\"H1\",\"length_mm\":400000,\"tensile_grade_kpa\":"
               "1960000}");
        record(ledger, "run", DAY,
               RUN("K1", "close", "", LINE("1", "S1") "," LINE("2", "S9"), MADE("R1", "rope", "400000")));
        lot_says("R1", "\"tensile_grade_kpa\":null");
}
END_TEST

START_TEST(drawn_wire_is_another_wire)
{
        record(ledger, "receive", DAY,
               "{\"lot\":\"C9\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":2000,\"length_mm\":100000,"
               "\"tensile_grade_kpa\":1370000}");
        record(ledger, "run", DAY,
               RUN("D1", "draw", "", LINE("1", "C9"),
                   "{\"lot\":\"B1\",\"kind\":\"bobbin\",\"length_mm\":400000,\"diameter_um\":1000}"));
        lot_says("B1", "\"tensile_grade_kpa\":null");
        /* a specification for a tensile grade is not for a wire of which it is not known */
        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":1,\"what\":\"wire\",\"tests\":[],\"tensile_grade_kpa\":1370000,"
               "\"limits\":{\"torsions\":{\"min\":30}}}");
        test("T1", "B1", "\"results\":{\"torsions\":20}");
        test("T2", "C9", "\"results\":{\"torsions\":20}");
        lot_says("B1", "\"test\":\"T1\",\"at_mm\":null,\"sample_mm\":null,\"instrument\":null,\"retest_of\":null,"
                       "\"verdict\":null");
        lot_says("C9", "\"verdict\":\"fail\"");
}
END_TEST

/* --- the tolerance of a run's lengths -------------------------------------------------------------------------- */

static void stored_says(int64_t seq, const char *piece)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(kw_answer_entry(ledger, seq, &out, &err) == 0, "%s", err.text);
        kw_ledger_done(ledger);
        says(kw_buf_text(&out), piece);
        kw_buf_free(&out);
}

static int64_t size(void)
{
        struct kw_head head;
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_head(ledger, &head, &err), 0);
        return head.size;
}

#define SPEC(spec, version, what, more)                                                                   \
        "{\"spec\":\"" spec "\",\"version\":" version ",\"what\":\"" what "\",\"tests\":[],\"limits\":{}" \
        "," more "}"

START_TEST(tolerance_by_specification)
{
        record(ledger, "spec", DAY, SPEC("W", "1", "wire", "\"tolerance_ppm\":{\"wind\":20000,\"draw\":5000}"));
        record(ledger, "spec", DAY,
               SPEC("W2", "1", "wire", "\"diameter_below_um\":1500,\"tolerance_ppm\":{\"draw\":3000}"));
        /* the closest specification for what is made; what it says of the process */
        record(ledger, "run", DAY,
               RUN("D1", "draw", "", LINE("1", "C1"),
                   "{\"lot\":\"B1\",\"kind\":\"bobbin\",\"length_mm\":400000,\"diameter_um\":1000}"));
        stored_says(size(), "\"tolerance_by\":{\"spec\":\"W2\",\"version\":1},\"tolerance_ppm\":3000");
        /* the diameter of what was wound is that of what went in: W2 says nothing of winding */
        record(ledger, "run", DAY, RUN("R1", "wind", "", LINE("1", "B1"), MADE("B9", "bobbin", "400000")));
        stored_says(size(), "\"process\":\"wind\",\"run\":\"R1\"}");
        record(ledger, "run", DAY,
               RUN("R2", "wind", "",
                   "{\"line\":\"1\",\"feeds\":[{\"lot\":\"C2\",\"take_mm\":50000},{\"lot\":\"C2\",\"weld\":\"W1\"}]}",
                   MADE("B2", "bobbin", "100000")));
        stored_says(size(), "\"tolerance_by\":{\"spec\":\"W\",\"version\":1},\"tolerance_ppm\":20000");
        /* W1 may be 2 % of 50 m from where it lies, and 50 mm each way are touched */
        expect_trace("weld:W1", "\"possible\":[[48951,51049]]");
        /* a later version changes nothing of it */
        record(ledger, "spec", DAY, SPEC("W", "2", "wire", "\"tolerance_ppm\":{\"wind\":1000}"));
        expect_trace("weld:W1", "\"possible\":[[48951,51049]]");
}
END_TEST

START_TEST(tolerance_stated)
{
        record(ledger, "spec", DAY, SPEC("W", "1", "wire", "\"tolerance_ppm\":{\"wind\":20000}"));
        record(ledger, "run", DAY,
               RUN("R1", "wind", ",\"tolerance_ppm\":7000", LINE("1", "C1"), MADE("B1", "bobbin", "100000")));
        stored_says(size(), "\"run\":\"R1\",\"tolerance_ppm\":7000}");
        /* what was said for another tolerance, or by nobody, is not kept */
        record(ledger, "run", DAY,
               RUN("R2", "wind", ",\"tolerance_ppm\":7000,\"tolerance_by\":{\"spec\":\"W\",\"version\":1}",
                   "{\"line\":\"1\",\"feeds\":[{\"lot\":\"C2\",\"take_mm\":50000}]}", MADE("B2", "bobbin", "50000")));
        stored_says(size(), "\"run\":\"R2\",\"tolerance_ppm\":7000}");
        record(ledger, "run", DAY,
               RUN("R3", "wind", ",\"tolerance_ppm\":20000,\"tolerance_by\":{\"spec\":\"W\",\"version\":1}",
                   "{\"line\":\"1\",\"feeds\":[{\"lot\":\"C2\",\"take_mm\":1000}]}", MADE("B3", "bobbin", "1000")));
        stored_says(size(), "\"tolerance_by\":{\"spec\":\"W\",\"version\":1},\"tolerance_ppm\":20000");
}
END_TEST

START_TEST(tolerance_of_a_run_that_begins)
{
        record(ledger, "spec", DAY,
               SPEC("ST", "1", "strand", "\"construction\":\"1x19S\",\"tolerance_ppm\":{\"strand\":4000}"));
        record(ledger, "order", DAY, "{\"order\":\"O1\",\"construction\":\"1x19S\"}");
        record(ledger, "open", DAY,
               "{\"run\":\"S1\",\"process\":\"strand\",\"machine\":\"M\",\"order\":\"O1\",\"lines\":[\"1\"]}");
        stored_says(size(), "\"tolerance_by\":{\"spec\":\"ST\",\"version\":1},\"tolerance_ppm\":4000");
        record(ledger, "open", DAY, "{\"run\":\"S2\",\"process\":\"strand\",\"machine\":\"M2\",\"lines\":[\"1\"]}");
        stored_says(size(), "\"process\":\"strand\",\"run\":\"S2\"}");
}
END_TEST

/* --- calibrations ---------------------------------------------------------------------------------------------- */

#define UTM(more) "{\"instrument\":\"UTM-1\",\"what\":\"tensile machine\"" more "}"

START_TEST(found_bad)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};

        record(ledger, "instrument", DAY, UTM(",\"calibrated\":\"2026-01-01T00:00:00Z\",\"found\":\"good\""));
        record(ledger, "instrument", DAY, UTM(",\"calibrated\":\"2026-02-01T00:00:00Z\""));
        test("T1", "C1", "\"results\":{\"torsions\":30},\"instrument\":\"UTM-1\"");
        record(ledger, "instrument", DAY, UTM(",\"calibrated\":\"2026-03-02T00:00:00Z\",\"found\":\"bad\""));
        /* until it is calibrated again it measures nothing that counts */
        test("T2", "C1", "\"results\":{\"torsions\":30},\"instrument\":\"UTM-1\"");
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_int_eq(kw_answer_instrument(ledger, "UTM-1", &out, &err), 0);
        says(kw_buf_text(&out), "\"found\":\"bad\",\"note\":null,\"doubtful\":{\"since\":\"2026-02-01T00:00:00Z\","
                                "\"until\":null}");
        says(kw_buf_text(&out), "\"outside\":[{\"test\":\"T2\",\"lot\":\"C1\"");
        kw_buf_clear(&out);
        ck_assert_int_eq(kw_answer_instrument(ledger, "UTM-9", &out, &err), KW_NOT_FOUND);
        kw_ledger_done(ledger);
        record(ledger, "instrument", DAY, UTM(",\"calibrated\":\"2026-03-03T00:00:00Z\",\"found\":\"good\""));
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        kw_buf_clear(&out);
        ck_assert_int_eq(kw_answer_instrument(ledger, "UTM-1", &out, &err), 0);
        says(kw_buf_text(&out), "\"doubtful\":{\"since\":\"2026-02-01T00:00:00Z\",\"until\":\"2026-03-03T00:00:00Z\"}");
        kw_ledger_done(ledger);
        kw_buf_free(&out);
}
END_TEST

/* --- the same test by another version -------------------------------------------------------------------------- */

START_TEST(judged_again)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};

        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":1,\"what\":\"wire\",\"tests\":[],\"limits\":{\"torsions\":{\"min\":25}}}");
        test("T1", "C1", "\"results\":{\"torsions\":27}");
        record(ledger, "spec", DAY,
               "{\"spec\":\"W\",\"version\":2,\"what\":\"wire\",\"tests\":[],\"limits\":{\"torsions\":{\"min\":28}}}");
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_int_eq(kw_answer_judged(ledger, "T1", "W", 0, &out, &err), 0);
        says(kw_buf_text(&out), "\"recorded\":{\"verdict\":\"pass\",\"spec\":\"W\",\"version\":1},\"spec\":\"W\","
                                "\"version\":2,\"fits\":true,\"verdict\":\"fail\"");
        says(kw_buf_text(&out), "\"margin\":-1}");
        kw_buf_clear(&out);
        ck_assert_int_eq(kw_answer_judged(ledger, "T1", "W", 1, &out, &err), 0);
        says(kw_buf_text(&out), "\"verdict\":\"pass\",\"margins\":");
        kw_buf_clear(&out);
        ck_assert_int_eq(kw_answer_judged(ledger, "T1", "W", 3, &out, &err), KW_NOT_FOUND);
        ck_assert_int_eq(kw_answer_judged(ledger, "T9", "W", 1, &out, &err), KW_NOT_FOUND);
        kw_ledger_done(ledger);
        lot_says("C1", "\"verdict\":\"pass\"");
        kw_buf_free(&out);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_test(tests, readings);
        tcase_add_test(tests, retests);
        tcase_add_test(tests, a_repeated_test_put_right);
        tcase_add_test(tests, tensile_grade);
        tcase_add_test(tests, drawn_wire_is_another_wire);
        tcase_add_test(tests, tolerance_by_specification);
        tcase_add_test(tests, tolerance_stated);
        tcase_add_test(tests, tolerance_of_a_run_that_begins);
        tcase_add_test(tests, found_bad);
        tcase_add_test(tests, judged_again);
}

int main(void)
{
        return run_suite("measured", add);
}
