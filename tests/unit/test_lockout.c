/*
 * Wrong tries, and what can be a password or a PIN.
 */
#include "suite.h"

#include "kinwire/lockout.h"
#include "kinwire/password.h"

#include <stdbool.h>
#include <string.h>

START_TEST(five_pins_then_longer_and_longer)
{
        static const int64_t locks[] = {300, 600, 1200, 2400, 3600, 3600};
        struct kw_tries t = {0};
        int64_t now = 1000;

        for (size_t i = 0; i < sizeof locks / sizeof locks[0]; i++) {
                for (int k = 0; k < 4; k++)
                        ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, now), 0);
                ck_assert_int_eq(kw_tries_locked(&t, now), 0);
                ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, now), locks[i]);
                ck_assert_int_eq(kw_tries_locked(&t, now), locks[i]);
                ck_assert_int_eq(kw_tries_locked(&t, now + locks[i] - 1), 1);
                now += locks[i];
                ck_assert_int_eq(kw_tries_locked(&t, now), 0);
        }
        kw_tries_right(&t, &kw_pin_rule);
        for (int k = 0; k < 4; k++)
                ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, now), 0);
        ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, now), 300);
}
END_TEST

START_TEST(a_window_begins_anew)
{
        struct kw_tries t = {0};

        for (int k = 0; k < 4; k++)
                ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, 0), 0);
        ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, 3600), 0);
        for (int k = 0; k < 3; k++)
                ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, 3601), 0);
        ck_assert_int_eq(kw_tries_wrong(&t, &kw_pin_rule, 3602), 300);
}
END_TEST

/* Whoever tries as often as it lets him, in any hour. */
static int most_in_an_hour(const struct kw_try_rule *rule)
{
        static int at[20 * 3600];
        struct kw_tries t = {0};
        int most = 0, sum = 0;

        memset(at, 0, sizeof at);
        for (int now = 0; now < 20 * 3600; now++) {
                for (int k = 0; k < 200 && !kw_tries_locked(&t, now); k++) {
                        kw_tries_wrong(&t, rule, now);
                        at[now]++;
                }
                sum += at[now] - (now >= 3600 ? at[now - 3600] : 0);
                most = sum > most ? sum : most;
        }
        return most;
}

START_TEST(never_more_than_the_rule_says)
{
        ck_assert_int_eq(most_in_an_hour(&kw_account_rule), 100);
        ck_assert_int_eq(most_in_an_hour(&kw_terminal_rule), 20);
        ck_assert_int_le(most_in_an_hour(&kw_pin_rule), 20);
}
END_TEST

START_TEST(a_right_password_does_not_make_good_for_an_account)
{
        struct kw_tries t = {0};

        for (int k = 0; k < 99; k++)
                kw_tries_wrong(&t, &kw_account_rule, 10);
        kw_tries_right(&t, &kw_account_rule);
        ck_assert_int_eq(kw_tries_wrong(&t, &kw_account_rule, 20), 3590);
}
END_TEST

/* --- passwords -------------------------------------------------------------------------------- */

#define A64 "0123456789ab-Zq7 x9+ four horses under a blue lamp 8812 kettlesx"

static const struct {
        const char *text;
        bool taken;
} passwords[] = {
        {"eleven char", false},
        {"twelve chars", true},
        {"", false},
        {"correct horse battery staple", true},
        {"tH9$kq0-Lw2z", true},
        {A64 A64, true},
        {A64 A64 "x", false},
        /* twelve code points, and eleven */
        {"\xc3\xa4\xc3\xb6\xc3\xbc\xc3\x9f-\xe2\x82\xac-\xf0\x9f\x98\x80 \xc3\xa9l\xc3\xa8", true},
        {"\xc3\xa4\xc3\xb6\xc3\xbc\xc3\x9f\xc3\xa4\xc3\xb6\xc3\xbc\xc3\x9f\xc3\xa4\xc3\xb6\xc3\xbc", false},
        {"passwordpassword", false},
        {"Password1234", false},
        {"P@ssw0rd12345!", false},
        {"123456789012", false},
        {"qwertyuiop12", false},
        {"1qaz2wsx3edc", false},
        {"aaaaaaaaaaaaaa", false},
        {"abcabcabcabcabc", false},
        {"abcdefghijklmnop", false},
        {"iloveyou12345", false},
        {"letmeinletmein", false},
        {"administrator1", false},
        {"changeme2026", false},
        {"wireropemill2026", false},
        {"kinwirekinwire", false},
        {"January2026!!", false},
        {"annaberg1234", false},
        {"BergAnna2026!", false},
        {"zyxwvutsrqpo", false},
        {"welcome to the mill", false},
        {"walrus ladder opal", true},
        {"anna likes plum jam", true},
};

START_TEST(passwords_that_are_guessed_are_not_taken)
{
        struct kw_error err = {0};
        int rc = kw_password_check(passwords[_i].text, "AB-7", "Anna Berg", "/new", &err);

        ck_assert_msg((rc == 0) == passwords[_i].taken, "\"%s\": %d %s", passwords[_i].text, rc, err.text);
        if (rc)
                ck_assert_str_eq(err.pointer, "/new");
}
END_TEST

static const struct {
        const char *text;
        bool taken;
} pins[] = {
        {"12345", false},       {"1234567890123", false}, {"123456", false}, {"654321", false}, {"890123", false},
        {"111111", false},      {"121212", false},        {"123123", false}, {"12a456", false}, {"4711", false},
        {"071183", false},      {"071184", true},         {"908172", true},  {"", false},       {"-12345", false},
        {"100200300400", true}, {"1231231", false},       {"440731", true},
};

START_TEST(pins_that_are_guessed_are_not_taken)
{
        int rc = kw_pin_check(pins[_i].text, "OP-12", "B-0711/83", "/pin", NULL);

        ck_assert_msg((rc == 0) == pins[_i].taken, "\"%s\": %d", pins[_i].text, rc);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, five_pins_then_longer_and_longer);
        tcase_add_test(tests, a_window_begins_anew);
        tcase_add_test(tests, never_more_than_the_rule_says);
        tcase_add_test(tests, a_right_password_does_not_make_good_for_an_account);
        tcase_add_loop_test(tests, passwords_that_are_guessed_are_not_taken, 0,
                            (int)(sizeof passwords / sizeof passwords[0]));
        tcase_add_loop_test(tests, pins_that_are_guessed_are_not_taken, 0, (int)(sizeof pins / sizeof pins[0]));
}

int main(void)
{
        return run_suite("wrong tries and passwords", add);
}
