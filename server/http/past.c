/*
 * Ledgers as they were: for questions with ?size=N, answered as the ledger answered when it had N entries.
 *
 * Such a ledger is made by recording the first N entries once more into a file that nobody else sees, which takes as
 * long as recording them took but for the waiting. So it is made by a thread of its own, one at a time, while whoever
 * asks is told how far it is (202) and asks again; the last two are kept, each for one question at a time.
 */
#include "server.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#define KEPT       2
#define WAIT_MS    1500 /* for another question to be done with the same ledger */
#define ROOM_SPARE ((uint64_t)256 << 20)

struct was {
        int64_t size;
        struct kw_ledger *ledger; /* NULL: none */
        bool taken;
        int64_t used; /* ms on the monotonic clock */
};

struct kw_past {
        pthread_mutex_t lock;
        pthread_cond_t given;
        struct was kept[KEPT];
        int64_t making; /* the size that the thread makes */
        bool running, joinable;
        atomic_bool stop;
        atomic_llong done;
        int rc; /* of the last that could not be made, and of which size */
        int64_t failed;
        struct kw_error err;
        pthread_t thread;
        char *path;
};

int kw_past_new(const char *path, struct kw_past **out)
{
        struct kw_past *p = calloc(1, sizeof *p);

        if (p)
                p->path = strdup(path);
        if (!p || !p->path) {
                free(p);
                return -ENOMEM;
        }
        p->failed = -1;
        pthread_mutex_init(&p->lock, NULL);
        pthread_cond_init(&p->given, NULL);
        *out = p;
        return 0;
}

void kw_past_stop(struct kw_past *p)
{
        if (!p)
                return;
        atomic_store(&p->stop, true);
        if (p->joinable)
                pthread_join(p->thread, NULL);
        p->joinable = false;
}

void kw_past_free(struct kw_past *p)
{
        if (!p)
                return;
        kw_past_stop(p);
        for (size_t i = 0; i < KEPT; i++)
                kw_ledger_close(p->kept[i].ledger);
        pthread_cond_destroy(&p->given);
        pthread_mutex_destroy(&p->lock);
        free(p->path);
        free(p);
}

/* --- making one ------------------------------------------------------------------------------- */

/* What is made lies where temporary files do; it grows about as long as the ledger. */
static int check_room(const struct kw_past *p, struct kw_error *err)
{
        const char *folder = getenv("SQLITE_TMPDIR");
        struct statvfs room;
        struct stat file;

        if (!folder)
                folder = getenv("TMPDIR");
        if (!folder || access(folder, W_OK) != 0)
                folder = access("/var/tmp", W_OK) == 0 ? "/var/tmp" : "/tmp"; /* as SQLite looks for one */
        if (statvfs(folder, &room) || stat(p->path, &file))
                return 0;
        if ((uint64_t)room.f_bavail * room.f_frsize >= (uint64_t)file.st_size * 3 / 2 + ROOM_SPARE)
                return 0;
        return kw_refuse_with(err, KW_DISK_FULL, NULL, "past", NULL, "there is no room in %s for a ledger as it was",
                              folder);
}

static void note_progress(void *ctx, const char *what, int64_t done, int64_t of)
{
        (void)what;
        (void)of;
        atomic_store(&((struct kw_past *)ctx)->done, done);
}

static int make(struct kw_past *p, int64_t size, struct kw_ledger **out, struct kw_error *err)
{
        struct kw_ledger *ledger;
        int rc = check_room(p, err);

        if (!rc)
                rc = kw_ledger_open(p->path, KW_OPEN_READ, &ledger, err);
        if (rc)
                return rc;
        rc = kw_ledger_look(ledger, err);
        if (!rc)
                rc = kw_ledger_as_was(ledger, size, note_progress, p, &p->stop, out, err);
        kw_ledger_done(ledger);
        kw_ledger_close(ledger);
        return rc;
}

/* The place of the one that was not used for longest and is free; NULL when all are taken. */
static struct was *oldest(struct kw_past *p)
{
        struct was *found = NULL;

        for (size_t i = 0; i < KEPT; i++) {
                if (!p->kept[i].taken && (!found || p->kept[i].used < found->used))
                        found = &p->kept[i];
        }
        return found;
}

static void *run(void *arg)
{
        struct kw_past *p = arg;
        struct kw_ledger *made = NULL, *old = NULL;
        struct kw_error err = {0};
        struct was *place;
        int rc = make(p, p->making, &made, &err);

        pthread_mutex_lock(&p->lock);
        p->failed = rc ? p->making : -1;
        p->rc = rc;
        p->err = err;
        place = rc ? NULL : oldest(p);
        if (place) {
                old = place->ledger;
                *place = (struct was){.size = p->making, .ledger = made, .used = kw_now_ms()};
                made = NULL;
        }
        p->running = false;
        pthread_mutex_unlock(&p->lock);
        kw_ledger_close(old);
        kw_ledger_close(made); /* both places are taken: whoever asked asks again */
        return NULL;
}

static int start(struct kw_past *p, int64_t size)
{
        int rc;

        if (p->joinable)
                pthread_join(p->thread, NULL); /* it runs no more */
        p->making = size;
        atomic_store(&p->done, 0);
        rc = pthread_create(&p->thread, NULL, run, p);
        p->running = p->joinable = rc == 0;
        return -rc;
}

/* --- taking one ------------------------------------------------------------------------------- */

static struct was *find(struct kw_past *p, int64_t size)
{
        for (size_t i = 0; i < KEPT; i++) {
                if (p->kept[i].ledger && p->kept[i].size == size)
                        return &p->kept[i];
        }
        return NULL;
}

static void in_ms(int64_t ms, struct timespec *out)
{
        clock_gettime(CLOCK_REALTIME, out);
        out->tv_sec += ms / 1000;
        out->tv_nsec += ms % 1000 * 1000000;
        out->tv_sec += out->tv_nsec / 1000000000;
        out->tv_nsec %= 1000000000;
}

/* The caller has the lock. Return: 0 with the ledger; -EINPROGRESS; a refusal; a negative errno. */
static int take(struct kw_past *p, int64_t size, struct kw_ledger **out, struct kw_error *err)
{
        struct timespec until;
        struct was *was;
        int rc = 0;

        in_ms(WAIT_MS, &until);
        while ((was = find(p, size)) && was->taken && rc == 0)
                rc = pthread_cond_timedwait(&p->given, &p->lock, &until);
        if (was && was->taken)
                return kw_refuse_with(err, KW_BUSY, NULL, "past-asked", NULL,
                                      "somebody else is asking the ledger of that size; ask again in a moment");
        if (was) {
                was->taken = true;
                was->used = kw_now_ms();
                *out = was->ledger;
                return 0;
        }
        if (p->failed == size) { /* said once, then tried again */
                p->failed = -1;
                *err = p->err;
                return p->rc;
        }
        if (p->running)
                return p->making == size
                               ? -EINPROGRESS
                               : kw_refuse_with(err, KW_BUSY, NULL, "past-made", NULL,
                                                "the ledger of another size is being made; ask again in a moment");
        rc = atomic_load(&p->stop) ? kw_refuse_with(err, KW_BUSY, NULL, "stopping", NULL, "kinwire is stopping")
                                   : start(p, size);
        return rc ? rc : -EINPROGRESS;
}

static int take_past(struct kw_http *http, int64_t size, struct kw_ledger **out, struct kw_error *err)
{
        struct kw_ledger *then = NULL;
        int rc;

        pthread_mutex_lock(&http->past->lock);
        rc = take(http->past, size, &then, err);
        pthread_mutex_unlock(&http->past->lock);
        if (rc)
                return rc;
        rc = kw_ledger_look(then, err);
        if (rc)
                kw_past_give(http->past, then);
        else
                *out = then;
        return rc;
}

/* The ledger as it is, when @size is negative or its own. Return: 0, with *out NULL when it is an earlier one. */
static int take_now(struct kw_http *http, int64_t size, struct kw_ledger **out, struct kw_error *err)
{
        struct kw_ledger *now = NULL;
        struct kw_head head = {0};
        int rc = kw_reader_take(http, &now, err);

        if (rc)
                return rc;
        if (size >= 0)
                rc = kw_ledger_head(now, &head, err);
        if (!rc && size >= 0 && size > head.size)
                rc = kw_refuse_with(err, KW_OUT_OF_RANGE, NULL, "ledger-size",
                                    KW_VALUES(KW_FIGURE("entries", head.size), KW_FIGURE("size", size)),
                                    "the ledger never had that many entries so far");
        if (!rc && (size < 0 || size == head.size))
                *out = now;
        else
                kw_reader_give(http, now);
        return rc;
}

int kw_reader_take_then(struct kw_request *r, struct kw_ledger **out, struct kw_error *err)
{
        int64_t size;
        int rc = kw_request_int(r, "size", 0, INT64_MAX, -1, &size, err);

        *out = NULL;
        if (!rc)
                rc = take_now(r->http, size, out, err);
        return rc || *out ? rc : take_past(r->http, size, out, err);
}

bool kw_past_is(struct kw_past *p, const struct kw_ledger *ledger)
{
        bool mine = false;

        pthread_mutex_lock(&p->lock);
        for (size_t i = 0; i < KEPT && !mine; i++)
                mine = p->kept[i].ledger == ledger;
        pthread_mutex_unlock(&p->lock);
        return mine;
}

bool kw_past_give(struct kw_past *p, struct kw_ledger *ledger)
{
        bool mine = false;

        if (!p)
                return false;
        pthread_mutex_lock(&p->lock);
        for (size_t i = 0; i < KEPT && !mine; i++) {
                mine = p->kept[i].ledger == ledger;
                if (mine) {
                        kw_ledger_done(ledger);
                        p->kept[i].taken = false;
                        pthread_cond_broadcast(&p->given);
                }
        }
        pthread_mutex_unlock(&p->lock);
        return mine;
}

enum MHD_Result kw_reply_on_its_way(struct kw_request *r)
{
        struct kw_past *p = r->http->past;
        struct kw_buf out = {0};

        kw_reply_header(r, MHD_HTTP_HEADER_RETRY_AFTER, "1");
        kw_put_object(&out, NULL);
        pthread_mutex_lock(&p->lock);
        kw_put_int(&out, "size", p->making);
        kw_put_int(&out, "done", atomic_load(&p->done));
        pthread_mutex_unlock(&p->lock);
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_ACCEPTED, "application/json", &out);
}
