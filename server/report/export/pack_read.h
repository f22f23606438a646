#ifndef KW_EXPORT_PACK_READ_H
#define KW_EXPORT_PACK_READ_H
/*
 * Reading a pack's files, and its entries beside their proofs.
 */
#include "kinwire/export.h"
#include "zip.h"

#include <archive.h>

struct kw_pack_reader {
        struct archive *zip;
        /* for lines */
        const char *at;
        size_t left;
        struct kw_buf line;
};

/** kw_pack_open - Return: 0; KW_BAD_VALUE when it is no zip; -ENOMEM. kw_pack_close() also after a failure. */
int kw_pack_open(struct kw_pack_reader *in, const char *path, struct kw_error *err);
void kw_pack_close(struct kw_pack_reader *in);
/** kw_pack_file - the next file. Return: 1; 0, there is none; KW_BAD_VALUE. */
int kw_pack_file(struct kw_pack_reader *in, const char **name);
/** kw_pack_bytes - the next bytes of the file. Return: 1; 0 at its end; KW_BAD_VALUE when they are not as they were
 * packed. */
int kw_pack_bytes(struct kw_pack_reader *in, const void **bytes, size_t *n);
/** kw_pack_find - go to a file. Return: 0; KW_BAD_VALUE. */
int kw_pack_find(struct kw_pack_reader *in, const char *path, const char *name, struct kw_error *err);
/** kw_pack_line - the file's next line, without its end, in @in->line. Return: as kw_pack_bytes(). */
int kw_pack_line(struct kw_pack_reader *in);

/** kw_pack_check_entries - every entry is under the head. Return: 0; KW_BAD_VALUE with the entry named; -errno. */
int kw_pack_check_entries(const char *path, const struct kw_head *head, int64_t entries, struct kw_error *err);

#endif
