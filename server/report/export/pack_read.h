#ifndef KW_EXPORT_PACK_READ_H
#define KW_EXPORT_PACK_READ_H
/*
 * Reading a pack's files, and its entries beside their proofs.
 */
#include "kinwire/export.h"
#include "kinwire/json.h"
#include "kinwire/merkle.h"
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

/** A certificate as certificates.ndjson has it. */
struct kw_packed_certificate {
        int64_t entry; /* that brings its document */
        char code[KW_CODE_MAX + 1];
        char pdf[96];       /* "": it has no document */
        struct kw_hash sum; /* of the document */
        bool met;           /* its entry was, and has that document */
};
/** All zero is none; free with kw_pack_certificates_free(). */
struct kw_packed_certificates {
        struct kw_packed_certificate *at;
        size_t n, cap;
};
/** kw_pack_read_certificates - the list of a pack. Return: 0; KW_BAD_VALUE with the sentence; -errno. */
int kw_pack_read_certificates(const char *path, struct kw_packed_certificates *out, struct kw_error *err);
void kw_pack_certificates_free(struct kw_packed_certificates *c);
/** kw_pack_meet_entry - an entry of the pack: whether the certificates that it brings are as the list has them. */
int kw_pack_meet_entry(struct kw_packed_certificates *c, int64_t seq, const cJSON *entry, struct kw_error *err);
/** kw_pack_all_met - whether the entries of all of them were met. */
int kw_pack_all_met(const struct kw_packed_certificates *c, struct kw_error *err);

/** kw_pack_check_entries - every entry is under the head. Return: 0; KW_BAD_VALUE with the entry named; -errno. */
int kw_pack_check_entries(const char *path, const struct kw_head *head, int64_t entries,
                          struct kw_packed_certificates *certificates, struct kw_error *err);

#endif
