/*
 * Hits: the affected spans of many lots, found by lot.
 */
#include "kinwire/trace.h"

#include "room.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>

/* A failed allocation leaves the table as it was, and is seen by the element's missing table. */
#define HASH_NONFATAL_OOM          1
#define uthash_nonfatal_oom(added) ((added)->hh.tbl = NULL)
/* Lots are small whole numbers in a row: a multiplication spreads them (Knuth, TAOCP 3, 6.4: multiplicative hashing).
 */
#define HASH_FUNCTION(key, length, hash) ((hash) = spread(*(const int64_t *)(key)))
#include <uthash.h>

struct node {
        struct kw_hit hit;
        UT_hash_handle hh;
};

struct kw_hits {
        struct node *by_lot;
        size_t most; /* lots, 0: any number */
};

static unsigned spread(int64_t lot)
{
        return (unsigned)(((uint64_t)lot * UINT64_C(0x9E3779B97F4A7C15)) >> 32);
}

struct kw_hits *kw_hits_new(void)
{
        return calloc(1, sizeof(struct kw_hits));
}

static void node_free(struct node *node)
{
        kw_reach_free(&node->hit.reach);
        free(node);
}

void kw_hits_free(struct kw_hits *hits)
{
        if (!hits)
                return;

        struct node *node = hits->by_lot, *next;
        HASH_CLEAR(hh, hits->by_lot);
        for (; node; node = next) {
                next = node->hh.next;
                node_free(node);
        }
        free(hits);
}

size_t kw_hits_count(const struct kw_hits *hits)
{
        return HASH_COUNT(hits->by_lot);
}

void kw_hits_bound(struct kw_hits *hits, size_t most)
{
        hits->most = most;
}

size_t kw_hits_most(const struct kw_hits *hits)
{
        return hits->most;
}

static struct node *find(const struct kw_hits *hits, int64_t lot)
{
        struct node *node;

        HASH_FIND(hh, hits->by_lot, &lot, sizeof lot, node);
        return node;
}

struct kw_hit *kw_hits_find(const struct kw_hits *hits, int64_t lot)
{
        struct node *node = find(hits, lot);

        return node ? &node->hit : NULL;
}

static int merge(struct node *node, const struct kw_spans *certain, const struct kw_spans *possible)
{
        struct kw_reach *reach = &node->hit.reach;

        if (kw_spans_reserve(&reach->certain, certain->n) < 0 || kw_spans_reserve(&reach->possible, possible->n) < 0)
                return -ENOMEM;
        /* neither can fail any more */
        kw_spans_merge(&reach->certain, certain);
        kw_spans_merge(&reach->possible, possible);
        return 0;
}

static struct node *add_new(struct kw_hits *hits, int64_t lot)
{
        struct node *node = calloc(1, sizeof *node);

        if (!node)
                return NULL;
        node->hit.lot = lot;
        HASH_ADD(hh, hits->by_lot, hit.lot, sizeof node->hit.lot, node);
        if (!node->hh.tbl) {
                node_free(node);
                return NULL;
        }
        return node;
}

int kw_hits_unite(struct kw_hits *hits, int64_t lot, const struct kw_spans *certain, const struct kw_spans *possible,
                  struct kw_hit **out)
{
        struct node *old = find(hits, lot), *node;

        if (!old && hits->most && kw_hits_count(hits) >= hits->most)
                return -E2BIG;
        node = old ? old : add_new(hits, lot);
        if (!node)
                return -ENOMEM;
        if (merge(node, certain, possible) < 0) {
                if (!old) {
                        HASH_DELETE(hh, hits->by_lot, node);
                        node_free(node);
                }
                return -ENOMEM;
        }
        if (out)
                *out = &node->hit;
        return 0;
}

int kw_hits_add(struct kw_hits *hits, int64_t lot, int64_t from, int64_t to, enum kw_which which)
{
        assert(from <= to);
        struct kw_span span = {from, to};
        const struct kw_spans one = {&span, 1, 1}, none = {0};

        return kw_hits_unite(hits, lot, which == KW_CERTAIN ? &one : &none, &one, NULL);
}

int kw_hits_each(const struct kw_hits *hits, int (*fn)(void *ctx, struct kw_hit *hit), void *ctx)
{
        for (struct node *node = hits->by_lot; node; node = node->hh.next) {
                int r = fn(ctx, &node->hit);

                if (r != 0)
                        return r;
        }
        return 0;
}

enum kw_verdict kw_verdict_of(const struct kw_reach *reach)
{
        if (reach->certain.n)
                return KW_VERDICT_CERTAIN;
        return reach->possible.n ? KW_VERDICT_POSSIBLE : KW_VERDICT_NONE;
}
