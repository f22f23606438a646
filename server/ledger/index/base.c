/*
 * The base as a file: one head and the sections, mapped as they are written. It fits this machine's byte order alone.
 * A walk believes what it finds there, so all of it is summed up before it is used, which costs what reading it costs;
 * it is made again where it does not fit.
 */
#include "layout.h"

#include <errno.h>
#include <fcntl.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#define MAGIC "kinwire index 8"

static const size_t sizes[SECTIONS] = {
        [SEC_RUNS] = sizeof(struct run_rec),
        [SEC_PACKS] = sizeof(struct pack_rec),
        [SEC_FEEDS] = sizeof(struct feed_rec),
        [SEC_BY_RUN] = sizeof(uint32_t),
        [SEC_FIRST] = sizeof(uint32_t),
        [SEC_PACK_OF] = sizeof(uint32_t),
        [SEC_RECEIVED] = sizeof(struct received_rec),
        [SEC_FLAGS] = sizeof(uint8_t),
        [SEC_SORT_OF] = sizeof(uint16_t),
        [SEC_MASS] = sizeof(uint32_t),
        [SEC_SORTS] = sizeof(struct sort_rec),
        [SEC_TEXTS] = 1,
        [SEC_CODE_AT] = sizeof(uint32_t),
        [SEC_CODES] = 1,
        [SEC_RUN_CODE_AT] = sizeof(uint32_t),
        [SEC_RUN_CODES] = 1,
        [SEC_RUN_TIME] = sizeof(int64_t),
        [SEC_PLACED] = sizeof(struct placed_rec),
        [SEC_TAKEN] = sizeof(struct taken_rec),
        [SEC_SENT] = sizeof(struct sent_rec),
        [SEC_CONSIGNMENTS] = sizeof(struct consignment_rec),
        [SEC_LEFT] = sizeof(struct left_rec),
        [SEC_STOCK] = sizeof(struct stock_rec),
        [SEC_STOCK_SUMS] = sizeof(struct stock_sum_rec),
};

void kw_base_name(struct base *b)
{
        b->runs = b->section[SEC_RUNS];
        b->packs = b->section[SEC_PACKS];
        b->feeds = b->section[SEC_FEEDS];
        b->by_run = b->section[SEC_BY_RUN];
        b->first = b->section[SEC_FIRST];
        b->pack_of = b->section[SEC_PACK_OF];
        b->received = b->section[SEC_RECEIVED];
        b->flags = b->section[SEC_FLAGS];
        b->n_runs = (uint32_t)b->head.n[SEC_RUNS];
        b->n_lots = (uint32_t)b->head.n[SEC_FLAGS];
        b->n_received = (uint32_t)b->head.n[SEC_RECEIVED];
}

void kw_base_sizes(size_t out[SECTIONS])
{
        memcpy(out, sizes, sizeof(sizes));
}

uint64_t kw_base_bytes(const struct base *b)
{
        uint64_t bytes = sizeof(b->head);

        for (int s = 0; s < SECTIONS; s++)
                bytes += b->head.n[s] * sizes[s];
        return bytes;
}

void kw_base_free(struct base *b)
{
        if (b->mapped)
                munmap(b->mapped, b->head.bytes);
        else
                for (int s = 0; s < SECTIONS; s++)
                        free(b->section[s]);
        *b = (struct base){0};
}

/* FNV-1a (Fowler, Noll, Vo): against a head that was cut off or is another program's, not against an attacker. */
static uint32_t sum_of(const struct base_head *head)
{
        const unsigned char *at = (const unsigned char *)head;
        uint32_t sum = UINT32_C(2166136261);

        for (size_t i = 0; i < offsetof(struct base_head, sum); i++)
                sum = (sum ^ at[i]) * UINT32_C(16777619);
        return sum;
}

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

static uint64_t content_of(const struct base *b)
{
        uint64_t sum = 0;

        for (int s = 0; s < SECTIONS; s++)
                sum = kw_sum_of(sum, b->section[s], b->head.n[s] * sizes[s]);
        return sum;
}

static uint64_t round_up(uint64_t at)
{
        return (at + 63) / 64 * 64;
}

static void lay_out(struct base_head *head)
{
        uint64_t at = round_up(sizeof(*head));

        memset(head->magic, 0, sizeof(head->magic));
        memcpy(head->magic, MAGIC, sizeof(MAGIC));
        for (int s = 0; s < SECTIONS; s++) {
                head->at[s] = at;
                at = round_up(at + head->n[s] * sizes[s]);
        }
        head->bytes = at;
        head->sum = sum_of(head);
}

static bool fits(const struct base_head *head, uint64_t bytes)
{
        struct base_head same = *head;

        if (head->sum != sum_of(head) || head->bytes != bytes)
                return false;
        lay_out(&same);
        return memcmp(&same, head, sizeof(same)) == 0;
}

int kw_base_map(struct base *b, const char *file)
{
        int fd = open(file, O_RDONLY | O_CLOEXEC), rc = -ENOENT;
        struct stat st;

        *b = (struct base){0};
        if (fd < 0)
                return -errno;
        if (fstat(fd, &st) == 0 && read(fd, &b->head, sizeof(b->head)) == (ssize_t)sizeof(b->head) &&
            fits(&b->head, (uint64_t)st.st_size)) {
                /* private: the marks of touched lots are this process's own */
                b->mapped = mmap(NULL, (size_t)st.st_size, PROT_READ | PROT_WRITE, MAP_PRIVATE, fd, 0);
                rc = b->mapped == MAP_FAILED ? -errno : 0;
        }
        close(fd);
        if (rc) {
                *b = (struct base){0};
                return rc;
        }
        for (int s = 0; s < SECTIONS; s++)
                b->section[s] = (char *)b->mapped + b->head.at[s];
        if (content_of(b) != b->head.content) {
                kw_base_free(b);
                return -ENOENT;
        }
        kw_base_name(b);
        return 0;
}

static int write_all(int fd, const void *at, uint64_t n, uint64_t to)
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
static int write_file(const struct base *b, const struct base_head *head, const char *file, const char *name)
{
        int fd = -1, rc = open_alone(file, &fd);

        if (rc)
                return rc;
        rc = ftruncate(fd, 0) < 0 || ftruncate(fd, (off_t)head->bytes) < 0 ? -errno : 0;
        for (int s = 0; rc == 0 && s < SECTIONS; s++)
                rc = write_all(fd, b->section[s], head->n[s] * sizes[s], head->at[s]);
        if (rc == 0)
                rc = write_all(fd, head, sizeof(*head), 0);
        if (rc == 0 && fsync(fd) < 0)
                rc = -errno;
        if (rc == 0 && rename(file, name) < 0)
                rc = -errno;
        if (rc)
                unlink(file);
        close(fd);
        return rc;
}

int kw_base_save(const struct base *b, const char *file)
{
        struct base_head head = b->head;
        size_t n = strlen(file) + 5;
        char *fresh = malloc(n);
        int rc;

        if (!fresh)
                return -ENOMEM;
        snprintf(fresh, n, "%s.new", file);
        head.content = content_of(b);
        lay_out(&head);
        rc = write_file(b, &head, fresh, file);
        if (rc == 0)
                rc = sync_folder(file);
        free(fresh);
        return rc;
}
