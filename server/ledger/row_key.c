/*
 * The key of a row of a machine's file: a name-based UUID, which the same row gives wherever it is read.
 *
 * Version 5 of RFC 9562 asks for SHA-1 (FIPS 180-4, section 6.1). It names a row; nobody's word hangs on it.
 */
#include "kinwire/machine_file.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

struct sha1 {
        uint32_t h[5];
};

static uint32_t turn(uint32_t x, unsigned n)
{
        return x << n | x >> (32 - n);
}

static void block(struct sha1 *s, const unsigned char *at)
{
        uint32_t w[80], a = s->h[0], b = s->h[1], c = s->h[2], d = s->h[3], e = s->h[4];

        for (int i = 0; i < 16; i++)
                w[i] = (uint32_t)at[4 * i] << 24 | (uint32_t)at[4 * i + 1] << 16 | (uint32_t)at[4 * i + 2] << 8 |
                       at[4 * i + 3];
        for (int i = 16; i < 80; i++)
                w[i] = turn(w[i - 3] ^ w[i - 8] ^ w[i - 14] ^ w[i - 16], 1);
        for (int i = 0; i < 80; i++) {
                uint32_t f = i < 20 ? (b & c) | (~b & d) : i < 40 || i >= 60 ? b ^ c ^ d : (b & c) | (b & d) | (c & d);
                uint32_t k = i < 20 ? 0x5a827999 : i < 40 ? 0x6ed9eba1 : i < 60 ? 0x8f1bbcdc : 0xca62c1d6;
                uint32_t t = turn(a, 5) + f + e + k + w[i];

                e = d;
                d = c;
                c = turn(b, 30);
                b = a;
                a = t;
        }
        s->h[0] += a;
        s->h[1] += b;
        s->h[2] += c;
        s->h[3] += d;
        s->h[4] += e;
}

void kw_sha1(const void *bytes, size_t n, unsigned char out[20])
{
        struct sha1 s = {{0x67452301, 0xefcdab89, 0x98badcfe, 0x10325476, 0xc3d2e1f0}};
        const unsigned char *at = bytes;
        unsigned char last[128] = {0};
        size_t left = n % 64, whole = n - left, ends = left < 56 ? 64 : 128;

        for (size_t i = 0; i < whole; i += 64)
                block(&s, at + i);
        if (left)
                memcpy(last, at + whole, left);
        last[left] = 0x80;
        for (size_t i = 0; i < 8; i++)
                last[ends - 1 - i] = (unsigned char)((uint64_t)n * 8 >> 8 * i);
        for (size_t i = 0; i < ends; i += 64)
                block(&s, last + i);
        for (size_t i = 0; i < 20; i++)
                out[i] = (unsigned char)(s.h[i / 4] >> (24 - 8 * (i % 4)));
}

/* Of the names of rows, made once for this purpose: 5f0c7a52-6d0e-4b43-9a39-8f2b4f3a1c77. */
static const unsigned char space[16] = {0x5f, 0x0c, 0x7a, 0x52, 0x6d, 0x0e, 0x4b, 0x43,
                                        0x9a, 0x39, 0x8f, 0x2b, 0x4f, 0x3a, 0x1c, 0x77};

int kw_row_key(const char *instrument, const char *const *cells, size_t n, char key[KW_KEY_LEN + 1])
{
        struct kw_buf name = {0};
        unsigned char h[20];
        size_t at = 0;

        kw_buf_add(&name, space, sizeof(space));
        kw_put_array(&name, NULL);
        kw_put_string(&name, NULL, instrument);
        for (size_t i = 0; i < n; i++)
                kw_put_string(&name, NULL, cells[i]);
        kw_put_array_end(&name);
        if (name.failed) {
                kw_buf_free(&name);
                return -ENOMEM;
        }
        kw_sha1(name.at, name.n, h);
        kw_buf_free(&name);
        h[6] = (unsigned char)((h[6] & 0x0f) | 0x50);
        h[8] = (unsigned char)((h[8] & 0x3f) | 0x80);
        for (size_t i = 0; i < 16; i++) {
                if (i == 4 || i == 6 || i == 8 || i == 10)
                        key[at++] = '-';
                at += (size_t)snprintf(key + at, 3, "%02x", h[i]);
        }
        return 0;
}
