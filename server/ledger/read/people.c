/*
 * People, terminals and tokens, as their last entries have them.
 */
#include "kinwire/people.h"

#include "../store.h"

#include <stdio.h>

static void text(struct kw_query *q, int column, char *out, size_t room)
{
        const char *t = kw_text(q, column);

        snprintf(out, room, "%s", t ? t : "");
}
#define TEXT(q, column, out) text(q, column, out, sizeof(out))

/* The first row, or none: @take reads it. */
static int one(struct kw_ledger *l, struct kw_query *q, int rc, void (*take)(struct kw_query *q, void *out), void *out,
               struct kw_error *err)
{
        if (rc == 0)
                rc = kw_next(l, q);
        if (rc == 1)
                take(q, out);
        kw_end(q);
        return rc < 0 ? kw_store_failed(l, rc, err) : 0;
}

/* --- people ----------------------------------------------------------------------------------- */

#define PERSON "SELECT seq, at, code, name, roles, badge, closed, note FROM person p"
#define LAST   " seq = (SELECT max(seq) FROM person q WHERE q.code = p.code)"

static void take_person(struct kw_query *q, void *ctx)
{
        struct kw_person *p = ctx;

        p->seq = kw_int(q, 0);
        p->at = kw_int(q, 1);
        TEXT(q, 2, p->code);
        TEXT(q, 3, p->name);
        p->roles = (unsigned)kw_int(q, 4);
        TEXT(q, 5, p->badge);
        p->closed = kw_int(q, 6) != 0;
}

int kw_find_person(struct kw_ledger *ledger, const char *code, struct kw_person *out, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(ledger, &q, PERSON " WHERE code = ?1 ORDER BY seq DESC LIMIT 1", "t", code);

        out->code[0] = '\0';
        return one(ledger, &q, rc, take_person, out, err);
}

int kw_find_badge(struct kw_ledger *ledger, const char *badge, struct kw_person *out, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(ledger, &q, PERSON " WHERE badge = ?1 AND closed = 0 AND" LAST " ORDER BY seq DESC LIMIT 1",
                        "t", badge);

        out->code[0] = '\0';
        return one(ledger, &q, rc, take_person, out, err);
}

int kw_count_people(struct kw_ledger *ledger, const char *but, int64_t *people, int64_t *administrators,
                    struct kw_error *err)
{
        int rc = kw_one(ledger, people, 0, "SELECT count(DISTINCT code) FROM person", "");

        if (rc == 0)
                rc = kw_one(ledger, administrators, 0,
                            "SELECT count(*) FROM person p WHERE closed = 0 AND roles & ?1 AND code <> ?2 AND" LAST,
                            "it", (int64_t)KW_ADMINISTRATOR, but ? but : "");
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}

int kw_each_person(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_person *p, const char *note),
                   void *ctx, struct kw_error *err)
{
        struct kw_person person;
        struct kw_query q;
        int rc = kw_ask(ledger, &q, PERSON " WHERE" LAST " ORDER BY code", ""), told = 0;

        while (rc == 0 && !told && (rc = kw_next(ledger, &q)) == 1) {
                take_person(&q, &person);
                told = fn(ctx, &person, kw_text(&q, 7));
                rc = 0;
        }
        kw_end(&q);
        return rc < 0 ? kw_store_failed(ledger, rc, err) : told;
}

/* --- terminals -------------------------------------------------------------------------------- */

#define TERMINAL "SELECT seq, at, code, place, closed, note FROM terminal t"

static void take_terminal(struct kw_query *q, void *ctx)
{
        struct kw_terminal *t = ctx;

        t->seq = kw_int(q, 0);
        t->at = kw_int(q, 1);
        TEXT(q, 2, t->code);
        TEXT(q, 3, t->where);
        t->closed = kw_int(q, 4) != 0;
}

int kw_find_terminal(struct kw_ledger *ledger, const char *code, struct kw_terminal *out, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(ledger, &q, TERMINAL " WHERE code = ?1 ORDER BY seq DESC LIMIT 1", "t", code);

        out->code[0] = '\0';
        return one(ledger, &q, rc, take_terminal, out, err);
}

int kw_each_terminal(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_terminal *t, const char *note),
                     void *ctx, struct kw_error *err)
{
        struct kw_terminal terminal;
        struct kw_query q;
        int rc = kw_ask(ledger, &q,
                        TERMINAL " WHERE seq = (SELECT max(seq) FROM terminal q WHERE q.code = t.code) ORDER BY code",
                        ""),
            told = 0;

        while (rc == 0 && !told && (rc = kw_next(ledger, &q)) == 1) {
                take_terminal(&q, &terminal);
                told = fn(ctx, &terminal, kw_text(&q, 5));
                rc = 0;
        }
        kw_end(&q);
        return rc < 0 ? kw_store_failed(ledger, rc, err) : told;
}

/* --- tokens ----------------------------------------------------------------------------------- */

#define TOKEN                                                                                       \
        "SELECT seq, at, code, role, only_kind, only_machine, only_instrument, only_read, purpose," \
        " expires, closed, note FROM token t"

static void take_token(struct kw_query *q, void *ctx)
{
        struct kw_token *t = ctx;

        t->seq = kw_int(q, 0);
        t->at = kw_int(q, 1);
        TEXT(q, 2, t->code);
        t->role = (unsigned)kw_int(q, 3);
        TEXT(q, 4, t->only.kind);
        TEXT(q, 5, t->only.machine);
        TEXT(q, 6, t->only.instrument);
        TEXT(q, 7, t->only.read);
        t->purpose = kw_int(q, 8) != 0;
        t->expires = kw_is_null(q, 9) ? INT64_MAX : kw_int(q, 9);
        t->closed = kw_int(q, 10) != 0;
}

int kw_find_token(struct kw_ledger *ledger, const char *code, struct kw_token *out, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(ledger, &q, TOKEN " WHERE code = ?1 ORDER BY seq DESC LIMIT 1", "t", code);

        out->code[0] = '\0';
        return one(ledger, &q, rc, take_token, out, err);
}

int kw_each_token(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_token *t, const char *note), void *ctx,
                  struct kw_error *err)
{
        struct kw_token token;
        struct kw_query q;
        int rc = kw_ask(ledger, &q,
                        TOKEN " WHERE seq = (SELECT max(seq) FROM token q WHERE q.code = t.code) ORDER BY code", ""),
            told = 0;

        while (rc == 0 && !told && (rc = kw_next(ledger, &q)) == 1) {
                take_token(&q, &token);
                told = fn(ctx, &token, kw_text(&q, 11));
                rc = 0;
        }
        kw_end(&q);
        return rc < 0 ? kw_store_failed(ledger, rc, err) : told;
}
