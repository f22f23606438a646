/*
 * Backup and restore: a consistent copy while others write, and a ledger made of such a copy.
 *
 * A copy is taken page by page under one read view, so that writers neither wait nor make it start anew. On both ways
 * it is written under another name, looked at, and only then given the name that was asked for. The manifest gets its
 * name before the copy does: where there is a copy, there is its manifest.
 */
#include "copies.h"
#include "store.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define PAGES_A_STEP 4096

static int copy(struct kw_ledger *l, const char *partial, kw_progress progress, void *ctx, struct kw_error *err)
{
        sqlite3 *to = NULL;
        sqlite3_backup *backup = NULL;
        int rc = sqlite3_open_v2(partial, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL);

        if (rc == SQLITE_OK) {
                backup = sqlite3_backup_init(to, "main", l->db, "main");
                rc = backup ? SQLITE_OK : sqlite3_errcode(to);
        }
        while (rc == SQLITE_OK) {
                rc = sqlite3_backup_step(backup, PAGES_A_STEP);
                if (progress)
                        progress(ctx, "pages", sqlite3_backup_pagecount(backup) - sqlite3_backup_remaining(backup),
                                 sqlite3_backup_pagecount(backup));
        }
        sqlite3_backup_finish(backup);
        if (rc != SQLITE_DONE)
                rc = kw_refuse(err, (rc & 0xff) == SQLITE_FULL ? KW_DISK_FULL : KW_INTERNAL, "",
                               "the copy can't be written: %s", sqlite3_errstr(rc));
        else
                rc = 0;
        sqlite3_close(to);
        return rc;
}

/* Opening looks the file through; the head must be the one that was copied. */
static int look_at_copy(const char *partial, const struct kw_head *head, bool all, kw_progress progress, void *ctx,
                        struct kw_error *err)
{
        struct kw_ledger *copied;
        struct kw_head there;
        int64_t wrong;
        int rc = kw_ledger_open(partial, KW_OPEN_EXISTING, &copied, err);

        if (rc)
                return rc;
        if (all)
                rc = kw_ledger_verify(copied, progress, ctx, &wrong, err);
        if (rc == 0)
                rc = kw_ledger_head(copied, &there, err);
        if (rc == 0 && head && (there.size != head->size || memcmp(there.root.bytes, head->root.bytes, KW_HASH) != 0))
                rc = kw_refuse(err, KW_BAD_VALUE, "", "the copy does not have the head that it should have");
        kw_ledger_close(copied);
        return rc;
}

static int keep(const struct kw_partial *partial, const char *to, struct kw_manifest *m, struct kw_error *err)
{
        int rc = kw_file_hash(partial->path, NULL, &m->sha256, &m->bytes, err);

        kw_stamp_write((int64_t)time(NULL), m->when);
        if (rc == 0)
                rc = kw_manifest_write(to, m, err);
        return rc ? rc : kw_partial_keep(partial, to, err);
}

int kw_ledger_backup(struct kw_ledger *ledger, const char *to, kw_progress progress, void *ctx, struct kw_error *err)
{
        struct kw_manifest m = {.level = KW_LEDGER_LEVEL};
        struct kw_partial partial;
        int rc;

        if (access(to, F_OK) == 0)
                return kw_refuse(err, KW_BAD_VALUE, "", "%s is there already; a backup does not overwrite", to);
        rc = kw_partial_name(to, &partial, err);
        if (rc)
                return rc;
        kw_partial_drop(&partial);
        rc = kw_ledger_look(ledger, err);
        if (rc == 0)
                rc = kw_ledger_head(ledger, &m.head, err);
        if (rc == 0)
                rc = copy(ledger, partial.path, progress, ctx, err);
        kw_ledger_done(ledger);
        if (rc == 0)
                rc = look_at_copy(partial.path, &m.head, false, progress, ctx, err);
        if (rc == 0)
                rc = keep(&partial, to, &m, err);
        kw_partial_drop(&partial);
        return rc;
}

/* --- restoring ------------------------------------------------------------------------------------ */

/* A log that lies there would be taken for the restored ledger's own. */
static int name_is_free(const char *to, struct kw_error *err)
{
        static const char *const ends[] = {"", "-wal", "-journal", ".access"};
        char path[PATH_MAX + 16];

        for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
                snprintf(path, sizeof(path), "%.*s%s", PATH_MAX, to, ends[i]);
                if (access(path, F_OK) == 0)
                        return kw_refuse(err, KW_CODE_TAKEN, "", "%s is there already; restoring does not overwrite",
                                         path);
        }
        return 0;
}

static int copy_back(const char *from, const struct kw_manifest *m, const struct kw_partial *partial,
                     struct kw_error *err)
{
        struct kw_hash sha256;
        int64_t bytes;
        int rc = kw_file_hash(from, partial->path, &sha256, &bytes, err);

        if (rc || !m)
                return rc;
        if (bytes != m->bytes || memcmp(sha256.bytes, m->sha256.bytes, KW_HASH) != 0)
                return kw_refuse(err, KW_BAD_VALUE, "", "%s is not the file that its manifest was written for", from);
        return 0;
}

int kw_ledger_restore(const char *from, const char *to, bool bare, kw_progress progress, void *ctx,
                      struct kw_error *err)
{
        struct kw_manifest m;
        struct kw_partial partial;
        int rc = name_is_free(to, err);

        if (rc == 0 && !bare)
                rc = kw_manifest_read(from, &m, err);
        if (rc == 0)
                rc = kw_partial_name(to, &partial, err);
        if (rc)
                return rc;
        kw_partial_drop(&partial);
        rc = copy_back(from, bare ? NULL : &m, &partial, err);
        if (rc == 0)
                rc = look_at_copy(partial.path, bare ? NULL : &m.head, true, progress, ctx, err);
        if (rc == 0)
                rc = kw_partial_keep(&partial, to, err);
        kw_partial_drop(&partial);
        return rc;
}
