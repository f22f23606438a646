/*
 * Drawing an entry by a seed.
 */
#include "draw.h"

#include "stored.h"

#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

int64_t kw_draw_number(const struct kw_seed *seed, int64_t k, int64_t n, struct kw_hash *digest)
{
        crypto_hash_sha256_state state;
        char draw[32];
        int64_t rest = 0;
        int len = snprintf(draw, sizeof(draw), "\n%" PRId64, k);

        crypto_hash_sha256_init(&state);
        crypto_hash_sha256_update(&state, (const unsigned char *)seed->root, KW_HASH_HEX - 1);
        crypto_hash_sha256_update(&state, (const unsigned char *)"\n", 1);
        crypto_hash_sha256_update(&state, (const unsigned char *)seed->text, strlen(seed->text));
        crypto_hash_sha256_update(&state, (const unsigned char *)draw, (unsigned long long)len);
        crypto_hash_sha256_final(&state, digest->bytes);
        /* the number modulo n, byte by byte; n is below 2^53, so nothing overflows */
        for (size_t i = 0; i < KW_HASH; i++)
                rest = (rest * 256 + digest->bytes[i]) % n;
        return rest;
}

int kw_draw_count(struct kw_ledger *l, const char *kind, int64_t size, int64_t *n)
{
        return kw_one(l, n, 0, "SELECT count(*) FROM entry WHERE kind = ?1 AND seq <= ?2", "ti", kind, size);
}

int kw_draw_entry(struct kw_ledger *l, const char *kind, int64_t size, int64_t number, int64_t *seq)
{
        return kw_one(l, seq, 0, "SELECT seq FROM entry WHERE kind = ?1 AND seq <= ?2 ORDER BY seq LIMIT 1 OFFSET ?3",
                      "tii", kind, size, number);
}

int kw_draw_code(struct kw_ledger *l, int64_t seq, const char *member, char code[KW_CODE_MAX + 1])
{
        struct kw_standing s = {0};
        int rc = kw_stored_load(l, seq, &s);

        snprintf(code, KW_CODE_MAX + 1, "%s", rc == 0 && !s.is_void ? kw_json_text(s.body, member) : "");
        kw_standing_free(&s);
        return rc;
}
