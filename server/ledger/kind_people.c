/*
 * People, terminals and tokens: who there is. The last entry for a code holds.
 *
 * What must not come about (a mill without an administrator, two people with one badge, a person and a token that sign
 * alike) is refused where a person decides, and nowhere else: what is in the ledger stays.
 */
#include "work.h"

#include "kinwire/rights.h"

#include <errno.h>
#include <string.h>

static bool is_closed(const cJSON *body)
{
        return cJSON_IsTrue(kw_json_get(body, "closed"));
}

static int64_t roles_of(const cJSON *body)
{
        const cJSON *role;
        int64_t roles = 0;

        cJSON_ArrayForEach(role, kw_json_get(body, "roles")) roles |= kw_role_bit(role->valuestring);
        return roles;
}

/* --- people ----------------------------------------------------------------------------------- */

#define STANDS " closed = 0 AND seq = (SELECT max(seq) FROM person q WHERE q.code = p.code)"

static int check_last_administrator(struct kw_work *w, const char *code, bool remains)
{
        int64_t is = 0, others = 0;
        int rc = 0;

        if (remains)
                return 0;
        rc = kw_one(w->l, &is, 0, "SELECT 1 FROM person p WHERE code = ?1 AND roles & ?2 AND" STANDS, "ti", code,
                    (int64_t)KW_ADMINISTRATOR);
        if (rc == 0)
                rc = kw_one(w->l, &others, 0,
                            "SELECT count(*) FROM person p WHERE code <> ?1 AND roles & ?2 AND" STANDS, "ti", code,
                            (int64_t)KW_ADMINISTRATOR);
        if (rc || !is || others)
                return rc;
        return kw_refuse_with(w->err, KW_LAST_ADMINISTRATOR, is_closed(w->body) ? "/body/closed" : "/body/roles",
                              "says", KW_VALUES(KW_WORD("person", code)),
                              "%s is the only administrator: make somebody else one first", code);
}

static int check_badge(struct kw_work *w, const char *code, const char *badge)
{
        struct kw_query q;
        int rc = 0;

        if (!badge)
                return 0;
        rc = kw_ask(w->l, &q, "SELECT code FROM person p WHERE badge = ?1 AND code <> ?2 AND" STANDS, "tt", badge,
                    code);
        if (rc == 0)
                rc = kw_next(w->l, &q);
        if (rc == 1)
                rc = kw_refuse_with(w->err, KW_CODE_TAKEN, "/body/badge", "badge",
                                    KW_VALUES(KW_WORD("person", kw_text(&q, 0)), KW_WORD("badge", badge)),
                                    "%s has the badge %s", kw_text(&q, 0), badge);
        kw_end(&q);
        return rc;
}

static int check_name(struct kw_work *w, const char *code, const char *sql, const char *pointer, const char *what)
{
        int64_t there = 0;
        int rc = kw_one(w->l, &there, 0, sql, "t", code);

        if (rc || !there)
                return rc;
        return kw_refuse_with(w->err, KW_CODE_TAKEN, pointer, "signs", KW_VALUES(KW_WORD("code", code)),
                              "%s is the name of a %s, and entries are signed with it", code, what);
}

int kw_apply_person(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "person"), *badge = kw_json_text(w->body, "badge");
        int64_t roles = roles_of(w->body);
        bool closed = is_closed(w->body);
        int rc = 0;

        if (w->judge)
                rc = check_name(w, code, "SELECT 1 FROM token WHERE code = ?1", "/body/person", "token");
        if (w->judge && rc == 0)
                rc = check_badge(w, code, closed ? NULL : badge);
        if (w->judge && rc == 0)
                rc = check_last_administrator(w, code, !closed && (roles & KW_ADMINISTRATOR));
        if (rc)
                return rc;
        return kw_do(w->l,
                     "INSERT INTO person (seq, code, name, roles, badge, closed, note, at)"
                     " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                     "ittititi", w->seq, code, kw_json_text(w->body, "name"), roles, badge, (int64_t)closed,
                     kw_json_text(w->body, "note"), w->at);
}

/* --- terminals and tokens ------------------------------------------------------------------------- */

/* What entries say where nobody's terminal is: a browser, a token, the program itself. */
static int check_terminal(struct kw_work *w, const char *code)
{
        static const char *const places[] = {"WEB", "API", "CONSOLE", "LOAD"};

        for (size_t i = 0; i < sizeof(places) / sizeof(places[0]); i++)
                if (strcmp(places[i], code) == 0)
                        return kw_refuse_with(w->err, KW_CODE_TAKEN, "/body/terminal", "terminal",
                                              KW_VALUES(KW_WORD("code", code)),
                                              "%s is said of what no enrolled terminal sent: take another code", code);
        return 0;
}

int kw_apply_terminal(struct kw_work *w)
{
        int rc = w->judge ? check_terminal(w, kw_json_text(w->body, "terminal")) : 0;

        if (rc)
                return rc;
        return kw_do(w->l, "INSERT INTO terminal (seq, code, place, closed, note, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                     "ittiti", w->seq, kw_json_text(w->body, "terminal"), kw_json_text(w->body, "where"),
                     (int64_t)is_closed(w->body), kw_json_text(w->body, "note"), w->at);
}

int kw_apply_token(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "token");
        const cJSON *only = kw_json_get(w->body, "only");
        int64_t expires;
        int rc = w->judge ? check_name(w, code, "SELECT 1 FROM person WHERE code = ?1", "/body/token", "person") : 0;

        if (rc)
                return rc;
        return kw_do(w->l,
                     "INSERT INTO token (seq, code, role, only_kind, only_machine, only_instrument, only_read, purpose,"
                     " expires, closed, note, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
                     "ititttti"
                     "Iiti",
                     w->seq, code, (int64_t)kw_role_bit(kw_json_text(w->body, "role")),
                     only ? kw_json_text(only, "kind") : NULL, only ? kw_json_text(only, "machine") : NULL,
                     only ? kw_json_text(only, "instrument") : NULL, only ? kw_json_text(only, "read") : NULL,
                     (int64_t)(only != NULL), kw_seconds(w->body, "expires", &expires), (int64_t)is_closed(w->body),
                     kw_json_text(w->body, "note"), w->at);
}

/* Nothing follows from who came in: the entry is all there is of it. */
int kw_apply_access(struct kw_work *w)
{
        (void)w;
        return 0;
}
