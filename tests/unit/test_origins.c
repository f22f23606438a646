/*
 * Where a trace starts: every type of origin on a small mill whose answers can be worked out on paper.
 *
 * An answer is told as "LOT certain/possible" a lot, in the answer's order; spans as from-to, "-" for none.
 */
#include "recorder.h"
#include "small_mill.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

static const struct {
        const char *origin, *direction, *since, *until; /* times of 1 March, "" where not bounded */
        const char *answer;
} cases[] = {
        {"heat:H1", "forward", NULL, NULL, "A 0-10000/0-10000 P1 0-5000/0-5000 P2 0-5000/0-5000"},
        {"lot:W", "forward", NULL, NULL, "W 0-5000/0-5000"},
        {"run:D2", "forward", NULL, NULL, "Q1 0-1000/0-1000"},
        {"run:D2", "back", NULL, NULL, "C 1000-2000/1000-2000 Q1 0-1000/0-1000"},
        /* what was left of C at 09:00: not the first 200 mm, and what was scrapped later still there */
        {"batch:CB", "back", NULL, NULL, "B 0-4000/0-4000 C 200-10000/200-10000"},
        {"batch:GB", "forward", NULL, NULL, "Z 0-5000/0-5000"},
        {"weld:W1", "forward", NULL, NULL, "P2 4900-5000/4900-5000 P3 0-100/0-100"},
        {"supply:SOAP", "forward", NULL, NULL,
         "P1 0-5000/0-5000 P2 0-5000/0-5000 P3 0-5000/0-5000 P4 0-5000/0-5000 Z 0-5000/0-5000"},
        {"supply:WIRE", "forward", NULL, NULL, "W 0-5000/0-5000"},
        {"certificate:K1", "back", NULL, NULL, "B 0-5000/0-5000 P4 0-5000/0-5000 Z 0-5000/0-5000"},
        {"consignment:N1", "forward", NULL, NULL, "Z 0-5000/0-5000"},
        {"consignment:N1", "kin", NULL, NULL,
         "B 0-10000/0-10000 C 0-10000/0-10000 E 0-1000/0-1000 P3 0-5000/0-5000 P4 0-5000/0-5000 Q1 0-1000/0-1000 Z "
         "0-5000/0-5000"},
        {"lot:W", "kin", NULL, NULL, "W 0-5000/0-5000"},
        /* tests: between the good ones on either side; the run's ends; a good one somewhere on its lot; a bad one
           likewise */
        {"test:T1", "forward", NULL, NULL, "P1 0-5000/0-5000"},
        {"test:F1", "forward", NULL, NULL, "P1 -/4000-5000 P2 0-5000/0-5000"},
        {"test:F2", "forward", NULL, NULL, "P1 -/0-5000 P2 0-5000/0-5000 P3 -/0-5000"},
        {"test:F3", "forward", NULL, NULL, "P1 -/4000-5000 P2 0-5000/0-5000 P3 -/0-5000 P4 -/0-5000 Z -/0-5000"},
        {"test:F4", "forward", NULL, NULL, "P1 -/0-5000 P2 0-5000/0-5000 P3 -/0-5000 P4 -/0-5000 Z -/0-5000"},
        {"test:F5", "back", NULL, NULL, "A 0-10000/0-10000"},
        {"instrument:TO", "forward", "", "", "P1 0-5000/0-5000 P2 0-5000/0-5000"},
        {"instrument:TO", "forward", "2026-03-02T08:30:00Z", "2026-03-02T09:00:00Z", "P2 0-5000/0-5000"},
        {"instrument:TO", "forward", "2026-03-02T09:00:01Z", "", ""},
        /* machines: a lot without its own time was wound between those of its neighbours */
        {"machine:M1", "back", "2026-03-01T13:00:00Z", "2026-03-01T15:00:00Z",
         "A 0-5000/0-5000 B 5000-10000/5000-10000 P2 0-5000/0-5000 P3 0-5000/0-5000"},
        {"machine:M1", "forward", "2026-03-01T14:00:00Z", "2026-03-01T15:30:00Z",
         "P2 -/0-5000 P3 -/0-5000 P4 -/0-5000 Z -/0-5000"},
        {"machine:M1", "forward", "2026-03-01T13:00:00Z", "2026-03-01T13:00:00Z",
         "P1 -/0-5000 P2 -/0-5000 P3 -/0-5000"},
        /* D2 began after D1 had ended, and was over at 18:00 */
        {"machine:M1", "forward", "2026-03-01T16:00:00Z", "2026-03-01T18:00:00Z", "Q1 0-1000/0-1000"},
        {"machine:M1", "forward", "2026-03-01T17:00:00Z", "2026-03-01T19:00:00Z", "Q1 -/0-1000"},
        {"machine:M1", "forward", "2026-03-01T18:00:00Z", "2026-03-01T19:00:00Z", ""},
        /* nobody knows when E1 began */
        {"machine:M9", "forward", "2026-03-01T09:00:00Z", "2026-03-01T11:00:00Z", "E -/0-1000"},
        {"machine:M9", "forward", "", "2026-03-01T11:00:00Z", "E 0-1000/0-1000"},
        {"machine:M9", "forward", "2026-03-01T10:00:01Z", "", ""},
        /* batches: the lots treated, and lots made under them elsewhere */
        {"machine:PICKLE", "back", "2026-03-01T09:00:00Z", "2026-03-01T10:00:00Z",
         "B 0-4000/0-4000 C 200-10000/200-10000"},
        {"machine:PICKLE", "back", "2026-03-01T09:30:00Z", "", "B -/0-4000 C -/200-10000"},
        {"machine:POT", "forward", "2026-03-01T20:00:00Z", "2026-03-01T21:00:00Z", "Z 0-5000/0-5000"},
        {"machine:POT", "forward", "", "2026-03-01T20:30:00Z", "Z -/0-5000"},
        {"machine:LINE-2", "forward", "2026-03-01T21:00:00Z", "", ""},
};

static void tell_spans(struct kw_buf *out, const cJSON *spans)
{
        const cJSON *span;
        bool any = false;

        cJSON_ArrayForEach(span, spans)
        {
                kw_buf_printf(out, "%s%.0f-%.0f", any ? "," : "", cJSON_GetArrayItem(span, 0)->valuedouble,
                              cJSON_GetArrayItem(span, 1)->valuedouble);
                any = true;
        }
        if (!any)
                kw_buf_text_add(out, "-");
}

static void tell(struct kw_buf *out, const cJSON *answer)
{
        const cJSON *row;

        cJSON_ArrayForEach(row, kw_json_get(answer, "lots"))
        {
                kw_buf_printf(out, "%s%s ", out->n ? " " : "", kw_json_text(row, "lot"));
                tell_spans(out, kw_json_get(row, "certain"));
                kw_buf_text_add(out, "/");
                tell_spans(out, kw_json_get(row, "possible"));
        }
}

START_TEST(every_origin)
{
        struct kw_ledger *ledger = small_mill();
        struct kw_buf text = {0}, told = {0};
        struct kw_error err = {0};
        struct kw_question q;
        cJSON *answer;

        ck_assert_int_eq(kw_question_read(cases[_i].origin, cases[_i].direction, &q, &err), 0);
        q.window = cases[_i].since != NULL;
        if (cases[_i].since && *cases[_i].since)
                ck_assert_int_eq(kw_stamp_read(cases[_i].since, &q.since), 0);
        if (cases[_i].until && *cases[_i].until)
                ck_assert_int_eq(kw_stamp_read(cases[_i].until, &q.until), 0);
        ask_trace(ledger, &q, KW_AS_JSON, &text);
        answer = ask_json(&text);
        tell(&told, answer);
        ck_assert_msg(strcmp(kw_buf_text(&told), cases[_i].answer) == 0, "%s %s, %s to %s:\nwanted %s\ngot    %s",
                      cases[_i].origin, cases[_i].direction, cases[_i].since ? cases[_i].since : "-",
                      cases[_i].until ? cases[_i].until : "-", cases[_i].answer, kw_buf_text(&told));
        kw_buf_free(&told);
        cJSON_Delete(answer);
        kw_ledger_close(ledger);
}
END_TEST

/* --- what is refused --------------------------------------------------------------------------------- */

static const struct {
        const char *origin, *direction;
        int64_t from, to; /* asked for when to is not 0 */
        bool window;
        int refusal;
} refused[] = {
        {"heat:NONE", NULL, 0, 0, false, KW_NOT_FOUND},
        {"machine:NONE", NULL, 0, 0, false, KW_NOT_FOUND},
        {"instrument:NONE", NULL, 0, 0, true, KW_NOT_FOUND},
        {"hold:H1", NULL, 0, 0, false, KW_NOT_FOUND},
        {"H1", NULL, 0, 0, false, KW_BAD_REQUEST},
        {":H1", NULL, 0, 0, false, KW_BAD_REQUEST},
        {"heat:", NULL, 0, 0, false, KW_BAD_REQUEST},
        {"heat:A_B", NULL, 0, 0, false, KW_BAD_REQUEST},
        {"heat:A23456789012345678901234567890123456789012", NULL, 0, 0, false, KW_BAD_REQUEST},
        {"averylongtypeofthing:A", NULL, 0, 0, false, KW_BAD_REQUEST},
        {"heat:H1", "sideways", 0, 0, false, KW_BAD_REQUEST},
        {"heat:H1", NULL, 0, 10, false, KW_BAD_REQUEST},
        {"heat:H1", NULL, 0, 0, true, KW_BAD_REQUEST},
        {"lot:A", NULL, 0, 10001, false, KW_OUT_OF_RANGE},
        {"lot:A", NULL, 10, 10, false, KW_OUT_OF_RANGE},
        {"lot:A", NULL, -1, 10, false, KW_OUT_OF_RANGE},
};

START_TEST(every_refusal)
{
        struct kw_ledger *ledger = small_mill();
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question q;
        int rc = kw_question_read(refused[_i].origin, refused[_i].direction, &q, &err);

        if (rc == 0) {
                q.part = refused[_i].to != 0;
                q.from_mm = refused[_i].from;
                q.to_mm = refused[_i].to;
                q.window = refused[_i].window;
                ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
                rc = kw_trace_ask(ledger, &q, &answer, &err);
                kw_ledger_done(ledger);
        }
        ck_assert_msg(rc == refused[_i].refusal, "%s: wanted %d, got %d", refused[_i].origin, refused[_i].refusal, rc);
        ck_assert_int_eq((int)err.what, rc);
        ck_assert_msg(strlen(err.text) > 10, "%s: no sentence", refused[_i].origin);
        kw_ledger_close(ledger);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_origin, 0, (int)(sizeof(cases) / sizeof(*cases)));
        tcase_add_loop_test(tests, every_refusal, 0, (int)(sizeof(refused) / sizeof(*refused)));
}

int main(void)
{
        return run_suite("origins", add);
}
