/*
 * Codes in few bytes: a mill counts its labels up, so most differ from the one before by a letter or two.
 *
 * A block of 16 begins with a whole code. Each code is a byte with how many letters it shares with the code before it
 * (low half) and how many follow (high half), and these; where a half does not hold its number, the byte is LONG and
 * the numbers follow as bytes.
 */
#include "layout.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define LONG 0xff

static int room(void *array, uint64_t n, uint64_t *cap, size_t size)
{
        void **at = array, *bigger;
        uint64_t more = n + n / 2 + 4096;

        if (n <= *cap)
                return 0;
        bigger = reallocarray(*at, more, size);
        if (!bigger)
                return -ENOMEM;
        *at = bigger;
        *cap = more;
        return 0;
}

int kw_codes_add(struct codes *c, const char *code)
{
        bool first = c->n % CODES_IN_BLOCK == 0;
        size_t n = strlen(code), same = 0;
        unsigned char *to;

        if (n > KW_CODE_MAX || c->n_bytes > UINT32_MAX)
                return -E2BIG;
        if (room(&c->bytes, c->n_bytes + KW_CODE_MAX + 3, &c->cap_bytes, 1) < 0 ||
            room(&c->at, c->n_at + 1, &c->cap_at, sizeof(*c->at)) < 0)
                return -ENOMEM;
        if (first)
                c->at[c->n_at++] = (uint32_t)c->n_bytes;
        while (!first && same < n && code[same] == c->last[same])
                same++;
        to = c->bytes + c->n_bytes;
        *to++ = same < 15 && n - same < 16 ? (unsigned char)(same | (n - same) << 4) : LONG;
        if (to[-1] == LONG) {
                *to++ = (unsigned char)same;
                *to++ = (unsigned char)(n - same);
        }
        memcpy(to, code + same, n - same);
        c->n_bytes = (uint64_t)(to + n - same - c->bytes);
        c->n++;
        memcpy(c->last, code, n + 1);
        return 0;
}

void kw_codes_free(struct codes *c)
{
        free(c->at);
        free(c->bytes);
        *c = (struct codes){0};
}

void kw_codes_get(const uint32_t *at, const unsigned char *bytes, uint32_t i, char code[KW_CODE_MAX + 1])
{
        const unsigned char *from = bytes + at[i / CODES_IN_BLOCK];
        size_t end = 0;

        for (uint32_t k = 0; k <= i % CODES_IN_BLOCK; k++) {
                size_t same = *from & 15, more = *from >> 4;

                if (*from++ == LONG) {
                        same = *from++;
                        more = *from++;
                }
                if (same + more > KW_CODE_MAX)
                        break; /* no list of ours */
                memcpy(code + same, from, more);
                end = same + more;
                from += more;
        }
        code[end] = '\0';
}
