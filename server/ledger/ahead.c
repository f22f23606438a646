/*
 * A ring of batches: empty -> read -> being checked -> checked -> taken, and empty again.
 */
#include "ahead.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define BATCHES      16
#define IN_BATCH     64
#define CHECKERS_MAX 16

enum state { EMPTY, READ, CHECKING, CHECKED };

struct batch {
        enum state state;
        struct kw_ahead_entry entries[IN_BATCH];
        size_t n;
};

struct kw_ahead {
        struct kw_ledger *l;
        int64_t after;
        kw_ahead_check *check;
        pthread_mutex_t lock;
        pthread_cond_t moved; /* a batch has another state, or an end was reached */
        struct batch ring[BATCHES];
        size_t read, taken; /* batches so far */
        bool stopping, ended;
        int rc; /* of reading */
        struct kw_error err;
        pthread_t reader, checkers[CHECKERS_MAX];
        size_t n_checkers;
        bool reading;
        size_t next; /* entry of the batch being taken */
};

/* --- reading --------------------------------------------------------------------------------------- */

static char *copy(char **to, const char *text)
{
        char *at = *to;

        *to = stpcpy(at, text) + 1;
        return at;
}

/* All of an entry's texts in one piece, which begins with the key. */
static int keep(struct kw_ahead_entry *to, const struct kw_stored *e)
{
        size_t n = strlen(e->key) + strlen(e->kind) + strlen(e->at) + strlen(e->logged) + strlen(e->by) +
                   strlen(e->terminal) + strlen(e->leaf) + 7;
        char *at = malloc(n + KW_HASH);

        *to = (struct kw_ahead_entry){.stored.seq = e->seq};
        if (!at)
                return -ENOMEM;
        to->stored.key = copy(&at, e->key);
        to->stored.kind = copy(&at, e->kind);
        to->stored.at = copy(&at, e->at);
        to->stored.logged = copy(&at, e->logged);
        to->stored.by = copy(&at, e->by);
        to->stored.terminal = copy(&at, e->terminal);
        to->stored.leaf = copy(&at, e->leaf);
        to->stored.hash = memcpy(at, e->hash, KW_HASH);
        return 0;
}

static void drop(struct batch *b)
{
        for (size_t i = 0; i < b->n; i++) {
                cJSON_Delete(b->entries[i].leaf);
                free((char *)b->entries[i].stored.key);
        }
        b->n = 0;
}

/* The batch that is being filled, once it is empty; NULL: nobody wants any more. */
static struct batch *to_fill(struct kw_ahead *a)
{
        struct batch *b = &a->ring[a->read % BATCHES];

        pthread_mutex_lock(&a->lock);
        while (b->state != EMPTY && !a->stopping)
                pthread_cond_wait(&a->moved, &a->lock);
        b = a->stopping ? NULL : b;
        pthread_mutex_unlock(&a->lock);
        return b;
}

static void filled(struct kw_ahead *a)
{
        pthread_mutex_lock(&a->lock);
        a->ring[a->read % BATCHES].state = READ;
        a->read++;
        pthread_cond_broadcast(&a->moved);
        pthread_mutex_unlock(&a->lock);
}

static int read_one(void *ctx, const struct kw_stored *e)
{
        struct kw_ahead *a = ctx;
        struct batch *b = to_fill(a);
        int rc;

        if (!b)
                return -ECANCELED;
        rc = keep(&b->entries[b->n], e);
        b->n += rc == 0;
        if (rc == 0 && b->n == IN_BATCH)
                filled(a);
        return rc;
}

static void *read_all(void *arg)
{
        struct kw_ahead *a = arg;
        int rc = kw_ledger_entries(a->l, a->after, -1, read_one, a, &a->err);
        struct batch *b = to_fill(a);

        if (b && b->n)
                filled(a);
        pthread_mutex_lock(&a->lock);
        a->rc = rc;
        a->ended = true;
        pthread_cond_broadcast(&a->moved);
        pthread_mutex_unlock(&a->lock);
        return NULL;
}

/* --- checking -------------------------------------------------------------------------------------- */

/* A batch to check; NULL when there will be none. The caller has the lock. */
static struct batch *to_check(struct kw_ahead *a)
{
        for (;;) {
                for (size_t i = a->taken; i < a->read; i++)
                        if (a->ring[i % BATCHES].state == READ)
                                return &a->ring[i % BATCHES];
                if (a->ended || a->stopping)
                        return NULL;
                pthread_cond_wait(&a->moved, &a->lock);
        }
}

static void *check_all(void *arg)
{
        struct kw_ahead *a = arg;
        struct batch *b;

        pthread_mutex_lock(&a->lock);
        while ((b = to_check(a))) {
                b->state = CHECKING;
                pthread_mutex_unlock(&a->lock);
                for (size_t i = 0; i < b->n; i++)
                        b->entries[i].rc = a->check(&b->entries[i].stored, &b->entries[i].leaf, &b->entries[i].err);
                pthread_mutex_lock(&a->lock);
                b->state = CHECKED;
                pthread_cond_broadcast(&a->moved);
        }
        pthread_mutex_unlock(&a->lock);
        return NULL;
}

/* --- taking ---------------------------------------------------------------------------------------- */

/* The batch whose turn it is, once it is checked. Return: 1; 0 at the end; what reading said. */
static int wait_for(struct kw_ahead *a, struct batch **out, struct kw_error *err)
{
        int rc;

        *out = &a->ring[a->taken % BATCHES];
        pthread_mutex_lock(&a->lock);
        while ((*out)->state != CHECKED && !(a->ended && a->taken == a->read))
                pthread_cond_wait(&a->moved, &a->lock);
        rc = (*out)->state == CHECKED ? 1 : a->rc;
        if (rc != 1 && rc > 0 && err)
                *err = a->err;
        pthread_mutex_unlock(&a->lock);
        return rc;
}

int kw_ahead_next(struct kw_ahead *a, struct kw_ahead_entry **out, struct kw_error *err)
{
        struct batch *b = &a->ring[a->taken % BATCHES];
        int rc;

        if (a->next && a->next == b->n) {
                drop(b);
                pthread_mutex_lock(&a->lock);
                b->state = EMPTY;
                a->taken++;
                a->next = 0;
                pthread_cond_broadcast(&a->moved);
                pthread_mutex_unlock(&a->lock);
        }
        rc = a->next ? 1 : wait_for(a, &b, err);
        if (rc == 1)
                *out = &b->entries[a->next++];
        return rc;
}

static int start(struct kw_ahead *a)
{
        long processors = sysconf(_SC_NPROCESSORS_ONLN);
        size_t wanted = processors < 1 ? 1 : processors > CHECKERS_MAX ? CHECKERS_MAX : (size_t)processors;
        int rc = -pthread_create(&a->reader, NULL, read_all, a);

        a->reading = rc == 0;
        while (rc == 0 && a->n_checkers < wanted) {
                rc = -pthread_create(&a->checkers[a->n_checkers], NULL, check_all, a);
                a->n_checkers += rc == 0;
        }
        return a->n_checkers ? 0 : rc;
}

int kw_ahead_new(struct kw_ledger *l, int64_t after, kw_ahead_check *check, struct kw_ahead **out)
{
        struct kw_ahead *a = calloc(1, sizeof(*a));
        int rc;

        if (!a)
                return -ENOMEM;
        a->l = l;
        a->after = after;
        a->check = check;
        pthread_mutex_init(&a->lock, NULL);
        pthread_cond_init(&a->moved, NULL);
        rc = start(a);
        if (rc) {
                kw_ahead_free(a);
                return rc;
        }
        *out = a;
        return 0;
}

void kw_ahead_free(struct kw_ahead *a)
{
        if (!a)
                return;
        pthread_mutex_lock(&a->lock);
        a->stopping = true;
        pthread_cond_broadcast(&a->moved);
        pthread_mutex_unlock(&a->lock);
        if (a->reading)
                pthread_join(a->reader, NULL);
        for (size_t i = 0; i < a->n_checkers; i++)
                pthread_join(a->checkers[i], NULL);
        for (size_t i = 0; i < BATCHES; i++)
                drop(&a->ring[i]);
        pthread_mutex_destroy(&a->lock);
        pthread_cond_destroy(&a->moved);
        free(a);
}
