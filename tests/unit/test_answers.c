/*
 * What is answered of lots, things, holds and entries, on the small mill and what happened there afterwards: every
 * answer is whole JSON, and says what it should of the case.
 */
#include "recorder.h"
#include "small_mill.h"
#include "suite.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
        const char *kind, *at, *body;
} afterwards[] = {
        {"hold", "2026-03-03T08:00:00Z",
         "{\"hold\":\"HD1\",\"reason\":\"scratch\",\"lots\":[{\"lot\":\"P3\",\"from_mm\":0,\"to_mm\":1000},{\"lot\":"
         "\"P1\"}]}"},
        {"release", "2026-03-03T09:00:00Z",
         "{\"hold\":\"HD1\",\"disposition\":\"concession\",\"reason\":\"sound\",\"lots\":[{\"lot\":\"P1\"}]}"},
        {"hold", "2026-03-03T08:00:00Z", "{\"hold\":\"HD2\",\"reason\":\"oval\",\"lots\":[{\"lot\":\"Q1\"}]}"},
        {"release", "2026-03-03T09:00:00Z", "{\"hold\":\"HD2\",\"disposition\":\"release\",\"reason\":\"round\"}"},
        {"move", "2026-03-03T10:00:00Z", "{\"lots\":[\"P3\",\"Q1\"],\"location\":\"=RACK \\\"1\\\"\"}"},
        {"move", "2026-03-03T11:00:00Z", "{\"lots\":[\"Q1\"],\"location\":\"YARD\"}"},
        {"scrap", "2026-03-03T12:00:00Z", "{\"lot\":\"W\",\"reason\":\"rust\"}"},
        {"note", "2026-03-03T13:00:00Z", "{\"about\":\"lot:P3\",\"text\":\"asked the \\\"customer\\\"\"}"},
        {"withdraw", "2026-03-03T14:00:00Z", "{\"certificate\":\"K1\",\"reason\":\"wrong grade\"}"},
        {"certify", "2026-03-03T14:00:00Z", "{\"certificate\":\"K2\",\"type\":\"2.2\",\"reels\":[\"P1\"]}"},
        {"order", "2026-03-03T15:00:00Z", "{\"order\":\"SO1\",\"customer\":\"Fernhill\",\"construction\":\"7x7\"}"},
        {"open", "2026-03-03T16:00:00Z",
         "{\"run\":\"OP1\",\"process\":\"wind\",\"machine\":\"WIND\",\"order\":\"SO1\",\"lines\":[\"1\"]}"},
        {"load", "2026-03-03T16:10:00Z", "{\"run\":\"OP1\",\"line\":\"1\",\"lot\":\"Q1\",\"take_mm\":500}"},
};

/* The mill with all that; the test F4 voided and the heat H1 corrected. */
static struct kw_ledger *later_mill(void)
{
        struct kw_ledger *ledger = small_mill();
        char body[300];

        record(ledger, "heat", "2026-03-02T20:00:00Z",
               "{\"heat\":\"H3\",\"supplier\":\"Nrthmark\",\"grade\":\"C42D\"}");
        snprintf(body, sizeof(body),
                 "{\"entry\":\"%s\",\"reason\":\"misread\",\"body\":{\"heat\":\"H3\",\"supplier\":\"Northmark\","
                 "\"grade\":\"C42D\"}}",
                 recorder_key());
        record(ledger, "correct", "2026-03-02T21:00:00Z", body);
        record(ledger, "heat", "2026-03-02T20:00:00Z",
               "{\"heat\":\"H4\",\"supplier\":\"Northmark\",\"grade\":\"C42D\"}");
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"twice\"}", recorder_key());
        record(ledger, "void", "2026-03-02T22:00:00Z", body);
        for (size_t i = 0; i < sizeof(afterwards) / sizeof(*afterwards); i++)
                record(ledger, afterwards[i].kind, afterwards[i].at, afterwards[i].body);
        return ledger;
}

/* --- the questions, each with up to three words -------------------------------------------------------- */

typedef int (*answer_fn)(struct kw_ledger *l, const char *const *words, struct kw_buf *out, struct kw_error *err);

static int lot(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_lot(l, w[0], out, err);
}

static int makeup(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_makeup(l, w[0], w[1], w[2], out, err);
}

static int joints(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_joints(l, w[0], out, err);
}

static int balance(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_balance(l, w[0], out, err);
}

static int thing(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_thing(l, w[0], w[1], out, err);
}

static int find(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_find(l, w[0], out, err);
}

static int attention(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        (void)w;
        return kw_answer_attention(l, out, err);
}

static int holds(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        (void)w;
        return kw_answer_holds(l, "any", 0, 100, out, err);
}

static int entries(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_entry_filter filter = {.limit = 3, .kind = w[0], .by = w[1], .code = w[2]};

        return kw_answer_entries(l, &filter, out, err);
}

static int entry(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_entry(l, atoi(w[0]), out, err);
}

static int head(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        (void)w;
        return kw_answer_head(l, out, err);
}

static int inclusion(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_inclusion(l, atoi(w[0]), atoi(w[1]), out, err);
}

static int consistency(struct kw_ledger *l, const char *const *w, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_consistency(l, atoi(w[0]), atoi(w[1]), out, err);
}

/* @says: pieces of the answer, each ended by '~' */
static const struct {
        answer_fn fn;
        const char *words[3];
        int refusal;
        const char *says;
} cases[] = {
        /* lots: what is left, what became of them, their papers */
        {lot,
         {"P3"},
         0,
         "\"state\":\"on-hold\",\"left\":[[0,5000]],\"left_mm\":5000~"
         "\"open\":true,\"spans\":[[0,1000]],\"open_spans\":[[0,1000]],\"released\":[]~"
         "\"notes\":[{\"seq\":~\"by\":\"open\",\"text\":\"asked the \\\"customer\\\"\"}]~"
         "\"received\":null,\"from\":{\"run\":\"D1\",\"process\":\"draw\",\"machine\":\"M1\",\"started\":\"2026-03-"
         "01T12:00:00Z\",~"
         "\"s0\":10000,\"s1\":15000,\"batch\":null}~\"location\":\"=RACK \\\"1\\\"\"~"},
        {lot,
         {"P1"},
         0,
         "\"state\":\"in-stock\"~\"open\":false,\"spans\":[[0,5000]],\"open_spans\":[],\"released\":[{\"disposition\":"
         "\"concession\",~"
         "\"tests\":[{\"test\":\"T5\",\"at_mm\":null,\"sample_mm\":null,\"instrument\":null,\"retest_of\":null,"
         "\"verdict\":\"pass\",~"
         "{\"test\":\"T1\",\"at_mm\":4000,~\"results\":{\"torsions\":30}}~"},
        {lot,
         {"C"},
         0,
         "\"heat\":\"H2\",\"supply\":null~\"left\":[[300,1000],[3000,9000]],\"left_mm\":6700~\"state\":\"in-stock\"~"
         "{\"what\":\"scrap\",\"from_mm\":0,\"to_mm\":100,\"reason\":\"end\",\"at\":\"2026-03-01T08:00:00Z\"}~"
         "{\"what\":\"feed\",\"from_mm\":1000,\"to_mm\":2000,\"run\":\"D2\",~\"line\":\"1\",\"off\":\"outer\"~"
         "\"batches\":[{\"batch\":\"CB\",\"process\":\"clean\",\"machine\":\"PICKLE\",~\"from_mm\":200,\"to_mm\":10000}"
         "]~"
         "\"received\":{\"at\":\"2026-03-01T07:00:00Z\",\"seq\":7},\"from\":null~"},
        {lot,
         {"A"},
         0,
         "\"state\":\"consumed\",\"left\":[],\"left_mm\":0~\"grade\":\"C82D\",\"tensile_grade_kpa\":null,\"heat\":"
         "\"H1\"~\"location\":null~"},
        {lot, {"W"}, 0, "\"state\":\"scrapped\",\"left\":[]~\"supply\":\"WIRE\"~\"reason\":\"rust\"~"},
        {lot, {"Q1"}, 0, "\"location\":\"YARD\",\"state\":\"in-stock\"~\"disposition\":\"release\"~"},
        {lot,
         {"Z"},
         0,
         "\"state\":\"dispatched\",\"left\":[],\"left_mm\":0~"
         "\"consignment\":{\"consignment\":\"N1\",\"consignee\":\"Fernhill\",\"at\":\"2026-03-02T14:00:00Z\"}~"
         "{\"what\":\"dispatch\",\"from_mm\":0,\"to_mm\":5000,\"consignment\":\"N1\",\"consignee\":\"Fernhill\",~"
         "\"certificates\":[{\"certificate\":\"K1\",\"type\":\"3.1\",\"at\":\"2026-03-02T13:00:00Z\","
         "\"withdrawn\":{\"at\":\"2026-03-03T14:00:00Z\",\"reason\":\"wrong "
         "grade\"},\"state\":\"withdrawn\",\"replaces\":null,\"replaced_by\":null,\"marks\":[]}]~\"batch\":\"GB\"~"},
        {lot,
         {"P1"},
         0,
         "\"certificates\":[{\"certificate\":\"K2\",~\"withdrawn\":null,\"state\":\"stands\",\"replaces\":null,"
         "\"replaced_by\":null,\"marks\":[]}]~"},
        {lot, {"NONE"}, KW_NOT_FOUND, ""},

        {makeup,
         {"P2", "heat"},
         0,
         "\"by\":\"heat\",\"parts\":[{\"heat\":\"H1\",\"supply\":null,\"supplier\":\"Northmark\",\"grade\":\"C82D\","
         "\"certain\":[[0,5000]],\"possible\":[[0,5000]]}]}~"},
        {makeup,
         {"Z", "lot", "bobbin"},
         0,
         "\"by\":\"lot\",\"kind\":\"bobbin\",\"parts\":[{\"lot\":\"P4\",\"kind\":\"bobbin\",\"certain\":[[0,5000]],~"},
        {makeup, {"Z", "lot"}, 0, "\"parts\":[{\"lot\":\"B\",\"kind\":\"rod\",~{\"lot\":\"P4\",~"},
        {makeup,
         {"W", "heat"},
         0,
         "\"parts\":[{\"heat\":null,\"supply\":\"WIRE\",\"supplier\":\"Penmarrow\",\"grade\":null,\"certain\":[[0,5000]"
         "]~"},
        {makeup, {"W", "lot", "bobbin"}, 0, "\"parts\":[]~"},
        {makeup, {"W", "moon"}, KW_BAD_REQUEST, ""},
        {makeup, {"W", "lot", "brick"}, KW_BAD_REQUEST, ""},
        {makeup, {"NONE", "heat"}, KW_NOT_FOUND, ""},

        {joints,
         {"P3"},
         0,
         "{\"weld\":\"W1\",\"made_by\":\"weld\",\"made_in\":\"D1\",\"machine\":\"M1\",\"at\":\"2026-03-01T12:00:00Z\","
         "\"path\":[],~"},
        {joints, {"Q1"}, 0, "\"joints\":[]~"},
        {joints, {"NONE"}, KW_NOT_FOUND, ""},

        {balance,
         {"C"},
         0,
         "\"taken\":[{\"what\":\"scrap\",\"code\":null,\"length_mm\":100,~\"left_mm\":6700,~\"unaccounted_mm\":0,"
         "\"made_by\":null}~"},
        {balance,
         {"P1"},
         0,
         "\"made_by\":{\"run\":\"D1\",\"in\":[{\"lot\":\"A\",\"length_mm\":10000,~\"out\":[{\"lot\":\"P1\",\"kind\":"
         "\"bobbin\",\"length_mm\":5000,~"},
        {balance, {"NONE"}, KW_NOT_FOUND, ""},

        /* things */
        {thing,
         {"heat", "H3"},
         0,
         "\"standing\":\"corrected\",\"corrections\":[{\"seq\":~\"reason\":\"misread\",\"void\":false}]~\"supplier\":"
         "\"Northmark\"~"},
        {thing, {"heat", "H4"}, KW_NOT_FOUND, ""},
        {thing,
         {"weld", "W1"},
         0,
         "{\"rel\":\"feed\",\"type\":\"lot\",\"code\":\"A\",~{\"rel\":\"feed\",\"type\":\"lot\",\"code\":\"B\",~"},
        {thing,
         {"run", "D1"},
         0,
         "\"rel\":\"package\",\"type\":\"lot\",\"code\":\"P4\"~\"rel\":\"supply\",\"type\":\"supply\",\"code\":"
         "\"SOAP\"~"},
        {thing, {"supply", "SOAP"}, 0, "\"rel\":\"run\",\"type\":\"run\",\"code\":\"D1\"~"},
        {thing, {"batch", "GB"}, 0, "\"rel\":\"run\",\"type\":\"run\",\"code\":\"G1\"~"},
        {thing, {"test", "T1"}, 0, "\"rel\":\"instrument\",\"type\":\"instrument\",\"code\":\"TO\"~"},
        {thing, {"hold", "HD1"}, 0, "\"code\":\"P1\"~\"code\":\"P3\"~"},
        {thing, {"certificate", "K1"}, 0, "\"type\":\"test\",\"code\":\"Z1\"~"},
        {thing, {"consignment", "N1"}, 0, "\"code\":\"Z\"~"},
        {thing, {"lot", "Z"}, 0, "\"rel\":\"consignment\"~\"rel\":\"certificate\"~\"rel\":\"test\"~\"rel\":\"run\"~"},
        {thing,
         {"machine", "M1"},
         0,
         "\"entry\":null~\"code\":\"D2\"~\"code\":\"D1\",\"text\":\"draw\",\"process\":\"draw\"}~"},
        {thing, {"instrument", "TO"}, 0, "\"code\":\"F1\"~"},
        {thing, {"machine", "NONE"}, KW_NOT_FOUND, ""},
        {thing, {"moon", "X"}, KW_NOT_FOUND, ""},

        {thing,
         {"order", "SO1"},
         0,
         "\"text\":\"Fernhill, 7x7\"~{\"rel\":\"run\",\"type\":\"run\",\"code\":\"OP1\",\"text\":\"wind on WIND\","
         "\"process\":\"wind\",\"machine\":\"WIND\"}~"},
        {thing, {"run", "OP1"}, 0, "{\"rel\":\"order\",\"type\":\"order\",\"code\":\"SO1\",\"text\":\"Fernhill\"}~"},
        {entries, {NULL, NULL, "op1"}, 0, "\"kind\":\"load\"~\"kind\":\"open\"~"},

        {find,
         {" p "},
         0,
         "{\"type\":\"lot\",\"code\":\"P1\",\"text\":\"bobbin, 5 "
         "m\",\"kind\":\"bobbin\",\"length_mm\":5000,\"exact\":false}~\"code\":\"PICKLE\"~\"code\":\"POT\"~"},
        {find, {"m1"}, 0, "\"found\":[{\"type\":\"machine\",\"code\":\"M1\",\"text\":\"machine\",\"exact\":true}]~"},
        {find, {"TO"}, 0, "\"type\":\"instrument\"~"},
        {find, {"%"}, 0, "\"found\":[]~"},
        {find, {""}, 0, "\"found\":[]~"},

        {attention,
         {NULL},
         0,
         "\"holds\":[{\"hold\":\"HD1\",\"reason\":\"scratch\",\"at\":\"2026-03-03T08:00:00Z\",\"lots\":1,\"left_mm\":"
         "1000}]~"
         "\"failed_tests\":[{\"test\":\"F2\",\"lot\":\"P2\",~{\"kind\":\"rod\",\"lots\":1,\"left_mm\":6700,~"
         "{\"kind\":\"bobbin\",\"lots\":5,\"left_mm\":16500,~\"kind\":\"withdraw\",\"at\":\"2026-03-03T14:00:00Z\","
         "\"by\":\"open\",\"what\":\"K1\"~"
         "\"kind\":\"move\",\"at\":\"2026-03-03T10:00:00Z\",\"by\":\"open\",\"what\":\"P3, Q1 to =RACK \\\"1\\\"\"~"},
        {holds,
         {NULL},
         0,
         "\"hold\":\"HD2\",~\"open\":false,\"open_lots\":0,~\"hold\":\"HD1\",~\"open\":true,\"open_lots\":1,"
         "\"open_mm\":1000,\"open_g\":187,\"left_mm\":1000,\"left_g\":187,~{\"lot\":\"P3\",\"kind\":\"bobbin\","
         "\"open_spans\":[[0,1000]],~\"second\":{\"needed\":false,\"failed\":null,\"agreements\":[]},~"
         "\"disposition\":\"concession\",\"reason\":\"sound\",\"into\":null,\"grade\":null,\"agreed\":null}]}],"
         "\"next\":null}~"},

        /* entries */
        {entries, {NULL}, 0, "\"size\":47,\"entries\":[{\"seq\":47,~{\"seq\":46,~{\"seq\":45,~\"next\":45}~"},
        {entries, {"heat", NULL, NULL}, 0, "\"kind\":\"heat\"~\"standing\":\"void\"~\"standing\":\"corrected\"~"},
        {entries, {NULL, "nobody", NULL}, 0, "\"entries\":[],\"next\":null}~"},
        {entries, {NULL, "open", "w"}, 0, "\"kind\":\"scrap\"~\"kind\":\"receive\"~\"next\":null~"},
        {entries, {NULL, NULL, "h3"}, 0, "\"kind\":\"correct\"~\"kind\":\"heat\"~"},
        {entries, {"dance", NULL, NULL}, KW_BAD_REQUEST, ""},
        {entry, {"1"}, 0, "\"kind\":\"heat\"~\"standing\":\"stands\"~\"leaf\":\"{\\\"at\\\":~\"corrections\":[]}~"},
        {entry, {"99"}, KW_NOT_FOUND, ""},
        {head, {NULL}, 0, "{\"size\":47,\"root\":\"~"},
        {inclusion, {"1", "47"}, 0, "\"seq\":1,\"size\":47,\"leaf\":\"~\"proof\":[\"~"},
        {inclusion, {"48", "47"}, KW_OUT_OF_RANGE, ""},
        {consistency, {"3", "47"}, 0, "\"from\":3,\"size\":47,\"first\":\"~"},
        {consistency, {"3", "48"}, KW_OUT_OF_RANGE, ""},
};

static void check_says(size_t i, const char *answer)
{
        char piece[400];

        for (const char *says = cases[i].says, *end; (end = strchr(says, '~')); says = end + 1) {
                ck_assert_uint_lt((size_t)(end - says), sizeof(piece));
                snprintf(piece, sizeof(piece), "%.*s", (int)(end - says), says);
                ck_assert_msg(strstr(answer, piece) != NULL, "case %zu (%s): wanted %s\nin %s", i, cases[i].words[0],
                              piece, answer);
        }
}

START_TEST(every_answer)
{
        struct kw_ledger *ledger = later_mill();
        struct kw_buf out = {0};
        struct kw_error err = {0};
        int rc;

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        rc = cases[_i].fn(ledger, cases[_i].words, &out, &err);
        kw_ledger_done(ledger);
        ck_assert_msg(rc == cases[_i].refusal, "case %d (%s): %d, %s", _i, cases[_i].words[0], rc, err.text);
        if (rc == 0) {
                check_says((size_t)_i, kw_buf_text(&out));
                cJSON_Delete(ask_json(&out));
        } else {
                ck_assert_int_eq((int)err.what, rc);
        }
        kw_buf_free(&out);
        kw_ledger_close(ledger);
}
END_TEST

/* --- a trace in other forms --------------------------------------------------------------------------------- */

START_TEST(trace_as_csv)
{
        struct kw_ledger *ledger = later_mill();
        struct kw_question q;
        struct kw_buf out = {0};

        kw_question_read("lot:P3", "", &q, NULL);
        ask_trace(ledger, &q, KW_AS_CSV, &out);
        ck_assert_str_eq(kw_buf_text(&out),
                         "lot,kind,verdict,length_mm,affected_mm,affected_g,left_mm,state,location,consignee,holds,"
                         "certain,possible\r\n"
                         "P3,bobbin,certain,5000,5000,933,5000,on-hold,\"'=RACK \"\"1\"\"\",,HD1,0-5000,0-5000\r\n");
        kw_buf_free(&out);
        kw_ledger_close(ledger);
}
END_TEST

START_TEST(trace_as_table)
{
        struct kw_ledger *ledger = later_mill();
        struct kw_question q;
        struct kw_buf out = {0};

        kw_question_read("consignment:N1", "kin", &q, NULL);
        ask_trace(ledger, &q, KW_AS_TABLE, &out);
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "consignment:N1, kin: 7 lots, in a ledger of 47 entries"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "heats: H2\n"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "dispatched  0.000-5.000 / 0.000-5.000 / Fernhill in N1\n"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "To contain: 4 lots with length left, 1 dispatched\n"));
        kw_buf_free(&out);
        kw_ledger_close(ledger);
}
END_TEST

static const struct {
        size_t limit;
        const char *after;
        const char *first, *next; /* of the page; NULL: none */
        int rows;
} pages[] = {
        {0, NULL, "A", NULL, 6}, {2, NULL, "A", "B", 2},     {2, "B", "P1", "P2", 2},  {4, "B", "P1", NULL, 4},
        {9, "Z", NULL, NULL, 0}, {9, "NONE", NULL, NULL, 0}, {1, "P4", NULL, NULL, 0},
};

START_TEST(trace_in_pages)
{
        struct kw_ledger *ledger = small_mill();
        struct kw_trace_writer w = {.as = KW_AS_JSON, .limit = pages[_i].limit, .after = pages[_i].after};
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question q;
        struct kw_buf out = {0};
        const char *next;
        cJSON *json;

        kw_question_read("run:D1", "back", &q, NULL);
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_int_eq(kw_trace_ask(ledger, &q, &answer, &err), 0);
        kw_ledger_done(ledger);
        w.answer = answer;
        while (kw_trace_write(&w, &out) == 1)
                ;
        json = ask_json(&out);
        next = kw_json_text(json, "next");
        ck_assert_int_eq(cJSON_GetArraySize(kw_json_get(json, "lots")), pages[_i].rows);
        if (pages[_i].first)
                ck_assert_str_eq(kw_json_text(cJSON_GetArrayItem(kw_json_get(json, "lots"), 0), "lot"),
                                 pages[_i].first);
        ck_assert_int_eq(next != NULL, pages[_i].next != NULL);
        if (next)
                ck_assert_str_eq(next, pages[_i].next);
        ck_assert_int_eq(kw_json_int(json, "count", 0), 6);
        ck_assert_int_eq(cJSON_GetArraySize(kw_json_get(json, "totals")), 2);
        cJSON_Delete(json);
        kw_trace_answer_free(answer);
        kw_ledger_close(ledger);
}
END_TEST

static const struct {
        const char *direction;
        size_t most;
        int rc;
} bounds[] = {
        {"back", 0, 0},           {"back", 6, 0},           {"back", 5, KW_TOO_LARGE}, {"back", 1, KW_TOO_LARGE},
        {"kin", 6, KW_TOO_LARGE}, {"kin", 5, KW_TOO_LARGE},
};

/* Six lots are in it: asked for no more than five, it is refused with a sentence that says so, and nothing is lost. */
START_TEST(trace_of_too_many)
{
        struct kw_ledger *ledger = small_mill();
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question q;

        kw_question_read("run:D1", bounds[_i].direction, &q, NULL);
        q.most = bounds[_i].most;
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_int_eq(kw_trace_ask(ledger, &q, &answer, &err), bounds[_i].rc);
        kw_ledger_done(ledger);
        if (bounds[_i].rc)
                ck_assert_ptr_nonnull(strstr(err.text, "ask for a part of it"));
        else
                ck_assert_uint_eq(kw_trace_count(answer), 6);
        kw_trace_answer_free(answer);
        kw_ledger_close(ledger);
}
END_TEST

static bool asked_twice(void *ctx)
{
        return ++*(int *)ctx < 2;
}

/* 300 coils, each drawn by itself: the trace of their heat asks whether it is still wanted, ends when it is not, and
 * leaves the ledger as good as it was. */
START_TEST(trace_that_nobody_wants)
{
        struct kw_ledger *ledger = recorder_new();
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question q;
        char body[400];
        int asked = 0;

        record(ledger, "heat", "2026-01-01T00:00:00Z", "{\"heat\":\"H1\",\"supplier\":\"S\",\"grade\":\"G\"}");
        for (int i = 0; i < 300; i++) {
                snprintf(body, sizeof(body),
                         "{\"lot\":\"C%d\",\"heat\":\"H1\",\"diameter_um\":5500,\"length_mm\":9000}", i);
                record(ledger, "receive", "2026-01-01T00:00:00Z", body);
                snprintf(body, sizeof(body),
                         "{\"run\":\"R%d\",\"process\":\"wind\",\"machine\":\"W1\",\"lines\":[{\"line\":\"1\","
                         "\"feeds\":[{\"lot\":\"C%d\"}]}],\"packages\":[{\"lot\":\"B%d\",\"kind\":\"bobbin\","
                         "\"length_mm\":9000}]}",
                         i, i, i);
                record(ledger, "run", "2026-01-02T00:00:00Z", body);
        }
        kw_question_read("heat:H1", "forward", &q, NULL);
        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        kw_ledger_while(ledger, asked_twice, &asked);
        ck_assert_int_eq(kw_trace_ask(ledger, &q, &answer, &err), KW_BUSY);
        ck_assert_int_eq(asked, 2);
        ck_assert_ptr_null(answer);
        kw_ledger_while(ledger, NULL, NULL);
        ck_assert_int_eq(kw_trace_ask(ledger, &q, &answer, &err), 0);
        ck_assert_uint_eq(kw_trace_count(answer), 600);
        kw_trace_answer_free(answer);
        kw_ledger_done(ledger);
        kw_ledger_close(ledger);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_answer, 0, (int)(sizeof(cases) / sizeof(*cases)));
        tcase_add_test(tests, trace_as_csv);
        tcase_add_test(tests, trace_as_table);
        tcase_add_loop_test(tests, trace_in_pages, 0, (int)(sizeof(pages) / sizeof(*pages)));
        tcase_add_loop_test(tests, trace_of_too_many, 0, (int)(sizeof(bounds) / sizeof(*bounds)));
        tcase_add_test(tests, trace_that_nobody_wants);
}

int main(void)
{
        return run_suite("answers", add);
}
