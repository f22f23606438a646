#ifndef KW_TESTS_QUOTED_H
#define KW_TESTS_QUOTED_H
#include <stddef.h>

/* Apostrophes stand for quotation marks, so that JSON can be read. The text is good until the next call. */
static inline const char *quoted(const char *text)
{
        static char out[8192];
        size_t n = 0;

        for (; text[n]; n++)
                out[n] = text[n] == '\'' ? '"' : text[n];
        out[n] = '\0';
        return out;
}

#endif
