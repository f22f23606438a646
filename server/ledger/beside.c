/*
 * Files that stand beside the ledger and can be made again.
 */
#include "beside.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LANES 4

/*
 * Words of 64 bits, four chains side by side, so that it goes as fast as memory. Each step, (x ^ word) * odd with its
 * halves folded, can be undone, and so can joining the chains: two inputs that differ in one word have two sums.
 */
static uint64_t step(uint64_t sum, uint64_t word)
{
        sum = (sum ^ word) * UINT64_C(0x9e3779b97f4a7c15); /* 2^64 over the golden ratio, made odd (Knuth, TAOCP 6.4) */
        return sum ^ sum >> 32;
}

uint64_t kw_sum_of(uint64_t sum, const void *at, uint64_t n)
{
        uint64_t lanes[LANES] = {sum, sum ^ 1, sum ^ 2, sum ^ 3}, words[LANES];
        const char *from = at;

        for (; n >= sizeof(words); n -= sizeof(words), from += sizeof(words)) {
                memcpy(words, from, sizeof(words));
                for (int i = 0; i < LANES; i++)
                        lanes[i] = step(lanes[i], words[i]);
        }
        memset(words, 0, sizeof(words));
        if (n)
                memcpy(words, from, n);
        for (int i = 0; i < LANES; i++)
                lanes[i] = step(lanes[i], words[i]);
        sum = step(n, lanes[0]);
        for (int i = 1; i < LANES; i++)
                sum = step(sum, lanes[i]);
        return sum;
}

int kw_write_at(int fd, const void *at, uint64_t n, uint64_t to)
{
        for (uint64_t done = 0; done < n;) {
                uint64_t part = n - done < (1u << 30) ? n - done : 1u << 30;
                ssize_t wrote = pwrite(fd, (const char *)at + done, part, (off_t)(to + done));

                if (wrote < 0)
                        return -errno;
                done += (uint64_t)wrote;
        }
        return 0;
}

static int sync_folder(const char *file)
{
        char *folder = strdup(file), *slash = folder ? strrchr(folder, '/') : NULL;
        int fd, rc = 0;

        if (!folder)
                return -ENOMEM;
        if (slash)
                slash[slash == folder] = '\0';
        fd = open(slash ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
        if (fd < 0 || fsync(fd) < 0)
                rc = -errno;
        if (fd >= 0)
                close(fd);
        free(folder);
        return rc;
}

/*
 * The file to be written, for us alone: whoever wrote into one that another has given its name to, and mapped, would
 * change it under its feet. Return: 0; -EBUSY when somebody else is at it, and has what is as good.
 */
static int open_alone(const char *file, int *out)
{
        struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
        struct stat named, ours;
        int fd = open(file, O_WRONLY | O_CREAT | O_CLOEXEC, 0600), rc = 0;

        if (fd < 0)
                return -errno;
        if (fcntl(fd, F_OFD_SETLK, &all) < 0)
                rc = errno == EAGAIN || errno == EACCES ? -EBUSY : -errno;
        else if (fstat(fd, &ours) < 0 || stat(file, &named) < 0 || ours.st_ino != named.st_ino)
                rc = -EBUSY; /* it has got its name since */
        if (rc)
                close(fd);
        *out = fd;
        return rc;
}

/* The file gets its name before anybody else may write it. */
static int write_file(const char *file, const char *name, int (*fill)(int fd, const void *ctx), const void *ctx)
{
        int fd = -1, rc = open_alone(file, &fd);

        if (rc)
                return rc;
        rc = ftruncate(fd, 0) < 0 ? -errno : fill(fd, ctx);
        if (rc == 0 && fsync(fd) < 0)
                rc = -errno;
        if (rc == 0 && rename(file, name) < 0)
                rc = -errno;
        if (rc)
                unlink(file);
        close(fd);
        return rc;
}

int kw_write_aside(const char *file, int (*fill)(int fd, const void *ctx), const void *ctx)
{
        size_t n = strlen(file) + 5;
        char *fresh = malloc(n);
        int rc;

        if (!fresh)
                return -ENOMEM;
        snprintf(fresh, n, "%s.new", file);
        rc = write_file(fresh, file, fill, ctx);
        if (rc == 0)
                rc = sync_folder(file);
        free(fresh);
        return rc;
}
