/*
 * Verifying: everything is computed once more from the entries and compared with what is stored.
 */
#include "ahead.h"
#include "correct.h"
#include "receipt.h"
#include "scratch.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <limits.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define KEEP_EVERY 16384 /* entries */

struct verify {
        struct kw_ledger *l, *scratch;
        kw_progress progress;
        void *ctx;
        int64_t size, done;
        int64_t before; /* entries that were replayed another time */
        bool keeps;
        int64_t *wrong;
        struct kw_error *err;
};

static void tell(struct verify *v, const char *what, int64_t done, int64_t of)
{
        if (v->progress)
                v->progress(v->ctx, what, done, of);
}

/* --- whether the file is whole, beside everything else ------------------------------------------------ */

struct whole {
        const char *path;
        pthread_t thread;
        bool running;
        int rc;
        struct kw_error err;
};

/* A file that can't be read to its end is damaged; want of memory says nothing about it. */
static int file_is_whole(struct kw_ledger *l, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "PRAGMA integrity_check(1)", "");

        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1 && kw_text(&q, 0))
                rc = strcmp(kw_text(&q, 0), "ok") == 0
                             ? 0
                             : kw_refuse(err, KW_BAD_VALUE, "", "the file is damaged: %s", kw_text(&q, 0));
        else if (rc == 0 || rc == -EIO)
                rc = kw_refuse(err, KW_BAD_VALUE, "", "the file is damaged: %s", sqlite3_errmsg(l->db));
        else
                rc = kw_store_failed(l, rc < 0 ? rc : -ENOMEM, err);
        kw_end(&q);
        return rc;
}

static void *look_through(void *arg)
{
        struct whole *w = arg;
        struct kw_ledger *l;

        w->rc = kw_ledger_open(w->path, KW_OPEN_READ, &l, &w->err);
        if (w->rc)
                return NULL;
        w->rc = file_is_whole(l, &w->err);
        kw_ledger_close(l);
        return NULL;
}

/* On a connection of its own where there is a file, so that the entries are replayed meanwhile. */
static void look_begin(struct whole *w, struct kw_ledger *l)
{
        w->path = sqlite3_db_filename(l->db, "main");
        if (w->path && w->path[0])
                w->running = pthread_create(&w->thread, NULL, look_through, w) == 0;
        if (!w->running)
                w->rc = file_is_whole(l, &w->err);
}

static int look_end(struct whole *w, struct kw_error *err)
{
        if (w->running)
                pthread_join(w->thread, NULL);
        w->running = false;
        if (w->rc > 0)
                *err = w->err;
        return w->rc;
}

/* --- every entry once more ----------------------------------------------------------------------------- */

/* Whether the entry is the one that was replayed before: then what it made is in the scratch ledger. */
static int same_as_kept(struct verify *v, const struct kw_stored *e)
{
        struct kw_query q;
        int rc = kw_ask(v->scratch, &q, "SELECT hash FROM entry WHERE seq = ?1", "i", e->seq);

        if (rc == 0)
                rc = kw_next(v->scratch, &q);
        if (rc == 1)
                rc = sqlite3_column_bytes(q.stmt, 0) == KW_HASH &&
                                     memcmp(sqlite3_column_blob(q.stmt, 0), e->hash, KW_HASH) == 0
                             ? 0
                             : kw_refuse(v->err, KW_BAD_VALUE, "",
                                         "entry %" PRId64 " is wrong: it is not the one that was verified before",
                                         e->seq);
        else if (rc == 0)
                rc = -ENOENT;
        kw_end(&q);
        return rc;
}

/* The kept ledger is brought onto disk now and then, to be gone on with. */
static int keep(struct verify *v)
{
        int rc = v->keeps ? kw_ledger_commit(v->scratch, v->err) : 0;

        return rc || !v->keeps ? rc : kw_ledger_begin(v->scratch, v->err);
}

static int replay_one(struct verify *v, struct kw_ahead_entry *e)
{
        int rc;

        *v->wrong = v->done + 1;
        rc = kw_replay_in_turn(&e->stored, v->done, v->err);
        if (rc == 0 && e->rc > 0)
                *v->err = e->err;
        if (rc == 0)
                rc = e->rc;
        if (rc == 0)
                rc = v->done < v->before ? same_as_kept(v, &e->stored)
                                         : kw_replay_checked(v->scratch, &e->stored, e->leaf, v->err);
        if (rc)
                return rc;
        v->done++;
        if (v->done % 256 == 0)
                tell(v, "entries", v->done, v->size);
        return v->done > v->before && v->done % KEEP_EVERY == 0 ? keep(v) : 0;
}

static int replay_all(struct verify *v)
{
        struct kw_ahead_entry *e;
        struct kw_ahead *ahead;
        int rc = kw_ahead_new(v->l, 0, kw_replay_check, &ahead);

        if (rc)
                return rc;
        while ((rc = kw_ahead_next(ahead, &e, v->err)) == 1) {
                rc = replay_one(v, e);
                if (rc)
                        break;
        }
        kw_ahead_free(ahead);
        if (rc == 0 && v->done != v->size) {
                *v->wrong = v->done + 1;
                rc = kw_refuse(v->err, KW_BAD_VALUE, "", "entry %" PRId64 " is not there", v->done + 1);
        }
        return rc;
}

/* --- comparing tables ----------------------------------------------------------------------------- */

struct side {
        sqlite3_stmt *stmt;
        int rc;
};

static void next(struct side *s)
{
        s->rc = sqlite3_step(s->stmt);
}

static bool is_read(const struct side *s)
{
        return s->rc == SQLITE_ROW || s->rc == SQLITE_DONE;
}

static bool same_row(sqlite3_stmt *a, sqlite3_stmt *b)
{
        int n = sqlite3_column_count(a);

        for (int i = 0; i < n; i++) {
                if (sqlite3_column_type(a, i) != sqlite3_column_type(b, i))
                        return false;
                if (sqlite3_column_type(a, i) == SQLITE_INTEGER) {
                        if (sqlite3_column_int64(a, i) != sqlite3_column_int64(b, i))
                                return false;
                } else if (sqlite3_column_type(a, i) != SQLITE_NULL) {
                        int bytes = sqlite3_column_bytes(a, i);

                        if (bytes != sqlite3_column_bytes(b, i) ||
                            memcmp(sqlite3_column_blob(a, i), sqlite3_column_blob(b, i), (size_t)bytes) != 0)
                                return false;
                }
        }
        return true;
}

/* Column 0 is the entry's number on both sides; the first that differs is the lesser of the two. */
static int compare_rows(struct verify *v, const char *table, struct side *stored, struct side *rebuilt)
{
        int64_t a, b;

        do {
                next(stored);
                next(rebuilt);
                if (stored->rc == SQLITE_DONE && rebuilt->rc == SQLITE_DONE)
                        return 0;
                if (!is_read(stored) || !is_read(rebuilt))
                        return -EIO;
        } while (stored->rc == rebuilt->rc && same_row(stored->stmt, rebuilt->stmt));
        a = stored->rc == SQLITE_ROW ? sqlite3_column_int64(stored->stmt, 0) : INT64_MAX;
        b = rebuilt->rc == SQLITE_ROW ? sqlite3_column_int64(rebuilt->stmt, 0) : INT64_MAX;
        *v->wrong = a < b ? a : b;
        return kw_refuse(v->err, KW_BAD_VALUE, "", "table %s does not say what entry %" PRId64 " makes of it", table,
                         *v->wrong);
}

static int prepare(struct verify *v, const char *sql, struct side *stored, struct side *rebuilt)
{
        if (sqlite3_prepare_v2(v->l->db, sql, -1, &stored->stmt, NULL) == SQLITE_OK &&
            sqlite3_prepare_v2(v->scratch->db, sql, -1, &rebuilt->stmt, NULL) == SQLITE_OK)
                return 0;
        return -EIO;
}

/* Read as they lie: what is the same so is the same, and nothing had to be sorted. */
static int lie_the_same(struct verify *v, const char *table, bool *same)
{
        struct side stored = {0}, rebuilt = {0};
        char sql[160];
        int rc;

        snprintf(sql, sizeof(sql), "SELECT * FROM %s", table);
        rc = prepare(v, sql, &stored, &rebuilt);
        if (rc == 0)
                do {
                        next(&stored);
                        next(&rebuilt);
                } while (stored.rc == SQLITE_ROW && rebuilt.rc == SQLITE_ROW && same_row(stored.stmt, rebuilt.stmt));
        /* what can't be read is not another row: it may have taken the scratch ledger's transaction with it */
        if (rc == 0 && (!is_read(&stored) || !is_read(&rebuilt)))
                rc = -EIO;
        *same = rc == 0 && stored.rc == rebuilt.rc && stored.rc == SQLITE_DONE;
        sqlite3_finalize(stored.stmt);
        sqlite3_finalize(rebuilt.stmt);
        return rc;
}

/* @sql: the table in order of entry, for which of them the first difference is */
static int compare(struct verify *v, const char *table, const char *sql)
{
        struct side stored = {0}, rebuilt = {0};
        bool same;
        int rc = lie_the_same(v, table, &same);

        if (rc || same)
                return rc;
        rc = prepare(v, sql, &stored, &rebuilt);
        if (rc == 0)
                rc = compare_rows(v, table, &stored, &rebuilt);
        sqlite3_finalize(stored.stmt);
        sqlite3_finalize(rebuilt.stmt);
        return rc;
}

static int compare_all(struct verify *v)
{
        char sql[160];
        /* a node is named by the last entry under it */
        int rc = compare(v, "node", "SELECT id >> 6, id & 63, hash FROM node ORDER BY id");

        for (size_t i = 0; rc == 0 && kw_derived[i].name; i++) {
                snprintf(sql, sizeof(sql), "SELECT seq, * FROM %s ORDER BY seq, %s", kw_derived[i].name,
                         kw_derived[i].order);
                rc = compare(v, kw_derived[i].name, sql);
                tell(v, "tables", (int64_t)i, 30);
        }
        return rc;
}

/* A trigger that is gone lets entries be changed, and one more could change them; so could a table made otherwise. */
static int tables_are_as_made(struct verify *v)
{
        static const char sql[] = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name";
        struct side stored = {0}, rebuilt = {0};
        int rc = -EIO;

        if (sqlite3_prepare_v2(v->l->db, sql, -1, &stored.stmt, NULL) == SQLITE_OK &&
            sqlite3_prepare_v2(v->scratch->db, sql, -1, &rebuilt.stmt, NULL) == SQLITE_OK) {
                do {
                        next(&stored);
                        next(&rebuilt);
                } while (stored.rc == SQLITE_ROW && rebuilt.rc == SQLITE_ROW && same_row(stored.stmt, rebuilt.stmt));
                if (stored.rc == SQLITE_DONE && rebuilt.rc == SQLITE_DONE)
                        rc = 0;
                else if ((stored.rc == SQLITE_ROW || stored.rc == SQLITE_DONE) &&
                         (rebuilt.rc == SQLITE_ROW || rebuilt.rc == SQLITE_DONE))
                        rc = kw_refuse(v->err, KW_BAD_VALUE, "",
                                       "the tables, or the triggers that keep entries from being changed, are not as "
                                       "they were made");
        }
        sqlite3_finalize(stored.stmt);
        sqlite3_finalize(rebuilt.stmt);
        return rc;
}

static int receipts_are_as_written(struct verify *v)
{
        int rc = kw_receipts_check(v->l, v->wrong);

        if (rc == 0 && *v->wrong)
                rc = kw_refuse(v->err, KW_BAD_VALUE, "",
                               "entry %" PRId64 " is wrong: what it was answered with is not what was written then",
                               *v->wrong);
        return rc;
}

static int verify(struct verify *v)
{
        struct whole whole = {0};
        int rc = kw_ledger_size(v->l, &v->size), unwhole;

        if (rc)
                return kw_store_failed(v->l, rc, v->err);
        look_begin(&whole, v->l);
        rc = kw_ledger_begin(v->scratch, v->err);
        if (rc == 0)
                rc = replay_all(v);
        unwhole = look_end(&whole, v->err);
        if (unwhole) { /* what was read of a damaged file says little */
                *v->wrong = 0;
                return unwhole;
        }
        if (rc)
                return rc < 0 ? kw_store_failed(v->l, rc, v->err) : rc;
        *v->wrong = 0;
        rc = compare_all(v);
        if (rc == 0)
                rc = tables_are_as_made(v);
        if (rc == 0)
                rc = receipts_are_as_written(v);
        if (rc == 0 && v->keeps)
                rc = kw_ledger_commit(v->scratch, v->err);
        return rc < 0 ? kw_store_failed(v->l, rc, v->err) : rc;
}

/* --- the scratch ledger --------------------------------------------------------------------------------- */

static void remove_kept(const char *path)
{
        static const char *const suffixes[] = {"", "-wal", "-shm"};
        char name[PATH_MAX + 8];

        for (size_t i = 0; i < sizeof(suffixes) / sizeof(suffixes[0]); i++) {
                snprintf(name, sizeof(name), "%s%s", path, suffixes[i]);
                unlink(name);
        }
}

/*
 * Whether what was kept is a replay of the ledger's beginning, made by this kinwire: one of another level may have been
 * brought up by the same steps as the ledger, and would agree with what these did wrong.
 */
static bool goes_on(struct verify *v, const char *path)
{
        struct kw_error err = {0};
        struct kw_ledger *kept;
        struct kw_head head;
        struct kw_hash root;
        bool fits = false;

        if (kw_ledger_open(path, KW_OPEN_READ, &kept, &err))
                return false;
        if (kw_ledger_head(kept, &head, &err) == 0 && kw_ledger_root(v->l, head.size, &root, &err) == 0)
                fits = memcmp(root.bytes, head.root.bytes, KW_HASH) == 0;
        kw_ledger_close(kept);
        v->before = fits ? head.size : 0;
        return fits;
}

/* What does not fit is removed and made anew, so that its name has to say that it is nothing else. */
static int open_scratch(struct verify *v, const struct kw_verifying *how)
{
        size_t n = how->keep ? strlen(how->keep) : 0, end = strlen(KW_REPLAY_SUFFIX);
        int rc;

        if (!how->keep)
                return kw_scratch_open(v->l, &v->scratch, v->err);
        if (n <= end || strcmp(how->keep + n - end, KW_REPLAY_SUFFIX) != 0)
                return kw_refuse(v->err, KW_BAD_REQUEST, "",
                                 "%s: a file in which a replay is kept has a name that ends in " KW_REPLAY_SUFFIX,
                                 how->keep);
        v->keeps = true;
        if (how->from_start || !goes_on(v, how->keep))
                remove_kept(how->keep);
        rc = kw_ledger_open(how->keep, KW_OPEN_WRITE, &v->scratch, v->err);
        if (rc == 0)
                v->scratch->steps_stay = v->l->steps_stay;
        return rc;
}

int kw_ledger_verify_so(struct kw_ledger *ledger, struct kw_verifying *how, int64_t *wrong, struct kw_error *err)
{
        struct verify v = {.l = ledger, .progress = how->progress, .ctx = how->ctx, .wrong = wrong, .err = err};
        bool look = !ledger->looking;
        int rc = look ? kw_ledger_look(ledger, err) : 0;

        *wrong = 0;
        if (rc == 0)
                rc = open_scratch(&v, how);
        if (rc == 0)
                rc = verify(&v);
        how->before = v.before;
        if (look)
                kw_ledger_done(ledger);
        kw_ledger_close(v.scratch);
        return rc;
}

int kw_ledger_verify(struct kw_ledger *ledger, kw_progress progress, void *ctx, int64_t *wrong, struct kw_error *err)
{
        struct kw_verifying how = {.progress = progress, .ctx = ctx};

        return kw_ledger_verify_so(ledger, &how, wrong, err);
}
