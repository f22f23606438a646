/*
 * Letting people, terminals and programs in: passwords and PINs, the one-time codes with which they are set, the
 * enrolment of a terminal, and the secrets of tokens.
 *
 * Nobody but the person ever knows a password or PIN: an administrator gives a code that does once. Each of these is an
 * entry before it is done.
 */
#include "server.h"

#include "kinwire/password.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#define CODE_GOOD     (24 * 3600) /* s */
#define TERMINAL_GOOD 3600

static void put_set(struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_bool(out, "set", true);
        kw_put_object_end(out);
}

static bool has_session(const struct kw_request *r)
{
        return r->identity.how == KW_BY_PASSWORD || r->identity.how == KW_BY_PIN;
}

/* --- passwords and PINs ------------------------------------------------------------------------- */

/** What is to be set, from a form, and what shows that its sender may. */
struct setting {
        enum kw_secret what;
        const char *given, *old, *code, *text; /* as sent */
        char person[KW_CODE_MAX + 1];
        struct kw_person known; /* code "": nobody */
        char door[128], account[128];
};

/* By a code it is anyone who says a person's code; else it is whoever is signed in. */
static int find_whose(struct kw_request *r, struct setting *s, struct kw_error *err)
{
        bool only;
        int rc = 0;

        if (!s->code && s->given)
                rc = kw_refuse_with(err, KW_MISSING, "/code", "code-or-session", NULL,
                                    "a code is missing, or sign in first");
        else if (s->code && !s->given)
                rc = kw_refuse_with(err, KW_MISSING, "/person", "whose", NULL, "whose code this is is missing");
        else if (!s->code && !has_session(r))
                rc = kw_refuse_with(err, KW_NO_SESSION, NULL, "or-code", NULL, "sign in first, or give a code");
        else if (!s->code)
                rc = kw_check_csrf(r, err);
        if (rc)
                return rc;
        if (kw_request_code(s->code ? s->given : r->identity.by, "person", s->person, NULL))
                strcpy(s->person, "?");
        rc = kw_known_person(r, s->person, &s->known, &only, err);
        kw_account_door(r, s->person, only, s->account);
        /* a code has a door of its own, so that it lets in whoever is locked out */
        if (s->code)
                snprintf(s->door, sizeof s->door, "code:%s", s->person);
        else
                strcpy(s->door, s->account);
        return rc ? rc : kw_try_door(r, s->door, err);
}

static int check_text(const struct setting *s, struct kw_error *err)
{
        const char *badge = s->known.code[0] && s->known.badge[0] ? s->known.badge : NULL;

        if (s->what == KW_PIN)
                return kw_pin_check(s->text, s->person, badge, "/pin", err);
        return kw_password_check(s->text, s->person, s->known.code[0] ? s->known.name : "", "/new", err);
}

/* By code, by the old password, or by a password that was given just before. */
static int check_proof(struct kw_request *r, const struct setting *s, struct kw_error *err)
{
        bool right = false;
        int rc = 0;

        if (s->code)
                rc = kw_code_use(r->http->access, s->what == KW_PIN ? KW_CODE_PIN : KW_CODE_PASSWORD, s->person,
                                 s->code, (int64_t)time(NULL), &right, err);
        else if (s->what == KW_PASSWORD)
                rc = kw_access_try(r->http->access, KW_PASSWORD, s->person, s->old, &right, err);
        else if (!r->identity.who.fresh)
                return kw_refuse_with(err, KW_PASSWORD_AGAIN, NULL, "pin", NULL,
                                      "a PIN is set with the password given again just before");
        else
                right = true;
        if (rc || (right && s->known.code[0]))
                return rc;
        return kw_was_wrong(r, s->door, &kw_account_rule, s->known.code, r->identity.session.terminal,
                            s->code ? "wrong code" : "wrong password", err);
}

static int set(struct kw_request *r, struct setting *s, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_said_access said = {.what = s->what == KW_PIN ? "pin-set" : "password-set",
                                            .person = s->person,
                                            .why = s->code ? "with a one-time code" : "signed in"};
        int rc = find_whose(r, s, err);

        if (!rc)
                rc = check_text(s, err);
        if (!rc)
                rc = check_proof(r, s, err);
        if (!rc)
                rc = kw_say_access(r->http, s->person, r->identity.session.terminal, &said, err);
        if (!rc)
                rc = kw_access_set(r->http->access, s->what, s->person, s->text, err);
        if (rc)
                return rc;
        if (s->code && s->what == KW_PASSWORD)
                kw_door_forget(r->http->doors, s->account); /* an administrator vouched */
        if (s->what == KW_PASSWORD)
                kw_session_end_of(r->http->sessions, s->person, s->code ? NULL : r->identity.secret);
        put_set(out);
        return 0;
}

static int set_password(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        struct setting s = {.what = KW_PASSWORD};
        const struct kw_field fields[] = {{"person", false, &s.given},
                                          {"code", false, &s.code},
                                          {"old", false, &s.old},
                                          {"new", true, &s.text},
                                          {0}};
        int rc = kw_form_read(r, fields, err);

        if (!rc && !s.code == !s.old)
                rc = kw_refuse_with(err, KW_MISSING, "/old", "old-or-code", NULL,
                                    "the old password or a code, one of them");
        return rc ? rc : set(r, &s, out, err);
}

static int set_pin(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        struct setting s = {.what = KW_PIN};
        const struct kw_field fields[] = {
                {"person", false, &s.given}, {"code", false, &s.code}, {"pin", true, &s.text}, {0}};
        int rc = kw_form_read(r, fields, err);

        return rc ? rc : set(r, &s, out, err);
}

enum MHD_Result kw_set_password(struct kw_request *r)
{
        return kw_porters_do(r, set_password);
}

enum MHD_Result kw_set_pin(struct kw_request *r)
{
        return kw_porters_do(r, set_pin);
}

/* --- codes --------------------------------------------------------------------------------------- */

static int named_code(struct kw_request *r, const char *what, char out[KW_CODE_MAX + 1], struct kw_error *err)
{
        int rc = kw_form_read(r, (const struct kw_field[]){{0}}, err);

        return rc ? rc : kw_request_code(r->part[0], what, out, err);
}

static int give_code(struct kw_request *r, enum kw_code_for what, const char *of, int64_t good,
                     const struct kw_said_access *said, struct kw_buf *out, struct kw_error *err)
{
        int64_t expires = (int64_t)time(NULL) + good;
        char code[KW_SECRET_TEXT_MAX], stamp[KW_STAMP_LEN + 1];
        int rc = kw_say_access(r->http, r->identity.by, r->identity.terminal, said, err);

        if (!rc)
                rc = kw_code_give(r->http->access, what, of, expires, code, err);
        if (rc)
                return rc;
        kw_stamp_write(expires, stamp);
        kw_put_object(out, NULL);
        kw_put_string(out, what == KW_CODE_TERMINAL ? "terminal" : "person", of);
        kw_put_string(out, "code", code);
        kw_put_string(out, "expires", stamp);
        kw_put_object_end(out);
        return 0;
}

static int give_person_code(struct kw_request *r, enum kw_code_for what, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        struct kw_person person;
        bool only;
        int rc = named_code(r, "person", code, err);

        if (!rc)
                rc = kw_known_person(r, code, &person, &only, err);
        if (!rc && !person.code[0])
                rc = kw_refuse_with(err, KW_UNKNOWN_PERSON, NULL, "left", KW_VALUES(KW_WORD("code", code)),
                                    "there is no person %s, or %s has left", code, code);
        if (rc)
                return rc;
        return give_code(
                r, what, code, CODE_GOOD,
                &(struct kw_said_access){.what = what == KW_CODE_PIN ? "pin-code-given" : "code-given", .person = code},
                out, err);
}

static int give_password_code(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return give_person_code(r, KW_CODE_PASSWORD, out, err);
}

static int give_pin_code(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return give_person_code(r, KW_CODE_PIN, out, err);
}

/* Return: 0; a refusal when there is no such terminal in use. */
static int open_terminal(struct kw_request *r, const char *code, struct kw_error *err)
{
        struct kw_terminal terminal;
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, err);

        if (rc)
                return rc;
        rc = kw_find_terminal(ledger, code, &terminal, err);
        kw_reader_give(r->http, ledger);
        if (!rc && (!terminal.code[0] || terminal.closed))
                rc = kw_refuse_with(err, KW_UNKNOWN_TERMINAL, NULL, "in-use", KW_VALUES(KW_WORD("code", code)),
                                    "there is no terminal %s in use", code);
        return rc;
}

static int give_terminal_code(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        int rc = named_code(r, "terminal", code, err);

        if (!rc)
                rc = open_terminal(r, code, err);
        if (rc)
                return rc;
        return give_code(r, KW_CODE_TERMINAL, code, TERMINAL_GOOD,
                         &(struct kw_said_access){.what = "terminal-code-given", .terminal = code}, out, err);
}

enum MHD_Result kw_give_password_code(struct kw_request *r)
{
        return kw_porters_do(r, give_password_code);
}

enum MHD_Result kw_give_pin_code(struct kw_request *r)
{
        return kw_porters_do(r, give_pin_code);
}

enum MHD_Result kw_give_terminal_code(struct kw_request *r)
{
        return kw_porters_do(r, give_terminal_code);
}

/* --- terminals and tokens ------------------------------------------------------------------------- */

static int enrol(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *given = NULL, *code = NULL, *by = r->identity.by[0] ? r->identity.by : "server";
        const struct kw_field fields[] = {{"terminal", true, &given}, {"code", true, &code}, {0}};
        char terminal[KW_CODE_MAX + 1], secret[KW_SECRET_TEXT_MAX], door[128];
        bool right = false;
        int rc = kw_form_read(r, fields, err);

        if (rc)
                return rc;
        if (kw_request_code(given, "terminal", terminal, NULL))
                strcpy(terminal, "?");
        snprintf(door, sizeof door, "enrol:%s", terminal);
        rc = kw_try_door(r, door, err);
        if (!rc)
                rc = kw_code_use(r->http->access, KW_CODE_TERMINAL, terminal, code, (int64_t)time(NULL), &right, err);
        if (rc)
                return rc;
        if (!right)
                return kw_was_wrong(r, door, &kw_terminal_rule, NULL, NULL, "wrong code for a terminal", err);
        rc = open_terminal(r, terminal, err);
        if (!rc)
                rc = kw_say_access(r->http, by, terminal,
                                   &(struct kw_said_access){.what = "enrolled", .terminal = terminal}, err);
        if (!rc)
                rc = kw_bearer_give(r->http->access, KW_DEVICE, terminal, secret, err);
        if (rc)
                return rc;
        kw_session_end_at(r->http->sessions, terminal); /* of the device that it was before */
        kw_cookie_set(r, KW_DEVICE_COOKIE, secret);
        kw_put_object(out, NULL);
        kw_put_string(out, "terminal", terminal);
        kw_put_object_end(out);
        return 0;
}

static int give_token(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1], secret[KW_SECRET_TEXT_MAX];
        struct kw_ledger *ledger;
        struct kw_token token;
        int rc = named_code(r, "token", code, err);

        if (!rc)
                rc = kw_reader_take(r->http, &ledger, err);
        if (rc)
                return rc;
        rc = kw_find_token(ledger, code, &token, err);
        kw_reader_give(r->http, ledger);
        if (!rc && (!token.code[0] || token.closed))
                rc = kw_refuse_with(err, KW_UNKNOWN_TOKEN, NULL, "in-use", KW_VALUES(KW_WORD("code", code)),
                                    "there is no token %s in use", code);
        if (!rc)
                rc = kw_say_access(r->http, r->identity.by, r->identity.terminal,
                                   &(struct kw_said_access){.what = "token-given", .token = code}, err);
        if (!rc)
                rc = kw_bearer_give(r->http->access, KW_TOKEN, code, secret, err);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "token", code);
        kw_put_string(out, "secret", secret);
        kw_put_object_end(out);
        return 0;
}

enum MHD_Result kw_enrol(struct kw_request *r)
{
        return kw_porters_do(r, enrol);
}

enum MHD_Result kw_give_token(struct kw_request *r)
{
        return kw_porters_do(r, give_token);
}
