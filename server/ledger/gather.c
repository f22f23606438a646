/*
 * Gathered writes to the write-ahead log.
 *
 *      header | frame: head 24, page | frame: head 24, page | ...          all one behind the other
 *
 * A frame's head says in its bytes 4 to 7 how large the ledger is after the commit that it ends, 0 where it ends none.
 * Behind the page of such a frame nothing is held back, whatever "synchronous" is set to, nor is what is written over.
 *
 * A transaction that is too large for memory writes before it is committed. When it is taken back, what is still held
 * of it must never be written: by then the place in the log may be another program's. And when a part of it could not
 * be written, nothing after it may be, until it is taken back: SQLite, which thinks that the part is in the log, goes
 * on with a transaction after a full disk.
 */
#include "gather.h"

#include <pthread.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <string.h>

#define ROOM       (124 << 10) /* SQLite writes no piece of 128 KiB and more in one */
#define FRAME_HEAD 24

struct log_file {
        sqlite3_file file;
        sqlite3_file *real;
        unsigned char *held; /* NULL until something is written, and without memory for it */
        sqlite3_int64 from;  /* where it belongs */
        sqlite3_int64 high;  /* up to where this transaction, or one before, has written */
        int n;
        int lost;    /* what the disk said when something of this transaction could not be written, or 0 */
        bool ending; /* the page to come ends a commit */
};

static sqlite3_vfs gather, *disk;

static sqlite3_file *real_of(sqlite3_file *f)
{
        return ((struct log_file *)(void *)f)->real;
}

/* What could not be written is not held on to. */
static int let_go(sqlite3_file *file)
{
        struct log_file *f = (void *)file;
        int n = f->n;

        f->n = 0;
        if (n && !f->lost)
                f->lost = f->real->pMethods->xWrite(f->real, f->held, n, f->from);
        return f->lost;
}

static bool ends_commit(const unsigned char *head)
{
        return head[4] || head[5] || head[6] || head[7];
}

static int log_write(sqlite3_file *file, const void *bytes, int n, sqlite3_int64 at)
{
        struct log_file *f = (void *)file;
        bool last = f->ending, over;

        f->ending = n == FRAME_HEAD && ends_commit(bytes);
        if (at == 0)
                f->high = 0; /* the log is begun anew */
        over = at < f->high;
        if (!over)
                f->high = at + n;
        if (!f->held)
                f->held = sqlite3_malloc(ROOM);
        if (f->n && (over || at != f->from + f->n || f->n + n > ROOM))
                let_go(file);
        if (f->lost)
                return f->lost;
        if (!f->held || over || n > ROOM)
                return f->lost = f->real->pMethods->xWrite(f->real, bytes, n, at);
        if (!f->n)
                f->from = at;
        memcpy(f->held + f->n, bytes, (size_t)n);
        f->n += n;
        return last ? let_go(file) : SQLITE_OK;
}

static int log_read(sqlite3_file *file, void *bytes, int n, sqlite3_int64 at)
{
        int rc = let_go(file);

        return rc ? rc : real_of(file)->pMethods->xRead(real_of(file), bytes, n, at);
}

static int log_sync(sqlite3_file *file, int flags)
{
        int rc = let_go(file);

        return rc ? rc : real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int log_truncate(sqlite3_file *file, sqlite3_int64 size)
{
        int rc = let_go(file);

        return rc ? rc : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int log_size(sqlite3_file *file, sqlite3_int64 *size)
{
        int rc = let_go(file);

        return rc ? rc : real_of(file)->pMethods->xFileSize(real_of(file), size);
}

/* What is still held when the file is closed belongs to no commit. */
static int log_close(sqlite3_file *file)
{
        struct log_file *f = (void *)file;

        sqlite3_free(f->held);
        return f->real->pMethods->xClose(f->real);
}

static int log_lock(sqlite3_file *f, int how)
{
        return real_of(f)->pMethods->xLock(real_of(f), how);
}

static int log_unlock(sqlite3_file *f, int how)
{
        return real_of(f)->pMethods->xUnlock(real_of(f), how);
}

static int log_reserved(sqlite3_file *f, int *out)
{
        return real_of(f)->pMethods->xCheckReservedLock(real_of(f), out);
}

static int log_control(sqlite3_file *f, int op, void *arg)
{
        return real_of(f)->pMethods->xFileControl(real_of(f), op, arg);
}

static int log_sector(sqlite3_file *f)
{
        return real_of(f)->pMethods->xSectorSize(real_of(f));
}

static int log_device(sqlite3_file *f)
{
        return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f));
}

static const sqlite3_io_methods log_methods = {.iVersion = 1,
                                               .xClose = log_close,
                                               .xRead = log_read,
                                               .xWrite = log_write,
                                               .xTruncate = log_truncate,
                                               .xSync = log_sync,
                                               .xFileSize = log_size,
                                               .xLock = log_lock,
                                               .xUnlock = log_unlock,
                                               .xCheckReservedLock = log_reserved,
                                               .xFileControl = log_control,
                                               .xSectorSize = log_sector,
                                               .xDeviceCharacteristics = log_device};

/* --- the VFS ---------------------------------------------------------------------------------------- */

/* The room that SQLite gives for a file holds ours, and behind it the disk's. */
static int gather_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
        struct log_file *f = (void *)file;
        int rc;

        (void)vfs;
        if (!(flags & SQLITE_OPEN_WAL))
                return disk->xOpen(disk, name, file, flags, out);
        *f = (struct log_file){.real = (sqlite3_file *)(void *)(f + 1)};
        rc = disk->xOpen(disk, name, f->real, flags, out);
        if (f->real->pMethods)
                f->file.pMethods = &log_methods;
        return rc;
}

static void set_up(void)
{
        disk = sqlite3_vfs_find(NULL);
        if (!disk)
                return;
        gather = *disk;
        gather.zName = "gathered";
        gather.pNext = NULL;
        gather.szOsFile = (int)sizeof(struct log_file) + disk->szOsFile;
        gather.xOpen = gather_open;
        if (sqlite3_vfs_register(&gather, 0))
                disk = NULL;
}

static void taken_back(void *db)
{
        sqlite3_file *file = NULL;

        if (sqlite3_file_control(db, "main", SQLITE_FCNTL_JOURNAL_POINTER, &file) || !file ||
            file->pMethods != &log_methods)
                return;
        struct log_file *f = (void *)file;
        f->n = f->lost = 0;
        f->high = 0;
        f->ending = false;
}

void kw_gather_watch(sqlite3 *db)
{
        sqlite3_rollback_hook(db, taken_back, db);
}

const char *kw_gather_vfs(void)
{
        static pthread_once_t once = PTHREAD_ONCE_INIT;

        pthread_once(&once, set_up);
        return disk ? gather.zName : NULL;
}
