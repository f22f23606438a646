/*
 * The secrets copied, for a backup and back: by SQLite's own backup, so that a daemon may write meanwhile, under
 * another name until the copy is whole. The pepper is not copied: whoever finds a backup can't try out six-digit PINs
 * on it.
 */
#include "inside.h"

#include "../copies.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static int name_of(const char *ledger, char out[PATH_MAX], struct kw_error *err)
{
        int n = snprintf(out, PATH_MAX, "%s.access", ledger);

        return n > 0 && n < PATH_MAX ? 0 : kw_refuse(err, KW_BAD_VALUE, "", "the name of the ledger is too long");
}

static int copy_pages(sqlite3 *from, const char *partial, struct kw_error *err)
{
        sqlite3_backup *backup = NULL;
        sqlite3 *to = NULL;
        int rc = sqlite3_open_v2(partial, &to, SQLITE_OPEN_READWRITE, NULL);

        if (rc == SQLITE_OK) {
                backup = sqlite3_backup_init(to, "main", from, "main");
                rc = backup ? sqlite3_backup_step(backup, -1) : sqlite3_errcode(to);
                sqlite3_backup_finish(backup);
        }
        sqlite3_close(to);
        if (rc == SQLITE_DONE)
                return 0;
        return kw_refuse(err, (rc & 0xff) == SQLITE_FULL ? KW_DISK_FULL : KW_INTERNAL, "",
                         "the secrets can't be copied: %s", sqlite3_errstr(rc));
}

static int copy(const char *from, const char *to, struct kw_error *err)
{
        struct kw_partial partial;
        sqlite3 *db = NULL;
        int rc = kw_partial_name(to, &partial, err), fd;

        if (rc)
                return rc;
        kw_partial_drop(&partial);
        fd = open(partial.path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        if (fd < 0)
                return kw_refuse(err, KW_INTERNAL, "", "%s can't be made: %s", partial.path, strerror(errno));
        close(fd);
        if (sqlite3_open_v2(from, &db, SQLITE_OPEN_READONLY, NULL))
                rc = kw_refuse(err, KW_INTERNAL, "", "%s can't be read: %s", from, sqlite3_errmsg(db));
        if (rc == 0) {
                sqlite3_busy_timeout(db, 5000);
                rc = copy_pages(db, partial.path, err);
        }
        sqlite3_close(db);
        if (rc == 0)
                rc = kw_partial_keep(&partial, to, err);
        kw_partial_drop(&partial);
        return rc;
}

int kw_access_copy(const char *from, const char *to, bool *copied, struct kw_error *err)
{
        char source[PATH_MAX], target[PATH_MAX];
        int rc = name_of(from, source, err);

        *copied = false;
        if (rc == 0)
                rc = name_of(to, target, err);
        if (rc || (access(source, F_OK) != 0 && errno == ENOENT))
                return rc;
        if (access(target, F_OK) == 0)
                return kw_refuse(err, KW_CODE_TAKEN, "", "%s is there already", target);
        rc = copy(source, target, err);
        *copied = rc == 0;
        return rc;
}
