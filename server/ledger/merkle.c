/*
 * The Merkle tree of RFC 9162, section 2.1, over SHA-256.
 *
 *      size 7:            root
 *                       /      \
 *                  (2,0)        .        (level, index): complete, stored once
 *                 /     \      / \       .: not complete, computed when asked for
 *            (1,0)   (1,1) (1,2)  |
 *            /  \    /  \   / \   |
 *           0    1  2    3 4   5  6      level 0: the leaves' hashes
 *
 * The left part of any split is a power of two wide and begins at a multiple of its width, so it is always a stored
 * node.
 */
#include "kinwire/merkle.h"

#include <assert.h>
#include <errno.h>
#include <nettle/sha2.h>
#include <sodium.h>
#include <string.h>

/*
 * Every entry takes a hash of its leaf and, for the head in its receipt, one for each complete subtree: a dozen in a
 * ledger of twenty years. Nettle uses the processor's own instructions for them (here 0.09 us a node, against 0.32 by
 * libsodium, which has none).
 */
static void hash_parts(unsigned char prefix, const void *a, size_t na, const void *b, size_t nb, struct kw_hash *out)
{
        struct sha256_ctx state;

        sha256_init(&state);
        sha256_update(&state, 1, &prefix);
        if (na)
                sha256_update(&state, na, a);
        if (nb)
                sha256_update(&state, nb, b);
        sha256_digest(&state, KW_HASH, out->bytes);
}

void kw_hash_leaf(const void *data, size_t n, struct kw_hash *out)
{
        hash_parts(0x00, data, n, NULL, 0, out);
}

void kw_hash_node(const struct kw_hash *left, const struct kw_hash *right, struct kw_hash *out)
{
        hash_parts(0x01, left->bytes, KW_HASH, right->bytes, KW_HASH, out);
}

void kw_hash_empty(struct kw_hash *out)
{
        crypto_hash_sha256(out->bytes, (const unsigned char *)"", 0);
}

void kw_hash_hex(const struct kw_hash *h, char hex[KW_HASH_HEX])
{
        sodium_bin2hex(hex, KW_HASH_HEX, h->bytes, KW_HASH);
}

int kw_hash_unhex(const char *hex, struct kw_hash *out)
{
        struct kw_hash h;
        size_t n;

        if (strlen(hex) != KW_HASH_HEX - 1 ||
            sodium_hex2bin(h.bytes, KW_HASH, hex, KW_HASH_HEX - 1, NULL, &n, NULL) != 0 || n != KW_HASH)
                return -EINVAL;
        *out = h;
        return 0;
}

int kw_merkle_append(const struct kw_nodes *nodes, uint64_t index, const struct kw_hash *leaf)
{
        struct kw_hash hash = *leaf, left;
        int rc;

        for (unsigned level = 0;; level++, index >>= 1) {
                rc = nodes->put(nodes->ctx, level, index, &hash);
                if (rc || !(index & 1))
                        return rc;
                rc = nodes->get(nodes->ctx, level, index - 1, &left);
                if (rc)
                        return rc;
                kw_hash_node(&left, &hash, &hash);
        }
}

static unsigned log2_of(uint64_t n)
{
        return 63U - (unsigned)__builtin_clzll(n);
}

/* MTH(D[begin : begin + n]) for n > 0, where begin is a multiple of a power of two that is at least n. */
static int hash_range(const struct kw_nodes *nodes, uint64_t begin, uint64_t n, struct kw_hash *out)
{
        struct kw_hash peak[64];
        size_t peaks = 0;

        assert(n > 0);
        do {
                const unsigned level = log2_of(n);
                const int rc = nodes->get(nodes->ctx, level, begin >> level, &peak[peaks++]);

                if (rc)
                        return rc;
                begin += UINT64_C(1) << level;
                n -= UINT64_C(1) << level;
        } while (n);
        *out = peak[--peaks];
        while (peaks)
                kw_hash_node(&peak[--peaks], out, out);
        return 0;
}

int kw_merkle_root(const struct kw_nodes *nodes, uint64_t size, struct kw_hash *out)
{
        if (size == 0) {
                kw_hash_empty(out);
                return 0;
        }
        return hash_range(nodes, 0, size, out);
}

/* The largest power of two below n, n > 1. */
static uint64_t split(uint64_t n)
{
        return UINT64_C(1) << log2_of(n - 1);
}

static int prove_range(const struct kw_nodes *nodes, uint64_t begin, uint64_t n, struct kw_proof *out)
{
        const int rc = hash_range(nodes, begin, n, &out->at[out->n]);

        if (rc == 0)
                out->n++;
        return rc;
}

/* Proofs are gathered from the root down, and are given from the leaves up. */
static void turn_round(struct kw_proof *proof)
{
        for (size_t i = 0; i < proof->n / 2; i++) {
                const struct kw_hash keep = proof->at[i];

                proof->at[i] = proof->at[proof->n - 1 - i];
                proof->at[proof->n - 1 - i] = keep;
        }
}

int kw_merkle_inclusion(const struct kw_nodes *nodes, uint64_t index, uint64_t size, struct kw_proof *out)
{
        uint64_t begin = 0, n = size;
        int rc = 0;

        out->n = 0;
        if (index >= size)
                return -EINVAL;
        while (n > 1 && rc == 0) {
                const uint64_t k = split(n);

                if (index - begin < k) {
                        rc = prove_range(nodes, begin + k, n - k, out);
                        n = k;
                } else {
                        rc = prove_range(nodes, begin, k, out);
                        begin += k;
                        n -= k;
                }
        }
        turn_round(out);
        return rc;
}

int kw_merkle_consistency(const struct kw_nodes *nodes, uint64_t from, uint64_t size, struct kw_proof *out)
{
        uint64_t begin = 0, n = size;
        int rc = 0;

        out->n = 0;
        if (from > size)
                return -EINVAL;
        if (from == 0 || from == size)
                return 0;
        while (from - begin != n && rc == 0) {
                const uint64_t k = split(n);

                if (from - begin <= k) {
                        rc = prove_range(nodes, begin + k, n - k, out);
                        n = k;
                } else {
                        rc = prove_range(nodes, begin, k, out);
                        begin += k;
                        n -= k;
                }
        }
        /* at begin == 0 what is left is the first tree itself, whose root the verifier has */
        if (rc == 0 && begin > 0)
                rc = prove_range(nodes, begin, n, out);
        turn_round(out);
        return rc;
}
