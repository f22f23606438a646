#ifndef KW_LEDGER_COPIES_H
#define KW_LEDGER_COPIES_H
/*
 * Copies of a ledger as files: hashed, synced, and given their name only when they are whole; and the manifest beside a
 * backup, TO.manifest.json:
 *
 *      {"bytes":663552,"level":2,"root":"<hex>","sha256":"<hex>","size":412,"when":"2026-03-04T09:12:00Z"}
 */
#include "kinwire/ledger.h"

#include <limits.h>

/** The file that a copy is while it is not whole yet. */
struct kw_partial {
        char path[PATH_MAX];
};

/** kw_partial_name - "TO.<process>.partial". Return: 0; KW_BAD_VALUE when the name is too long. */
int kw_partial_name(const char *to, struct kw_partial *out, struct kw_error *err);
/** kw_partial_keep - sync it, give it the name @to, which must be free, and sync the folder. */
int kw_partial_keep(const struct kw_partial *partial, const char *to, struct kw_error *err);
/** kw_partial_drop - remove it and what SQLite may have put beside it; harmless when it is not there. */
void kw_partial_drop(const struct kw_partial *partial);

/** kw_file_hash - the SHA-256 of a file, copied to file @to on the way unless that is NULL. */
int kw_file_hash(const char *path, const char *to, struct kw_hash *out, int64_t *bytes, struct kw_error *err);

struct kw_manifest {
        int64_t level;
        struct kw_head head;
        struct kw_hash sha256; /* of the file */
        int64_t bytes;         /* of the file */
        char when[KW_STAMP_LEN + 1];
};

/** kw_manifest_write - beside @to, whole and synced, in place of one that belongs to no file. */
int kw_manifest_write(const char *to, const struct kw_manifest *m, struct kw_error *err);
/** kw_manifest_read - Return: 0; KW_NOT_FOUND; KW_BAD_VALUE when it is not one. */
int kw_manifest_read(const char *to, struct kw_manifest *out, struct kw_error *err);

#endif
