/*
 * Verifying: everything is computed once more from the entries and compared with what is stored.
 */
#include "correct.h"
#include "scratch.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

struct verify {
        struct kw_ledger *l, *scratch;
        kw_progress progress;
        void *ctx;
        int64_t size, done;
        int64_t *wrong;
        struct kw_error *err;
};

static void tell(struct verify *v, const char *what, int64_t done, int64_t of)
{
        if (v->progress)
                v->progress(v->ctx, what, done, of);
}

/* A file that can't be read to its end is damaged; want of memory says nothing about it. */
static int file_is_whole(struct verify *v)
{
        struct kw_query q;
        int rc = kw_ask(v->l, &q, "PRAGMA integrity_check(1)", "");

        if (rc == 0)
                rc = kw_next(v->l, &q);
        if (rc == 1 && kw_text(&q, 0))
                rc = strcmp(kw_text(&q, 0), "ok") == 0
                             ? 0
                             : kw_refuse(v->err, KW_BAD_VALUE, "", "the file is damaged: %s", kw_text(&q, 0));
        else if (rc == 0 || rc == -EIO)
                rc = kw_refuse(v->err, KW_BAD_VALUE, "", "the file is damaged: %s", sqlite3_errmsg(v->l->db));
        else
                rc = kw_store_failed(v->l, rc < 0 ? rc : -ENOMEM, v->err);
        kw_end(&q);
        return rc;
}

static int replay_one(void *ctx, const struct kw_stored *e)
{
        struct verify *v = ctx;
        int rc;

        *v->wrong = ++v->done;
        rc = kw_replay(v->scratch, e, v->err);
        if (rc == 0 && v->done % 256 == 0)
                tell(v, "entries", v->done, v->size);
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
                if ((stored->rc != SQLITE_ROW && stored->rc != SQLITE_DONE) ||
                    (rebuilt->rc != SQLITE_ROW && rebuilt->rc != SQLITE_DONE))
                        return -EIO;
        } while (stored->rc == rebuilt->rc && same_row(stored->stmt, rebuilt->stmt));
        a = stored->rc == SQLITE_ROW ? sqlite3_column_int64(stored->stmt, 0) : INT64_MAX;
        b = rebuilt->rc == SQLITE_ROW ? sqlite3_column_int64(rebuilt->stmt, 0) : INT64_MAX;
        *v->wrong = a < b ? a : b;
        return kw_refuse(v->err, KW_BAD_VALUE, "", "table %s does not say what entry %" PRId64 " makes of it", table,
                         *v->wrong);
}

static int compare(struct verify *v, const char *table, const char *sql)
{
        struct side stored = {0}, rebuilt = {0};
        int rc = -EIO;

        if (sqlite3_prepare_v2(v->l->db, sql, -1, &stored.stmt, NULL) == SQLITE_OK &&
            sqlite3_prepare_v2(v->scratch->db, sql, -1, &rebuilt.stmt, NULL) == SQLITE_OK)
                rc = compare_rows(v, table, &stored, &rebuilt);
        sqlite3_finalize(stored.stmt);
        sqlite3_finalize(rebuilt.stmt);
        return rc;
}

static int compare_all(struct verify *v)
{
        char sql[160];
        /* a node is named by the last entry under it */
        int rc = compare(v, "node", "SELECT ((idx + 1) << level), level, idx, hash FROM node ORDER BY 1, level");

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

static int verify(struct verify *v)
{
        int rc = file_is_whole(v);

        if (rc)
                return rc;
        rc = kw_ledger_size(v->l, &v->size);
        if (rc)
                return kw_store_failed(v->l, rc, v->err);
        rc = kw_ledger_begin(v->scratch, v->err);
        if (rc == 0)
                rc = kw_ledger_entries(v->l, 0, -1, replay_one, v, v->err);
        if (rc == 0 && v->done != v->size) {
                *v->wrong = v->done + 1;
                rc = kw_refuse(v->err, KW_BAD_VALUE, "", "entry %" PRId64 " is not there", v->done + 1);
        }
        if (rc)
                return rc;
        *v->wrong = 0;
        rc = compare_all(v);
        if (rc == 0)
                rc = tables_are_as_made(v);
        return rc < 0 ? kw_store_failed(v->l, rc, v->err) : rc;
}

int kw_ledger_verify(struct kw_ledger *ledger, kw_progress progress, void *ctx, int64_t *wrong, struct kw_error *err)
{
        struct verify v = {.l = ledger, .progress = progress, .ctx = ctx, .wrong = wrong, .err = err};
        bool look = !ledger->looking;
        int rc = kw_scratch_open(&v.scratch, err);

        *wrong = 0;
        if (rc)
                return rc;
        if (look)
                rc = kw_ledger_look(ledger, err);
        if (rc == 0)
                rc = verify(&v);
        if (look)
                kw_ledger_done(ledger);
        kw_ledger_close(v.scratch);
        return rc;
}
