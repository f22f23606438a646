#ifndef KW_FUZZ_SCRATCH_H
#define KW_FUZZ_SCRATCH_H
/* A folder of the target's own, for what is read from files, taken away when the program ends. */
#include "fuzz.h"

/** scratch_path - where a file of this name is, for the caller to free(). */
char *scratch_path(const char *name);
/** scratch_write - these bytes as that file, only its owner's. */
void scratch_write(const char *name, const void *bytes, size_t n);
/** scratch_drop - take it away if it is there. */
void scratch_drop(const char *name);

#endif
