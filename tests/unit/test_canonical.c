/*
 * The canonical form, RFC 8785, and the writer under it.
 */
#include "kinwire/json.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

/*
 * The order of RFC 8785 section 3.2.3: its example's names, one of each kind, in the order that the RFC gives. By UTF-8
 * bytes U+FB33 would come before U+1F600.
 */
static const char *const in_order[] = {
        "\r",               /* Carriage Return */
        "1",                /* One */
        "\xc2\x80",         /* U+0080, Control */
        "\xc3\xb6",         /* U+00F6, Latin Small Letter O With Diaeresis */
        "\xe2\x82\xac",     /* U+20AC, Euro Sign */
        "\xf0\x9f\x98\x80", /* U+1F600, Emoji: Grinning Face */
        "\xef\xac\xb3",     /* U+FB33, Hebrew Letter Dalet With Dagesh */
};

#define NAMES (sizeof(in_order) / sizeof(*in_order))

START_TEST(names_are_in_the_order_of_utf16)
{
        for (size_t first = 0; first < NAMES; first++) { /* whichever came first when it was sent */
                struct kw_buf out = {0}, expected = {0};
                cJSON *json = cJSON_CreateObject();

                kw_put_object(&expected, NULL);
                for (size_t i = 0; i < NAMES; i++) {
                        cJSON_AddNumberToObject(json, in_order[(first + 3 * i) % NAMES], 1);
                        kw_put_int(&expected, in_order[i], 1);
                }
                kw_put_object_end(&expected);
                kw_json_canonical(json, &out);
                ck_assert_str_eq(kw_buf_text(&out), kw_buf_text(&expected));
                kw_buf_free(&out);
                kw_buf_free(&expected);
                cJSON_Delete(json);
        }
}
END_TEST

static const struct {
        const char *name, *in, *out;
} texts[] = {
        {"no names", "{}", "{}"},
        {"a prefix first", "{\"aa\":1,\"a\":2,\"\":3}", "{\"\":3,\"a\":2,\"aa\":1}"},
        {"capitals before small letters", "{\"b\":1,\"B\":2,\"a\":3,\"A\":4}", "{\"A\":4,\"B\":2,\"a\":3,\"b\":1}"},
        {"digits by their code, not their value", "{\"10\":1,\"9\":2,\"1\":3}", "{\"1\":3,\"10\":1,\"9\":2}"},
        {"arrays keep their order", "[3,1,2]", "[3,1,2]"},
        {"order at every depth", "[{\"b\":{\"d\":1,\"c\":[{\"f\":1,\"e\":2}]},\"a\":2}]",
         "[{\"a\":2,\"b\":{\"c\":[{\"e\":2,\"f\":1}],\"d\":1}}]"},
        {"U+10000 before U+E000 and U+FFFD", "{\"\xee\x80\x80\":1,\"\xef\xbf\xbd\":2,\"\xf0\x90\x80\x80\":3}",
         "{\"\xf0\x90\x80\x80\":3,\"\xee\x80\x80\":1,\"\xef\xbf\xbd\":2}"},
        {"U+D7FF before U+10FFFF", "{\"\xf4\x8f\xbf\xbf\":1,\"\xed\x9f\xbf\":2}",
         "{\"\xed\x9f\xbf\":2,\"\xf4\x8f\xbf\xbf\":1}"},
        {"no normal form of Unicode", "{\"A\xcc\x8a\":1,\"\xc3\x85\":2}", "{\"A\xcc\x8a\":1,\"\xc3\x85\":2}"},
        /* RFC 8785 section 3.2.2.2 */
        {"escapes", "\"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\"",
         "\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\""},
        {"DEL and U+2028 as they are", "\"\\u007f\\u2028\"", "\"\x7f\xe2\x80\xa8\""},
        {"all digits of a large number", "[-9007199254740991,1000000000000,100000000000000000]", NULL},
        {"all digits of a number", "[-9007199254740991,1000000000000,9007199254740990]",
         "[-9007199254740991,1000000000000,9007199254740990]"},
};

START_TEST(one_value_has_one_text)
{
        for (size_t i = 0; i < sizeof(texts) / sizeof(*texts); i++) {
                struct kw_buf out = {0};
                struct kw_error err;
                cJSON *json = NULL;
                const int rc = kw_json_read(texts[i].in, strlen(texts[i].in), &kw_json_entry_limits, &json, &err);

                ck_assert_msg((rc == 0) == (texts[i].out != NULL), "%s: %s", texts[i].name, err.text);
                if (rc)
                        continue;
                kw_json_canonical(json, &out);
                ck_assert_msg(strcmp(kw_buf_text(&out), texts[i].out) == 0, "%s: %s, not %s", texts[i].name,
                              kw_buf_text(&out), texts[i].out);
                kw_buf_free(&out);
                cJSON_Delete(json);
        }
}
END_TEST

START_TEST(every_control_character_is_escaped)
{
        static const char *const shorts[32] = {
                ['\b'] = "\\b", ['\t'] = "\\t", ['\n'] = "\\n", ['\f'] = "\\f", ['\r'] = "\\r"};

        for (int c = 1; c < 32; c++) {
                const char text[2] = {(char)c, '\0'};
                struct kw_buf out = {0};
                char expected[16];

                if (shorts[c])
                        snprintf(expected, sizeof(expected), "\"%s\"", shorts[c]);
                else
                        snprintf(expected, sizeof(expected), "\"\\u%04x\"", (unsigned)c);
                kw_json_escape(&out, text);
                ck_assert_str_eq(kw_buf_text(&out), expected);
                kw_buf_free(&out);
        }
}
END_TEST

/* What would read as another number elsewhere has no canonical form. */
START_TEST(other_numbers_have_no_text)
{
        static const double numbers[] = {0.5,   -1.25,           9007199254740992.0, -9007199254740992.0,
                                         1e300, __builtin_inf(), __builtin_nan("")};

        for (size_t i = 0; i < sizeof(numbers) / sizeof(*numbers); i++) {
                struct kw_buf out = {0};
                cJSON *json = cJSON_CreateNumber(numbers[i]);

                kw_json_canonical(json, &out);
                ck_assert_msg(out.failed, "%g", numbers[i]);
                ck_assert_str_eq(kw_buf_text(&out), "");
                kw_buf_free(&out);
                cJSON_Delete(json);
        }
}
END_TEST

START_TEST(a_written_answer)
{
        struct kw_buf b = {0};

        ck_assert_str_eq(kw_buf_text(&b), "");
        kw_put_object(&b, NULL);
        kw_put_string(&b, "lot", "BB-\"1\"");
        kw_put_string(&b, "location", NULL);
        kw_put_array(&b, "certain");
        kw_put_span(&b, NULL, 0, 1200000);
        kw_put_span(&b, NULL, 1300000, INT64_MAX);
        kw_put_array_end(&b);
        kw_put_array(&b, "holds");
        kw_put_array_end(&b);
        kw_put_object(&b, "ledger");
        kw_put_int(&b, "size", -3);
        kw_put_bool(&b, "open", true);
        kw_put_bool(&b, "closed", false);
        kw_put_null(&b, "root");
        kw_put_raw(&b, "raw", "[1]");
        kw_put_object_end(&b);
        kw_put_object_end(&b);
        ck_assert_str_eq(kw_buf_text(&b), "{\"lot\":\"BB-\\\"1\\\"\",\"location\":null,\"certain\":[[0,1200000],"
                                          "[1300000,9223372036854775807]],\"holds\":[],\"ledger\":{\"size\":-3,"
                                          "\"open\":true,\"closed\":false,\"root\":null,\"raw\":[1]}}");
        kw_buf_clear(&b);
        for (int i = 0; i < 1000; i++)
                kw_buf_printf(&b, "%03d,", i);
        ck_assert_uint_eq(b.n, 4000);
        ck_assert_int_eq(strncmp(kw_buf_text(&b) + 3996, "999,", 5), 0);
        kw_buf_free(&b);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, names_are_in_the_order_of_utf16);
        tcase_add_test(tests, one_value_has_one_text);
        tcase_add_test(tests, every_control_character_is_escaped);
        tcase_add_test(tests, other_numbers_have_no_text);
        tcase_add_test(tests, a_written_answer);
}

int main(void)
{
        return run_suite("canonical", add);
}
