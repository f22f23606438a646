/*
 * Published vectors, a question a line on standard input, an answer a line on standard output:
 *
 *      roots LEAF...                                   the roots of the first 0, 1, 2, ... of these leaves' data
 *      inclusion LEAF-HASH INDEX SIZE ROOT HASH...     accepted or refused
 *      consistency FROM SIZE FIRST SECOND HASH...      accepted or refused
 *      canonical TEXT                                  the canonical form, or the last part of the problem type
 *      value TEXT                                      the canonical form of what the library alone reads in it
 *
 * Texts, data and hashes are hex; "-" stands for no bytes at all.
 */
#include "kinwire/json.h"
#include "kinwire/merkle.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define WORDS 200

struct bytes {
        unsigned char *at;
        size_t n;
};

static struct bytes unhex(const char *hex)
{
        const size_t room = strlen(hex) / 2 + 1;
        struct bytes b = {calloc(room, 1), 0};

        if (strcmp(hex, "-") != 0 && sodium_hex2bin(b.at, room, hex, strlen(hex), NULL, &b.n, NULL) != 0) {
                fprintf(stderr, "not hex: %s\n", hex);
                exit(2);
        }
        return b;
}

static void print_hex(const void *bytes, size_t n)
{
        for (size_t i = 0; i < n; i++)
                printf("%02x", ((const unsigned char *)bytes)[i]);
        putchar('\n');
}

/* --- a tree of a few leaves ----------------------------------------------------------------------- */

static struct kw_hash node[8][WORDS];

static int get(void *ctx, unsigned level, uint64_t index, struct kw_hash *out)
{
        (void)ctx;
        if (level >= 8 || index >= WORDS)
                return -ENOENT;
        *out = node[level][index];
        return 0;
}

static int put(void *ctx, unsigned level, uint64_t index, const struct kw_hash *hash)
{
        (void)ctx;
        node[level][index] = *hash;
        return 0;
}

static void roots(char **word, size_t n)
{
        const struct kw_nodes nodes = {NULL, get, put};

        for (size_t i = 0; i <= n; i++) {
                char hex[KW_HASH_HEX];
                struct kw_hash hash;

                if (kw_merkle_root(&nodes, i, &hash) != 0)
                        exit(2);
                kw_hash_hex(&hash, hex);
                printf("%s%s", hex, i < n ? " " : "\n");
                if (i < n) {
                        struct bytes data = unhex(word[i]);

                        kw_hash_leaf(data.at, data.n, &hash);
                        free(data.at);
                        if (kw_merkle_append(&nodes, i, &hash) != 0)
                                exit(2);
                }
        }
}

/* --- proofs ----------------------------------------------------------------------------------------- */

/* Hashes of any other length than SHA-256's are refused here, as a verifier has to. */
static bool read_proof(char **word, size_t n, struct kw_proof *proof)
{
        proof->n = 0;
        for (size_t i = 0; i < n; i++)
                if (n > KW_PROOF_MAX || kw_hash_unhex(word[i], &proof->at[proof->n++]) != 0)
                        return false;
        return true;
}

static bool inclusion(char **word, size_t n)
{
        static struct kw_proof proof;
        struct kw_hash leaf, root;

        return kw_hash_unhex(word[0], &leaf) == 0 && kw_hash_unhex(word[3], &root) == 0 &&
               read_proof(word + 4, n - 4, &proof) &&
               kw_merkle_check_inclusion(&leaf, strtoull(word[1], NULL, 10), strtoull(word[2], NULL, 10), &proof,
                                         &root) == 0;
}

static bool consistency(char **word, size_t n)
{
        static struct kw_proof proof;
        struct kw_hash first, second;

        return kw_hash_unhex(word[2], &first) == 0 && kw_hash_unhex(word[3], &second) == 0 &&
               read_proof(word + 4, n - 4, &proof) &&
               kw_merkle_check_consistency(strtoull(word[0], NULL, 10), strtoull(word[1], NULL, 10), &first, &second,
                                           &proof) == 0;
}

/* --- canonical JSON ----------------------------------------------------------------------------------- */

static void canonical(const char *hex, bool strict)
{
        struct bytes text = unhex(hex);
        struct kw_buf out = {0};
        struct kw_error err = {0};
        cJSON *json = NULL;
        int rc = 0;

        if (strict)
                rc = kw_json_read((const char *)text.at, text.n, &kw_json_entry_limits, &json, &err);
        else
                json = cJSON_ParseWithLength((const char *)text.at, text.n);
        if (json)
                kw_json_canonical(json, &out);
        if (json && !out.failed)
                print_hex(out.at, out.n);
        else
                puts(rc > 0 ? kw_refusal_row((enum kw_refusal)rc)->slug : "none");
        kw_buf_free(&out);
        cJSON_Delete(json);
        free(text.at);
}

static void answer(char **word, size_t n)
{
        if (strcmp(word[0], "roots") == 0)
                roots(word + 1, n - 1);
        else if (strcmp(word[0], "inclusion") == 0 && n >= 5)
                puts(inclusion(word + 1, n - 1) ? "accepted" : "refused");
        else if (strcmp(word[0], "consistency") == 0 && n >= 5)
                puts(consistency(word + 1, n - 1) ? "accepted" : "refused");
        else if (n == 2)
                canonical(word[1], strcmp(word[0], "canonical") == 0);
        else
                exit(2);
}

int main(void)
{
        char *line = NULL, *word[WORDS];
        size_t room = 0;

        while (getline(&line, &room, stdin) > 0) {
                size_t n = 0;

                for (char *w = strtok(line, " \n"); w && n < WORDS; w = strtok(NULL, " \n"))
                        word[n++] = w;
                if (n)
                        answer(word, n);
        }
        free(line);
        return 0;
}
