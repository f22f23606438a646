/*
 * Head notes: written, signed, read, and compared.
 */
#include "kinwire/witness.h"

#include "kinwire/entry.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#define FIRST_LINE "kinwire head\n"
#define NOTE_MOST  ((size_t)2048)
#define VALUE_MOST 192

static void put_hex(struct kw_buf *out, const char *name, const unsigned char *bytes, size_t n)
{
        char hex[2 * crypto_sign_BYTES + 1];

        sodium_bin2hex(hex, sizeof(hex), bytes, n);
        kw_buf_printf(out, "%s %s\n", name, hex);
}

int kw_key_make(unsigned char secret[KW_KEY_BYTES], unsigned char public_key[KW_KEY_BYTES])
{
        unsigned char pair[crypto_sign_SECRETKEYBYTES];
        int rc;

        if (sodium_init() < 0)
                return -EIO;
        randombytes_buf(secret, KW_KEY_BYTES);
        rc = crypto_sign_seed_keypair(public_key, pair, secret);
        sodium_memzero(pair, sizeof(pair));
        return rc ? -EIO : 0;
}

static int sign(struct kw_buf *out, size_t start, const unsigned char *secret)
{
        unsigned char pair[crypto_sign_SECRETKEYBYTES], key[KW_KEY_BYTES], signature[crypto_sign_BYTES];
        int rc = sodium_init() < 0 || crypto_sign_seed_keypair(key, pair, secret) ? -EIO : 0;

        if (rc == 0)
                put_hex(out, "key", key, sizeof(key));
        if (rc == 0 && !out->failed)
                rc = crypto_sign_detached(signature, NULL, (const unsigned char *)out->at + start, out->n - start, pair)
                             ? -EIO
                             : 0;
        if (rc == 0)
                put_hex(out, "signature", signature, sizeof(signature));
        sodium_memzero(pair, sizeof(pair));
        return rc;
}

int kw_note_write(const struct kw_head *head, int64_t at, const unsigned char *secret, struct kw_buf *out)
{
        const size_t start = out->n;
        char root[KW_HASH_HEX], stamp[KW_STAMP_LEN + 1];
        int rc = 0;

        kw_hash_hex(&head->root, root);
        kw_stamp_write(at, stamp);
        kw_buf_printf(out, FIRST_LINE "size %" PRId64 "\nroot %s\ntime %s\n", head->size, root, stamp);
        if (secret)
                rc = sign(out, start, secret);
        return out->failed ? -ENOMEM : rc;
}

int kw_note_of_file(const char *name, const struct kw_hash *sum, int64_t at, const unsigned char secret[KW_KEY_BYTES],
                    struct kw_buf *out, struct kw_error *err)
{
        const size_t start = out->n;
        char hex[KW_HASH_HEX], stamp[KW_STAMP_LEN + 1];
        int rc;

        for (const char *c = name; *c; c++) {
                if ((unsigned char)*c < ' ' || *c == 0x7f)
                        return kw_refuse(err, KW_BAD_VALUE, "",
                                         "the file's name has something in it that can't stand in a line: rename it");
        }
        kw_hash_hex(sum, hex);
        kw_stamp_write(at, stamp);
        kw_buf_printf(out, "kinwire file\nname %s\nsha256 %s\ntime %s\n", name, hex, stamp);
        rc = sign(out, start, secret);
        return out->failed ? -ENOMEM : rc;
}

/* --- reading ------------------------------------------------------------------------------------ */

static int bad(struct kw_error *err, const char *how)
{
        return kw_refuse(err, KW_BAD_VALUE, "", "%s", how);
}

/* The value of the line that begins with @name, at *at, which moves behind it. */
static bool read_line(const char **at, const char *end, const char *name, char value[VALUE_MOST])
{
        const size_t n = strlen(name);
        const char *stop = memchr(*at, '\n', (size_t)(end - *at));
        size_t length;

        if (!stop || (size_t)(stop - *at) < n + 2 || memcmp(*at, name, n) != 0 || (*at)[n] != ' ')
                return false;
        length = (size_t)(stop - *at) - n - 1;
        if (length >= VALUE_MOST)
                return false;
        memcpy(value, *at + n + 1, length);
        value[length] = '\0';
        *at = stop + 1;
        return strlen(value) == length;
}

static bool read_size(const char *text, int64_t *size)
{
        *size = 0;
        for (const char *c = text; *c; c++) {
                if (*c < '0' || *c > '9' || *size > INT64_MAX / 100 || (c > text && text[0] == '0'))
                        return false;
                *size = *size * 10 + (*c - '0');
        }
        return *text != '\0';
}

static bool read_hex(const char *text, unsigned char *out, size_t n)
{
        size_t got;

        return strlen(text) == 2 * n && sodium_hex2bin(out, n, text, 2 * n, NULL, &got, NULL) == 0 && got == n;
}

static int read_signature(const char *text, const char *at, const char *end, struct kw_note *out, struct kw_error *err)
{
        unsigned char signature[crypto_sign_BYTES];
        char value[VALUE_MOST];
        const char *signed_to;

        if (!read_line(&at, end, "key", value) || !read_hex(value, out->key, sizeof(out->key)))
                return bad(err, "the note's key can't be read");
        signed_to = at;
        if (!read_line(&at, end, "signature", value) || !read_hex(value, signature, sizeof(signature)) || at != end)
                return bad(err, "the note's signature can't be read");
        if (sodium_init() < 0 || crypto_sign_verify_detached(signature, (const unsigned char *)text,
                                                             (unsigned long long)(signed_to - text), out->key))
                return bad(err, "the note's signature is wrong: it was not signed so with that key");
        out->is_signed = true;
        return 0;
}

int kw_note_read(const char *text, size_t n, struct kw_note *out, struct kw_error *err)
{
        const char *at = text, *end = text + n;
        char value[VALUE_MOST];
        int64_t seconds;

        *out = (struct kw_note){0};
        if (n > NOTE_MOST || n < strlen(FIRST_LINE) || memcmp(text, FIRST_LINE, strlen(FIRST_LINE)) != 0)
                return bad(err, "it is no note of a ledger's head");
        at += strlen(FIRST_LINE);
        if (!read_line(&at, end, "size", value) || !read_size(value, &out->head.size))
                return bad(err, "the note's size can't be read");
        if (!read_line(&at, end, "root", value) || kw_hash_unhex(value, &out->head.root))
                return bad(err, "the note's root can't be read");
        if (!read_line(&at, end, "time", value) || strlen(value) != KW_STAMP_LEN || kw_stamp_read(value, &seconds))
                return bad(err, "the note's time can't be read");
        memcpy(out->time, value, sizeof(out->time));
        return at == end ? 0 : read_signature(text, at, end, out, err);
}

int kw_notes_grew(const struct kw_note *earlier, const struct kw_note *later, const struct kw_proof *proof,
                  struct kw_error *err)
{
        if (earlier->is_signed != later->is_signed ||
            (earlier->is_signed && memcmp(earlier->key, later->key, KW_KEY_BYTES) != 0))
                return bad(err, "the two notes are not signed with the same key");
        if (earlier->head.size > later->head.size)
                return bad(err, "the first note is of a larger ledger than the second");
        if (kw_merkle_check_consistency((uint64_t)earlier->head.size, (uint64_t)later->head.size, &earlier->head.root,
                                        &later->head.root, proof))
                return bad(err, "the later ledger did not grow from the earlier one");
        return 0;
}
