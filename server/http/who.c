/*
 * Who asks: by a session's cookie, by a token, or by how the server was started; and whether that is enough for the
 * route.
 *
 * Roles are looked up in the ledger for each request, so that what an administrator has just said holds. When they
 * can't be looked up nobody gets in.
 */
#include "server.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static const char *header(struct kw_request *r, const char *name)
{
        return MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, name);
}

/* --- cookies ---------------------------------------------------------------------------------- */

#define DEVICE_DAYS 400 /* as long as browsers keep one */

/* Over TLS a cookie's name says that nobody but this server has set it; on plain loopback that can't be had. */
static bool is_private(struct kw_request *r)
{
        const char *host = header(r, MHD_HTTP_HEADER_HOST);

        return host && kw_address_is_https(&r->http->address, host);
}

static const char *cookie_name(struct kw_request *r, enum kw_cookie which)
{
        static const char *const names[2][2] = {{"s", "__Host-s"}, {"t", "__Host-t"}};

        return names[which == KW_DEVICE_COOKIE][is_private(r)];
}

static const char *cookie(struct kw_request *r, enum kw_cookie which)
{
        return MHD_lookup_connection_value(r->connection, MHD_COOKIE_KIND, cookie_name(r, which));
}

void kw_cookie_set(struct kw_request *r, enum kw_cookie which, const char *value)
{
        char age[40] = "";

        if (!value)
                snprintf(age, sizeof age, "Max-Age=0; ");
        else if (which == KW_DEVICE_COOKIE)
                snprintf(age, sizeof age, "Max-Age=%d; ", DEVICE_DAYS * 24 * 3600);
        kw_reply_header(r, MHD_HTTP_HEADER_SET_COOKIE, "%s=%s; %s%sHttpOnly; SameSite=Strict; Path=/",
                        cookie_name(r, which), value ? value : "", age, is_private(r) ? "Secure; " : "");
}

/* --- the three ways to be known --------------------------------------------------------------- */

/* A refusal from inside is not the asker's: whoever it is may be somebody, only not now. */
static int not_now(struct kw_request *r, int rc, struct kw_error *err)
{
        if (rc > 0)
                kw_say(r->http, "%.*s: who asks can't be looked up: %s", (int)r->path_len, r->target, err->text);
        return kw_refuse_with(err, KW_BUSY, NULL, "who", NULL,
                              "who you are can't be looked up just now; try again in a moment");
}

static int find_person(struct kw_request *r, const char *code, struct kw_person *out, struct kw_error *err)
{
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, err);

        if (rc)
                return rc;
        rc = kw_find_person(ledger, code, out, err);
        kw_reader_give(r->http, ledger);
        return rc;
}

static int find_token(struct kw_request *r, const char *code, struct kw_token *out, struct kw_error *err)
{
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, err);

        if (rc)
                return rc;
        rc = kw_find_token(ledger, code, out, err);
        kw_reader_give(r->http, ledger);
        return rc;
}

int kw_device(struct kw_request *r, char out[KW_CODE_MAX + 1], struct kw_error *err)
{
        const char *value = cookie(r, KW_DEVICE_COOKIE);
        struct kw_terminal terminal;
        struct kw_ledger *ledger;
        int rc;

        out[0] = '\0';
        if (!value || !r->http->access)
                return 0;
        rc = kw_bearer_find(r->http->access, KW_DEVICE, value, out, err);
        if (rc || !out[0])
                return rc;
        rc = kw_reader_take(r->http, &ledger, err);
        if (rc)
                return rc;
        rc = kw_find_terminal(ledger, out, &terminal, err);
        kw_reader_give(r->http, ledger);
        if (rc || !terminal.code[0] || terminal.closed)
                out[0] = '\0';
        return rc;
}

static void take_open(struct kw_identity *i)
{
        i->how = KW_BY_OPEN;
        strcpy(i->by, "open");
        strcpy(i->terminal, "WEB");
        i->who = (struct kw_who){.roles = KW_EVERY_ROLE, .fresh = true};
}

/* "Bearer kwt_..."; the word in any case (RFC 9110, section 11.1). */
static const char *bearer(const char *credentials)
{
        if (strncasecmp(credentials, "Bearer ", 7) != 0)
                return "";
        credentials += 7;
        while (*credentials == ' ')
                credentials++;
        return credentials;
}

static void take_token(struct kw_identity *i, const struct kw_token *t)
{
        const char *at = t->only.machine[0] ? t->only.machine : t->only.instrument;

        i->how = KW_BY_TOKEN;
        strcpy(i->by, t->code);
        snprintf(i->terminal, sizeof i->terminal, "%s", at[0] ? at : "API");
        i->only = t->only;
        i->who = (struct kw_who){.roles = t->role, .only = t->purpose ? &i->only : NULL, .fresh = true};
}

static int by_token(struct kw_request *r, const char *credentials, struct kw_error *err)
{
        struct kw_said_access said = {.what = "refused", .why = "no such token"};
        char code[KW_CODE_MAX + 1];
        struct kw_token token;
        int rc = kw_bearer_find(r->http->access, KW_TOKEN, bearer(credentials), code, err);

        if (!rc && code[0]) {
                rc = find_token(r, code, &token, err);
                if (rc)
                        return rc;
                if (token.code[0] && !token.closed && token.expires > (int64_t)time(NULL)) {
                        take_token(&r->identity, &token);
                        return 0;
                }
                said.token = code;
                said.why = token.closed ? "the token is closed" : "the token has expired";
        }
        if (!rc)
                kw_refusal_note(r->http, &said);
        return rc;
}

static void take_session(struct kw_identity *i, const struct kw_session *s)
{
        i->how = s->by_pin ? KW_BY_PIN : KW_BY_PASSWORD;
        strcpy(i->by, s->person);
        strcpy(i->terminal, s->terminal[0] ? s->terminal : "WEB");
        i->session = *s;
        i->who = (struct kw_who){.roles = s->by_pin ? KW_OPERATOR : s->roles,
                                 .reading = s->reading,
                                 .fresh = kw_session_fresh_left(s, kw_now_ms()) > 0};
}

/* A session is its person's as long as the person's roles are what they were, and at the terminal where it began. */
static int by_session(struct kw_request *r, const char *secret, struct kw_error *err)
{
        bool keep = !header(r, "Kinwire-Background");
        char device[KW_CODE_MAX + 1];
        struct kw_session session;
        struct kw_person person;
        int rc;

        if (!kw_session_find(r->http->sessions, secret, kw_now_ms(), keep, &session))
                return 0;
        rc = find_person(r, session.person, &person, err);
        if (rc)
                return rc;
        if (!person.code[0] || person.closed || person.roles != session.roles) {
                kw_session_end_of(r->http->sessions, session.person, NULL);
                return 0;
        }
        if (session.terminal[0]) {
                rc = kw_device(r, device, err);
                if (rc || strcmp(device, session.terminal) != 0)
                        return rc;
        }
        take_session(&r->identity, &session);
        snprintf(r->identity.secret, sizeof r->identity.secret, "%s", secret);
        return 0;
}

int kw_identify(struct kw_request *r, struct kw_error *err)
{
        const char *credentials = header(r, MHD_HTTP_HEADER_AUTHORIZATION), *secret;
        int rc = 0;

        if (r->route->right == KW_MAY_SEE)
                return 0;
        if (r->http->open) {
                take_open(&r->identity);
        } else if (credentials) {
                rc = by_token(r, credentials, err);
        } else {
                secret = cookie(r, KW_SESSION_COOKIE);
                if (secret)
                        rc = by_session(r, secret, err);
        }
        r->by = r->identity.by[0] ? r->identity.by : NULL;
        return rc ? not_now(r, rc, err) : 0;
}

/* --- whether that is enough ------------------------------------------------------------------- */

int kw_check_csrf(struct kw_request *r, struct kw_error *err)
{
        const struct kw_identity *i = &r->identity;
        const char *given = header(r, "Kinwire-Csrf");
        bool said = header(r, MHD_HTTP_HEADER_ORIGIN) || header(r, "Sec-Fetch-Site"); /* the gate looked at them */

        if (i->how != KW_BY_PASSWORD && i->how != KW_BY_PIN)
                return 0;
        if (said && given && strlen(given) == strlen(i->session.csrf) &&
            sodium_memcmp(given, i->session.csrf, strlen(given)) == 0)
                return 0;
        return kw_refuse_with(
                err, KW_NOT_ALLOWED, NULL, "session-word", NULL,
                "what is sent with a session says where it comes from, and has the session's Kinwire-Csrf");
}

/* Told apart for the ledger, which an auditor reads: what was asked for, and by whom. */
void kw_note_denied(struct kw_request *r, const char *kind)
{
        char why[96];

        if (r->http->open)
                return;
        snprintf(why, sizeof why, "%s %s%s%s", r->route->method, r->route->path, kind ? ": " : "", kind ? kind : "");
        kw_refusal_note(r->http, &(struct kw_said_access){
                                         .what = "denied",
                                         .person = r->identity.how == KW_BY_TOKEN ? NULL : r->identity.by,
                                         .token = r->identity.how == KW_BY_TOKEN ? r->identity.by : NULL,
                                         .terminal = r->identity.session.terminal,
                                         .why = why,
                                 });
}

int kw_admit(struct kw_request *r, const char *method, struct kw_error *err)
{
        const struct kw_right_row *row = kw_right_row(r->route->right);
        int rc;

        if (row->anyone)
                return 0;
        if (r->identity.how == KW_UNKNOWN) {
                kw_reply_header(r, MHD_HTTP_HEADER_WWW_AUTHENTICATE, "Bearer realm=\"kinwire\"");
                return kw_refuse_with(err, KW_NO_SESSION, NULL, "first", NULL,
                                      "sign in first, or send a token that is good");
        }
        if (strcmp(method, MHD_HTTP_METHOD_POST) == 0) {
                rc = kw_check_csrf(r, err);
                if (rc)
                        return rc;
        }
        rc = kw_may(&r->identity.who, r->route->right, err);
        if (rc == KW_NOT_ALLOWED)
                kw_note_denied(r, NULL);
        return rc;
}
