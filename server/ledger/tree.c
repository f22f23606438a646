/*
 * The Merkle tree in the store: heads, proofs, and the entries as they were hashed.
 */
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

static int read_hash(struct kw_ledger *l, struct kw_query *q, struct kw_hash *out)
{
        int rc = kw_next(l, q);

        if (rc == 1 && sqlite3_column_bytes(q->stmt, 0) == KW_HASH) {
                memcpy(out->bytes, sqlite3_column_blob(q->stmt, 0), KW_HASH);
                rc = 0;
        } else {
                rc = rc < 0 ? rc : -ENOENT;
        }
        kw_end(q);
        return rc;
}

/* A complete subtree by the last entry under it: as they become complete, they come to lie one behind the other. */
static int64_t node_id(unsigned level, uint64_t index)
{
        return (int64_t)(((index + 1) << level) * 64 + level);
}

static int get_node(void *ctx, unsigned level, uint64_t index, struct kw_hash *out)
{
        struct kw_ledger *l = ctx;
        const struct kw_edge *edge = &l->edge;
        struct kw_query q;
        int rc;

        if (level < 64 && (edge->there >> level & 1) && edge->index[level] == index) {
                *out = edge->hash[level];
                return 0;
        }
        rc = level ? kw_ask(l, &q, "SELECT hash FROM node WHERE id = ?1", "i", node_id(level, index))
                   : kw_ask(l, &q, "SELECT hash FROM entry WHERE seq = ?1", "i", (int64_t)index + 1);

        return rc ? rc : read_hash(l, &q, out);
}

/* A leaf's hash is put by the entry's own row. */
static int put_node(void *ctx, unsigned level, uint64_t index, const struct kw_hash *hash)
{
        struct kw_ledger *l = ctx;
        int rc = level ? kw_do(l, "INSERT INTO node (id, hash) VALUES (?1, ?2)", "ib", node_id(level, index),
                               hash->bytes, KW_HASH)
                       : 0;

        if (rc == 0 && level < 64) {
                l->edge.there |= UINT64_C(1) << level;
                l->edge.index[level] = index;
                l->edge.hash[level] = *hash;
        }
        return rc;
}

struct kw_nodes kw_tree_nodes(struct kw_ledger *l)
{
        return (struct kw_nodes){l, get_node, put_node};
}

int kw_tree_root(struct kw_ledger *l, int64_t size, struct kw_hash *out)
{
        struct kw_nodes nodes = kw_tree_nodes(l);

        return kw_merkle_root(&nodes, (uint64_t)size, out);
}

void kw_tree_forget(struct kw_ledger *l)
{
        l->edge.there = 0;
}

int kw_tree_add(struct kw_ledger *l, const struct kw_stored *e)
{
        struct kw_nodes nodes = kw_tree_nodes(l);
        struct kw_hash hash;
        int rc = kw_do(l,
                       "INSERT INTO entry (seq, key, kind, at, logged, by, terminal, leaf, hash)"
                       " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                       "itttttttb", e->seq, e->key, e->kind, e->at, e->logged, e->by, e->terminal, e->leaf, e->hash,
                       KW_HASH);

        memcpy(hash.bytes, e->hash, KW_HASH);
        return rc ? rc : kw_merkle_append(&nodes, (uint64_t)e->seq - 1, &hash);
}

int kw_ledger_size(struct kw_ledger *l, int64_t *out)
{
        return kw_one(l, out, 0, "SELECT max(seq) FROM entry", "");
}

int kw_tree_size(struct kw_ledger *l, int64_t *out)
{
        /* the last leaf is forgotten when something is taken back */
        *out = l->edge.there & 1 ? (int64_t)l->edge.index[0] + 1 : 0;
        return *out > l->begun ? 0 : kw_ledger_size(l, out);
}

static int refuse_size(int64_t size, int64_t there, struct kw_error *err)
{
        return kw_refuse_with(err, KW_OUT_OF_RANGE, "", "ledger-size",
                              KW_VALUES(KW_FIGURE("entries", there), KW_FIGURE("size", size)),
                              "the ledger has %" PRId64 " entries; %" PRId64 " is not a size or number of it", there,
                              size);
}

/* Sizes and numbers come from outside. */
static int within(struct kw_ledger *l, int64_t low, int64_t size, struct kw_error *err)
{
        int64_t there;
        int rc = kw_ledger_size(l, &there);

        if (rc)
                return kw_store_failed(l, rc, err);
        return size < low || size > there ? refuse_size(size, there, err) : 0;
}

int kw_ledger_root(struct kw_ledger *ledger, int64_t size, struct kw_hash *out, struct kw_error *err)
{
        int rc = within(ledger, 0, size, err);

        if (rc)
                return rc;
        rc = kw_tree_root(ledger, size, out);
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}

int kw_ledger_head(struct kw_ledger *ledger, struct kw_head *out, struct kw_error *err)
{
        int rc = kw_ledger_size(ledger, &out->size);

        return rc ? kw_store_failed(ledger, rc, err) : kw_ledger_root(ledger, out->size, &out->root, err);
}

int kw_ledger_inclusion(struct kw_ledger *ledger, int64_t seq, int64_t size, struct kw_proof *out, struct kw_error *err)
{
        struct kw_nodes nodes = kw_tree_nodes(ledger);
        int rc = within(ledger, 1, size, err);

        if (rc)
                return rc;
        if (seq < 1 || seq > size)
                return refuse_size(seq, size, err);
        rc = kw_merkle_inclusion(&nodes, (uint64_t)seq - 1, (uint64_t)size, out);
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}

int kw_ledger_consistency(struct kw_ledger *ledger, int64_t from, int64_t size, struct kw_proof *out,
                          struct kw_error *err)
{
        struct kw_nodes nodes = kw_tree_nodes(ledger);
        int rc = within(ledger, 0, size, err);

        if (rc)
                return rc;
        if (from < 0 || from > size)
                return refuse_size(from, size, err);
        rc = kw_merkle_consistency(&nodes, (uint64_t)from, (uint64_t)size, out);
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}

int kw_ledger_entries(struct kw_ledger *ledger, int64_t after, int64_t limit,
                      int (*fn)(void *ctx, const struct kw_stored *e), void *ctx, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(
                ledger, &q,
                "SELECT seq, key, kind, at, logged, by, terminal, leaf, hash FROM entry WHERE seq > ?1 ORDER BY seq"
                " LIMIT ?2",
                "ii", after, limit);

        while (rc == 0 && (rc = kw_next(ledger, &q)) == 1) {
                struct kw_stored e = {kw_int(&q, 0),  kw_text(&q, 1), kw_text(&q, 2),
                                      kw_text(&q, 3), kw_text(&q, 4), kw_text(&q, 5),
                                      kw_text(&q, 6), kw_text(&q, 7), sqlite3_column_blob(q.stmt, 8)};
                int stop = fn(ctx, &e);

                if (stop) {
                        kw_end(&q);
                        return stop;
                }
                rc = 0;
        }
        kw_end(&q);
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}
