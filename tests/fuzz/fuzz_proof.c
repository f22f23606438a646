/*
 * Any bytes as a proof over the Merkle tree: first byte the number of leaves, second and third the question, fourth
 * what to spoil, the rest a proof of somebody else's making.
 *
 * The tree's own proofs are accepted. Spoiled in one bit, cut or lengthened they are not; nor is what somebody else
 * made up, unless it happens to be the proof itself.
 */
#include "fuzz.h"

#include "kinwire/merkle.h"

#include <errno.h>
#include <string.h>

#define LEAVES 64
#define LEVELS 8

struct tree {
        struct kw_hash at[LEVELS][LEAVES];
        size_t n[LEVELS];
};

static int get(void *ctx, unsigned level, uint64_t index, struct kw_hash *out)
{
        struct tree *t = ctx;

        if (level >= LEVELS || index >= t->n[level])
                return -ENOENT;
        *out = t->at[level][index];
        return 0;
}

static int put(void *ctx, unsigned level, uint64_t index, const struct kw_hash *hash)
{
        struct tree *t = ctx;

        MUST(level < LEVELS && index == t->n[level] && index < LEAVES);
        t->at[level][t->n[level]++] = *hash;
        return 0;
}

struct question {
        struct kw_hash leaf, first, head;
        uint64_t index, from, size;
};

static int check(const struct question *q, int inclusion, const struct kw_proof *proof)
{
        return inclusion ? kw_merkle_check_inclusion(&q->leaf, q->index, q->size, proof, &q->head)
                         : kw_merkle_check_consistency(q->from, q->size, &q->first, &q->head, proof);
}

static void check_spoiled(const struct question *q, int inclusion, const struct kw_proof *good, uint8_t how)
{
        struct kw_proof proof = *good;
        struct question other = *q;

        other.head.bytes[how % KW_HASH] ^= (unsigned char)(1u << how % 8);
        MUST(check(&other, inclusion, good) == KW_BAD_VALUE);
        if (proof.n) {
                proof.at[how % proof.n].bytes[how % KW_HASH] ^= (unsigned char)(1u << how % 8);
                MUST(check(q, inclusion, &proof) == KW_BAD_VALUE);
                proof = *good;
                proof.n--;
                MUST(check(q, inclusion, &proof) == KW_BAD_VALUE);
        }
        proof = *good;
        proof.at[proof.n++] = q->head;
        MUST(check(q, inclusion, &proof) == KW_BAD_VALUE);
}

static void check_made_up(const struct question *q, int inclusion, const struct kw_proof *good, const uint8_t *bytes,
                          size_t n)
{
        struct kw_proof proof = {.n = n / KW_HASH < KW_PROOF_MAX ? n / KW_HASH : KW_PROOF_MAX};
        struct question other = *q;

        for (size_t i = 0; i < proof.n; i++)
                memcpy(proof.at[i].bytes, bytes + i * KW_HASH, KW_HASH);
        if (check(q, inclusion, &proof) == 0) {
                MUST(proof.n == good->n);
                for (size_t i = 0; i < proof.n; i++)
                        MUST(memcmp(proof.at[i].bytes, good->at[i].bytes, KW_HASH) == 0);
        }
        /* sizes and places of any magnitude: whatever the answer is, there is one */
        if (n >= 24) {
                memcpy(&other.index, bytes, 8);
                memcpy(&other.from, bytes + 8, 8);
                memcpy(&other.size, bytes + 16, 8);
                check(&other, inclusion, &proof);
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        static struct tree tree;
        const struct kw_nodes nodes = {&tree, get, put};
        struct kw_proof proof;
        struct question q = {0};

        if (n < 4)
                return 0;
        memset(&tree, 0, sizeof(tree));
        q.size = 1 + bytes[0] % LEAVES;
        q.index = bytes[1] % q.size;
        q.from = 1 + bytes[2] % q.size;
        for (uint64_t i = 0; i < q.size; i++) {
                struct kw_hash leaf;

                kw_hash_leaf(&i, sizeof(i), &leaf);
                MUST(kw_merkle_append(&nodes, i, &leaf) == 0);
        }
        q.leaf = tree.at[0][q.index];
        MUST(kw_merkle_root(&nodes, q.size, &q.head) == 0 && kw_merkle_root(&nodes, q.from, &q.first) == 0);
        for (int inclusion = 0; inclusion < 2; inclusion++) {
                MUST((inclusion ? kw_merkle_inclusion(&nodes, q.index, q.size, &proof)
                                : kw_merkle_consistency(&nodes, q.from, q.size, &proof)) == 0);
                MUST(check(&q, inclusion, &proof) == 0);
                check_spoiled(&q, inclusion, &proof, bytes[3]);
                check_made_up(&q, inclusion, &proof, bytes + 4, n - 4);
        }
        return 0;
}
