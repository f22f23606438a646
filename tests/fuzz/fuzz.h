#ifndef KW_FUZZ_H
#define KW_FUZZ_H
/* What a fuzz target is, and how it says that something is wrong. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

/* Not assert(): it holds in every build. */
#define MUST(condition)                                                                         \
        do {                                                                                    \
                if (!(condition)) {                                                             \
                        fprintf(stderr, "%s:%d: not so: %s\n", __FILE__, __LINE__, #condition); \
                        abort();                                                                \
                }                                                                               \
        } while (0)

#endif
