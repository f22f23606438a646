/*
 * Signing in and out, and who one is.
 *
 * What went wrong is told in the same words whichever it was: no such person, no password yet, a wrong one. The entry
 * says it for whoever looks after the mill's accounts.
 */
#include "server.h"

#include <arpa/inet.h>
#include <stdio.h>
#include <string.h>

/* --- what is common --------------------------------------------------------------------------- */

int kw_try_door(struct kw_request *r, const char *at, struct kw_error *err)
{
        int64_t left = kw_door_locked(r->http->doors, at);

        if (!left)
                return 0;
        r->retry_after = left;
        kw_count_sign_in(r->http, KW_SIGN_IN_LOCKED);
        return kw_refuse_with(
                err, KW_LOCKED, NULL, "minutes", KW_VALUES(KW_FIGURE("minutes", (int64_t)((left + 59) / 60))),
                "too many wrong tries: nothing is tried for another %lld min", (long long)(left + 59) / 60);
}

int kw_was_wrong(struct kw_request *r, const char *at, const struct kw_try_rule *rule, const char *person,
                 const char *terminal, const char *why, struct kw_error *err)
{
        struct kw_said_access said = {.what = "refused", .person = person, .terminal = terminal, .why = why};

        kw_count_sign_in(r->http, KW_SIGN_IN_REFUSED);
        kw_refusal_note(r->http, &said);
        if (kw_door_wrong(r->http->doors, at, rule)) {
                said.what = "locked";
                said.why = "too many wrong tries";
                kw_refusal_note(r->http, &said);
        }
        return kw_refuse_with(err, KW_NOT_KNOWN, NULL, "name", NULL,
                              "that is not right: look at the name and at what goes with it");
}

static void address_of(struct kw_request *r, char out[INET6_ADDRSTRLEN])
{
        const union MHD_ConnectionInfo *info =
                MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
        const struct sockaddr *at = info ? info->client_addr : NULL;

        out[0] = '\0';
        if (at && at->sa_family == AF_INET)
                inet_ntop(AF_INET, &((const struct sockaddr_in *)(const void *)at)->sin_addr, out, INET6_ADDRSTRLEN);
        else if (at && at->sa_family == AF_INET6)
                inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)(const void *)at)->sin6_addr, out, INET6_ADDRSTRLEN);
}

/* The only administrator can be locked from where the wrong tries come, not from everywhere. */
void kw_account_door(struct kw_request *r, const char *person, bool only_administrator, char out[128])
{
        char address[INET6_ADDRSTRLEN] = "";

        if (only_administrator)
                address_of(r, address);
        snprintf(out, 128, "account:%s%s%s", person, address[0] ? " from " : "", address);
}

int kw_known_person(struct kw_request *r, const char *code, struct kw_person *out, bool *only_administrator,
                    struct kw_error *err)
{
        int64_t people = 0, others = 0;
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, err);

        *only_administrator = false;
        if (rc)
                return rc;
        rc = kw_find_person(ledger, code, out, err);
        if (!rc && out->code[0] && !out->closed && (out->roles & KW_ADMINISTRATOR))
                rc = kw_count_people(ledger, code, &people, &others, err);
        kw_reader_give(r->http, ledger);
        if (out->code[0] && out->closed)
                out->code[0] = '\0';
        *only_administrator = !rc && out->code[0] && (out->roles & KW_ADMINISTRATOR) && !others;
        return rc;
}

/* A code as it is typed, in its form; what can be none is nobody's. */
static void tidy(const char *given, char out[KW_CODE_MAX + 1])
{
        if (kw_request_code(given, "person", out, NULL))
                strcpy(out, "?");
}

/* --- who one is ------------------------------------------------------------------------------- */

static void put_roles(struct kw_buf *out, unsigned roles)
{
        kw_put_array(out, "roles");
        for (size_t i = 0; kw_role_name(i); i++) {
                if (roles & (1u << i))
                        kw_put_string(out, NULL, kw_role_name(i));
        }
        kw_put_array_end(out);
}

static void put_code(struct kw_buf *out, const char *name, const char *code)
{
        kw_put_string(out, name, code[0] ? code : NULL);
}

static void put_me(struct kw_request *r, const char *name, struct kw_buf *out)
{
        static const char *const hows[] = {"unknown", "open", "password", "pin", "token"};
        const struct kw_identity *i = &r->identity;
        bool session = i->how == KW_BY_PASSWORD || i->how == KW_BY_PIN;
        int64_t now = kw_now_ms();

        kw_put_object(out, NULL);
        kw_put_string(out, "by", i->by);
        kw_put_string(out, "name", name);
        put_roles(out, i->who.roles);
        put_code(out, "terminal", session ? i->session.terminal : "");
        kw_put_string(out, "how", hows[i->how]);
        kw_put_bool(out, "open", r->http->open);
        kw_put_bool(out, "in_the_clear", r->http->address.in_the_clear);
        kw_put_bool(out, "reading", session && i->session.reading);
        if (session) {
                kw_put_int(out, "fresh_s", kw_session_fresh_left(&i->session, now) / 1000);
                kw_put_int(out, "idle_s", kw_session_idle_left(&i->session, now) / 1000);
                kw_put_int(out, "ends_s", kw_session_life_left(&i->session, now) / 1000);
        } else {
                kw_put_null(out, "fresh_s");
                kw_put_null(out, "idle_s");
                kw_put_null(out, "ends_s");
        }
        kw_put_string(out, "csrf", session ? i->session.csrf : NULL);
        kw_put_object_end(out);
}

enum MHD_Result kw_answer_me(struct kw_request *r)
{
        const struct kw_identity *i = &r->identity;
        struct kw_person person = {0};
        struct kw_ledger *ledger;
        struct kw_error err = {0};
        struct kw_buf out = {0};
        int rc = 0;

        if (i->how == KW_BY_PASSWORD || i->how == KW_BY_PIN) {
                rc = kw_reader_take(r->http, &ledger, &err);
                if (!rc) {
                        rc = kw_find_person(ledger, i->by, &person, &err);
                        kw_reader_give(r->http, ledger);
                }
        }
        if (rc)
                return kw_reply_problem(r, rc, &err);
        put_me(r, person.code[0] ? person.name : i->by, &out);
        return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
}

enum MHD_Result kw_answer_session(struct kw_request *r)
{
        char terminal[KW_CODE_MAX + 1] = "";
        int64_t people, administrators = 0;
        struct kw_ledger *ledger;
        struct kw_error err = {0};
        struct kw_buf out = {0};
        int rc = kw_device(r, terminal, &err);

        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (rc)
                return kw_reply_problem(r, rc, &err);
        rc = kw_count_people(ledger, NULL, &people, &administrators, &err);
        kw_reader_give(r->http, ledger);
        if (rc)
                return kw_reply_problem(r, rc, &err);
        kw_put_object(&out, NULL);
        kw_put_bool(&out, "open", r->http->open);
        kw_put_bool(&out, "in_the_clear", r->http->address.in_the_clear);
        kw_put_bool(&out, "signed_in", r->identity.how != KW_UNKNOWN);
        kw_put_bool(&out, "setup", !r->http->open && !administrators);
        put_code(&out, "terminal", terminal);
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
}

/* --- signing in ------------------------------------------------------------------------------- */

/*
 * Recorded before it is so. While the disk has no room nothing can be recorded, and who has to look at a hold just then
 * is let in to read all the same: that goes to the journal at once, and into the ledger as soon as there is room.
 */
static int begin(struct kw_request *r, const struct kw_person *person, const char *terminal, bool by_pin,
                 struct kw_buf *out, struct kw_error *err)
{
        struct kw_identity *i = &r->identity;
        struct kw_session session = {.roles = person->roles, .by_pin = by_pin};
        const struct kw_said_access said = {.what = "sign-in",
                                            .person = person->code,
                                            .terminal = terminal,
                                            .why = by_pin ? "badge and PIN" : "password"};
        int rc = kw_say_access(r->http, person->code, terminal, &said, err);

        session.reading = rc == KW_DISK_FULL;
        if (session.reading)
                kw_sign_in_unrecorded(r->http, &said);
        else if (rc)
                return rc;
        if (i->secret[0])
                kw_session_end(r->http->sessions, i->secret);
        strcpy(session.person, person->code);
        strcpy(session.terminal, terminal);
        kw_session_begin(r->http->sessions, &session, kw_now_ms(), i->secret);
        i->how = by_pin ? KW_BY_PIN : KW_BY_PASSWORD;
        i->session = session;
        strcpy(i->by, person->code);
        i->who.roles = by_pin ? KW_OPERATOR : person->roles;
        i->who.reading = session.reading;
        kw_cookie_set(r, KW_SESSION_COOKIE, i->secret);
        kw_count_sign_in(r->http, KW_SIGNED_IN);
        put_me(r, person->name, out);
        return 0;
}

static int sign_in(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *given = NULL, *password = NULL;
        const struct kw_field fields[] = {{"person", true, &given}, {"password", true, &password}, {0}};
        char code[KW_CODE_MAX + 1], terminal[KW_CODE_MAX + 1], door[128];
        struct kw_person person;
        bool only, right = false;
        int rc = kw_form_read(r, fields, err);

        if (rc)
                return rc;
        tidy(given, code);
        rc = kw_device(r, terminal, err);
        if (!rc)
                rc = kw_known_person(r, code, &person, &only, err);
        if (rc)
                return rc;
        kw_account_door(r, code, only, door);
        rc = kw_try_door(r, door, err);
        if (!rc)
                rc = kw_access_try(r->http->access, KW_PASSWORD, person.code, password, &right, err);
        if (rc)
                return rc;
        if (!right || !person.code[0])
                return kw_was_wrong(r, door, &kw_account_rule, person.code, terminal,
                                    person.code[0] ? "wrong password" : "no such person", err);
        kw_door_right(r->http->doors, door, &kw_account_rule);
        return begin(r, &person, terminal, false, out, err);
}

/* The person of a badge, or of a code; code "" for nobody. */
static int person_of_badge(struct kw_request *r, const char *badge, const char *code, struct kw_person *out,
                           struct kw_error *err)
{
        char tidied[KW_CODE_MAX + 1];
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, err);

        if (rc)
                return rc;
        tidy(badge ? badge : code, tidied);
        rc = badge ? kw_find_badge(ledger, tidied, out, err) : kw_find_person(ledger, tidied, out, err);
        kw_reader_give(r->http, ledger);
        if (out->code[0] && out->closed)
                out->code[0] = '\0';
        return rc;
}

static int sign_in_by_badge(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *badge = NULL, *code = NULL, *pin = NULL;
        const struct kw_field fields[] = {{"badge", false, &badge}, {"person", false, &code}, {"pin", true, &pin}, {0}};
        char terminal[KW_CODE_MAX + 1], at_terminal[128], at_person[128];
        struct kw_person person = {0};
        bool right = false;
        int rc = kw_form_read(r, fields, err);

        if (!rc && !badge == !code)
                rc = kw_refuse_with(err, KW_MISSING, "/badge", "badge", NULL,
                                    "a badge or a person's code, one of them");
        if (!rc)
                rc = kw_device(r, terminal, err);
        if (!rc && !terminal[0])
                rc = kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "enrolled", NULL,
                                    "a PIN does at an enrolled terminal only: an administrator enrols this one");
        if (!rc)
                rc = person_of_badge(r, badge, code, &person, err);
        if (rc)
                return rc;
        snprintf(at_terminal, sizeof at_terminal, "terminal:%s", terminal);
        snprintf(at_person, sizeof at_person, "pin:%s", person.code[0] ? person.code : badge ? badge : code);
        rc = kw_try_door(r, at_terminal, err);
        if (!rc)
                rc = kw_try_door(r, at_person, err);
        if (!rc)
                rc = kw_access_try(r->http->access, KW_PIN, person.code, pin, &right, err);
        if (rc)
                return rc;
        if (!right || !person.code[0]) {
                kw_door_wrong(r->http->doors, at_terminal, &kw_terminal_rule);
                return kw_was_wrong(r, at_person, &kw_pin_rule, person.code, terminal,
                                    person.code[0] ? "wrong PIN" : "no such badge", err);
        }
        kw_door_right(r->http->doors, at_person, &kw_pin_rule);
        if (!(person.roles & (KW_OPERATOR | KW_QUALITY)))
                return kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "floor", NULL,
                                      "only who works on the floor signs in by badge and PIN");
        return begin(r, &person, terminal, true, out, err);
}

static int again(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        struct kw_identity *i = &r->identity;
        const char *password = NULL;
        const struct kw_field fields[] = {{"password", true, &password}, {0}};
        char door[128], renewed[KW_SESSION_TEXT];
        struct kw_person person;
        bool only, right = false;
        int rc = kw_form_read(r, fields, err);

        if (!rc && i->how != KW_BY_PASSWORD)
                rc = kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "by-password", NULL,
                                    "this is for who signed in by password: sign in so first");
        if (!rc)
                rc = kw_known_person(r, i->by, &person, &only, err);
        if (rc)
                return rc;
        kw_account_door(r, i->by, only, door);
        rc = kw_try_door(r, door, err);
        if (!rc)
                rc = kw_access_try(r->http->access, KW_PASSWORD, person.code, password, &right, err);
        if (rc)
                return rc;
        if (!right)
                return kw_was_wrong(r, door, &kw_account_rule, person.code, i->session.terminal, "wrong password", err);
        rc = kw_say_access(r->http, i->by, i->session.terminal,
                           &(struct kw_said_access){.what = "sign-in",
                                                    .person = i->by,
                                                    .terminal = i->session.terminal,
                                                    .why = "password given again"},
                           err);
        if (rc)
                return rc;
        if (!kw_session_again(r->http->sessions, i->secret, kw_now_ms(), renewed, &i->session))
                return kw_refuse_with(err, KW_NO_SESSION, NULL, "ended", NULL, "the session has ended: sign in");
        kw_cookie_set(r, KW_SESSION_COOKIE, renewed);
        put_me(r, person.name, out);
        return 0;
}

static int sign_out(struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_identity *i = &r->identity;
        int rc = kw_form_read(r, (const struct kw_field[]){{0}}, err);

        if (!rc && i->how == KW_BY_TOKEN)
                rc = kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "token-session", NULL, "a token is not signed in");
        if (rc)
                return rc;
        kw_session_end(r->http->sessions, i->secret);
        kw_cookie_set(r, KW_SESSION_COOKIE, NULL);
        kw_put_object(out, NULL);
        kw_put_bool(out, "signed_in", false);
        kw_put_object_end(out);
        return kw_say_access(
                r->http, i->by, i->session.terminal,
                &(struct kw_said_access){.what = "sign-out", .person = i->by, .terminal = i->session.terminal}, err);
}

enum MHD_Result kw_sign_in(struct kw_request *r)
{
        return kw_porters_do(r, sign_in);
}

enum MHD_Result kw_sign_in_by_badge(struct kw_request *r)
{
        return kw_porters_do(r, sign_in_by_badge);
}

enum MHD_Result kw_sign_in_again(struct kw_request *r)
{
        return kw_porters_do(r, again);
}

enum MHD_Result kw_sign_out(struct kw_request *r)
{
        return kw_porters_do(r, sign_out);
}
