/*
 * A list of entries that were undone, each with the size of the ledger after the commit that did it.
 */
#include "kinwire/undone.h"

#include "store.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>

#define MOST 200000 /* entries; with more undone and nobody taking them, everything counts as undone */

struct kw_undone {
        pthread_mutex_t lock;
        int64_t known_from, told; /* of what made the ledger larger than the first, up to the second; -1: nothing */
        struct kw_numbers seqs, sizes;
};

int kw_undone_new(struct kw_undone **out)
{
        struct kw_undone *u = calloc(1, sizeof(*u));

        if (!u)
                return -ENOMEM;
        u->known_from = u->told = -1;
        pthread_mutex_init(&u->lock, NULL);
        *out = u;
        return 0;
}

void kw_undone_free(struct kw_undone *u)
{
        if (!u)
                return;
        free(u->seqs.at);
        free(u->sizes.at);
        pthread_mutex_destroy(&u->lock);
        free(u);
}

/* From @size on, of what came before nothing is known. */
static void begin_at(struct kw_undone *u, int64_t size)
{
        u->known_from = size;
        u->seqs.n = u->sizes.n = 0;
}

static int add(struct kw_undone *u, const struct kw_ledger *l, int64_t size)
{
        int rc = u->seqs.n + l->undone.n > MOST ? -E2BIG : kw_numbers_add_all(&u->seqs, &l->undone);

        while (rc == 0 && u->sizes.n < u->seqs.n)
                rc = kw_numbers_add(&u->sizes, size);
        return rc;
}

void kw_undone_note(struct kw_undone *u, const struct kw_ledger *l, int64_t size)
{
        pthread_mutex_lock(&u->lock);
        if (u->told < 0 || l->begun != u->told) /* else another program wrote before this commit */
                begin_at(u, l->begun);
        if (size >= 0 && add(u, l, size))
                begin_at(u, size);
        u->told = size;
        pthread_mutex_unlock(&u->lock);
}

int64_t kw_undone_known(struct kw_undone *u)
{
        int64_t from;

        pthread_mutex_lock(&u->lock);
        from = u->told < 0 ? -1 : u->known_from;
        pthread_mutex_unlock(&u->lock);
        return from;
}

static void forget(struct kw_undone *u, int64_t size)
{
        size_t n = 0;

        while (n < u->sizes.n && u->sizes.at[n] <= size)
                n++;
        for (size_t i = n; n && i < u->sizes.n; i++) {
                u->sizes.at[i - n] = u->sizes.at[i];
                u->seqs.at[i - n] = u->seqs.at[i];
        }
        u->sizes.n -= n;
        u->seqs.n -= n;
}

/* With the lock held. */
static int take(struct kw_undone *u, int64_t to, int64_t **out, size_t *n)
{
        size_t most = 0;

        while (most < u->sizes.n && u->sizes.at[most] <= to)
                most++;
        *out = calloc(most + 1, sizeof(**out));
        if (!*out)
                return -ENOMEM;
        for (*n = 0; *n < most; ++*n)
                (*out)[*n] = u->seqs.at[*n];
        return 0;
}

int kw_undone_take(struct kw_undone *u, int64_t from, int64_t to, int64_t **out, size_t *n)
{
        int rc = 0;

        *out = NULL;
        *n = 0;
        if (from == to)
                return 0;
        pthread_mutex_lock(&u->lock);
        if (to > u->told)
                rc = -EAGAIN;
        else if (from < u->known_from)
                rc = -ESTALE;
        if (rc == 0) {
                forget(u, from);
                rc = take(u, to, out, n);
        }
        pthread_mutex_unlock(&u->lock);
        return rc;
}
