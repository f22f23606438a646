#ifndef KINWIRE_MERKLE_H
#define KINWIRE_MERKLE_H
/*
 * The Merkle tree of RFC 9162, section 2.1, over SHA-256.
 *
 * The tree's complete subtrees are kept as nodes: node (level, index) covers leaves index x 2^level to
 * (index + 1) x 2^level - 1; level 0 is the leaves' hashes. Where they are kept is the caller's affair: the tree asks
 * for them through struct kw_nodes. Pure, apart from the hashing library.
 */
#include "kinwire/error.h"

#include <stdint.h>

#define KW_HASH      32
#define KW_HASH_HEX  (2 * KW_HASH + 1)
#define KW_PROOF_MAX 128 /* hashes: more than any proof over 2^63 leaves needs */

struct kw_hash {
        unsigned char bytes[KW_HASH];
};

struct kw_nodes {
        void *ctx;
        /* 0, or a negative errno (-ENOENT: no such complete node) */
        int (*get)(void *ctx, unsigned level, uint64_t index, struct kw_hash *out);
        int (*put)(void *ctx, unsigned level, uint64_t index, const struct kw_hash *hash);
};

void kw_hash_leaf(const void *data, size_t n, struct kw_hash *out);
void kw_hash_node(const struct kw_hash *left, const struct kw_hash *right, struct kw_hash *out);
void kw_hash_empty(struct kw_hash *out);
/** kw_hash_hex - lower-case hex with a NUL. */
void kw_hash_hex(const struct kw_hash *h, char hex[KW_HASH_HEX]);
/** kw_hash_unhex - Return: 0; -EINVAL when it is not 64 hex digits. */
int kw_hash_unhex(const char *hex, struct kw_hash *out);

/**
 * kw_merkle_append - put leaf number @index (the size so far) and every node that becomes complete with it
 * Return: 0; what get or put returned.
 */
int kw_merkle_append(const struct kw_nodes *nodes, uint64_t index, const struct kw_hash *leaf);
/** kw_merkle_root - the head of the first @size leaves. */
int kw_merkle_root(const struct kw_nodes *nodes, uint64_t size, struct kw_hash *out);

struct kw_proof {
        struct kw_hash at[KW_PROOF_MAX];
        size_t n;
};

/** kw_merkle_inclusion - PATH(index, D[size]) of RFC 9162 section 2.1.3.1; index from 0. Return: 0; -EINVAL; get's. */
int kw_merkle_inclusion(const struct kw_nodes *nodes, uint64_t index, uint64_t size, struct kw_proof *out);
/** kw_merkle_consistency - PROOF(from, D[size]) of section 2.1.4.1; empty when from is 0 or equals size. */
int kw_merkle_consistency(const struct kw_nodes *nodes, uint64_t from, uint64_t size, struct kw_proof *out);

/** kw_merkle_check_inclusion - section 2.1.3.2. Return: 0 when the leaf is under the root; KW_BAD_VALUE when not. */
int kw_merkle_check_inclusion(const struct kw_hash *leaf, uint64_t index, uint64_t size, const struct kw_proof *proof,
                              const struct kw_hash *root);
/**
 * kw_merkle_check_consistency - section 2.1.4.2
 * A proof from size 0 shows nothing of the second head and is refused, unless that is the empty tree's too.
 * Return: 0 when the second grew from the first; KW_BAD_VALUE when not.
 */
int kw_merkle_check_consistency(uint64_t from, uint64_t size, const struct kw_hash *first, const struct kw_hash *second,
                                const struct kw_proof *proof);

#endif
