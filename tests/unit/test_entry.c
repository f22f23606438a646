/*
 * Entries as they are sent: the envelope and where a refusal of it points, times and codes.
 */
#include "kinwire/entry.h"
#include "quoted.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define KEY   "00000000-0000-4000-8000-00000000000a"
#define ENTRY "{\"key\":\"" KEY "\",\"kind\":\"note\",\"body\":{\"about\":\"lot:X\",\"text\":\"t\"}"

/* --- envelopes ---------------------------------------------------------------------------------------- */

static const struct {
        const char *text;
        int what;
        const char *pointer;
} envelopes[] = {
        {"7", KW_NOT_ENTRY, ""},
        {"1.5", KW_NOT_ENTRY, ""},
        {"[]", KW_NOT_ENTRY, ""},
        {"{}", KW_NOT_ENTRY, "/key"},
        {"{'kind':'note'}", KW_NOT_ENTRY, "/key"},
        {"{'key':7}", KW_NOT_ENTRY, "/key"},
        {"{'key':1.5}", KW_NOT_ENTRY, "/key"},
        {"{'key':'" KEY "0'}", KW_NOT_ENTRY, "/key"},
        {"{'key':'{0000000-0000-4000-8000-000000000000}'}", KW_NOT_ENTRY, "/key"},
        {"{'key':'" KEY "'}", KW_NOT_ENTRY, "/kind"},
        {"{'key':'" KEY "','kind':null}", KW_NOT_ENTRY, "/kind"},
        {"{'key':'" KEY "','kind':'Note'}", KW_NOT_ENTRY, "/kind"},
        {"{'key':'" KEY "','kind':'a kind with a name that has no end'}", KW_NOT_ENTRY, "/kind"},
        {"{'key':'" KEY "','kind':'note'}", KW_NOT_ENTRY, "/body"},
        {"{'key':'" KEY "','kind':'note','body':[]}", KW_NOT_ENTRY, "/body"},
        {"{'key':'" KEY "','kind':'note','body':1.5}", KW_NOT_ENTRY, "/body"},
        {ENTRY ",'seq':7}", KW_NOT_ENTRY, "/seq"},
        {ENTRY ",'At':'2026-01-01T00:00:00Z'}", KW_NOT_ENTRY, "/At"},
        {ENTRY ",'at':7}", KW_NOT_ENTRY, "/at"},
        {ENTRY ",'at':''}", KW_NOT_ENTRY, "/at"},
        {ENTRY ",'at':'2026-02-29T00:00:00Z'}", KW_NOT_ENTRY, "/at"},
        {ENTRY "} x", KW_NOT_JSON, ""},
        {"{'key':'" KEY "','kind':'note','body':{'text':1.5}}", KW_BAD_TYPE, "/body/text"},
        {"{'key':'" KEY "','kind':'note','body':{'text':9007199254740993}}", KW_BAD_TYPE, "/body/text"},
        {"{'key':'" KEY "','kind':'note','body':{'text':1}}", KW_BAD_TYPE, "/body/text"},
        {"{'key':'" KEY "','kind':'note','body':{}}", KW_MISSING, "/body/about"},
};

START_TEST(what_is_no_entry_is_refused_as_that)
{
        for (size_t i = 0; i < sizeof(envelopes) / sizeof(*envelopes); i++) {
                const char *text = quoted(envelopes[i].text);
                struct kw_draft draft;
                struct kw_error err = {0};
                const int rc = kw_draft_read(text, strlen(text), &draft, &err);

                ck_assert_msg(rc == envelopes[i].what && err.what == (enum kw_refusal)rc, "%s: %d, not %d: %s", text,
                              rc, envelopes[i].what, err.text);
                ck_assert_msg(strcmp(err.pointer, envelopes[i].pointer) == 0, "%s: at %s", text, err.pointer);
                ck_assert_int_eq(kw_draft_read(text, strlen(text), &draft, NULL), envelopes[i].what);
        }
}
END_TEST

START_TEST(a_draft_is_what_was_sent_in_normal_form)
{
        const char *text =
                quoted("{'body':{'text':'t','about':'lot:bb-1'},'at':'2026-03-04T09:12:00.75-05:00','kind':'note',"
                       "'key':'00000000-0000-4000-8000-00000000000A'}");
        struct kw_draft draft;
        struct kw_error err;

        ck_assert_int_eq(kw_draft_read(text, strlen(text), &draft, &err), 0);
        ck_assert_str_eq(draft.key, KEY);
        ck_assert_str_eq(draft.kind, "note");
        ck_assert_str_eq(draft.at, "2026-03-04T14:12:00Z");
        ck_assert_str_eq(kw_json_text(draft.body, "about"), "lot:BB-1");
        kw_draft_free(&draft);

        ck_assert_int_eq(kw_draft_read(ENTRY "}", strlen(ENTRY) + 1, &draft, &err), 0);
        ck_assert_str_eq(draft.at, "");
        kw_draft_free(&draft);
}
END_TEST

/* --- times --------------------------------------------------------------------------------------------- */

/* Those marked * are the examples of RFC 3339 section 5.8. */
static const struct {
        const char *text;
        int64_t seconds;
        const char *stamp; /* NULL: no time */
} times[] = {
        {"1985-04-12T23:20:50.52Z", 482196050, "1985-04-12T23:20:50Z"},        /* * */
        {"1996-12-19T16:39:57-08:00", 851042397, "1996-12-20T00:39:57Z"},      /* * */
        {"1990-12-31T23:59:60Z", 662688000, "1991-01-01T00:00:00Z"},           /* * a leap second */
        {"1990-12-31T15:59:60-08:00", 662688000, "1991-01-01T00:00:00Z"},      /* * the same */
        {"1937-01-01T12:00:27.87+00:20", -1041337173, "1937-01-01T11:40:27Z"}, /* * */
        {"1985-04-12t23:20:50z", 482196050, "1985-04-12T23:20:50Z"},           /* section 5.6: letters in either case */
        {"1970-01-01T00:00:00-00:00", 0, "1970-01-01T00:00:00Z"},              /* section 4.3 */
        {"2026-10-04T00:00:00+14:00", 1791021600, "2026-10-03T10:00:00Z"},
        {"2000-02-29T00:00:00Z", 951782400, "2000-02-29T00:00:00Z"},
        {"2024-02-29T23:59:59.999999999999Z", 1709251199, "2024-02-29T23:59:59Z"},
        {"0001-01-01T00:00:00Z", -62135596800, "0001-01-01T00:00:00Z"},
        {"9999-12-31T23:59:59Z", 253402300799, "9999-12-31T23:59:59Z"},
        {"0001-01-01T00:00:00+00:01", 0, NULL},
        {"0000-12-31T23:59:59Z", 0, NULL},
        {"9999-12-31T23:59:59-00:01", 0, NULL},
        {"9999-12-31T23:59:60Z", 0, NULL},
        {"1990-12-31T23:59:61Z", 0, NULL},
        {"1990-12-31T22:59:60Z", 0, NULL},
        {"1990-12-30T23:59:60Z", 0, NULL},
        {"1990-12-31T23:59:60-08:00", 0, NULL},
        {"1990-13-31T23:59:00Z", 0, NULL},
        {"1990-00-31T23:59:00Z", 0, NULL},
        {"1990-01-00T23:59:00Z", 0, NULL},
        {"1990-04-31T23:59:00Z", 0, NULL},
        {"2023-02-29T00:00:00Z", 0, NULL},
        {"1900-02-29T00:00:00Z", 0, NULL},
        {"2026-01-01T24:00:00Z", 0, NULL},
        {"2026-01-01T00:60:00Z", 0, NULL},
        {"2026-01-01T00:00:00", 0, NULL},
        {"2026-01-01T00:00Z", 0, NULL},
        {"2026-01-01 00:00:00Z", 0, NULL},
        {"2026-01-01T00:00:00.Z", 0, NULL},
        {"2026-01-01T00:00:00,5Z", 0, NULL},
        {"2026-01-01T00:00:00+24:00", 0, NULL},
        {"2026-01-01T00:00:00+01:60", 0, NULL},
        {"2026-01-01T00:00:00+0100", 0, NULL},
        {"2026-01-01T00:00:00+01", 0, NULL},
        {"2026-01-01T00:00:00ZZ", 0, NULL},
        {"2026-01-01", 0, NULL},
        {"26-01-01T00:00:00Z", 0, NULL},
        {"+2026-01-01T00:00:00Z", 0, NULL},
        {"", 0, NULL},
};

START_TEST(times_are_read_and_written)
{
        for (size_t i = 0; i < sizeof(times) / sizeof(*times); i++) {
                int64_t seconds = INT64_MIN;
                char stamp[KW_STAMP_LEN + 1];
                const int rc = kw_stamp_read(times[i].text, &seconds);

                ck_assert_msg(rc == (times[i].stamp ? 0 : KW_BAD_TIME), "%s: %d", times[i].text, rc);
                if (rc)
                        continue;
                ck_assert_msg(seconds == times[i].seconds, "%s: %lld", times[i].text, (long long)seconds);
                kw_stamp_write(seconds, stamp);
                ck_assert_str_eq(stamp, times[i].stamp);
        }
}
END_TEST

START_TEST(stamps_stay_within_their_years)
{
        char stamp[KW_STAMP_LEN + 1];

        kw_stamp_write(INT64_MIN, stamp);
        ck_assert_str_eq(stamp, "0001-01-01T00:00:00Z");
        kw_stamp_write(INT64_MAX, stamp);
        ck_assert_str_eq(stamp, "9999-12-31T23:59:59Z");
}
END_TEST

/* --- codes --------------------------------------------------------------------------------------------- */

START_TEST(codes)
{
        ck_assert(kw_code_ok("A"));
        ck_assert(kw_code_ok("BB-12/3.4"));
        ck_assert(kw_code_ok("0123456789012345678901234567890123456789"));
        ck_assert(!kw_code_ok("01234567890123456789012345678901234567890"));
        ck_assert(!kw_code_ok(""));
        ck_assert(!kw_code_ok("a"));
        ck_assert(!kw_code_ok("A "));
        ck_assert(!kw_code_ok("A:B"));
}
END_TEST

START_TEST(numbers_of_entries)
{
        static const struct {
                const char *text, *tail;
                int64_t seq;
        } cases[] = {
                {"4711", "", 4711},
                {"4711.pdf", ".pdf", 4711},
                {"9000000000000000000", "", 0}, /* no ledger gets there, and the next digit would not fit */
                {"99999999999999999999999", "", 0},
                {"", "", 0},
                {".pdf", ".pdf", 0},
                {"0", "", 0},
                {"-1", "", 0},
                {"+1", "", 0},
                {"12 ", "", 0},
                {"12x", "", 0},
                {"12", ".pdf", 0},
                {"12.pdf", "", 0},
                {"12.pdfx", ".pdf", 0},
        };

        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++)
                ck_assert_msg(kw_seq_read(cases[i].text, cases[i].tail) == cases[i].seq, "'%s' before '%s'",
                              cases[i].text, cases[i].tail);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, what_is_no_entry_is_refused_as_that);
        tcase_add_test(tests, a_draft_is_what_was_sent_in_normal_form);
        tcase_add_test(tests, times_are_read_and_written);
        tcase_add_test(tests, stamps_stay_within_their_years);
        tcase_add_test(tests, codes);
        tcase_add_test(tests, numbers_of_entries);
}

int main(void)
{
        return run_suite("entry", add);
}
