/*
 * Sessions, with a clock of our own: how long they last, what ends them, and what they are known by.
 */
#include "suite.h"

#include "kinwire/sessions.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MINUTE INT64_C(60000)
#define HOUR   (60 * MINUTE)
#define START  INT64_C(1000000)

static struct kw_sessions *s;

static void begin(const char *person, const char *terminal, bool by_pin, int64_t now, char secret[KW_SESSION_TEXT])
{
        struct kw_session as = {.roles = 1, .by_pin = by_pin};

        snprintf(as.person, sizeof as.person, "%s", person);
        snprintf(as.terminal, sizeof as.terminal, "%s", terminal);
        kw_session_begin(s, &as, now, secret);
}

static bool is_there(const char *secret, int64_t now, bool keep)
{
        struct kw_session out;

        return kw_session_find(s, secret, now, keep, &out);
}

static void set_up(void)
{
        ck_assert_int_ge(sodium_init(), 0);
        s = kw_sessions_new();
        ck_assert_ptr_nonnull(s);
}

static void tear_down(void)
{
        kw_sessions_free(s);
}

START_TEST(ends_after_quiet)
{
        char a[KW_SESSION_TEXT], pin[KW_SESSION_TEXT];

        begin("A", "", false, START, a);
        begin("A", "T", true, START, pin);
        ck_assert(is_there(pin, START + 5 * MINUTE - 1, false));
        ck_assert(!is_there(pin, START + 5 * MINUTE, true));
        ck_assert(!is_there(pin, START, true)); /* for good */
        ck_assert(is_there(a, START + 30 * MINUTE - 1, false));
        ck_assert(!is_there(a, START + 30 * MINUTE, true));
}
END_TEST

START_TEST(goes_on_while_its_person_does_something)
{
        char a[KW_SESSION_TEXT];
        int64_t now = START;

        begin("A", "", false, now, a);
        for (int i = 0; i < 12 * 60 / 29; i++)
                ck_assert(is_there(a, now += 29 * MINUTE, true));
        /* what nobody did doesn't keep it */
        begin("B", "", false, now, a);
        for (int i = 1; i < 30; i++)
                ck_assert(is_there(a, now + i * MINUTE, false));
        ck_assert(!is_there(a, now + 30 * MINUTE, false));
}
END_TEST

START_TEST(ends_after_twelve_hours_whatever_is_done)
{
        char a[KW_SESSION_TEXT];
        int64_t now = START;

        begin("A", "", false, now, a);
        while (now + 10 * MINUTE < START + 12 * HOUR)
                ck_assert(is_there(a, now += 10 * MINUTE, true));
        ck_assert(is_there(a, START + 12 * HOUR - 1, true));
        ck_assert(!is_there(a, START + 12 * HOUR, true));
}
END_TEST

START_TEST(is_fresh_for_five_minutes)
{
        char a[KW_SESSION_TEXT], again[KW_SESSION_TEXT], pin[KW_SESSION_TEXT];
        struct kw_session out;

        begin("A", "", false, START, a);
        begin("A", "T", true, START, pin);
        ck_assert(kw_session_find(s, pin, START, false, &out));
        ck_assert_int_eq(kw_session_fresh_left(&out, START), 0);
        ck_assert(kw_session_find(s, a, START + 1, false, &out));
        ck_assert_int_eq(kw_session_fresh_left(&out, START + 1), 5 * MINUTE - 1);
        ck_assert_int_eq(kw_session_fresh_left(&out, START + 5 * MINUTE), 0);
        ck_assert(kw_session_again(s, a, START + 10 * MINUTE, again, &out));
        ck_assert_int_eq(kw_session_fresh_left(&out, START + 10 * MINUTE), 5 * MINUTE);
        ck_assert_str_ne(a, again);
        /* the former secret gets what was on its way through, without what was raised, and then no more */
        ck_assert(kw_session_find(s, a, START + 10 * MINUTE + 9999, true, &out));
        ck_assert_int_eq(kw_session_fresh_left(&out, START + 10 * MINUTE + 9999), 0);
        ck_assert(!is_there(a, START + 10 * MINUTE + 10000, true));
        ck_assert(kw_session_find(s, again, START + 11 * MINUTE, true, &out));
        ck_assert_int_gt(kw_session_fresh_left(&out, START + 11 * MINUTE), 0);
        ck_assert(!kw_session_again(s, a, START + 11 * MINUTE, again, &out));
        /* nor does it last longer for it */
        ck_assert(!is_there(again, START + 12 * HOUR, true));
}
END_TEST

START_TEST(ends_by_person_by_terminal_and_alone)
{
        char a1[KW_SESSION_TEXT], a2[KW_SESSION_TEXT], b[KW_SESSION_TEXT], t[KW_SESSION_TEXT];

        begin("A", "", false, START, a1);
        begin("A", "", false, START, a2);
        begin("B", "", false, START, b);
        begin("B", "T", true, START, t);
        kw_session_end_of(s, "A", a2);
        ck_assert(!is_there(a1, START, true) && is_there(a2, START, true) && is_there(b, START, true));
        kw_session_end_at(s, "T");
        ck_assert(!is_there(t, START, true) && is_there(b, START, true));
        kw_session_end(s, b);
        ck_assert(!is_there(b, START, true) && is_there(a2, START, true));
        kw_session_end_of(s, "A", NULL);
        ck_assert(!is_there(a2, START, true));
}
END_TEST

START_TEST(what_is_no_secret_opens_none)
{
        char a[KW_SESSION_TEXT], changed[KW_SESSION_TEXT];

        begin("A", "", false, START, a);
        ck_assert(!is_there("", START, true));
        ck_assert(!is_there("x", START, true));
        for (size_t i = 0; i < KW_SESSION_TEXT - 1; i++) {
                memcpy(changed, a, sizeof changed);
                changed[i] = changed[i] == 'A' ? 'B' : 'A';
                ck_assert(!is_there(changed, START, true));
        }
        ck_assert(is_there(a, START, true));
}
END_TEST

START_TEST(room_is_bounded_and_the_quietest_gives_way)
{
        char first[KW_SESSION_TEXT], kept[KW_SESSION_TEXT], one[KW_SESSION_TEXT], name[16];
        size_t there = 0;

        begin("A", "", false, START, first);
        begin("A", "", false, START + 1, kept);
        for (int i = 2; i < KW_SESSIONS_EACH + 1; i++)
                begin("A", "", false, START + i, one);
        ck_assert(!is_there(first, START + 100, false)); /* a person has that many */
        ck_assert(is_there(kept, START + 100, true));
        for (int i = 0; i < 3 * KW_SESSIONS; i++) {
                snprintf(name, sizeof name, "P%d", i);
                begin(name, "", false, START + 200 + i, one);
                ck_assert(is_there(one, START + 200 + i, true));
        }
        for (int i = 0; i < KW_SESSIONS; i++)
                there += s->at[i].used;
        ck_assert_uint_eq(there, KW_SESSIONS);
        ck_assert(!is_there(kept, START + 4000, true));
}
END_TEST

START_TEST(ten_thousand_secrets_are_all_different)
{
        static char all[20000][KW_SESSION_TEXT];
        struct kw_session as = {.person = "A"};

        for (size_t i = 0; i < 20000; i += 2) {
                kw_session_begin(s, &as, START, all[i]);
                memcpy(all[i + 1], as.csrf, KW_SESSION_TEXT);
        }
        qsort(all, 20000, KW_SESSION_TEXT, (int (*)(const void *, const void *))strcmp);
        for (size_t i = 0; i < 20000; i++) {
                ck_assert_uint_eq(strlen(all[i]), 43);
                ck_assert(i == 0 || strcmp(all[i - 1], all[i]) != 0);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_test(tests, ends_after_quiet);
        tcase_add_test(tests, goes_on_while_its_person_does_something);
        tcase_add_test(tests, ends_after_twelve_hours_whatever_is_done);
        tcase_add_test(tests, is_fresh_for_five_minutes);
        tcase_add_test(tests, ends_by_person_by_terminal_and_alone);
        tcase_add_test(tests, what_is_no_secret_opens_none);
        tcase_add_test(tests, room_is_bounded_and_the_quietest_gives_way);
        tcase_add_test(tests, ten_thousand_secrets_are_all_different);
}

int main(void)
{
        return run_suite("sessions", add);
}
