/*
 * Every answer with the 1st, 2nd, ... n-th allocation failing, until all goes well: each time it says so or is the
 * right one, and nothing is lost.
 */
#include "failing.h"
#include "recorder.h"
#include "small_mill.h"
#include "suite.h"

#include <errno.h>
#include <string.h>

static int trace(struct kw_ledger *l, const char *origin, const char *direction, enum kw_trace_as as,
                 struct kw_buf *out)
{
        struct kw_trace_writer w = {.as = as};
        struct kw_trace_answer *answer = NULL;
        struct kw_error err;
        struct kw_question q;
        int rc = kw_question_read(origin, direction, &q, &err);

        if (rc == 0)
                rc = kw_trace_ask(l, &q, &answer, &err);
        if (rc)
                return rc;
        w.answer = answer;
        while ((rc = kw_trace_write(&w, out)) == 1)
                ;
        kw_trace_answer_free(answer);
        return rc;
}

static int chart(struct kw_ledger *l, const char *heat, bool csv, struct kw_buf *out)
{
        const struct kw_chart_question q = {.property = "bends",
                                            .since = INT64_MIN,
                                            .until = INT64_MAX,
                                            .heat = heat,
                                            .tensile_kpa = INT64_MIN,
                                            .from_um = INT64_MIN,
                                            .below_um = INT64_MIN,
                                            .limit = 100,
                                            .csv = csv};
        struct kw_error err;

        return kw_answer_chart(l, &q, out, &err);
}

static int answer(struct kw_ledger *l, int i, struct kw_buf *out)
{
        const struct kw_entry_filter filter = {.limit = 5, .code = "P2"};
        struct kw_error err;

        switch (i) {
        case 0:
                return trace(l, "consignment:N1", "kin", KW_AS_JSON, out);
        case 1:
                return trace(l, "test:F3", "forward", KW_AS_CSV, out);
        case 2:
                return trace(l, "batch:CB", "back", KW_AS_TABLE, out);
        case 3:
                return trace(l, "machine:M1", "forward", KW_AS_JSON, out);
        case 4:
                return trace(l, "machine:PICKLE", "back", KW_AS_JSON, out);
        case 5:
                return kw_answer_lot(l, "P3", out, &err);
        case 6:
                return kw_answer_lot(l, "C", out, &err);
        case 7:
                return kw_answer_makeup(l, "Z", "heat", NULL, out, &err);
        case 8:
                return kw_answer_joints(l, "P3", out, &err);
        case 9:
                return kw_answer_balance(l, "P3", out, &err);
        case 10:
                return kw_answer_thing(l, "run", "D1", out, &err);
        case 11:
                return kw_answer_find(l, "P", out, &err);
        case 12:
                return kw_answer_attention(l, out, &err);
        case 13:
                return kw_answer_holds(l, "any", 0, 100, out, &err);
        case 14:
                return kw_answer_entries(l, &filter, out, &err);
        case 15:
                return kw_answer_entry(l, 3, out, &err);
        case 16:
                return kw_answer_inclusion(l, 1, 5, out, &err);
        case 17:
                return kw_answer_strength(l, "P3", out, &err);
        case 18:
                return kw_answer_specs(l, out, &err);
        case 19:
                return kw_answer_instruments(l, out, &err);
        case 20:
                return kw_answer_lot(l, "P2", out, &err);
        case 21:
                return kw_answer_certificate(l, "K1", out, &err);
        case 22:
                return kw_answer_certificates(l, 0, 10, true, out, &err);
        case 23:
                return kw_answer_certifiable(l, &(struct kw_certify_question){"P2,P3,Z", "3.1", NULL}, out, &err);
        case 24:
                return chart(l, "H1", false, out);
        case 25:
                return chart(l, NULL, true, out);
        case 26:
                return kw_answer_instrument(l, "TO", out, &err);
        case 27:
                return kw_answer_judged(l, "J1", "W", 1, out, &err);
        default:
                return trace(l, "weld:W1", "back", KW_AS_JSON, out);
        }
}

#define ANSWERS 29

static void again(struct kw_ledger *ledger, int i, struct kw_buf *good)
{
        for (int n = 1, failed = 1; failed; n++) {
                struct kw_buf out = {0};
                long before = held, lost;
                int rc;
                bool same;

                fail_at = n;
                calls = 0;
                rc = answer(ledger, i, &out);
                failed = calls >= fail_at;
                fail_at = 0;
                same = rc != 0 || strcmp(kw_buf_text(&out), kw_buf_text(good)) == 0;
                kw_buf_free(&out);
                lost = held - before; /* before the assertions, which allocate too */
                ck_assert_msg(rc == 0 || rc == -ENOMEM || rc == KW_INTERNAL, "answer %d, allocation %d: %d", i, n, rc);
                ck_assert_msg(same, "answer %d, allocation %d: another answer", i, n);
                ck_assert_msg(lost == 0, "answer %d, allocation %d: %ld lost", i, n, lost);
        }
}

START_TEST(every_allocation)
{
        struct kw_ledger *ledger = small_mill();
        struct kw_error err = {0};
        struct kw_buf good = {0};

        record(ledger, "hold", "2026-03-03T08:00:00Z",
               "{\"hold\":\"HD1\",\"reason\":\"r\",\"lots\":[{\"lot\":\"P3\",\"from_mm\":0,\"to_mm\":1000},{\"lot\":"
               "\"P1\"}]}");
        record(ledger, "release", "2026-03-03T08:00:00Z",
               "{\"hold\":\"HD1\",\"disposition\":\"rework\",\"reason\":\"r\",\"lots\":[{\"lot\":\"P1\"}]}");
        record(ledger, "scrap", "2026-03-03T08:00:00Z",
               "{\"lot\":\"P3\",\"from_mm\":4000,\"to_mm\":5000,\"reason\":\"r\"}");
        record(ledger, "spec", "2026-03-03T08:00:00Z",
               "{\"spec\":\"W\",\"version\":1,\"what\":\"wire\",\"limits\":{\"bends\":{\"min\":9}},\"tests\":[],"
               "\"joint_multiple\":18,\"joint_of_um\":100000,\"tolerance_ppm\":{\"draw\":1}}");
        record(ledger, "instrument", "2026-03-03T08:00:00Z", "{\"instrument\":\"TO\",\"what\":\"torsion tester\"}");
        record(ledger, "test", "2026-03-03T08:00:00Z",
               "{\"test\":\"J1\",\"lot\":\"P2\",\"results\":{\"bends\":8,\"breaking_n\":900}}");
        record(ledger, "note", "2026-03-03T08:00:00Z", "{\"about\":\"lot:P3\",\"text\":\"t\"}");
        record(ledger, "hold", "2026-03-03T08:00:00Z", "{\"hold\":\"HD2\",\"reason\":\"r\",\"lots\":[\"Z\"]}");
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_int_eq(answer(ledger, _i, &good), 0);
        again(ledger, _i, &good);
        kw_ledger_done(ledger);
        kw_buf_free(&good);
        kw_ledger_close(ledger);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_allocation, 0, ANSWERS);
}

int main(void)
{
        return run_suite("answers' memory", add);
}
