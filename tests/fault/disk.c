/*
 * The disk's power: which bytes, sizes and names are there after it went.
 *
 *      name -> file now        what SQLite sees, on the real disk
 *           -> file kept       what the folder says for sure
 *      file:  kept bytes       as of the last sync
 *             changed from-to  the range that was written since
 *
 * One lock over everything: what is tested is what is on the disk, not how fast it gets there.
 */
#include "disk_file.h"

#include <assert.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SECTOR    512
#define NAMES_MAX 64

struct name {
        char path[256];
        struct disk_file *now, *kept; /* NULL: there is none of that name */
};

static struct {
        pthread_mutex_t lock;
        struct name names[NAMES_MAX];
        size_t n_names;
        bool off;
        long cut_in; /* operations; 0: no cut is due */
        uint64_t dice;
        struct disk_figures figures;
} disk = {.lock = PTHREAD_MUTEX_INITIALIZER};

void disk_lock(void)
{
        pthread_mutex_lock(&disk.lock);
}

void disk_unlock(void)
{
        pthread_mutex_unlock(&disk.lock);
}

/* --- files ---------------------------------------------------------------------------------------- */

static struct name *name_of(const char *path)
{
        for (size_t i = 0; i < disk.n_names; i++)
                if (strcmp(disk.names[i].path, path) == 0)
                        return &disk.names[i];
        assert(disk.n_names < NAMES_MAX);
        snprintf(disk.names[disk.n_names].path, sizeof(disk.names[0].path), "%s", path);
        return &disk.names[disk.n_names++];
}

static size_t size_of(int fd)
{
        struct stat st;

        return fstat(fd, &st) == 0 ? (size_t)st.st_size : 0;
}

static unsigned char *read_all(const char *path, size_t *n)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC);
        unsigned char *bytes;

        *n = fd < 0 ? 0 : size_of(fd);
        bytes = calloc(1, *n + 1);
        assert(bytes);
        if (fd >= 0) {
                ssize_t got = pread(fd, bytes, *n, 0);

                assert(got == (ssize_t)*n);
                close(fd);
        }
        return bytes;
}

static void write_all(const char *path, const unsigned char *bytes, size_t n)
{
        int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
        ssize_t put = write(fd, bytes, n);

        assert(fd >= 0 && put == (ssize_t)n);
        close(fd);
}

static struct disk_file *new_file(const char *path)
{
        struct disk_file *f = calloc(1, sizeof(*f));

        assert(f);
        snprintf(f->path, sizeof(f->path), "%s", path);
        f->from = SIZE_MAX;
        return f;
}

/* SQLite opened @path: a file that it found there was there before, and is safe. */
struct disk_file *disk_opened(const char *path, bool is_log)
{
        struct name *name = name_of(path);

        if (!name->now) {
                bool found = access(path, F_OK) == 0;

                name->now = new_file(path);
                name->now->syncs_folder = is_log && !found;
                if (found) {
                        name->kept = name->now;
                        name->now->kept = read_all(path, &name->now->n_kept);
                }
        }
        return name->now;
}

void disk_written(struct disk_file *f, size_t from, size_t n)
{
        disk.figures.writes++;
        if (from < f->from)
                f->from = from;
        if (from + n > f->to)
                f->to = from + n;
}

static void free_file(struct disk_file *f)
{
        if (!f)
                return;
        free(f->kept);
        free(f->left);
        free(f);
}

static void sync_folder(void)
{
        for (size_t i = 0; i < disk.n_names; i++) {
                if (disk.names[i].kept != disk.names[i].now)
                        free_file(disk.names[i].kept);
                disk.names[i].kept = disk.names[i].now;
        }
}

void disk_synced(struct disk_file *f, sqlite3_file *real)
{
        sqlite3_int64 size = 0;
        size_t to;

        disk.figures.syncs++;
        real->pMethods->xFileSize(real, &size);
        f->kept = realloc(f->kept, (size_t)size + 1);
        assert(f->kept);
        if (f->n_kept < (size_t)size && f->from > f->n_kept)
                f->from = f->n_kept;
        to = f->n_kept < (size_t)size || f->to > (size_t)size ? (size_t)size : f->to;
        f->n_kept = (size_t)size;
        if (f->from < to && real->pMethods->xRead(real, f->kept + f->from, (int)(to - f->from), (sqlite3_int64)f->from))
                abort();
        f->from = SIZE_MAX;
        f->to = 0;
        if (f->syncs_folder)
                sync_folder();
        f->syncs_folder = false;
}

/* Before the real one goes: its bytes may be needed, if the folder was never told. */
void disk_deleting(const char *path)
{
        struct name *name = name_of(path);

        if (!name->now && access(path, F_OK) == 0)
                disk_opened(path, false);
        if (name->now && name->now == name->kept)
                name->now->left = read_all(path, &name->now->n_left);
        else
                free_file(name->now);
        name->now = NULL;
}

/* --- power ---------------------------------------------------------------------------------------- */

static uint64_t dice(void)
{
        disk.dice ^= disk.dice << 13;
        disk.dice ^= disk.dice >> 7;
        disk.dice ^= disk.dice << 17;
        return disk.dice;
}

bool disk_is_off(void)
{
        disk_lock();
        bool off = disk.off;
        disk_unlock();
        return off;
}

/* An operation that changes something is about to be done. Return: whether there is no power for it. */
bool disk_changes(void)
{
        if (disk.cut_in && --disk.cut_in == 0)
                disk.off = true;
        return disk.off;
}

void disk_cut_after(long n)
{
        disk_lock();
        disk.cut_in = n;
        disk_unlock();
}

void disk_cut(void)
{
        disk_lock();
        disk.off = true;
        disk_unlock();
}

/* @chance of 16 that a sector that was not synced is there all the same. */
static void mix(const struct disk_file *f, const unsigned char *now, size_t n_now, unsigned chance, const char *path)
{
        size_t n = dice() % 2 ? n_now : f->n_kept, most = n_now > f->n_kept ? n_now : f->n_kept;
        unsigned char *out = calloc(1, most + 1);

        assert(out);
        if (n_now > f->n_kept)
                n = chance == 16 ? n_now : f->n_kept; /* it grows by what is kept of it, below */
        memcpy(out, f->kept ? f->kept : now, f->n_kept);
        for (size_t at = 0; at < n_now; at += SECTOR) {
                size_t part = n_now - at < SECTOR ? n_now - at : SECTOR;

                if (at + part <= f->n_kept && memcmp(out + at, now + at, part) == 0)
                        continue;
                if (dice() % 16 >= chance) {
                        disk.figures.dropped++;
                        continue;
                }
                disk.figures.kept++;
                memcpy(out + at, now + at, part);
                if (at + part > n)
                        n = at + part;
        }
        write_all(path, out, n);
        free(out);
}

static void settle(struct name *name, unsigned chance)
{
        struct disk_file *f = name->now == name->kept || dice() % 2 ? name->kept : name->now;
        unsigned char *now = NULL;
        size_t n_now = 0;

        if (f) {
                now = f == name->now ? read_all(name->path, &n_now) : NULL;
                if (!now && f->left) {
                        now = f->left;
                        n_now = f->n_left;
                        f->left = NULL;
                }
        }
        if (f && now)
                mix(f, now, n_now, chance, name->path);
        else
                unlink(name->path);
        free(now);
}

void disk_power_on(uint64_t seed)
{
        static const unsigned chances[] = {0, 16, 8, 8, 2, 14};
        char side[300];

        disk_lock();
        disk.dice = seed * 0x9e3779b97f4a7c15u + 1;
        dice();
        for (size_t i = 0; i < disk.n_names; i++) {
                settle(&disk.names[i], chances[dice() % 6]);
                snprintf(side, sizeof(side), "%s-shm", disk.names[i].path);
                unlink(side);
        }
        disk_unlock();
        disk_forget();
}

void disk_forget(void)
{
        disk_lock();
        for (size_t i = 0; i < disk.n_names; i++) {
                if (disk.names[i].kept != disk.names[i].now)
                        free_file(disk.names[i].kept);
                free_file(disk.names[i].now);
        }
        disk.n_names = 0;
        memset(disk.names, 0, sizeof(disk.names));
        disk.off = false;
        disk.cut_in = 0;
        disk_unlock();
        disk_fail(&(struct disk_fault){0});
}

struct disk_figures disk_figures(void)
{
        return disk.figures;
}
