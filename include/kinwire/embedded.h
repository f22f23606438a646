#ifndef KINWIRE_EMBEDDED_H
#define KINWIRE_EMBEDDED_H
/* Files that the build puts into the binary (server/embed.py). */
#include <stddef.h>

struct kw_embedded {
        const char *name; /* path below its folder; NULL ends the list */
        const unsigned char *bytes;
        size_t n; /* a NUL follows that is not counted */
};

extern const struct kw_embedded kw_migrations[]; /* schema/NNN-*.sql in order */
extern const struct kw_embedded kw_pages[];      /* web/ */
extern const struct kw_embedded kw_schemas[];    /* schema/openapi.yaml, schema/entry.schema.json */

#endif
