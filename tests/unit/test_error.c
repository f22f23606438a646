/*
 * Refusals: their rows, the filling of an error, and texts that are longer than their room.
 */
#include "kinwire/error.h"
#include "suite.h"

#include <string.h>

/* The interface fixes these names; a sender's program looks at them. */
static const struct {
        enum kw_refusal what;
        const char *slug;
        int status;
} fixed[] = {
        {KW_NOT_JSON, "not-json", 400},
        {KW_NOT_ENTRY, "not-entry", 400},
        {KW_NO_SESSION, "no-session", 401},
        {KW_NOT_ALLOWED, "not-allowed", 403},
        {KW_NOT_FOUND, "not-found", 404},
        {KW_BAD_METHOD, "bad-method", 405},
        {KW_KEY_REUSED, "key-reused", 409},
        {KW_CODE_TAKEN, "code-taken", 409},
        {KW_ALREADY_CONSUMED, "already-consumed", 409},
        {KW_ON_HOLD, "on-hold", 409},
        {KW_WOULD_LOOP, "would-loop", 409},
        {KW_NOT_COMPLETE, "not-complete", 409},
        {KW_TOO_LARGE, "too-large", 413},
        {KW_WRONG_MEDIA, "wrong-media", 415},
        {KW_OUT_OF_RANGE, "out-of-range", 422},
        {KW_BAD_ORDER, "bad-order", 422},
        {KW_UNKNOWN_LOT, "unknown-lot", 422},
        {KW_TOO_MANY, "too-many", 429},
        {KW_INTERNAL, "internal", 500},
        {KW_BUSY, "busy", 503},
        {KW_DISK_FULL, "disk-full", 507},
        /* a number that is none of them */
        {KW_REFUSALS, "internal", 500},
        {(enum kw_refusal)4711, "internal", 500},
};

START_TEST(rows_are_those_of_the_interface)
{
        for (size_t i = 0; i < sizeof fixed / sizeof *fixed; i++) {
                const struct kw_refusal_row *row = kw_refusal_row(fixed[i].what);

                ck_assert_str_eq(row->slug, fixed[i].slug);
                ck_assert_int_eq(row->status, fixed[i].status);
        }
}
END_TEST

START_TEST(every_refusal_has_a_row_of_its_own)
{
        for (int i = 0; i < KW_REFUSALS; i++) {
                const struct kw_refusal_row *row = kw_refusal_row((enum kw_refusal)i);

                ck_assert_ptr_nonnull(row->slug);
                ck_assert_ptr_nonnull(row->title);
                for (int j = 0; j < i; j++)
                        ck_assert_str_ne(row->slug, kw_refusal_row((enum kw_refusal)j)->slug);
        }
}
END_TEST

START_TEST(refusing_fills_the_error)
{
        struct kw_error err = {.line = 7};

        ck_assert_int_eq(kw_refuse(&err, KW_OUT_OF_RANGE, "/from_mm", "%s is %d mm long", "BB-1", 20), KW_OUT_OF_RANGE);
        ck_assert_int_eq(err.what, KW_OUT_OF_RANGE);
        ck_assert_uint_eq(err.line, 0);
        ck_assert_str_eq(err.pointer, "/from_mm");
        ck_assert_str_eq(err.text, "BB-1 is 20 mm long");

        ck_assert_int_eq(kw_refuse(&err, KW_MISSING, NULL, "x"), KW_MISSING);
        ck_assert_str_eq(err.pointer, "");
        ck_assert_int_eq(kw_refuse(NULL, KW_MISSING, "/lot", "x"), KW_MISSING);
}
END_TEST

START_TEST(a_prefix_goes_before_the_pointer)
{
        struct kw_error err = {.pointer = "/from_mm"};

        kw_error_at(&err, "/body/lines/0");
        ck_assert_str_eq(err.pointer, "/body/lines/0/from_mm");
        kw_error_at(NULL, "/body");

        char prefix[400];
        memset(prefix, 'a', sizeof prefix);
        prefix[0] = '/';
        prefix[sizeof prefix - 1] = '\0';
        kw_error_at(&err, prefix);
        ck_assert_uint_eq(strlen(err.pointer), sizeof err.pointer - 1);
}
END_TEST

/* A sentence cut to its room never ends within a character: it goes out as JSON, which is UTF-8. */
static const struct {
        const char *name;
        const char *character;
} characters[] = {
        {"one byte", "x"},
        {"two bytes", "\xc3\xa4"},
        {"three bytes", "\xe2\x82\xac"},
        {"four bytes", "\xf0\x9f\x94\xa9"},
};

START_TEST(a_cut_text_ends_with_a_whole_character)
{
        for (size_t i = 0; i < sizeof characters / sizeof *characters; i++) {
                for (size_t before = 0; before < 4; before++) {
                        char sentence[1000] = "";
                        struct kw_error err;
                        size_t width = strlen(characters[i].character);

                        memset(sentence, 'a', before);
                        while (strlen(sentence) + width < sizeof sentence)
                                strcat(sentence, characters[i].character);
                        kw_refuse(&err, KW_BAD_VALUE, "", "%s", sentence);

                        size_t whole = (sizeof err.text - 1 - before) / width * width + before;
                        ck_assert_msg(strlen(err.text) == whole, "%s after %zu: %zu bytes, not %zu", characters[i].name,
                                      before, strlen(err.text), whole);
                }
        }
}
END_TEST

START_TEST(a_text_of_stray_bytes_is_left_alone)
{
        struct kw_error err;

        kw_refuse(&err, KW_BAD_VALUE, "", "\x80\x80");
        ck_assert_str_eq(err.text, "\x80\x80");
}
END_TEST

/* --- the values of a sentence ------------------------------------------------------------------------- */

START_TEST(values_stand_beside_the_sentence)
{
        struct kw_error err;

        ck_assert_int_eq(kw_refuse_with(&err, KW_OUT_OF_RANGE, "/body/lot", "too-much",
                                        KW_VALUES(KW_WORD("lot", "BB-1"), KW_FIGURE("left_mm", 1200)), "%s has %d",
                                        "BB-1", 1200),
                         KW_OUT_OF_RANGE);
        ck_assert_str_eq(err.text, "BB-1 has 1200");
        ck_assert_str_eq(err.said.as, "too-much");
        ck_assert_uint_eq(err.said.n, 2);
        ck_assert_str_eq(kw_said_text(&err.said, 0), "BB-1");
        ck_assert_ptr_null(kw_said_text(&err.said, 1));
        ck_assert_int_eq(err.said.value[1].figure, 1200);

        /* what another refusal said before is gone, and nobody has to listen */
        kw_refuse(&err, KW_BAD_VALUE, "", "no");
        ck_assert_ptr_null(err.said.as);
        ck_assert_uint_eq(err.said.n, 0);
        ck_assert_int_eq(kw_refuse_with(NULL, KW_BAD_VALUE, "", "no", KW_VALUES(KW_FIGURE("n", 1)), "no"),
                         KW_BAD_VALUE);
}
END_TEST

START_TEST(values_beyond_the_room_are_cut_or_left_out)
{
        struct kw_said said;
        char text[2 * KW_SAID_ROOM] = "";

        while (strlen(text) + 2 < sizeof text)
                strcat(text, "\xc3\xa4");
        kw_said_set(&said, NULL, KW_VALUES(KW_WORD("reason", text)));
        ck_assert_uint_eq(strlen(kw_said_text(&said, 0)), (KW_SAID_ROOM - 1) / 2 * 2);
        kw_said_add(&said, (struct kw_value)KW_WORD("late", "x"));
        kw_said_add(&said, (struct kw_value)KW_WORD("later", "y"));
        for (int i = 0; i < 2 * KW_SAID_MOST; i++)
                kw_said_add(&said, (struct kw_value)KW_FIGURE("n", i));
        ck_assert_uint_eq(said.n, KW_SAID_MOST);
        ck_assert_uint_le(said.used, sizeof said.room);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, rows_are_those_of_the_interface);
        tcase_add_test(tests, every_refusal_has_a_row_of_its_own);
        tcase_add_test(tests, refusing_fills_the_error);
        tcase_add_test(tests, a_prefix_goes_before_the_pointer);
        tcase_add_test(tests, a_cut_text_ends_with_a_whole_character);
        tcase_add_test(tests, a_text_of_stray_bytes_is_left_alone);
        tcase_add_test(tests, values_stand_beside_the_sentence);
        tcase_add_test(tests, values_beyond_the_room_are_cut_or_left_out);
}

int main(void)
{
        return run_suite("error", add);
}
