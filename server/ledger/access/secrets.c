/*
 * Secrets: hashed on the way in, compared without telling by the time it takes.
 *
 * Passwords and PINs are guessable, so they are hashed by argon2id, slowly (libsodium's parameters for logging in: two
 * passes over 64 MiB); a PIN is mixed with the pepper first. Codes and bearers' secrets are random, so that a fast
 * keyed hash does.
 */
#include "inside.h"

#include <ctype.h>
#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#define HASH     crypto_generichash_BYTES
#define PASSES   crypto_pwhash_OPSLIMIT_INTERACTIVE
#define MEMORY   crypto_pwhash_MEMLIMIT_INTERACTIVE
#define NOT_EVER "no password is this"

struct mixed {
        char text[2 * HASH + 1];
};

/* What is hashed slowly: the password itself; of a PIN, its hash under the pepper, with the person's code. */
static const char *mix(const struct kw_access *a, enum kw_secret what, const char *person, const char *text,
                       struct mixed *room)
{
        unsigned char hash[HASH];
        crypto_generichash_state state;

        if (what == KW_PASSWORD)
                return text;
        crypto_generichash_init(&state, a->pepper, sizeof a->pepper, sizeof hash);
        crypto_generichash_update(&state, (const unsigned char *)person, strlen(person) + 1);
        crypto_generichash_update(&state, (const unsigned char *)text, strlen(text));
        crypto_generichash_final(&state, hash, sizeof hash);
        sodium_bin2hex(room->text, sizeof room->text, hash, sizeof hash);
        return room->text;
}

static int hash_slowly(const char *text, char out[crypto_pwhash_STRBYTES])
{
        return crypto_pwhash_str(out, text, strlen(text), PASSES, MEMORY) == 0 ? 0 : -ENOMEM;
}

static int keep(struct kw_access *a, enum kw_secret what, const char *person, const char *hash)
{
        int rc;

        pthread_mutex_lock(&a->lock);
        rc = kw_do(&a->store, "INSERT OR REPLACE INTO secret (what, person, hash) VALUES (?1, ?2, ?3)", "itt",
                   (int64_t)what, person, hash);
        pthread_mutex_unlock(&a->lock);
        return rc;
}

int kw_access_set(struct kw_access *a, enum kw_secret what, const char *person, const char *text, struct kw_error *err)
{
        char hash[crypto_pwhash_STRBYTES];
        struct mixed room;
        int rc = hash_slowly(mix(a, what, person, text, &room), hash);

        sodium_memzero(&room, sizeof room);
        if (rc == 0)
                rc = keep(a, what, person, hash);
        return rc ? kw_access_failed(a, rc, err) : 0;
}

static int find(struct kw_access *a, enum kw_secret what, const char *person, char out[crypto_pwhash_STRBYTES])
{
        struct kw_query q;
        int rc;

        out[0] = '\0';
        pthread_mutex_lock(&a->lock);
        rc = kw_ask(&a->store, &q, "SELECT hash FROM secret WHERE what = ?1 AND person = ?2", "it", (int64_t)what,
                    person);
        if (rc == 0 && (rc = kw_next(&a->store, &q)) == 1) {
                snprintf(out, crypto_pwhash_STRBYTES, "%s", kw_text(&q, 0));
                rc = 0;
        }
        kw_end(&q);
        pthread_mutex_unlock(&a->lock);
        return rc;
}

int kw_access_try(struct kw_access *a, enum kw_secret what, const char *person, const char *text, bool *right,
                  struct kw_error *err)
{
        char hash[crypto_pwhash_STRBYTES];
        struct mixed room;
        const char *mixed = mix(a, what, person, text, &room);
        int rc = find(a, what, person, hash);

        *right = false;
        if (rc == 0 && !hash[0]) {
                rc = hash_slowly(NOT_EVER, hash); /* as long as a real one takes */
        } else if (rc == 0) {
                *right = crypto_pwhash_str_verify(hash, mixed, strlen(mixed)) == 0;
                if (*right && crypto_pwhash_str_needs_rehash(hash, PASSES, MEMORY) == 1) {
                        rc = hash_slowly(mixed, hash);
                        if (rc == 0)
                                rc = keep(a, what, person, hash);
                }
        }
        sodium_memzero(&room, sizeof room);
        return rc ? kw_access_failed(a, rc, err) : 0;
}

int kw_access_has(struct kw_access *a, enum kw_secret what, const char *person, bool *has, struct kw_error *err)
{
        int64_t there = 0;
        int rc;

        pthread_mutex_lock(&a->lock);
        rc = kw_one(&a->store, &there, 0, "SELECT 1 FROM secret WHERE what = ?1 AND person = ?2", "it", (int64_t)what,
                    person);
        pthread_mutex_unlock(&a->lock);
        *has = there != 0;
        return rc ? kw_access_failed(a, rc, err) : 0;
}

/* --- one-time codes ------------------------------------------------------------------------------ */

/* Crockford's alphabet: no I, L, O, U (crockford.com/base32.html) */
static const char letters[] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

static void hash_code(const struct kw_access *a, const char *text, unsigned char out[HASH])
{
        char plain[32] = {0};
        size_t n = 0;

        for (; *text && n + 1 < sizeof plain; text++) {
                char c = (char)toupper((unsigned char)*text);

                if (c == '-' || c == ' ')
                        continue;
                plain[n++] = (char)(c == 'O' ? '0' : c == 'I' || c == 'L' ? '1' : c);
        }
        crypto_generichash(out, HASH, (const unsigned char *)plain, *text ? sizeof plain : n, a->pepper,
                           sizeof a->pepper);
        sodium_memzero(plain, sizeof plain);
}

int kw_code_give(struct kw_access *a, enum kw_code_for what, const char *of, int64_t expires,
                 char out[KW_SECRET_TEXT_MAX], struct kw_error *err)
{
        unsigned char hash[HASH];
        size_t n = 0;
        int rc;

        for (int i = 0; i < 12; i++) {
                if (i && i % 4 == 0)
                        out[n++] = '-';
                out[n++] = letters[randombytes_uniform(32)];
        }
        out[n] = '\0';
        hash_code(a, out, hash);
        pthread_mutex_lock(&a->lock);
        rc = kw_do(&a->store, "INSERT OR REPLACE INTO code (what, of, hash, expires) VALUES (?1, ?2, ?3, ?4)", "itbi",
                   (int64_t)what, of, hash, (int)HASH, expires);
        pthread_mutex_unlock(&a->lock);
        return rc ? kw_access_failed(a, rc, err) : 0;
}

int kw_code_use(struct kw_access *a, enum kw_code_for what, const char *of, const char *text, int64_t now, bool *right,
                struct kw_error *err)
{
        unsigned char hash[HASH];
        struct kw_query q;
        int rc;

        *right = false;
        hash_code(a, text, hash);
        pthread_mutex_lock(&a->lock);
        rc = kw_ask(&a->store, &q, "SELECT hash FROM code WHERE what = ?1 AND of = ?2 AND expires > ?3", "iti",
                    (int64_t)what, of, now);
        if (rc == 0)
                rc = kw_next(&a->store, &q);
        if (rc == 1) {
                const void *kept = sqlite3_column_blob(q.stmt, 0);

                *right = sqlite3_column_bytes(q.stmt, 0) == HASH && sodium_memcmp(kept, hash, HASH) == 0;
                rc = 0;
        }
        kw_end(&q);
        if (rc == 0 && *right)
                rc = kw_do(&a->store, "DELETE FROM code WHERE what = ?1 AND of = ?2", "it", (int64_t)what, of);
        if (rc)
                *right = false;
        rc = rc ? kw_access_failed(a, rc, err) : 0;
        pthread_mutex_unlock(&a->lock);
        return rc;
}

/* --- bearers ------------------------------------------------------------------------------------ */

static const char *const prefixes[] = {[KW_TOKEN] = "kwt_", [KW_DEVICE] = "kwd_"};

/* Found by its hash, so that how long that takes says nothing about the secret. */
static void hash_bearer(const char *text, unsigned char out[HASH])
{
        crypto_generichash(out, HASH, (const unsigned char *)text, strlen(text), NULL, 0);
}

int kw_bearer_give(struct kw_access *a, enum kw_bearer what, const char *of, char out[KW_SECRET_TEXT_MAX],
                   struct kw_error *err)
{
        unsigned char secret[32], hash[HASH];
        size_t n = strlen(prefixes[what]);
        int rc;

        randombytes_buf(secret, sizeof secret);
        memcpy(out, prefixes[what], n);
        sodium_bin2base64(out + n, KW_SECRET_TEXT_MAX - n, secret, sizeof secret,
                          sodium_base64_VARIANT_URLSAFE_NO_PADDING);
        sodium_memzero(secret, sizeof secret);
        hash_bearer(out, hash);
        pthread_mutex_lock(&a->lock);
        rc = kw_do(&a->store, "INSERT OR REPLACE INTO bearer (what, of, hash) VALUES (?1, ?2, ?3)", "itb",
                   (int64_t)what, of, hash, (int)HASH);
        pthread_mutex_unlock(&a->lock);
        return rc ? kw_access_failed(a, rc, err) : 0;
}

int kw_bearer_find(struct kw_access *a, enum kw_bearer what, const char *text, char of[KW_CODE_MAX + 1],
                   struct kw_error *err)
{
        unsigned char hash[HASH];
        struct kw_query q;
        int rc;

        of[0] = '\0';
        if (strncmp(text, prefixes[what], strlen(prefixes[what])) != 0)
                return 0;
        hash_bearer(text, hash);
        pthread_mutex_lock(&a->lock);
        rc = kw_ask(&a->store, &q, "SELECT of FROM bearer WHERE what = ?1 AND hash = ?2", "ib", (int64_t)what, hash,
                    (int)HASH);
        if (rc == 0)
                rc = kw_next(&a->store, &q);
        if (rc == 1) {
                snprintf(of, KW_CODE_MAX + 1, "%s", kw_text(&q, 0));
                rc = 0;
        }
        kw_end(&q);
        rc = rc ? kw_access_failed(a, rc, err) : 0;
        pthread_mutex_unlock(&a->lock);
        return rc;
}

int kw_bearer_has(struct kw_access *a, enum kw_bearer what, const char *of, bool *has, struct kw_error *err)
{
        int64_t there = 0;
        int rc;

        pthread_mutex_lock(&a->lock);
        rc = kw_one(&a->store, &there, 0, "SELECT 1 FROM bearer WHERE what = ?1 AND of = ?2", "it", (int64_t)what, of);
        pthread_mutex_unlock(&a->lock);
        *has = there != 0;
        return rc ? kw_access_failed(a, rc, err) : 0;
}
