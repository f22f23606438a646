/*
 * The base as a file: one head and the sections, mapped as they are written. It fits this machine's byte order alone.
 * A walk believes what it finds there, so all of it is summed up before it is used, which costs what reading it costs;
 * it is made again where it does not fit.
 */
#include "layout.h"

#include "../beside.h"

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

/* A base and its head, as they are written. */
struct writing {
        const struct base *base;
        const struct base_head *head;
};

static int write_sections(int fd, const void *ctx)
{
        const struct writing *w = ctx;
        int rc = ftruncate(fd, (off_t)w->head->bytes) < 0 ? -errno : 0;

        for (int s = 0; rc == 0 && s < SECTIONS; s++)
                rc = kw_write_at(fd, w->base->section[s], w->head->n[s] * sizes[s], w->head->at[s]);
        return rc ? rc : kw_write_at(fd, w->head, sizeof(*w->head), 0);
}

int kw_base_save(const struct base *b, const char *file)
{
        struct base_head head = b->head;

        head.content = content_of(b);
        lay_out(&head);
        return kw_write_aside(file, write_sections, &(struct writing){b, &head});
}
