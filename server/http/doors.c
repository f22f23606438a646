/*
 * Doors: where something secret is tried, and how often that went wrong. Counted in memory on a clock that doesn't go
 * back, and kept in the file of secrets, so that a restart lets nobody try anew.
 *
 * A door is counted under any name that somebody tries, so that a lock doesn't tell which people there are; the number
 * of doors is bounded, and the one that was first tried longest ago gives way.
 */
#include "server.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define DOORS_MAX 4096
#define HOUR      3600

struct door {
        char at[128];
        struct kw_tries tries; /* s on the monotonic clock */
        UT_hash_handle hh;
};

struct kw_doors {
        pthread_mutex_t lock;
        struct door *all;
        struct kw_access *access;
};

static int64_t now_s(void)
{
        return kw_now_ms() / 1000;
}

static int64_t within(int64_t value, int64_t low, int64_t high)
{
        return value < low ? low : value > high ? high : value;
}

/* The caller has the lock. */
static struct door *find(struct kw_doors *d, const char *at)
{
        struct door *door;

        HASH_FIND_STR(d->all, at, door);
        return door;
}

static void take_away(struct kw_doors *d, struct door *door)
{
        HASH_DEL(d->all, door);
        free(door);
}

/* The table keeps the order in which doors came into it. */
static struct door *make(struct kw_doors *d, const char *at)
{
        struct door *door;

        if (HASH_COUNT(d->all) >= DOORS_MAX)
                take_away(d, d->all);
        door = calloc(1, sizeof *door);
        if (!door)
                return NULL;
        snprintf(door->at, sizeof door->at, "%s", at);
        HASH_ADD_STR(d->all, at, door);
        if (!door->hh.tbl) {
                free(door);
                return NULL;
        }
        return door;
}

/* Of a wall clock that was put wrong in between nothing lasts longer than an hour. */
static int remember(void *ctx, const char *at, const struct kw_tries *kept)
{
        int64_t mono = now_s(), wall = (int64_t)time(NULL);
        struct door *door = make(ctx, at);

        if (!door)
                return -ENOMEM;
        door->tries = *kept;
        door->tries.since = mono - within(wall - kept->since, 0, HOUR);
        door->tries.until = mono + within(kept->until - wall, 0, HOUR);
        return 0;
}

int kw_doors_new(struct kw_access *access, struct kw_doors **out, struct kw_error *err)
{
        struct kw_doors *d = calloc(1, sizeof *d);
        int rc;

        if (!d)
                return -ENOMEM;
        pthread_mutex_init(&d->lock, NULL);
        d->access = access;
        rc = kw_access_each_tries(access, remember, d, err);
        if (rc)
                kw_doors_free(d);
        else
                *out = d;
        return rc;
}

void kw_doors_free(struct kw_doors *d)
{
        struct door *door, *next;

        if (!d)
                return;
        HASH_ITER(hh, d->all, door, next)
        take_away(d, door);
        pthread_mutex_destroy(&d->lock);
        free(d);
}

/* What can't be kept still counts until the next start. */
static void keep(struct kw_doors *d, const char *at, const struct kw_tries *t)
{
        struct kw_tries times = *t;
        int64_t ahead = (int64_t)time(NULL) - now_s();

        times.since += ahead;
        times.until += ahead;
        kw_access_keep_tries(d->access, at, &times, NULL);
}

int64_t kw_door_locked(struct kw_doors *d, const char *at)
{
        const struct door *door;
        int64_t left;

        pthread_mutex_lock(&d->lock);
        door = find(d, at);
        left = door ? kw_tries_locked(&door->tries, now_s()) : 0;
        pthread_mutex_unlock(&d->lock);
        return left;
}

int64_t kw_door_wrong(struct kw_doors *d, const char *at, const struct kw_try_rule *rule)
{
        struct kw_tries now = {0};
        struct door *door;
        int64_t lock = 0;

        pthread_mutex_lock(&d->lock);
        door = find(d, at);
        if (!door)
                door = make(d, at);
        if (door) {
                lock = kw_tries_wrong(&door->tries, rule, now_s());
                now = door->tries;
        }
        pthread_mutex_unlock(&d->lock);
        if (door)
                keep(d, at, &now);
        return lock;
}

void kw_door_right(struct kw_doors *d, const char *at, const struct kw_try_rule *rule)
{
        struct door *door;
        bool forgotten = false;

        pthread_mutex_lock(&d->lock);
        door = find(d, at);
        if (door) {
                kw_tries_right(&door->tries, rule);
                forgotten = !door->tries.wrong && !door->tries.locks;
                if (forgotten)
                        take_away(d, door);
        }
        pthread_mutex_unlock(&d->lock);
        if (forgotten)
                keep(d, at, &(struct kw_tries){0});
}

void kw_door_forget(struct kw_doors *d, const char *at)
{
        struct door *door;
        bool there;

        pthread_mutex_lock(&d->lock);
        door = find(d, at);
        there = door != NULL;
        if (door)
                take_away(d, door);
        pthread_mutex_unlock(&d->lock);
        if (there)
                keep(d, at, &(struct kw_tries){0});
}
