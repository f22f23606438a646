/*
 * The strict reading of JSON: what is taken, what is refused, and where the pointer says it is.
 *
 * The rules are those of RFC 8259 for syntax, Unicode's table 3-7 for UTF-8, RFC 7493 (I-JSON) for names and integers.
 */
#include "kinwire/json.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define TEXT(s) s, sizeof(s) - 1

static const struct {
        const char *text;
        size_t n;
        const char *canonical;
} taken[] = {
        {TEXT("{}"), "{}"},
        {TEXT(" \t\r\n[ ] \n"), "[]"},
        {TEXT("0"), "0"},
        {TEXT("-1"), "-1"},
        {TEXT("9007199254740991"), "9007199254740991"},
        {TEXT("-9007199254740991"), "-9007199254740991"},
        {TEXT("9007199254740989"), "9007199254740989"},
        {TEXT("[true,false,null]"), "[true,false,null]"},
        {TEXT("\"\""), "\"\""},
        {TEXT("\"\\u0041\\/\\b\\f\\n\\r\\t\\\\\\\"\""), "\"A/\\b\\f\\n\\r\\t\\\\\\\"\""},
        {TEXT("\"\\u001F\\u007f\""), "\"\\u001f\x7f\""},
        {TEXT("\"\\ud83d\\ude02\""), "\"\xf0\x9f\x98\x82\""},
        {TEXT("\"\\uD83D\\uDE02\""), "\"\xf0\x9f\x98\x82\""},
        {TEXT("\"\xc2\x80 \xdf\xbf \xe0\xa0\x80 \xed\x9f\xbf \xee\x80\x80 \xf0\x90\x80\x80 \xf4\x8f\xbf\xbf\""),
         "\"\xc2\x80 \xdf\xbf \xe0\xa0\x80 \xed\x9f\xbf \xee\x80\x80 \xf0\x90\x80\x80 \xf4\x8f\xbf\xbf\""},
        {TEXT("{\"a\":1,\"A\":2}"), "{\"A\":2,\"a\":1}"},
        {TEXT("[{\"a\":1},{\"a\":1}]"), "[{\"a\":1},{\"a\":1}]"},
        {TEXT("[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]"), "[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]"},
};

START_TEST(what_is_json_is_taken)
{
        for (size_t i = 0; i < sizeof(taken) / sizeof(*taken); i++) {
                struct kw_buf out = {0};
                struct kw_error err = {0};
                cJSON *json = NULL;
                const int rc = kw_json_read(taken[i].text, taken[i].n, &kw_json_entry_limits, &json, &err);

                ck_assert_msg(rc == 0, "%s: %s", taken[i].text, err.text);
                kw_json_canonical(json, &out);
                ck_assert_str_eq(kw_buf_text(&out), taken[i].canonical);
                kw_buf_free(&out);
                cJSON_Delete(json);
        }
}
END_TEST

static const struct {
        const char *text;
        size_t n;
        int rc;
        const char *pointer;
} refused[] = {
        /* no value, half a value, more than a value */
        {TEXT(""), KW_NOT_JSON, ""},
        {TEXT("  "), KW_NOT_JSON, ""},
        {TEXT("{"), KW_NOT_JSON, ""},
        {TEXT("["), KW_NOT_JSON, "/0"},
        {TEXT("[1"), KW_NOT_JSON, "/0"},
        {TEXT("[1,"), KW_NOT_JSON, "/1"},
        {TEXT("[1,]"), KW_NOT_JSON, "/1"},
        {TEXT("[,1]"), KW_NOT_JSON, "/0"},
        {TEXT("[1 2]"), KW_NOT_JSON, "/0"},
        {TEXT("{\"a\"}"), KW_NOT_JSON, "/a"},
        {TEXT("{\"a\":}"), KW_NOT_JSON, "/a"},
        {TEXT("{\"a\":1,}"), KW_NOT_JSON, ""},
        {TEXT("{\"a\":1]"), KW_NOT_JSON, "/a"},
        {TEXT("{a:1}"), KW_NOT_JSON, ""},
        {TEXT("{'a':1}"), KW_NOT_JSON, ""},
        {TEXT("{} {}"), KW_NOT_JSON, ""},
        {TEXT("{}x"), KW_NOT_JSON, ""},
        {TEXT("1\0"), KW_NOT_JSON, ""},
        {TEXT("]"), KW_NOT_JSON, ""},
        {TEXT("tru"), KW_NOT_JSON, ""},
        {TEXT("True"), KW_NOT_JSON, ""},
        {TEXT("nul"), KW_NOT_JSON, ""},
        {TEXT("falsy"), KW_NOT_JSON, ""},
        {TEXT("NaN"), KW_NOT_JSON, ""},
        {TEXT("Infinity"), KW_NOT_JSON, ""},
        {TEXT("-Infinity"), KW_NOT_JSON, ""},
        {TEXT("/* c */ 1"), KW_NOT_JSON, ""},
        {TEXT("\xef\xbb\xbf{}"), KW_NOT_JSON, ""},
        {TEXT("\v1"), KW_NOT_JSON, ""},
        {TEXT("\xc2\xa0"
              "1"),
         KW_NOT_JSON, ""},
        /* strings */
        {TEXT("\"a"), KW_NOT_JSON, ""},
        {TEXT("\"a\\"), KW_NOT_JSON, ""},
        {TEXT("\"a\\\""), KW_NOT_JSON, ""},
        {TEXT("\"\\x41\""), KW_NOT_JSON, ""},
        {TEXT("\"\\0\""), KW_NOT_JSON, ""},
        {TEXT("\"\\\0\""), KW_NOT_JSON, ""},
        {TEXT("\"a\nb\""), KW_NOT_JSON, ""},
        {TEXT("\"a\0b\""), KW_NOT_JSON, ""},
        {TEXT("\"\\u00\""), KW_NOT_JSON, ""},
        {TEXT("\"\\u00g0\""), KW_NOT_JSON, ""},
        {TEXT("\"\\u 041\""), KW_NOT_JSON, ""},
        {TEXT("\"\\u0000\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ud83d\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ud83dx\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ud83d\\n\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ud83d\\u0041\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ud83d\\ud83d\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ude02\""), KW_NOT_JSON, ""},
        {TEXT("\"\\ude02\\ud83d\""), KW_NOT_JSON, ""},
        /* UTF-8: stray, cut, overlong, surrogates, beyond U+10FFFF */
        {TEXT("\"\x80\""), KW_NOT_JSON, ""},
        {TEXT("\"\xc3\""), KW_NOT_JSON, ""},
        {TEXT("\"\xc3"), KW_NOT_JSON, ""},
        {TEXT("\"\xc0\x80\""), KW_NOT_JSON, ""},
        {TEXT("\"\xc1\xbf\""), KW_NOT_JSON, ""},
        {TEXT("\"\xe0\x9f\xbf\""), KW_NOT_JSON, ""},
        {TEXT("\"\xe2\x82\""), KW_NOT_JSON, ""},
        {TEXT("\"\xe2\x82"), KW_NOT_JSON, ""},
        {TEXT("\"\xed\xa0\x80\""), KW_NOT_JSON, ""},
        {TEXT("\"\xf0\x8f\xbf\xbf\""), KW_NOT_JSON, ""},
        {TEXT("\"\xf0\x9f\x98\""), KW_NOT_JSON, ""},
        {TEXT("\"\xf4\x90\x80\x80\""), KW_NOT_JSON, ""},
        {TEXT("\"\xf5\x80\x80\x80\""), KW_NOT_JSON, ""},
        {TEXT("\"\xff\""), KW_NOT_JSON, ""},
        /* numbers that are none */
        {TEXT("-"), KW_NOT_JSON, ""},
        {TEXT("+1"), KW_NOT_JSON, ""},
        {TEXT("00"), KW_NOT_JSON, ""},
        {TEXT("007"), KW_NOT_JSON, ""},
        {TEXT("-01"), KW_NOT_JSON, ""},
        {TEXT("0x10"), KW_NOT_JSON, ""},
        {TEXT("1."), KW_NOT_JSON, ""},
        {TEXT(".5"), KW_NOT_JSON, ""},
        {TEXT("1e"), KW_NOT_JSON, ""},
        {TEXT("1e+"), KW_NOT_JSON, ""},
        {TEXT("1.e3"), KW_NOT_JSON, ""},
        /* numbers that are, but cannot be kept */
        {TEXT("1.0"), KW_BAD_TYPE, ""},
        {TEXT("{\"a\":[1,2.5]}"), KW_BAD_TYPE, "/a/1"},
        {TEXT("{\"a\":1e3}"), KW_BAD_TYPE, "/a"},
        {TEXT("[1E-3]"), KW_BAD_TYPE, "/0"},
        {TEXT("[1e400]"), KW_BAD_TYPE, "/0"},
        {TEXT("[-0]"), KW_BAD_TYPE, "/0"},
        {TEXT("[9007199254740992]"), KW_BAD_TYPE, "/0"},
        {TEXT("[-9007199254740992]"), KW_BAD_TYPE, "/0"},
        {TEXT("[9007199254740993]"), KW_BAD_TYPE, "/0"},
        {TEXT("[10000000000000000]"), KW_BAD_TYPE, "/0"},
        {TEXT("[1111111111111111111111111111111111111111111111111111111111111111111111111111]"), KW_BAD_TYPE, "/0"},
        {TEXT("[{\"x\":0.5},0.25]"), KW_BAD_TYPE, "/0/x"},
        /* ... in what is not JSON at all */
        {TEXT("[0.5,]"), KW_NOT_JSON, "/1"},
        /* names */
        {TEXT("{\"a\":1,\"a\":1}"), KW_NOT_JSON, "/a"},
        {TEXT("{\"a\":1,\"b\":2,\"\\u0061\":1}"), KW_NOT_JSON, "/a"},
        {TEXT("{\"x\":[0,{\"a\":1,\"a\":1}]}"), KW_NOT_JSON, "/x/1/a"},
        {TEXT("{\"a/b~c\":tru}"), KW_NOT_JSON, "/a~1b~0c"},
        {TEXT("{\"\\u00e4\":tru}"), KW_NOT_JSON, "/\xc3\xa4"},
        {TEXT("{\"\":tru}"), KW_NOT_JSON, "/"},
        /* depth */
        {TEXT("[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]"), KW_NOT_JSON, "/0/0/0/0/0/0/0/0/0/0/0/0/0/0/0/0"},
        {TEXT("{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{"
              "\"a\":{"
              "\"a\":{}}}}}}}}}}}}}}}}}"),
         KW_NOT_JSON, "/a/a/a/a/a/a/a/a/a/a/a/a/a/a/a/a"},
};

START_TEST(what_is_not_is_refused_with_its_place)
{
        for (size_t i = 0; i < sizeof(refused) / sizeof(*refused); i++) {
                struct kw_error err = {0};
                cJSON *json = NULL;
                /* a copy of its exact size, so that a read past the end is seen by the sanitizers */
                char *copy = malloc(refused[i].n + !refused[i].n);
                int rc;

                memcpy(copy, refused[i].text, refused[i].n);
                rc = kw_json_read(copy, refused[i].n, &kw_json_entry_limits, &json, &err);
                ck_assert_msg(rc == refused[i].rc, "%s: %d, not %d (%s)", refused[i].text, rc, refused[i].rc, err.text);
                ck_assert_ptr_null(json);
                ck_assert_int_eq(err.what, (unsigned)rc);
                ck_assert_msg(strcmp(err.pointer, refused[i].pointer) == 0, "%s: at %s, not %s", refused[i].text,
                              err.pointer, refused[i].pointer);
                ck_assert_str_ne(err.text, "");
                free(copy);
        }
}
END_TEST

START_TEST(limits_are_kept_to_the_value_and_the_byte)
{
        static const char text[] = "[[1,2],{\"a\":3}]"; /* 6 values, 15 bytes */
        static const struct {
                struct kw_json_limits limits;
                int rc;
        } cases[] = {{{15, 6}, 0}, {{15, 5}, KW_TOO_LARGE}, {{14, 6}, KW_TOO_LARGE}};

        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
                struct kw_error err;
                cJSON *json = NULL;

                ck_assert_int_eq(kw_json_read(text, sizeof(text) - 1, &cases[i].limits, &json, &err), cases[i].rc);
                cJSON_Delete(json);
        }
}
END_TEST

/* 64 KiB of brackets, 100,000 names: refused or taken at once, not after a second. */
START_TEST(hostile_sizes_are_no_trouble)
{
        static char brackets[65536];
        struct kw_buf names = {0};
        struct kw_error err;
        cJSON *json = NULL;

        memset(brackets, '[', sizeof(brackets));
        ck_assert_int_eq(kw_json_read(brackets, sizeof(brackets), &kw_json_entry_limits, &json, &err), KW_NOT_JSON);

        kw_put_object(&names, NULL);
        for (int i = 0; i < 99998; i++) {
                char name[16];

                snprintf(name, sizeof(name), "%d", i);
                kw_put_int(&names, name, i);
        }
        kw_put_int(&names, "77", 0);
        kw_put_object_end(&names);
        ck_assert_int_eq(kw_json_read(names.at, names.n, &kw_json_entry_limits, &json, &err), KW_NOT_JSON);
        ck_assert_str_eq(err.pointer, "/77");
        kw_buf_free(&names);
}
END_TEST

/* A pointer that has no room for a name stops above it, whole. */
START_TEST(a_pointer_is_never_cut_within_a_name)
{
        static const struct {
                size_t name;
                const char *rest, *tail;
        } cases[] = {
                {240, "", "/b/0"}, {253, "", ""}, /* /aaa...a fits in 254 bytes, /b does not any more */
                {254, "", ""},                    /* 255 bytes, all there are */
                {255, NULL, ""},                  /* nothing fits */
                {1000, NULL, ""},
        };

        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
                char text[1100], expected[300] = "";
                struct kw_error err;
                cJSON *json = NULL;
                int n = snprintf(text, sizeof(text), "{\"%0*d\":{\"b\":[1.5]}}", (int)cases[i].name, 0);

                if (cases[i].rest)
                        snprintf(expected, sizeof(expected), "/%0*d%s", (int)cases[i].name, 0, cases[i].tail);
                ck_assert_int_eq(kw_json_read(text, (size_t)n, &kw_json_entry_limits, &json, &err), KW_BAD_TYPE);
                ck_assert_str_eq(err.pointer, expected);
        }
}
END_TEST

START_TEST(members_are_read_with_their_case)
{
        static const char text[] = "{\"length_mm\":9007199254740991,\"Lot\":\"x\",\"lot\":\"BB-1\"}";
        struct kw_error err;
        cJSON *json = NULL;

        ck_assert_int_eq(kw_json_read(text, sizeof(text) - 1, &kw_json_entry_limits, &json, &err), 0);
        ck_assert_int_eq(kw_json_int(json, "length_mm", 0), KW_JSON_INT_MAX);
        ck_assert_int_eq(kw_json_int(json, "Length_mm", -7), -7);
        ck_assert_int_eq(kw_json_int(json, "lot", -7), -7);
        ck_assert_str_eq(kw_json_text(json, "lot"), "BB-1");
        ck_assert_ptr_null(kw_json_text(json, "LOT"));
        ck_assert_ptr_null(kw_json_text(json, "length_mm"));
        cJSON_Delete(json);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, what_is_json_is_taken);
        tcase_add_test(tests, what_is_not_is_refused_with_its_place);
        tcase_add_test(tests, limits_are_kept_to_the_value_and_the_byte);
        tcase_add_test(tests, hostile_sizes_are_no_trouble);
        tcase_add_test(tests, a_pointer_is_never_cut_within_a_name);
        tcase_add_test(tests, members_are_read_with_their_case);
}

int main(void)
{
        return run_suite("json", add);
}
