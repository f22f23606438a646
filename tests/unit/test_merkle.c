/*
 * The Merkle tree: roots and proofs against a second way of computing them, straight from the recursive definitions of
 * RFC 9162 section 2.1, and SHA-256 against the examples of FIPS 180-4.
 */
#include "kinwire/merkle.h"
#include "suite.h"

#include <errno.h>
#include <sodium.h>
#include <stdbool.h>
#include <string.h>

#define LEAVES 70 /* past a power of two and its neighbours */
#define LEVELS 8

/* FIPS 180-4's examples, as published by NIST with the standard ("SHA256.pdf": one block, two blocks), and the empty
 * text. */
static const struct {
        const char *text, *digest;
} sha256[] = {
        {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
        {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
         "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
        {"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqr"
         "stu",
         "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1"},
};

START_TEST(the_hash_is_sha256)
{
        char hex[KW_HASH_HEX];
        struct kw_hash h;

        for (size_t i = 0; i < sizeof(sha256) / sizeof(*sha256); i++) {
                crypto_hash_sha256(h.bytes, (const unsigned char *)sha256[i].text, strlen(sha256[i].text));
                kw_hash_hex(&h, hex);
                ck_assert_str_eq(hex, sha256[i].digest);
        }
        kw_hash_empty(&h);
        kw_hash_hex(&h, hex);
        ck_assert_str_eq(hex, sha256[0].digest);
}
END_TEST

/* A leaf is SHA-256(0x00 || data), a node SHA-256(0x01 || left || right): computed here over bytes laid side by side.
 */
START_TEST(leaves_and_nodes_are_told_apart)
{
        unsigned char bytes[1 + 2 * KW_HASH] = {0x00, 'x', 'y'};
        struct kw_hash left, right, node, expected;

        crypto_hash_sha256(expected.bytes, bytes, 3);
        kw_hash_leaf("xy", 2, &left);
        ck_assert_mem_eq(left.bytes, expected.bytes, KW_HASH);

        kw_hash_leaf("", 0, &right);
        bytes[0] = 0x01;
        memcpy(bytes + 1, left.bytes, KW_HASH);
        memcpy(bytes + 1 + KW_HASH, right.bytes, KW_HASH);
        crypto_hash_sha256(expected.bytes, bytes, sizeof(bytes));
        kw_hash_node(&left, &right, &node);
        ck_assert_mem_eq(node.bytes, expected.bytes, KW_HASH);
}
END_TEST

START_TEST(hex_is_read_back)
{
        static const char *const bad[] = {"", "00", "g3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
                                          "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b8550",
                                          "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b8 5"};
        struct kw_hash h, empty;
        char hex[KW_HASH_HEX];

        kw_hash_empty(&empty);
        kw_hash_hex(&empty, hex);
        ck_assert_int_eq(kw_hash_unhex(hex, &h), 0);
        ck_assert_mem_eq(h.bytes, empty.bytes, KW_HASH);
        for (size_t i = 0; i < sizeof(bad) / sizeof(*bad); i++)
                ck_assert_int_eq(kw_hash_unhex(bad[i], &h), -EINVAL);
        ck_assert_mem_eq(h.bytes, empty.bytes, KW_HASH);
}
END_TEST

/* --- a tree in memory ----------------------------------------------------------------------------- */

struct forest {
        struct kw_hash node[LEVELS][LEAVES];
        bool there[LEVELS][LEAVES];
        int asked, fail_at; /* the question that is answered with -EIO; 0: none */
};

static struct forest forest;
static struct kw_hash leaves[LEAVES];

static int get(void *ctx, unsigned level, uint64_t index, struct kw_hash *out)
{
        struct forest *f = ctx;

        if (++f->asked == f->fail_at)
                return -EIO;
        if (level >= LEVELS || index >= LEAVES || !f->there[level][index])
                return -ENOENT;
        *out = f->node[level][index];
        return 0;
}

static int put(void *ctx, unsigned level, uint64_t index, const struct kw_hash *hash)
{
        struct forest *f = ctx;

        if (++f->asked == f->fail_at)
                return -EIO;
        ck_assert(level < LEVELS && index < LEAVES && !f->there[level][index]);
        f->node[level][index] = *hash;
        f->there[level][index] = true;
        return 0;
}

static const struct kw_nodes nodes = {&forest, get, put};

static void plant(void)
{
        memset(&forest, 0, sizeof(forest));
        for (size_t i = 0; i < LEAVES; i++) {
                kw_hash_leaf(&i, sizeof(i), &leaves[i]);
                ck_assert_int_eq(kw_merkle_append(&nodes, i, &leaves[i]), 0);
        }
}

/* --- the RFC's definitions, word for word ------------------------------------------------------------ */

static uint64_t largest_power_below(uint64_t n)
{
        uint64_t k = 1;

        while (k * 2 < n)
                k *= 2;
        return k;
}

static struct kw_hash mth(const struct kw_hash *d, uint64_t n)
{
        struct kw_hash out, left, right;
        uint64_t k;

        if (n == 0) {
                kw_hash_empty(&out);
                return out;
        }
        if (n == 1)
                return d[0];
        k = largest_power_below(n);
        left = mth(d, k);
        right = mth(d + k, n - k);
        kw_hash_node(&left, &right, &out);
        return out;
}

static void path(uint64_t m, const struct kw_hash *d, uint64_t n, struct kw_proof *out)
{
        const uint64_t k = largest_power_below(n);

        if (n == 1)
                return;
        if (m < k) {
                path(m, d, k, out);
                out->at[out->n++] = mth(d + k, n - k);
        } else {
                path(m - k, d + k, n - k, out);
                out->at[out->n++] = mth(d, k);
        }
}

static void subproof(uint64_t m, const struct kw_hash *d, uint64_t n, bool b, struct kw_proof *out)
{
        const uint64_t k = largest_power_below(n);

        if (m == n) {
                if (!b)
                        out->at[out->n++] = mth(d, m);
        } else if (m <= k) {
                subproof(m, d, k, b, out);
                out->at[out->n++] = mth(d + k, n - k);
        } else {
                subproof(m - k, d + k, n - k, false, out);
                out->at[out->n++] = mth(d, k);
        }
}

static void same_proof(const struct kw_proof *a, const struct kw_proof *b)
{
        ck_assert_uint_eq(a->n, b->n);
        ck_assert_mem_eq(a->at, b->at, a->n * sizeof(*a->at));
}

/* --------------------------------------------------------------------------------------------------- */

START_TEST(roots_are_those_of_the_definition)
{
        plant();
        for (uint64_t n = 0; n <= LEAVES; n++) {
                const struct kw_hash expected = mth(leaves, n);
                struct kw_hash root;

                ck_assert_int_eq(kw_merkle_root(&nodes, n, &root), 0);
                ck_assert_mem_eq(root.bytes, expected.bytes, KW_HASH);
        }
}
END_TEST

START_TEST(inclusion_is_proven_and_nothing_else)
{
        static struct kw_proof proof, expected;

        plant();
        for (uint64_t n = 1; n <= LEAVES; n++) {
                const struct kw_hash root = mth(leaves, n);

                for (uint64_t m = 0; m < n; m++) {
                        expected.n = 0;
                        path(m, leaves, n, &expected);
                        ck_assert_int_eq(kw_merkle_inclusion(&nodes, m, n, &proof), 0);
                        same_proof(&proof, &expected);
                        ck_assert_int_eq(kw_merkle_check_inclusion(&leaves[m], m, n, &proof, &root), 0);
                        for (uint64_t other = 0; other < n; other++)
                                if (other != m)
                                        ck_assert_int_ne(kw_merkle_check_inclusion(&leaves[other], m, n, &proof, &root),
                                                         0);
                        ck_assert_int_ne(kw_merkle_check_inclusion(&leaves[m], n, n, &proof, &root), 0);
                        for (size_t i = 0; i < proof.n; i++) {
                                proof.at[i].bytes[31] ^= 1;
                                ck_assert_int_ne(kw_merkle_check_inclusion(&leaves[m], m, n, &proof, &root), 0);
                                proof.at[i].bytes[31] ^= 1;
                        }
                        proof.at[proof.n++] = root;
                        ck_assert_int_ne(kw_merkle_check_inclusion(&leaves[m], m, n, &proof, &root), 0);
                        if (proof.n > 1) {
                                proof.n -= 2;
                                ck_assert_int_ne(kw_merkle_check_inclusion(&leaves[m], m, n, &proof, &root), 0);
                        }
                }
                ck_assert_int_eq(kw_merkle_inclusion(&nodes, n, n, &proof), -EINVAL);
        }
        ck_assert_int_eq(kw_merkle_inclusion(&nodes, 0, 0, &proof), -EINVAL);
}
END_TEST

START_TEST(growth_is_proven_and_nothing_else)
{
        static struct kw_proof proof, expected;

        plant();
        for (uint64_t n = 1; n <= LEAVES; n++) {
                const struct kw_hash second = mth(leaves, n);

                for (uint64_t m = 1; m <= n; m++) {
                        const struct kw_hash first = mth(leaves, m);

                        expected.n = 0;
                        subproof(m, leaves, n, true, &expected);
                        ck_assert_int_eq(kw_merkle_consistency(&nodes, m, n, &proof), 0);
                        same_proof(&proof, &expected);
                        ck_assert_int_eq(kw_merkle_check_consistency(m, n, &first, &second, &proof), 0);
                        if (n > 1) {
                                ck_assert_int_ne(kw_merkle_check_consistency(m, n, &first, &leaves[0], &proof), 0);
                                ck_assert_int_ne(kw_merkle_check_consistency(m, n, &leaves[1], &second, &proof), 0);
                        }
                        for (size_t i = 0; i < proof.n; i++) {
                                proof.at[i].bytes[0] ^= 0x80;
                                ck_assert_int_ne(kw_merkle_check_consistency(m, n, &first, &second, &proof), 0);
                                proof.at[i].bytes[0] ^= 0x80;
                        }
                        proof.at[proof.n++] = second;
                        ck_assert_int_ne(kw_merkle_check_consistency(m, n, &first, &second, &proof), 0);
                        if (m < n) {
                                proof.n = 0;
                                ck_assert_int_ne(kw_merkle_check_consistency(m, n, &first, &second, &proof), 0);
                        }
                }
                ck_assert_int_eq(kw_merkle_consistency(&nodes, n + 1, n, &proof), -EINVAL);
        }
}
END_TEST

START_TEST(nothing_is_proven_from_nothing)
{
        struct kw_hash empty = mth(leaves, 0), one;
        static struct kw_proof proof;

        plant();
        one = mth(leaves, 1);
        ck_assert_int_eq(kw_merkle_consistency(&nodes, 0, 5, &proof), 0);
        ck_assert_uint_eq(proof.n, 0);
        ck_assert_int_eq(kw_merkle_check_consistency(0, 0, &empty, &empty, &proof), 0);
        ck_assert_int_eq(kw_merkle_check_consistency(0, 1, &empty, &one, &proof), KW_BAD_VALUE);
        ck_assert_int_eq(kw_merkle_check_consistency(0, 0, &one, &one, &proof), KW_BAD_VALUE);
        ck_assert_int_eq(kw_merkle_check_consistency(2, 1, &one, &one, &proof), KW_BAD_VALUE);
}
END_TEST

/* The 1st, 2nd, ... n-th read or write of a node fails: the failure comes back as it is. */
START_TEST(a_store_that_fails_is_not_hidden)
{
        static struct kw_proof proof;
        struct kw_hash root;
        int rc, k;

        plant();
        for (k = 1, rc = -EIO; rc; k++) {
                forest.asked = 0;
                forest.fail_at = k;
                rc = kw_merkle_root(&nodes, 63, &root);
                if (rc == 0)
                        rc = kw_merkle_inclusion(&nodes, 37, 63, &proof);
                if (rc == 0)
                        rc = kw_merkle_consistency(&nodes, 37, 63, &proof);
                ck_assert(rc == 0 || rc == -EIO);
        }
        ck_assert_int_gt(k, 15);
        for (k = 1, rc = -EIO; rc; k++) {
                memset(&forest, 0, sizeof(forest));
                for (size_t i = 0; i < 7; i++)
                        ck_assert_int_eq(kw_merkle_append(&nodes, i, &leaves[i]), 0);
                forest.asked = 0;
                forest.fail_at = k;
                rc = kw_merkle_append(&nodes, 7, &leaves[7]);
                ck_assert(rc == 0 || rc == -EIO);
        }
        ck_assert_int_eq(k - 1, 8); /* four writes, three reads, and the time that all went well */
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, the_hash_is_sha256);
        tcase_add_test(tests, leaves_and_nodes_are_told_apart);
        tcase_add_test(tests, hex_is_read_back);
        tcase_add_test(tests, roots_are_those_of_the_definition);
        tcase_add_test(tests, inclusion_is_proven_and_nothing_else);
        tcase_add_test(tests, growth_is_proven_and_nothing_else);
        tcase_add_test(tests, nothing_is_proven_from_nothing);
        tcase_add_test(tests, a_store_that_fails_is_not_hidden);
}

int main(void)
{
        return run_suite("merkle", add);
}
