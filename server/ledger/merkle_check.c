/*
 * Checking proofs against heads, as an auditor does: RFC 9162 sections 2.1.3.2 and 2.1.4.2, step by step.
 *
 * No tree is needed here; fn and sn are the RFC's names for the places of a node and of the last node on its level.
 */
#include "kinwire/merkle.h"

#include <string.h>

static int same(const struct kw_hash *a, const struct kw_hash *b)
{
        return memcmp(a->bytes, b->bytes, KW_HASH) == 0;
}

/* Up from a left-hand node to the level at which it becomes a right-hand one; levels without a sibling have no hash. */
static void climb(uint64_t *fn, uint64_t *sn)
{
        while (*fn != 0 && (*fn & 1) == 0) {
                *fn >>= 1;
                *sn >>= 1;
        }
}

int kw_merkle_check_inclusion(const struct kw_hash *leaf, uint64_t index, uint64_t size, const struct kw_proof *proof,
                              const struct kw_hash *root)
{
        struct kw_hash r = *leaf;
        uint64_t fn = index, sn = size - 1;

        if (index >= size)
                return KW_BAD_VALUE;
        for (size_t i = 0; i < proof->n; i++) {
                if (sn == 0)
                        return KW_BAD_VALUE;
                if ((fn & 1) || fn == sn) {
                        kw_hash_node(&proof->at[i], &r, &r);
                        climb(&fn, &sn);
                } else {
                        kw_hash_node(&r, &proof->at[i], &r);
                }
                fn >>= 1;
                sn >>= 1;
        }
        return sn == 0 && same(&r, root) ? 0 : KW_BAD_VALUE;
}

/* A proof from the empty tree proves nothing of the second: only the empty tree is known to have grown from it. */
static int check_empty(uint64_t size, const struct kw_hash *first, const struct kw_hash *second, size_t proof)
{
        struct kw_hash empty;

        kw_hash_empty(&empty);
        return size == 0 && proof == 0 && same(first, &empty) && same(second, &empty) ? 0 : KW_BAD_VALUE;
}

int kw_merkle_check_consistency(uint64_t from, uint64_t size, const struct kw_hash *first, const struct kw_hash *second,
                                const struct kw_proof *proof)
{
        const int power = from != 0 && (from & (from - 1)) == 0;
        uint64_t fn = from - 1, sn = size - 1;
        struct kw_hash fr, sr;
        size_t i = 0;

        if (from > size)
                return KW_BAD_VALUE;
        if (from == 0)
                return check_empty(size, first, second, proof->n);
        if (from == size)
                return proof->n == 0 && same(first, second) ? 0 : KW_BAD_VALUE;
        if (proof->n == 0)
                return KW_BAD_VALUE;
        for (; fn & 1; fn >>= 1)
                sn >>= 1;
        fr = sr = power ? *first : proof->at[i++];
        for (; i < proof->n; i++) {
                if (sn == 0)
                        return KW_BAD_VALUE;
                if ((fn & 1) || fn == sn) {
                        kw_hash_node(&proof->at[i], &fr, &fr);
                        kw_hash_node(&proof->at[i], &sr, &sr);
                        climb(&fn, &sn);
                } else {
                        kw_hash_node(&sr, &proof->at[i], &sr);
                }
                fn >>= 1;
                sn >>= 1;
        }
        return sn == 0 && same(&fr, first) && same(&sr, second) ? 0 : KW_BAD_VALUE;
}
