/*
 * Statements: prepared once per connection, found again by the address of their text.
 */
#include "store.h"

#include "prepared.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

/* What SQLite says, as an errno: -ENOSPC and -EBUSY are told apart because the sender is. */
static int errno_of(int rc)
{
        switch (rc & 0xff) {
        case SQLITE_NOMEM:
                return -ENOMEM;
        case SQLITE_FULL:
                return -ENOSPC;
        case SQLITE_INTERRUPT: /* kw_ledger_while() */
                return -ECANCELED;
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
                return -EBUSY;
        default:
                return -EIO;
        }
}

static int find_prepared(struct kw_ledger *l, const char *sql, struct kw_prepared **out)
{
        struct kw_prepared *p;
        int rc;

        HASH_FIND_PTR(l->prepared, &sql, p);
        if (!p) {
                p = calloc(1, sizeof(*p));
                if (!p)
                        return -ENOMEM;
                p->sql = sql;
                rc = sqlite3_prepare_v3(l->db, sql, -1, SQLITE_PREPARE_PERSISTENT, &p->stmt, NULL);
                if (rc) {
                        free(p);
                        return errno_of(rc);
                }
                HASH_ADD_PTR(l->prepared, sql, p);
                if (!p->hh.tbl) {
                        sqlite3_finalize(p->stmt);
                        free(p);
                        return -ENOMEM;
                }
        }
        *out = p;
        return 0;
}

void kw_prepared_free(struct kw_ledger *l)
{
        struct kw_prepared *p, *tmp;

        HASH_ITER(hh, l->prepared, p, tmp)
        {
                HASH_DEL(l->prepared, p);
                sqlite3_finalize(p->stmt);
                free(p);
        }
}

static int bind(sqlite3_stmt *stmt, const char *types, va_list args)
{
        int rc = SQLITE_OK;

        for (int i = 1; rc == SQLITE_OK && *types; i++, types++) {
                const int64_t *maybe;
                const void *bytes;

                switch (*types) {
                case 'i':
                        rc = sqlite3_bind_int64(stmt, i, va_arg(args, int64_t));
                        break;
                case 'I':
                        maybe = va_arg(args, const int64_t *);
                        rc = maybe ? sqlite3_bind_int64(stmt, i, *maybe) : sqlite3_bind_null(stmt, i);
                        break;
                case 't':
                        rc = sqlite3_bind_text(stmt, i, va_arg(args, const char *), -1, SQLITE_STATIC);
                        break;
                case 'b':
                        bytes = va_arg(args, const void *);
                        rc = sqlite3_bind_blob(stmt, i, bytes, va_arg(args, int), SQLITE_STATIC);
                        break;
                default:
                        return -EINVAL;
                }
        }
        return rc ? errno_of(rc) : 0;
}

#define LOOK_EVERY 256    /* statements */
#define LOOK_STEPS 200000 /* of SQLite's machine, some milliseconds */

static int unwanted(void *ledger)
{
        const struct kw_ledger *l = ledger;

        return !l->wanted(l->wanted_ctx);
}

void kw_ledger_while(struct kw_ledger *l, bool (*wanted)(void *ctx), void *ctx)
{
        l->wanted = wanted;
        l->wanted_ctx = ctx;
        l->asked = 0;
        sqlite3_progress_handler(l->db, wanted ? LOOK_STEPS : 0, wanted ? unwanted : NULL, l);
}

static int ask(struct kw_ledger *l, struct kw_query *q, const char *sql, const char *types, va_list args)
{
        struct kw_prepared *p = NULL;
        int rc;

        q->stmt = NULL;
        if (l->wanted && ++l->asked % LOOK_EVERY == 0 && unwanted(l))
                return -ECANCELED;
        rc = find_prepared(l, sql, &p);
        if (rc)
                return rc;
        q->stmt = p->stmt;
        sqlite3_reset(p->stmt);
        return bind(p->stmt, types, args);
}

int kw_ask(struct kw_ledger *l, struct kw_query *q, const char *sql, const char *types, ...)
{
        va_list args;
        int rc;

        va_start(args, types);
        rc = ask(l, q, sql, types, args);
        va_end(args);
        return rc;
}

int kw_next(struct kw_ledger *l, struct kw_query *q)
{
        int rc = sqlite3_step(q->stmt);

        (void)l;
        if (rc == SQLITE_ROW)
                return 1;
        sqlite3_reset(q->stmt);
        return rc == SQLITE_DONE ? 0 : errno_of(rc);
}

void kw_end(struct kw_query *q)
{
        if (q->stmt)
                sqlite3_reset(q->stmt);
}

int kw_do(struct kw_ledger *l, const char *sql, const char *types, ...)
{
        struct kw_query q;
        va_list args;
        int rc;

        va_start(args, types);
        rc = ask(l, &q, sql, types, args);
        va_end(args);
        while (rc == 0) {
                rc = kw_next(l, &q);
                if (rc == 0)
                        return 0;
                rc = rc > 0 ? 0 : rc;
        }
        kw_end(&q);
        return rc;
}

int kw_one(struct kw_ledger *l, int64_t *out, int64_t otherwise, const char *sql, const char *types, ...)
{
        struct kw_query q;
        va_list args;
        int rc;

        va_start(args, types);
        rc = ask(l, &q, sql, types, args);
        va_end(args);
        *out = otherwise;
        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1 && !kw_is_null(&q, 0))
                *out = kw_int(&q, 0);
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

int kw_run_script(struct kw_ledger *l, const char *sql, struct kw_error *err)
{
        char *text = NULL;
        int rc = sqlite3_exec(l->db, sql, NULL, NULL, &text);

        if (rc == SQLITE_OK)
                return 0;
        rc = (rc & 0xff) == SQLITE_BUSY
                     ? kw_refuse_with(err, KW_BUSY, "", "locked", NULL,
                                      "the ledger is locked by another program; try again in a moment")
             : (rc & 0xff) == SQLITE_FULL ? kw_refuse_with(err, KW_DISK_FULL, "", "full", NULL,
                                                           "the disk is full; free some space and try again")
                                          : kw_refuse(err, KW_INTERNAL, "", "the ledger file can't be used: %s",
                                                      text ? text : sqlite3_errstr(rc));
        sqlite3_free(text);
        return rc;
}

int kw_store_failed(struct kw_ledger *l, int rc, struct kw_error *err)
{
        switch (rc) {
        case -ENOMEM:
                return kw_refuse(err, KW_INTERNAL, "", "there is not enough memory for this");
        case -ENOSPC:
                return kw_refuse_with(err, KW_DISK_FULL, "", "full", NULL,
                                      "the disk is full: nothing was recorded; free some space and send it again");
        case -EBUSY:
                return kw_refuse_with(err, KW_BUSY, "", "locked", NULL,
                                      "the ledger is locked by another program; try again in a moment");
        case -ECANCELED:
                return kw_refuse_with(err, KW_BUSY, "", "stopping", NULL, "kinwire is stopping");
        case -ENOENT:
                return kw_refuse(
                        err, KW_INTERNAL, "",
                        "the ledger lacks an entry or a hash that it should have; 'kinwire verify' says which");
        default:
                return kw_refuse(err, KW_INTERNAL, "", "the ledger file can't be used: %s", sqlite3_errmsg(l->db));
        }
}

int kw_thing_id(struct kw_ledger *l, const char *type, const char *code, int64_t *id)
{
        return kw_one(l, id, 0, "SELECT id FROM thing WHERE type = ?1 AND code = ?2", "tt", type, code);
}

int kw_numbers_add(struct kw_numbers *to, int64_t number)
{
        if (to->n == to->cap) {
                size_t cap = to->cap ? 2 * to->cap : 16;
                int64_t *at = reallocarray(to->at, cap, sizeof(*at));

                if (!at)
                        return -ENOMEM;
                to->at = at;
                to->cap = cap;
        }
        to->at[to->n++] = number;
        return 0;
}

int kw_numbers_add_all(struct kw_numbers *to, const struct kw_numbers *more)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < more->n; i++)
                rc = kw_numbers_add(to, more->at[i]);
        return rc;
}

int kw_lots_moved(struct kw_ledger *l, int64_t seq, struct kw_numbers *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT id FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095"
                        " UNION ALL SELECT lot FROM feed WHERE run = ?1 * 4096",
                        "i", seq);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_numbers_add(out, kw_int(&q, 0));
        kw_end(&q);
        return rc;
}

int kw_lots_named(struct kw_ledger *l, int64_t seq, struct kw_numbers *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT lot FROM place WHERE seq = ?1 UNION ALL SELECT lot FROM taken WHERE seq = ?1"
                        " UNION ALL SELECT lot FROM consignment_lot WHERE seq = ?1"
                        " UNION ALL SELECT lot FROM certificate_reel WHERE seq = ?1"
                        " UNION ALL SELECT lot FROM hold_span WHERE seq = ?1",
                        "i", seq);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_numbers_add(out, kw_int(&q, 0));
        kw_end(&q);
        return rc;
}
