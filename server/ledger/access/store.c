/*
 * The file of secrets: opening it, and the wrong tries that it keeps.
 */
#include "inside.h"

#include "../prepared.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define BUSY_MS 5000
#define LEVEL   1
#define PROOF   "kinwire pepper"

/* Durable as the ledger is: an administrator who has set a password must find it set. */
static const char schema[] =
        "CREATE TABLE secret (what INTEGER NOT NULL, person TEXT NOT NULL, hash TEXT NOT NULL,"
        " PRIMARY KEY (what, person)) STRICT, WITHOUT ROWID;"
        "CREATE TABLE code (what INTEGER NOT NULL, of TEXT NOT NULL, hash BLOB NOT NULL, expires INTEGER NOT NULL,"
        " PRIMARY KEY (what, of)) STRICT, WITHOUT ROWID;"
        "CREATE TABLE bearer (what INTEGER NOT NULL, of TEXT NOT NULL, hash BLOB NOT NULL,"
        " PRIMARY KEY (what, of)) STRICT, WITHOUT ROWID;"
        "CREATE UNIQUE INDEX bearer_by_hash ON bearer (what, hash);"
        "CREATE TABLE tries (at TEXT PRIMARY KEY, since INTEGER NOT NULL, until INTEGER NOT NULL, wrong INTEGER NOT "
        "NULL,"
        " locks INTEGER NOT NULL) STRICT, WITHOUT ROWID;"
        "CREATE TABLE pepper (proof BLOB NOT NULL) STRICT;"
        "PRAGMA user_version=1;";

int kw_access_failed(struct kw_access *a, int rc, struct kw_error *err)
{
        switch (rc) {
        case -ENOMEM:
                return rc;
        case -EBUSY:
                return kw_refuse(err, KW_BUSY, "", "the file of secrets is locked by another program; try again");
        case -ENOSPC:
                return kw_refuse(err, KW_DISK_FULL, "", "the disk is full; free some space and try again");
        default:
                return kw_refuse(err, KW_INTERNAL, "", "the file of secrets can't be used: %s",
                                 sqlite3_errmsg(a->store.db));
        }
}

/* Made with the rights it is to have, before SQLite sees it. */
static int own_file(const char *path, struct kw_error *err)
{
        int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
        int rc = fd >= 0 && fchmod(fd, 0600) == 0 ? 0 : -1;

        if (rc)
                kw_refuse(err, KW_INTERNAL, "", "%s can't be opened: %s", path, strerror(errno));
        if (fd >= 0)
                close(fd);
        return rc ? KW_INTERNAL : 0;
}

static int script(struct kw_access *a, const char *sql)
{
        int rc = sqlite3_exec(a->store.db, sql, NULL, NULL, NULL) & 0xff;

        return rc == SQLITE_OK ? 0 : rc == SQLITE_BUSY ? -EBUSY : rc == SQLITE_FULL ? -ENOSPC : -EIO;
}

static void prove(const struct kw_access *a, unsigned char out[crypto_generichash_BYTES])
{
        crypto_generichash(out, crypto_generichash_BYTES, (const unsigned char *)PROOF, strlen(PROOF), a->pepper,
                           sizeof a->pepper);
}

static int set_up(struct kw_access *a)
{
        unsigned char proof[crypto_generichash_BYTES];
        int rc = script(a, schema);

        prove(a, proof);
        return rc ? rc : kw_do(&a->store, "INSERT INTO pepper VALUES (?1)", "b", proof, (int)sizeof proof);
}

/* Another pepper than the one that the hashes were made with would refuse everyone, with nobody knowing why. */
static int check_pepper(struct kw_access *a, const char *ledger, struct kw_error *err)
{
        unsigned char proof[crypto_generichash_BYTES];
        int64_t same = 0;
        int rc;

        prove(a, proof);
        rc = kw_one(&a->store, &same, 0, "SELECT 1 FROM pepper WHERE proof = ?1", "b", proof, (int)sizeof proof);
        if (rc)
                return kw_access_failed(a, rc, err);
        return same ? 0
                    : kw_refuse(
                              err, KW_INTERNAL, "",
                              "%s.pepper is not the one that belongs to %s.access: put the right one back, or take the "
                              ".access file away and give everyone a new code",
                              ledger, ledger);
}

/* Two programs may begin at once: whoever gets the lock makes the tables. */
static int ready(struct kw_access *a, const char *ledger, const char *pepper, struct kw_error *err)
{
        int64_t level = 0;
        int rc = script(a, "PRAGMA synchronous=FULL; PRAGMA trusted_schema=OFF; BEGIN IMMEDIATE");

        if (rc == 0)
                rc = kw_one(&a->store, &level, 0, "PRAGMA user_version", "");
        if (rc)
                return kw_access_failed(a, rc, err);
        if (level > LEVEL)
                return kw_refuse(err, KW_INTERNAL, "", "%s.access was made by a newer kinwire; use that one", ledger);
        rc = kw_pepper_read(pepper, level == 0, a->pepper, err);
        if (rc)
                return rc;
        rc = level == 0 ? set_up(a) : 0;
        if (rc == 0)
                rc = kw_do(&a->store, "COMMIT", "");
        return rc ? kw_access_failed(a, rc, err) : check_pepper(a, ledger, err);
}

int kw_access_open(const char *ledger, struct kw_access **out, struct kw_error *err)
{
        struct kw_access *a = calloc(1, sizeof *a);
        struct kw_buf path = {0}, pepper = {0};
        int rc = a && sodium_init() >= 0 ? 0 : -ENOMEM;

        kw_buf_printf(&path, "%s.access", ledger);
        kw_buf_printf(&pepper, "%s.pepper", ledger);
        if (path.failed || pepper.failed)
                rc = -ENOMEM;
        if (a)
                pthread_mutex_init(&a->lock, NULL);
        if (rc == 0)
                rc = own_file(kw_buf_text(&path), err);
        if (rc == 0 &&
            sqlite3_open_v2(kw_buf_text(&path), &a->store.db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL))
                rc = kw_refuse(err, KW_INTERNAL, "", "%s can't be opened", kw_buf_text(&path));
        if (rc == 0) {
                sqlite3_busy_timeout(a->store.db, BUSY_MS);
                sqlite3_db_config(a->store.db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
                rc = ready(a, ledger, kw_buf_text(&pepper), err);
        }
        kw_buf_free(&path);
        kw_buf_free(&pepper);
        if (rc)
                kw_access_close(a);
        else
                *out = a;
        return rc;
}

void kw_access_close(struct kw_access *a)
{
        if (!a)
                return;
        kw_prepared_free(&a->store);
        sqlite3_close(a->store.db);
        pthread_mutex_destroy(&a->lock);
        sodium_memzero(a, sizeof *a);
        free(a);
}

/* --- wrong tries -------------------------------------------------------------------------------- */

int kw_access_keep_tries(struct kw_access *a, const char *at, const struct kw_tries *t, struct kw_error *err)
{
        int rc;

        pthread_mutex_lock(&a->lock);
        if (t->wrong || t->locks)
                rc = kw_do(&a->store,
                           "INSERT OR REPLACE INTO tries (at, since, until, wrong, locks) VALUES (?1, ?2, ?3, ?4, ?5)",
                           "tiiii", at, t->since, t->until, (int64_t)t->wrong, (int64_t)t->locks);
        else
                rc = kw_do(&a->store, "DELETE FROM tries WHERE at = ?1", "t", at);
        rc = rc ? kw_access_failed(a, rc, err) : 0;
        pthread_mutex_unlock(&a->lock);
        return rc;
}

int kw_access_each_tries(struct kw_access *a, int (*fn)(void *ctx, const char *at, const struct kw_tries *times),
                         void *ctx, struct kw_error *err)
{
        struct kw_query q;
        int rc;

        pthread_mutex_lock(&a->lock);
        rc = kw_ask(&a->store, &q, "SELECT at, since, until, wrong, locks FROM tries ORDER BY at", "");
        while (rc == 0 && (rc = kw_next(&a->store, &q)) == 1) {
                const struct kw_tries t = {kw_int(&q, 1), kw_int(&q, 2), (int)kw_int(&q, 3), (int)kw_int(&q, 4)};

                rc = fn(ctx, kw_text(&q, 0), &t);
        }
        kw_end(&q);
        rc = rc ? kw_access_failed(a, rc, err) : 0;
        pthread_mutex_unlock(&a->lock);
        return rc;
}
