/*
 * Making the index and keeping its file fresh.
 *
 * A base is made from one view of the ledger while entries go on being committed. What they undo is noted meanwhile, so
 * that the new body can catch up before it takes the place of the old one; a view in which there is a correction of
 * which the writer has not told yet is not good for that, and is looked at again.
 */
#include "layout.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define TRIES   100
#define WAIT_NS 5000000

static int64_t now_us(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* Whether every correction since @size is one of which the writer told. */
static int all_told(const struct kw_index *ix, struct kw_ledger *l, int64_t size)
{
        int64_t first = 0, last = 0;
        int rc = kw_one(l, &first, 0, "SELECT min(seq) FROM entry WHERE kind IN ('correct', 'void') AND seq > ?1", "i",
                        size);

        if (rc == 0)
                rc = kw_one(l, &last, 0, "SELECT max(seq) FROM entry WHERE kind IN ('correct', 'void') AND seq > ?1",
                            "i", size);
        if (rc || !last)
                return rc;
        if (ix->followed_from < 0 || first <= ix->followed_from)
                return -ESTALE;
        return last > ix->followed ? -EAGAIN : 0;
}

/* With the lock held: the body catches up with what is committed, and takes its place. */
static int take_place(struct kw_index *ix, struct body *fresh, struct kw_ledger *l)
{
        struct body old;
        int64_t size;
        int rc = kw_ledger_look(l, NULL);

        if (rc)
                return rc < 0 ? rc : -EIO;
        rc = all_told(ix, l, fresh->size);
        if (rc == 0)
                rc = kw_one(l, &size, 0, "SELECT max(seq) FROM entry", "");
        if (rc == 0 && ix->followed >= 0 && size != ix->followed)
                rc = -EAGAIN;
        if (rc == 0)
                rc = kw_body_catch_up(fresh, l, size, ix->followed_from < 0 ? size : ix->followed_from, &ix->noted,
                                      &ix->noted_lots);
        kw_ledger_done(l);
        if (rc)
                return rc;
        old = ix->body;
        ix->body = *fresh;
        *fresh = old;
        ix->ready = true;
        ix->noting = false;
        ix->noted.n = ix->noted_lots.n = 0;
        return 0;
}

static int put_in_place(struct kw_index *ix, struct body *fresh, struct kw_ledger *l)
{
        const struct timespec wait = {.tv_nsec = WAIT_NS};
        int rc = -EAGAIN;

        for (int i = 0; rc == -EAGAIN && i < TRIES; i++) {
                if (i)
                        nanosleep(&wait, NULL);
                pthread_rwlock_wrlock(&ix->lock);
                rc = take_place(ix, fresh, l);
                pthread_rwlock_unlock(&ix->lock);
        }
        return rc;
}

static void start_noting(struct kw_index *ix)
{
        pthread_rwlock_wrlock(&ix->lock);
        ix->noting = true;
        ix->noted.n = ix->noted_lots.n = 0;
        ix->followed_from = ix->followed;
        pthread_rwlock_unlock(&ix->lock);
}

static void stop_noting(struct kw_index *ix)
{
        pthread_rwlock_wrlock(&ix->lock);
        ix->noting = false;
        ix->noted.n = ix->noted_lots.n = 0;
        pthread_rwlock_unlock(&ix->lock);
}

/* It serves already, and its figures are asked for. */
static void say_ready(struct kw_index *ix, int64_t took_us)
{
        pthread_rwlock_wrlock(&ix->lock);
        ix->ready_us = took_us;
        pthread_rwlock_unlock(&ix->lock);
}

static int open_ledger(struct kw_index *ix, struct kw_ledger **out)
{
        struct kw_error err = {0};
        int rc = kw_ledger_open(ix->ledger, KW_OPEN_READ, out, &err);

        return rc > 0 ? -EIO : rc;
}

static int dress(struct body *x)
{
        x->size = x->base.head.size;
        x->depth_most = x->base.head.depth_most;
        int rc = kw_stock_new(&x->stock, &x->base);
        return rc ? rc : kw_delta_new(&x->delta);
}

/* --- from its file -------------------------------------------------------------------------------- */

static int check_fits(const struct base *b, struct kw_ledger *l)
{
        struct kw_error err = {0};
        struct kw_hash root;
        int rc = kw_ledger_look(l, &err);

        if (rc == 0)
                rc = kw_ledger_root(l, b->head.size, &root, &err);
        kw_ledger_done(l);
        if (rc < 0)
                return rc;
        return rc || memcmp(root.bytes, b->head.root.bytes, KW_HASH) != 0 ? -ENOENT : 0;
}

int kw_index_open(struct kw_index *ix)
{
        int64_t start = now_us();
        struct kw_ledger *l = NULL;
        struct body fresh = {0};
        int rc = kw_base_map(&fresh.base, ix->file);

        if (rc)
                return rc;
        start_noting(ix);
        rc = dress(&fresh);
        if (rc == 0)
                rc = open_ledger(ix, &l);
        if (rc == 0)
                rc = check_fits(&fresh.base, l);
        if (rc == 0)
                rc = put_in_place(ix, &fresh, l);
        if (rc)
                stop_noting(ix);
        else
                say_ready(ix, now_us() - start);
        kw_body_free(&fresh);
        kw_ledger_close(l);
        return rc;
}

/* --- from the ledger ------------------------------------------------------------------------------ */

/* The file's pages are the machine's to drop and read again; memory that was filled is not. */
static void go_over_to_file(struct kw_index *ix, struct base *b)
{
        struct base mapped;

        if (kw_base_save(b, ix->file) < 0 || kw_base_map(&mapped, ix->file) < 0)
                return;
        kw_base_free(b);
        *b = mapped;
}

static int build_once(struct kw_index *ix, struct kw_ledger *l)
{
        struct body fresh = {0};
        int rc = kw_ledger_look(l, NULL);

        if (rc == 0)
                rc = kw_base_build(&fresh.base, l);
        kw_ledger_done(l);
        if (rc == 0)
                go_over_to_file(ix, &fresh.base);
        if (rc == 0)
                rc = dress(&fresh);
        if (rc == 0)
                rc = put_in_place(ix, &fresh, l);
        kw_body_free(&fresh); /* on success it is the old one */
        return rc > 0 ? -EIO : rc;
}

int kw_index_build(struct kw_index *ix)
{
        int64_t start = now_us();
        struct kw_ledger *l;
        int rc = open_ledger(ix, &l);

        if (rc)
                return rc;
        start_noting(ix);
        pthread_rwlock_wrlock(&ix->lock);
        ix->not_in_file = 0;
        pthread_rwlock_unlock(&ix->lock);
        rc = -ESTALE;
        for (int i = 0; (rc == -ESTALE || rc == -EAGAIN) && i < 3; i++)
                rc = build_once(ix, l);
        if (rc)
                stop_noting(ix);
        else
                say_ready(ix, now_us() - start);
        kw_ledger_close(l);
        return rc;
}

int kw_index_save(struct kw_index *ix)
{
        return ix->body.base.mapped ? 0 : kw_base_save(&ix->body.base, ix->file);
}

/* --- the thread ------------------------------------------------------------------------------------ */

void kw_index_wake(struct kw_index *ix)
{
        pthread_mutex_lock(&ix->keeper_lock);
        ix->wanted = true;
        pthread_cond_signal(&ix->wake);
        pthread_mutex_unlock(&ix->keeper_lock);
}

static void *keep(void *arg)
{
        struct kw_index *ix = arg;
        bool stopping;

        if (kw_index_open(ix) < 0)
                kw_index_wake(ix);
        do {
                pthread_mutex_lock(&ix->keeper_lock);
                while (!ix->wanted && !ix->stopping)
                        pthread_cond_wait(&ix->wake, &ix->keeper_lock);
                stopping = ix->stopping;
                ix->wanted = false;
                pthread_mutex_unlock(&ix->keeper_lock);
                if (!stopping)
                        kw_index_build(
                                ix); /* a failure leaves traces to SQLite, and is tried again with the next commit */
        } while (!stopping);
        return NULL;
}

int kw_index_start(struct kw_index *ix)
{
        int rc = pthread_create(&ix->thread, NULL, keep, ix);

        ix->running = rc == 0;
        return -rc;
}
