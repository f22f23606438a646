/*
 * The test's disk as SQLite's file system: every operation of a ledger's files is counted, may be made to fail, and is
 * told to the power. Temporary files pass.
 */
#include "disk_file.h"

#include <stdlib.h>
#include <string.h>

struct handle {
        sqlite3_file base;
        struct disk_file *file; /* NULL: temporary */
        sqlite3_file *real;
};

static sqlite3_vfs *real_vfs, vfs;
static sqlite3 *last_opened;
static struct disk_fault fault;
static long ops;

void disk_fail(const struct disk_fault *f)
{
        disk_lock();
        fault = *f;
        ops = 0;
        disk_unlock();
}

long disk_ops(void)
{
        return ops;
}

/* Whether this one fails. */
static bool fails(unsigned op)
{
        if (!(fault.ops & op))
                return false;
        ops++;
        return fault.at &&
               (ops == fault.at || (fault.lasting && ops > fault.at) || (fault.again && ops == fault.at + fault.again));
}

static sqlite3_file *real_of(sqlite3_file *f)
{
        return ((struct handle *)(void *)f)->real;
}

/* --- what changes or reads bytes -------------------------------------------------------------------- */

static int do_read(sqlite3_file *f, void *to, int n, sqlite3_int64 at)
{
        struct handle *h = (void *)f;
        bool failed;

        disk_lock();
        failed = h->file && fails(DISK_READ);
        disk_unlock();
        return failed ? SQLITE_IOERR_READ : h->real->pMethods->xRead(h->real, to, n, at);
}

static int do_write(sqlite3_file *f, const void *from, int n, sqlite3_int64 at)
{
        struct handle *h = (void *)f;
        int rc;

        if (!h->file)
                return h->real->pMethods->xWrite(h->real, from, n, at);
        disk_lock();
        if (fails(DISK_WRITE)) {
                rc = fault.full ? SQLITE_FULL : SQLITE_IOERR_WRITE;
        } else {
                rc = h->real->pMethods->xWrite(h->real, from, n, at);
                disk_written(h->file, (size_t)at, (size_t)n);
                if (disk_changes())
                        rc = SQLITE_IOERR_WRITE;
        }
        disk_unlock();
        return rc;
}

static int do_truncate(sqlite3_file *f, sqlite3_int64 size)
{
        struct handle *h = (void *)f;
        int rc = SQLITE_IOERR_TRUNCATE;

        if (!h->file)
                return h->real->pMethods->xTruncate(h->real, size);
        disk_lock();
        if (!fails(DISK_TRUNCATE) && !disk_changes())
                rc = h->real->pMethods->xTruncate(h->real, size);
        disk_unlock();
        return rc;
}

static int do_sync(sqlite3_file *f, int flags)
{
        struct handle *h = (void *)f;
        int rc = SQLITE_IOERR_FSYNC;

        (void)flags; /* whether the real disk has it does not matter here */
        if (!h->file)
                return SQLITE_OK;
        disk_lock();
        if (!fails(DISK_SYNC) && !disk_changes()) {
                disk_synced(h->file, h->real);
                rc = SQLITE_OK;
        }
        disk_unlock();
        return rc;
}

static int do_close(sqlite3_file *f)
{
        sqlite3_file *real = real_of(f);
        int rc = real->pMethods ? real->pMethods->xClose(real) : SQLITE_OK;

        free(real);
        return rc;
}

/* --- what passes --------------------------------------------------------------------------------------- */

static int do_size(sqlite3_file *f, sqlite3_int64 *size)
{
        return real_of(f)->pMethods->xFileSize(real_of(f), size);
}

static int do_lock(sqlite3_file *f, int level)
{
        return real_of(f)->pMethods->xLock(real_of(f), level);
}

static int do_unlock(sqlite3_file *f, int level)
{
        return real_of(f)->pMethods->xUnlock(real_of(f), level);
}

static int do_reserved(sqlite3_file *f, int *out)
{
        return real_of(f)->pMethods->xCheckReservedLock(real_of(f), out);
}

/* Hints of a size to come would change the file behind the disk's back. */
static int do_control(sqlite3_file *f, int op, void *arg)
{
        if (op == SQLITE_FCNTL_SIZE_HINT || op == SQLITE_FCNTL_CHUNK_SIZE)
                return SQLITE_OK;
        return real_of(f)->pMethods->xFileControl(real_of(f), op, arg);
}

static int do_sector(sqlite3_file *f)
{
        return real_of(f)->pMethods->xSectorSize(real_of(f));
}

static int do_traits(sqlite3_file *f)
{
        return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f));
}

static int do_shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **out)
{
        return real_of(f)->pMethods->xShmMap(real_of(f), page, size, extend, out);
}

static int do_shm_lock(sqlite3_file *f, int offset, int n, int flags)
{
        return real_of(f)->pMethods->xShmLock(real_of(f), offset, n, flags);
}

static void do_shm_barrier(sqlite3_file *f)
{
        real_of(f)->pMethods->xShmBarrier(real_of(f));
}

static int do_shm_unmap(sqlite3_file *f, int delete)
{
        return real_of(f)->pMethods->xShmUnmap(real_of(f), delete);
}

static const sqlite3_io_methods methods = {
        .iVersion = 2,
        .xClose = do_close,
        .xRead = do_read,
        .xWrite = do_write,
        .xTruncate = do_truncate,
        .xSync = do_sync,
        .xFileSize = do_size,
        .xLock = do_lock,
        .xUnlock = do_unlock,
        .xCheckReservedLock = do_reserved,
        .xFileControl = do_control,
        .xSectorSize = do_sector,
        .xDeviceCharacteristics = do_traits,
        .xShmMap = do_shm_map,
        .xShmLock = do_shm_lock,
        .xShmBarrier = do_shm_barrier,
        .xShmUnmap = do_shm_unmap,
};

/* --- names ---------------------------------------------------------------------------------------------- */

#define LASTING (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)
#define LOG     (SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)

static int open_real(struct handle *h, const char *name, int flags, int *got)
{
        int rc;

        h->real = calloc(1, (size_t)real_vfs->szOsFile);
        if (!h->real)
                return SQLITE_NOMEM;
        rc = real_vfs->xOpen(real_vfs, name, h->real, flags, got);
        if (rc == SQLITE_OK) {
                h->base.pMethods = &methods;
        } else {
                free(h->real);
                h->real = NULL;
        }
        return rc;
}

static int do_open(sqlite3_vfs *v, const char *name, sqlite3_file *f, int flags, int *got)
{
        struct handle *h = (void *)f;
        int rc = SQLITE_CANTOPEN;

        (void)v;
        memset(h, 0, sizeof(*h));
        if (!name || !(flags & LASTING))
                return open_real(h, name, flags, got);
        disk_lock();
        if (!fails(DISK_OPEN) && !disk_changes()) {
                h->file = disk_opened(name, (flags & LOG) != 0);
                rc = open_real(h, name, flags, got);
        }
        disk_unlock();
        return rc;
}

static int do_delete(sqlite3_vfs *v, const char *name, int sync)
{
        int rc = SQLITE_IOERR_DELETE;

        (void)v;
        (void)sync;
        disk_lock();
        if (!fails(DISK_DELETE) && !disk_changes()) {
                disk_deleting(name);
                rc = real_vfs->xDelete(real_vfs, name, 0);
        }
        disk_unlock();
        return rc;
}

static int remember(sqlite3 *db, char **text, const struct sqlite3_api_routines *api)
{
        (void)text;
        (void)api;
        last_opened = db;
        return SQLITE_OK;
}

sqlite3 *disk_last_opened(void)
{
        return last_opened;
}

void disk_install(void)
{
        real_vfs = sqlite3_vfs_find(NULL);
        vfs = *real_vfs;
        vfs.zName = "disk";
        vfs.szOsFile = sizeof(struct handle);
        vfs.xOpen = do_open;
        vfs.xDelete = do_delete;
        vfs.pNext = NULL;
        sqlite3_vfs_register(&vfs, 1);
        sqlite3_auto_extension((void (*)(void))remember);
}
