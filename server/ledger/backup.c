/*
 * Backup: a consistent copy while others write.
 *
 * The copy is taken page by page under one read view, so that writers neither wait nor make it start anew; it is
 * written under another name, looked at, and only then given the name that was asked for.
 */
#include "store.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
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
static int look_at_copy(const char *partial, const struct kw_head *head, struct kw_error *err)
{
        struct kw_ledger *copied;
        struct kw_head there;
        int rc = kw_ledger_open(partial, KW_OPEN_EXISTING, &copied, err);

        if (rc)
                return rc;
        rc = kw_ledger_head(copied, &there, err);
        if (rc == 0 && (there.size != head->size || memcmp(there.root.bytes, head->root.bytes, KW_HASH) != 0))
                rc = kw_refuse(err, KW_INTERNAL, "", "the copy does not have the head of the ledger");
        kw_ledger_close(copied);
        return rc;
}

static int sync_path(const char *path)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC), rc = fd < 0 ? -errno : 0;

        if (rc == 0 && fsync(fd))
                rc = -errno;
        if (fd >= 0)
                close(fd);
        return rc;
}

/* link() refuses a name that is taken, which rename() would not. */
static int give_name(const char *partial, const char *to, struct kw_error *err)
{
        char *folder = strdup(to);
        int rc = folder ? sync_path(partial) : -ENOMEM;

        if (rc == 0 && link(partial, to))
                rc = -errno;
        if (rc == 0)
                rc = sync_path(dirname(folder));
        free(folder);
        if (rc)
                return kw_refuse(err, KW_INTERNAL, "", "the copy can't be named %s: %s", to, strerror(-rc));
        return 0;
}

int kw_ledger_backup(struct kw_ledger *ledger, const char *to, kw_progress progress, void *ctx, struct kw_error *err)
{
        char *partial = NULL;
        struct kw_head head;
        int rc;

        if (access(to, F_OK) == 0)
                return kw_refuse(err, KW_BAD_VALUE, "", "%s is there already; a backup does not overwrite", to);
        if (asprintf(&partial, "%s.%ld.partial", to, (long)getpid()) < 0)
                return -ENOMEM;
        rc = kw_ledger_look(ledger, err);
        if (rc == 0)
                rc = kw_ledger_head(ledger, &head, err);
        if (rc == 0)
                rc = copy(ledger, partial, progress, ctx, err);
        kw_ledger_done(ledger);
        if (rc == 0)
                rc = look_at_copy(partial, &head, err);
        if (rc == 0)
                rc = give_name(partial, to, err);
        unlink(partial);
        free(partial);
        return rc;
}
