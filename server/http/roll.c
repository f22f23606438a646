/*
 * The roll: who and what there is, and what each may do, as answers.
 */
#include "server.h"

#include <stdio.h>
#include <string.h>

/* What is being written, and with which secrets beside it. */
struct roll {
        struct kw_request *r;
        struct kw_buf *out;
        struct kw_error *err;
        bool states; /* who asks may see who has a password and what is locked */
};

static void put_roles(struct kw_buf *out, const char *name, unsigned roles)
{
        kw_put_array(out, name);
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

static void put_entry(struct kw_buf *out, bool closed, int64_t seq, int64_t at, const char *note)
{
        char stamp[KW_STAMP_LEN + 1];

        kw_stamp_write(at, stamp);
        kw_put_bool(out, "closed", closed);
        kw_put_string(out, "note", note);
        kw_put_int(out, "entry", seq);
        kw_put_string(out, "at", stamp);
}

/* --- people ----------------------------------------------------------------------------------- */

static int put_states(struct roll *roll, const struct kw_person *p)
{
        struct kw_http *http = roll->r->http;
        bool password, pin;
        char door[128];
        int64_t locked;
        int rc = kw_access_has(http->access, KW_PASSWORD, p->code, &password, roll->err);

        if (rc == 0)
                rc = kw_access_has(http->access, KW_PIN, p->code, &pin, roll->err);
        if (rc)
                return rc;
        snprintf(door, sizeof door, "account:%s", p->code);
        locked = kw_door_locked(http->doors, door);
        snprintf(door, sizeof door, "pin:%s", p->code);
        if (kw_door_locked(http->doors, door) > locked)
                locked = kw_door_locked(http->doors, door);
        kw_put_bool(roll->out, "password", password);
        kw_put_bool(roll->out, "pin", pin);
        kw_put_int(roll->out, "locked_s", locked);
        return 0;
}

static int put_person(void *ctx, const struct kw_person *p, const char *note)
{
        struct roll *roll = ctx;
        int rc = 0;

        kw_put_object(roll->out, NULL);
        kw_put_string(roll->out, "person", p->code);
        kw_put_string(roll->out, "name", p->name);
        put_roles(roll->out, "roles", p->roles);
        put_code(roll->out, "badge", p->badge);
        put_entry(roll->out, p->closed, p->seq, p->at, note);
        if (roll->states)
                rc = put_states(roll, p);
        kw_put_object_end(roll->out);
        return rc;
}

/* --- terminals and tokens ----------------------------------------------------------------------- */

static int put_given(struct roll *roll, enum kw_bearer what, const char *code, const char *name)
{
        bool has = false;
        int rc = roll->r->http->access ? kw_bearer_has(roll->r->http->access, what, code, &has, roll->err) : 0;

        kw_put_bool(roll->out, name, has);
        return rc;
}

static int put_terminal(void *ctx, const struct kw_terminal *t, const char *note)
{
        struct roll *roll = ctx;
        int rc;

        kw_put_object(roll->out, NULL);
        kw_put_string(roll->out, "terminal", t->code);
        kw_put_string(roll->out, "where", t->where);
        rc = put_given(roll, KW_DEVICE, t->code, "enrolled");
        put_entry(roll->out, t->closed, t->seq, t->at, note);
        kw_put_object_end(roll->out);
        return rc;
}

static void put_only(struct kw_buf *out, const struct kw_token *t)
{
        if (!t->purpose) {
                kw_put_null(out, "only");
                return;
        }
        kw_put_object(out, "only");
        put_code(out, "kind", t->only.kind);
        put_code(out, "machine", t->only.machine);
        put_code(out, "instrument", t->only.instrument);
        put_code(out, "read", t->only.read);
        kw_put_object_end(out);
}

static int put_token(void *ctx, const struct kw_token *t, const char *note)
{
        struct roll *roll = ctx;
        char stamp[KW_STAMP_LEN + 1];
        int rc;

        if (t->expires != INT64_MAX)
                kw_stamp_write(t->expires, stamp);
        kw_put_object(roll->out, NULL);
        kw_put_string(roll->out, "token", t->code);
        for (size_t i = 0; kw_role_name(i); i++) {
                if (t->role & (1u << i))
                        kw_put_string(roll->out, "role", kw_role_name(i));
        }
        put_only(roll->out, t);
        kw_put_string(roll->out, "expires", t->expires == INT64_MAX ? NULL : stamp);
        rc = put_given(roll, KW_TOKEN, t->code, "given");
        put_entry(roll->out, t->closed, t->seq, t->at, note);
        kw_put_object_end(roll->out);
        return rc;
}

/* --- the routes --------------------------------------------------------------------------------- */

enum part { PEOPLE, TERMINALS, TOKENS };

static int put_part(struct roll *roll, struct kw_ledger *ledger, enum part part)
{
        switch (part) {
        case PEOPLE:
                return kw_each_person(ledger, put_person, roll, roll->err);
        case TERMINALS:
                return kw_each_terminal(ledger, put_terminal, roll, roll->err);
        default:
                return kw_each_token(ledger, put_token, roll, roll->err);
        }
}

static enum MHD_Result answer(struct kw_request *r, const char *name, enum part part)
{
        struct kw_error err = {0};
        struct kw_buf out = {0};
        struct roll roll = {.r = r,
                            .out = &out,
                            .err = &err,
                            .states = r->http->access && kw_may(&r->identity.who, KW_MAY_READ_ACCESS, NULL) == 0};
        struct kw_ledger *ledger;
        int rc = kw_reader_take(r->http, &ledger, &err);

        if (rc)
                return kw_reply_problem(r, rc, &err);
        kw_put_object(&out, NULL);
        kw_put_array(&out, name);
        rc = put_part(&roll, ledger, part);
        kw_put_array_end(&out);
        kw_put_object_end(&out);
        kw_reader_give(r->http, ledger);
        if (!rc)
                return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
        kw_buf_free(&out);
        return kw_reply_problem(r, rc, &err);
}

enum MHD_Result kw_answer_people(struct kw_request *r)
{
        return answer(r, "people", PEOPLE);
}

enum MHD_Result kw_answer_terminals(struct kw_request *r)
{
        return answer(r, "terminals", TERMINALS);
}

enum MHD_Result kw_answer_tokens(struct kw_request *r)
{
        return answer(r, "tokens", TOKENS);
}

/* --- rights ------------------------------------------------------------------------------------- */

static void put_right(struct kw_buf *out, const struct kw_right_row *row)
{
        kw_put_string(out, "right", row->name);
        put_roles(out, "roles", row->roles);
        kw_put_bool(out, "anyone", row->anyone);
        kw_put_bool(out, "fresh", row->fresh);
}

enum MHD_Result kw_answer_rights(struct kw_request *r)
{
        struct kw_buf out = {0};

        kw_put_object(&out, NULL);
        put_roles(&out, "roles", KW_EVERY_ROLE);
        kw_put_array(&out, "rights");
        for (int i = KW_MAY_NOTHING + 1; i < KW_RIGHTS; i++) {
                kw_put_object(&out, NULL);
                put_right(&out, kw_right_row((enum kw_right)i));
                kw_put_object_end(&out);
        }
        kw_put_array_end(&out);
        kw_put_array(&out, "routes");
        for (const struct kw_route *route = kw_routes; route->path; route++) {
                kw_put_object(&out, NULL);
                kw_put_string(&out, "method", route->method);
                kw_put_string(&out, "path", route->path);
                put_right(&out, kw_right_row(route->right));
                kw_put_object_end(&out);
        }
        kw_put_array_end(&out);
        kw_put_array(&out, "kinds");
        for (size_t i = 0; kw_kind_right(i); i++) {
                kw_put_object(&out, NULL);
                kw_put_string(&out, "kind", kw_kind_right(i)->kind);
                put_roles(&out, "roles", kw_kind_right(i)->roles);
                kw_put_bool(&out, "fresh", kw_kind_right(i)->fresh);
                kw_put_object_end(&out);
        }
        kw_put_array_end(&out);
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
}
