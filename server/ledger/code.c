/*
 * Codes, as they stand on labels, the numbers of entries, and keys, as senders make them.
 */
#include "shape.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

static bool code_character(char c)
{
        return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '/' || c == '-';
}

bool kw_code_ok(const char *code)
{
        size_t n = 0;

        while (code_character(code[n]))
                if (++n > KW_CODE_MAX)
                        return false;
        return n > 0 && code[n] == '\0';
}

bool kw_code_upper(char *code)
{
        for (char *c = code; *c; c++)
                if (*c >= 'a' && *c <= 'z')
                        *c = (char)(*c - 'a' + 'A');
        return kw_code_ok(code);
}

int64_t kw_seq_read(const char *text, const char *tail)
{
        int64_t seq = 0;

        for (; *text >= '0' && *text <= '9'; text++) {
                if (seq > INT64_MAX / 100)
                        return 0;
                seq = seq * 10 + (*text - '0');
        }
        return strcmp(text, tail) == 0 ? seq : 0;
}

bool kw_key_lower(char *key)
{
        if (strlen(key) != KW_KEY_LEN)
                return false;
        for (size_t i = 0; i < KW_KEY_LEN; i++) {
                const bool dash = i == 8 || i == 13 || i == 18 || i == 23;

                if (key[i] >= 'A' && key[i] <= 'F')
                        key[i] = (char)(key[i] - 'A' + 'a');
                if (dash ? key[i] != '-' : !strchr("0123456789abcdef", key[i]))
                        return false;
        }
        return true;
}

void kw_key_new(char out[KW_KEY_LEN + 1])
{
        unsigned char b[16];
        char hex[33];

        randombytes_buf(b, sizeof(b));
        b[6] = (unsigned char)((b[6] & 0x0f) | 0x40);
        b[8] = (unsigned char)((b[8] & 0x3f) | 0x80);
        sodium_bin2hex(hex, sizeof(hex), b, sizeof(b));
        snprintf(out, KW_KEY_LEN + 1, "%.8s-%.4s-%.4s-%.4s-%.12s", hex, hex + 8, hex + 12, hex + 16, hex + 20);
}
