/*
 * Reading a pack: files, bytes, lines; and every entry with its proof.
 */
#include "pack_read.h"

#include <archive_entry.h>
#include <errno.h>
#include <inttypes.h>
#include <string.h>

#define BLOCK     ((size_t)64 * 1024)
#define LINE_MOST ((size_t)8 << 20)

int kw_pack_open(struct kw_pack_reader *in, const char *path, struct kw_error *err)
{
        *in = (struct kw_pack_reader){.zip = archive_read_new()};
        if (!in->zip)
                return -ENOMEM;
        if (archive_read_support_format_zip_seekable(in->zip) == ARCHIVE_OK &&
            archive_read_open_filename(in->zip, path, BLOCK) == ARCHIVE_OK)
                return 0;
        return kw_refuse(err, KW_BAD_VALUE, "", "it is no evidence pack, or its directory is damaged");
}

void kw_pack_close(struct kw_pack_reader *in)
{
        if (in->zip)
                archive_read_free(in->zip);
        kw_buf_free(&in->line);
        *in = (struct kw_pack_reader){0};
}

int kw_pack_file(struct kw_pack_reader *in, const char **name)
{
        struct archive_entry *entry;
        int rc = archive_read_next_header(in->zip, &entry);

        if (rc == ARCHIVE_EOF)
                return 0;
        *name = rc == ARCHIVE_OK ? archive_entry_pathname(entry) : NULL;
        return *name ? 1 : KW_BAD_VALUE;
}

int kw_pack_bytes(struct kw_pack_reader *in, const void **bytes, size_t *n)
{
        la_int64_t offset;
        int rc;

        do
                rc = archive_read_data_block(in->zip, bytes, n, &offset);
        while (rc == ARCHIVE_OK && !*n);
        if (rc == ARCHIVE_EOF)
                return 0;
        return rc == ARCHIVE_OK ? 1 : KW_BAD_VALUE;
}

int kw_pack_find(struct kw_pack_reader *in, const char *path, const char *name, struct kw_error *err)
{
        const char *found;
        int rc = kw_pack_open(in, path, err);

        while (rc == 0 && (rc = kw_pack_file(in, &found)) == 1) {
                if (strcmp(found, name) == 0)
                        return 0;
                rc = 0;
        }
        return rc < 0 ? rc : kw_refuse(err, KW_BAD_VALUE, "", "%s is missing", name);
}

int kw_pack_line(struct kw_pack_reader *in)
{
        kw_buf_clear(&in->line);
        for (;;) {
                const char *end = in->left ? memchr(in->at, '\n', in->left) : NULL;
                size_t n = end ? (size_t)(end - in->at) : in->left;
                const void *bytes;
                int rc;

                if (in->left) {
                        kw_buf_add(&in->line, in->at, n);
                        in->at += n;
                        in->left -= n;
                }
                if (in->line.failed || in->line.n > LINE_MOST)
                        return in->line.failed ? -ENOMEM : KW_BAD_VALUE;
                if (end) {
                        in->at++;
                        in->left--;
                        return 1;
                }
                rc = kw_pack_bytes(in, &bytes, &in->left);
                if (rc != 1)
                        return rc || !in->line.n ? rc : KW_BAD_VALUE; /* a last line without its end was cut */
                in->at = bytes;
        }
}

/* --- entries and proofs --------------------------------------------------------------------------- */

static const struct kw_json_limits line_limits = {.bytes = LINE_MOST, .nodes = 400000};

static int64_t read_seq(struct kw_buf *line, cJSON **json)
{
        *json = NULL;
        if (kw_json_read(kw_buf_text(line), line->n, &line_limits, json, NULL))
                return 0;
        return kw_json_int(*json, "seq", 0);
}

static int read_proof(const cJSON *json, struct kw_proof *out)
{
        const cJSON *item;

        out->n = 0;
        cJSON_ArrayForEach(item, kw_json_get(json, "proof"))
        {
                if (out->n == KW_PROOF_MAX || !cJSON_IsString(item) ||
                    kw_hash_unhex(item->valuestring, &out->at[out->n++]))
                        return KW_BAD_VALUE;
        }
        return 0;
}

/* @after: the number of the entry before; receives this one's. */
static int check_entry(struct kw_buf *entry, struct kw_buf *proof_line, const struct kw_head *head, int64_t *after,
                       struct kw_packed_certificates *certificates, struct kw_error *err)
{
        cJSON *json, *proof_json;
        int64_t seq = read_seq(entry, &json), proof_seq = read_seq(proof_line, &proof_json);
        struct kw_proof proof;
        struct kw_hash leaf;
        int rc;

        kw_hash_leaf(kw_buf_text(entry), entry->n, &leaf);
        if (seq <= *after)
                rc = kw_refuse(err, KW_BAD_VALUE, "",
                               "entries.ndjson: what follows entry %" PRId64 " is no entry of the ledger", *after);
        else if (seq != proof_seq || read_proof(proof_json, &proof))
                rc = kw_refuse(err, KW_BAD_VALUE, "", "proofs.ndjson: the proof of entry %" PRId64 " is not there",
                               seq);
        else if (seq > head->size ||
                 kw_merkle_check_inclusion(&leaf, (uint64_t)seq - 1, (uint64_t)head->size, &proof, &head->root))
                rc = kw_refuse(err, KW_BAD_VALUE, "",
                               "entries.ndjson: entry %" PRId64 " is not in the ledger of this head", seq);
        else
                rc = kw_pack_meet_entry(certificates, seq, json, err);
        *after = seq;
        cJSON_Delete(json);
        cJSON_Delete(proof_json);
        return rc;
}

static int check_side_by_side(struct kw_pack_reader *entries, struct kw_pack_reader *proofs, const struct kw_head *head,
                              int64_t wanted, struct kw_packed_certificates *certificates, struct kw_error *err)
{
        int64_t n = 0, after = 0;

        for (;; n++) {
                int entry = kw_pack_line(entries), proof = kw_pack_line(proofs), rc;

                if (entry < 0 || proof < 0)
                        return entry < 0 ? entry : proof;
                if (entry > 1 || proof > 1)
                        return kw_refuse(err, KW_BAD_VALUE, "", "%s: what follows entry %" PRId64 " can't be read",
                                         entry > 1 ? "entries.ndjson" : "proofs.ndjson", after);
                if (!entry && !proof)
                        break;
                if (entry != proof)
                        return kw_refuse(err, KW_BAD_VALUE, "", "%s ends after entry %" PRId64 ", %s goes on",
                                         entry ? "proofs.ndjson" : "entries.ndjson", after,
                                         entry ? "entries.ndjson" : "proofs.ndjson");
                rc = check_entry(&entries->line, &proofs->line, head, &after, certificates, err);
                if (rc)
                        return rc;
        }
        if (n == wanted)
                return kw_pack_all_met(certificates, err);
        return kw_refuse(err, KW_BAD_VALUE, "", "head.json says %" PRId64 " entries, and there are %" PRId64, wanted,
                         n);
}

int kw_pack_check_entries(const char *path, const struct kw_head *head, int64_t wanted,
                          struct kw_packed_certificates *certificates, struct kw_error *err)
{
        struct kw_pack_reader entries = {0}, proofs = {0};
        int rc = kw_pack_find(&entries, path, "entries.ndjson", err);

        if (rc == 0)
                rc = kw_pack_find(&proofs, path, "proofs.ndjson", err);
        if (rc == 0)
                rc = check_side_by_side(&entries, &proofs, head, wanted, certificates, err);
        kw_pack_close(&entries);
        kw_pack_close(&proofs);
        return rc;
}
