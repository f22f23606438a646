/*
 * Syncs that fail: put before the C library, every sync fails with EIO as long as the file is there whose name is in
 * KW_SYNC_FAILS.
 */
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <unistd.h>

static int sync_by(const char *name, int fd)
{
        const char *file = getenv("KW_SYNC_FAILS");
        union {
                void *found;
                int (*call)(int);
        } real;

        if (file && access(file, F_OK) == 0) {
                errno = EIO;
                return -1;
        }
        real.found = dlsym(RTLD_NEXT, name);
        return real.call(fd);
}

int fsync(int fd)
{
        return sync_by("fsync", fd);
}

int fdatasync(int fd)
{
        return sync_by("fdatasync", fd);
}
