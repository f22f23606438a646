/*
 * A disk that fails: put before the C library. Each fault lasts as long as the file is there whose name is in the
 * environment.
 *
 *      KW_SYNC_FAILS    every sync fails with EIO
 *      KW_SYNC_STALLS   every sync waits
 *      KW_DISK_READS    nothing can be written: EROFS, as on a file system that was set read-only
 */
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int is_on(const char *variable)
{
        const char *file = getenv(variable);

        return file && access(file, F_OK) == 0;
}

static void *real(const char *name)
{
        return dlsym(RTLD_NEXT, name);
}

static int sync_by(const char *name, int fd)
{
        union {
                void *found;
                int (*call)(int);
        } next = {real(name)};

        while (is_on("KW_SYNC_STALLS"))
                usleep(20000);
        if (is_on("KW_SYNC_FAILS")) {
                errno = EIO;
                return -1;
        }
        if (is_on("KW_DISK_READS")) {
                errno = EROFS;
                return -1;
        }
        return next.call(fd);
}

int fsync(int fd)
{
        return sync_by("fsync", fd);
}

int fdatasync(int fd)
{
        return sync_by("fdatasync", fd);
}

static ssize_t write_by(const char *name, int fd, const void *bytes, size_t n, off_t at)
{
        union {
                void *found;
                ssize_t (*call)(int, const void *, size_t, off_t);
        } next = {real(name)};

        if (is_on("KW_DISK_READS")) {
                errno = EROFS;
                return -1;
        }
        return next.call(fd, bytes, n, at);
}

/* With offsets of 64 bits this is the one that stands in the libraries as pwrite64. */
ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at)
{
        return write_by("pwrite64", fd, bytes, n, at);
}
