/*
 * What an auditor checks the ledger by: its head, and proofs that an entry is under it or that it grew from an earlier
 * one.
 */
#include "put.h"

#include <errno.h>

static void put_hash(struct kw_buf *out, const char *name, const struct kw_hash *hash)
{
        char hex[KW_HASH_HEX];

        kw_hash_hex(hash, hex);
        kw_put_string(out, name, hex);
}

static void put_proof(struct kw_buf *out, const struct kw_proof *proof)
{
        kw_put_array(out, "proof");
        for (size_t i = 0; i < proof->n; i++)
                put_hash(out, NULL, &proof->at[i]);
        kw_put_array_end(out);
}

int kw_answer_head(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        struct kw_head head;
        int rc = kw_ledger_head(ledger, &head, err);

        if (rc == 0)
                kw_put_head(out, NULL, &head);
        return kw_finish(NULL, out, rc, err);
}

/* --- when the ledger had how many entries ------------------------------------------------------------- */

static int take_logged(void *ctx, const struct kw_stored *entry)
{
        return kw_stamp_read(entry->logged, ctx) ? -EIO : 0;
}

int kw_answer_size_at(struct kw_ledger *ledger, int64_t at, struct kw_buf *out, struct kw_error *err)
{
        struct kw_head head;
        int64_t low = 0, logged = 0;
        int rc = kw_ledger_head(ledger, &head, err);

        /* entries are logged in order of time: up to low they were, after head.size they were not */
        while (rc == 0 && low < head.size) {
                const int64_t middle = low + (head.size - low + 1) / 2;

                rc = kw_ledger_entries(ledger, middle - 1, 1, take_logged, &logged, err);
                if (logged <= at)
                        low = middle;
                else
                        head.size = middle - 1;
        }
        if (rc == 0)
                rc = kw_ledger_root(ledger, low, &head.root, err);
        head.size = low;
        if (rc == 0)
                kw_put_head(out, NULL, &head);
        return kw_finish(NULL, out, rc, err);
}

/* The leaf's own hash goes with the proof, so that it can be checked against the entry as stored. */
static int take_hash(void *ctx, const struct kw_stored *entry)
{
        struct kw_hash *hash = ctx;

        for (size_t i = 0; i < KW_HASH; i++)
                hash->bytes[i] = entry->hash[i];
        return 0;
}

int kw_answer_inclusion(struct kw_ledger *ledger, int64_t seq, int64_t size, struct kw_buf *out, struct kw_error *err)
{
        struct kw_proof proof;
        struct kw_hash root, leaf = {{0}};
        int rc = kw_ledger_inclusion(ledger, seq, size, &proof, err);

        if (rc == 0)
                rc = kw_ledger_root(ledger, size, &root, err);
        if (rc == 0)
                rc = kw_ledger_entries(ledger, seq - 1, 1, take_hash, &leaf, err);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_int(out, "seq", seq);
        kw_put_int(out, "size", size);
        put_hash(out, "leaf", &leaf);
        put_hash(out, "root", &root);
        put_proof(out, &proof);
        kw_put_object_end(out);
        return kw_finish(NULL, out, 0, err);
}

int kw_answer_consistency(struct kw_ledger *ledger, int64_t from, int64_t size, struct kw_buf *out,
                          struct kw_error *err)
{
        struct kw_proof proof;
        struct kw_hash first, root;
        int rc = kw_ledger_consistency(ledger, from, size, &proof, err);

        if (rc == 0)
                rc = kw_ledger_root(ledger, from, &first, err);
        if (rc == 0)
                rc = kw_ledger_root(ledger, size, &root, err);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_int(out, "from", from);
        kw_put_int(out, "size", size);
        put_hash(out, "first", &first);
        put_hash(out, "root", &root);
        put_proof(out, &proof);
        kw_put_object_end(out);
        return kw_finish(NULL, out, 0, err);
}
