/*
 * The second person, and what a release allows: as the append judges them, over the small mill.
 *
 * Its lot P2 failed tests; P1 and P3 passed theirs. Q1 is under no hold to begin with.
 */
#include "small_mill.h"
#include "suite.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define AT "2026-03-03T08:00:00Z"

static unsigned number;
static char last_key[40];

/* As @by, who may not release alone. Return: 0, with the receipt in @out (free()); a refusal. */
static int send_as(struct kw_ledger *l, const char *by, const char *kind, const char *body, char **out)
{
        const struct kw_sender sender = {.by = by, .terminal = "TEST", .second_person = true};
        struct kw_receipt receipt = {0};
        struct kw_error err = {0};
        struct kw_draft draft;
        char text[2000];
        int rc;

        snprintf(last_key, sizeof(last_key), "aaaaaaaa-0000-4000-8000-%012u", ++number);
        snprintf(text, sizeof(text), "{\"key\":\"%s\",\"kind\":\"%s\",\"at\":\"" AT "\",\"body\":%s}", last_key, kind,
                 body);
        rc = kw_draft_read(text, strlen(text), &draft, &err);
        ck_assert_msg(rc == 0, "%s: %s", err.pointer, err.text);
        ck_assert_int_eq(kw_ledger_begin(l, &err), 0);
        rc = kw_ledger_append(l, &draft, &sender, 1780000000, &receipt, &err);
        ck_assert_msg(rc >= 0, "%d", rc);
        if (rc == 0)
                ck_assert_int_eq(kw_ledger_commit(l, &err), 0);
        else
                kw_ledger_rollback(l);
        kw_draft_free(&draft);
        if (out)
                *out = receipt.json;
        else
                free(receipt.json);
        return rc;
}

static void verify(struct kw_ledger *l)
{
        struct kw_error err = {0};
        int64_t wrong;

        ck_assert_msg(kw_ledger_verify(l, NULL, NULL, &wrong, &err) == 0, "%s", err.text);
}

#define HOLD(code, lots)            "{\"hold\":\"" code "\",\"reason\":\"r\",\"lots\":[" lots "]}"
#define FREE(code, how)             "{\"hold\":\"" code "\",\"disposition\":\"" how "\",\"reason\":\"r\"}"
#define FREE_OF(code, how, members) "{\"hold\":\"" code "\",\"disposition\":\"" how "\",\"reason\":\"r\"," members "}"

/* --- who has to agree --------------------------------------------------------------------------------- */

/* Entries by ANNA and BEN; what the last of them is answered with. */
static const struct agreeing {
        const char *name;
        struct {
                const char *by, *kind, *body;
        } entries[6];
        int refused;
} agreeings[] = {
        {"sound metal is released by one person",
         {{"ANNA", "hold", HOLD("H-1", "\"P1\"")}, {"ANNA", "release", FREE("H-1", "release")}},
         0},
        {"what failed a test is not",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")}, {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"nor by concession",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")}, {"ANNA", "release", FREE("H-1", "concession")}},
         KW_NOT_AGREED},
        {"but it is scrapped by one",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")}, {"ANNA", "release", FREE("H-1", "scrap")}},
         0},
        {"of two lots the one that failed counts",
         {{"ANNA", "hold", HOLD("H-1", "\"P1\",\"P2\"")}, {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"and the sound one is released by itself",
         {{"ANNA", "hold", HOLD("H-1", "\"P1\",\"P2\"")},
          {"ANNA", "release", FREE_OF("H-1", "release", "\"lots\":[\"P1\"]")}},
         0},
        {"with another's agreement",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE("H-1", "release")},
          {"ANNA", "release", FREE("H-1", "release")}},
         0},
        {"not with one's own",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"ANNA", "agree", FREE("H-1", "release")},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"nor with one to something else",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE("H-1", "rework")},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"nor of another hold",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"ANNA", "hold", HOLD("H-2", "\"P2\"")},
          {"BEN", "agree", FREE("H-2", "release")},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"rework agreed to goes into what was agreed",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "rework", "\"into\":[\"patent\",\"draw\"]")},
          {"ANNA", "release", FREE_OF("H-1", "rework", "\"into\":[\"draw\",\"patent\"]")}},
         0},
        {"and into nothing else",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "rework", "\"into\":[\"draw\"]")},
          {"ANNA", "release", FREE_OF("H-1", "rework", "\"into\":[\"draw\",\"wind\"]")}},
         KW_NOT_AGREED},
        {"regraded to what was agreed",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "regrade", "\"grade\":\"C62D\"")},
          {"ANNA", "release", FREE_OF("H-1", "regrade", "\"grade\":\"C82D\"")}},
         KW_NOT_AGREED},
        {"an agreement to a part is for that part",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":0,\"to_mm\":900}]")},
          {"ANNA", "release", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":100,\"to_mm\":900}]")}},
         0},
        {"and for no more",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":0,\"to_mm\":900}]")},
          {"ANNA", "release", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":100,\"to_mm\":901}]")}},
         KW_NOT_AGREED},
        {"nor for the whole",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":0,\"to_mm\":900}]")},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"an agreement is used once",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")},
          {"BEN", "agree", FREE("H-1", "release")},
          {"ANNA", "release", FREE_OF("H-1", "release", "\"lots\":[{\"lot\":\"P2\",\"from_mm\":0,\"to_mm\":900}]")},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"a hold that came of a question needs one for sound metal too",
         {{"ANNA", "hold", "{\"hold\":\"H-1\",\"reason\":\"r\",\"lots\":[\"P1\"],\"question\":\"heat H1\"}"},
          {"ANNA", "release", FREE("H-1", "release")}},
         KW_NOT_AGREED},
        {"one agrees to what is barred",
         {{"ANNA", "hold", HOLD("H-1", "\"P2\"")}, {"BEN", "agree", FREE_OF("H-1", "release", "\"lots\":[\"P1\"]")}},
         KW_NOT_OPEN},
        {"and to a hold that there is", {{"BEN", "agree", FREE("H-9", "release")}}, KW_UNKNOWN_HOLD},
};

START_TEST(who_has_to_agree)
{
        const struct agreeing *c = &agreeings[_i];
        struct kw_ledger *l = small_mill();
        int rc = 0;

        for (size_t i = 0; i < sizeof(c->entries) / sizeof(*c->entries) && c->entries[i].kind; i++) {
                ck_assert_msg(rc == 0, "%s: refused before its end (%d)", c->name, rc);
                rc = send_as(l, c->entries[i].by, c->entries[i].kind, c->entries[i].body, NULL);
        }
        ck_assert_msg(rc == c->refused, "%s: %d", c->name, rc);
        verify(l);
        kw_ledger_close(l);
}
END_TEST

/* The release says which entry agreed, whatever its sender wrote there; sent again, it is the same release. */
START_TEST(a_release_quotes_the_agreement)
{
        static const char release[] = FREE_OF("H-1", "release", "\"agreed\":1");
        struct kw_ledger *l = small_mill();
        char *receipt, quoted[40];
        struct kw_head head;
        struct kw_error err = {0};

        ck_assert_int_eq(send_as(l, "ANNA", "hold", HOLD("H-1", "\"P2\""), NULL), 0);
        ck_assert_int_eq(send_as(l, "BEN", "agree", FREE("H-1", "release"), NULL), 0);
        ck_assert_int_eq(kw_ledger_head(l, &head, &err), 0);
        ck_assert_int_eq(send_as(l, "ANNA", "release", release, &receipt), 0);
        snprintf(quoted, sizeof(quoted), "\"agreed\":%d,", (int)head.size);
        ck_assert_msg(strstr(receipt, quoted) && !strstr(receipt, "one-person"), "%s", receipt);
        free(receipt);
        number--; /* the same key */
        ck_assert_int_eq(send_as(l, "ANNA", "release", release, &receipt), 0);
        ck_assert_ptr_nonnull(strstr(receipt, quoted));
        free(receipt);
        verify(l);
        kw_ledger_close(l);
}
END_TEST

/* Where nobody has to agree, it is said that nobody did. */
START_TEST(one_person_alone_is_a_finding)
{
        struct kw_ledger *l = small_mill();
        struct kw_buf out = {0};
        struct kw_error err = {0};

        record(l, "hold", AT, HOLD("H-1", "\"P2\""));
        record(l, "release", AT, FREE("H-1", "concession"));
        record(l, "hold", AT, HOLD("H-2", "\"P1\""));
        record(l, "release", AT, FREE("H-2", "release"));
        ck_assert_int_eq(kw_ledger_look(l, &err), 0);
        ck_assert_int_eq(kw_answer_attention(l, &out, &err), 0);
        kw_ledger_done(l);
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "it failed test F1, and one person released it alone"));
        ck_assert_ptr_null(strstr(strstr(kw_buf_text(&out), "one person") + 1, "one person"));
        kw_buf_free(&out);
        verify(l);
        kw_ledger_close(l);
}
END_TEST

/* A release stands on its agreement: that can't be taken back, or made to say something else, while the release stands.
 */
START_TEST(an_agreement_in_use_stays)
{
        struct kw_ledger *l = small_mill();
        char agreement[40], release[40], body[300];

        ck_assert_int_eq(send_as(l, "ANNA", "hold", HOLD("H-1", "\"P2\""), NULL), 0);
        ck_assert_int_eq(send_as(l, "BEN", "agree", FREE("H-1", "release"), NULL), 0);
        snprintf(agreement, sizeof(agreement), "%s", last_key);
        ck_assert_int_eq(send_as(l, "ANNA", "release", FREE("H-1", "release"), NULL), 0);
        snprintf(release, sizeof(release), "%s", last_key);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\"}", agreement);
        ck_assert_int_ne(send_as(l, "BEN", "void", body, NULL), 0);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\",\"body\":" FREE("H-1", "rework") "}",
                 agreement);
        ck_assert_int_ne(send_as(l, "BEN", "correct", body, NULL), 0);
        /* the release put right by its own sender still has the agreement; to something else, it has none */
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\",\"body\":" FREE("H-1", "release") "}",
                 release);
        ck_assert_int_eq(send_as(l, "ANNA", "correct", body, NULL), 0);
        ck_assert_int_eq(send_as(l, "BEN", "correct", body, NULL), KW_NOT_AGREED);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\",\"body\":" FREE("H-1", "concession") "}",
                 release);
        ck_assert_int_eq(send_as(l, "ANNA", "correct", body, NULL), KW_NOT_AGREED);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\"}", release);
        ck_assert_int_eq(send_as(l, "ANNA", "void", body, NULL), 0);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"r\"}", agreement);
        ck_assert_int_eq(send_as(l, "BEN", "void", body, NULL), 0);
        verify(l);
        kw_ledger_close(l);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, who_has_to_agree, 0, (int)(sizeof(agreeings) / sizeof(*agreeings)));
        tcase_add_test(tests, a_release_quotes_the_agreement);
        tcase_add_test(tests, one_person_alone_is_a_finding);
        tcase_add_test(tests, an_agreement_in_use_stays);
}

int main(void)
{
        return run_suite("second person", add);
}
