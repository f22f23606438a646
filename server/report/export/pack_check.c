/*
 * Checking an evidence pack: the sums of its files, every entry's proof, and the zip around them.
 *
 * The zip is gone through once for the sums; on the way it is written again and compared, so that a byte is missed
 * nowhere, not in a date or a flag that no reader looks at. That holds where the same libraries wrote it, which the
 * head says; with others, the files' sums and the proofs are what is checked. Then the entries and their proofs are
 * read side by side.
 */
#include "pack_read.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define FILES_MAX ((size_t)1 << 20)
#define KEPT_MAX  ((size_t)256 << 20) /* a manifest of a million files */

struct packed {
        char name[96];
        struct kw_hash sum;
        bool listed, broken;
        UT_hash_handle hh;
};

struct check {
        const char *path;
        struct packed *files; /* by name, in the order of the zip */
        size_t n;
        int64_t certificates; /* by the head; -1: it is of a time when packs had none */
        struct kw_packed_certificates list;
        struct kw_buf manifest, head_text;
        struct kw_head head;
        int64_t entries;
        bool same_libraries;
        /* writing it again */
        FILE *original;
        struct archive *again;
        const char *now; /* the file being written */
        int64_t offset;
        char differs[96]; /* where */
        bool strayed;
        struct kw_error *err;
};

static int wrong(struct check *c, const char *what, const char *how)
{
        return kw_refuse(c->err, KW_BAD_VALUE, "", "%s %s", what, how);
}

/* --- the zip written again -------------------------------------------------------------------------- */

static ssize_t compare(struct archive *zip, void *ctx, const void *bytes, size_t n)
{
        struct check *c = ctx;
        const unsigned char *at = bytes;

        (void)zip;
        for (size_t i = 0; i < n && !c->strayed; i++, c->offset++) {
                if (getc_unlocked(c->original) != at[i]) {
                        c->strayed = true;
                        snprintf(c->differs, sizeof(c->differs), "byte %" PRId64 ", %s%.40s", c->offset,
                                 c->now ? "in the record of " : "in the directory", c->now ? c->now : "");
                }
        }
        return (ssize_t)n;
}

static int end_again(struct check *c)
{
        int rc;

        c->now = NULL;
        rc = kw_zip_end(c->again);
        if (rc == 0 && !c->strayed && getc_unlocked(c->original) != EOF) {
                c->strayed = true;
                snprintf(c->differs, sizeof(c->differs), "byte %" PRId64 ", after the end", c->offset);
        }
        return rc;
}

/* --- sums ------------------------------------------------------------------------------------------ */

static struct kw_buf *kept(struct check *c, const char *name)
{
        if (strcmp(name, "MANIFEST.sha256") == 0)
                return &c->manifest;
        return strcmp(name, "head.json") == 0 ? &c->head_text : NULL;
}

static int sum_file(struct check *c, struct kw_pack_reader *in, struct packed *file)
{
        struct kw_buf *keep = kept(c, file->name);
        crypto_hash_sha256_state sum;
        const void *bytes;
        size_t n;
        int rc;

        crypto_hash_sha256_init(&sum);
        c->now = file->name;
        rc = kw_zip_begin(c->again, file->name);
        while (rc == 0 && (rc = kw_pack_bytes(in, &bytes, &n)) == 1) {
                crypto_hash_sha256_update(&sum, bytes, n);
                if (keep && keep->n + n <= KEPT_MAX)
                        kw_buf_add(keep, bytes, n);
                rc = kw_zip_add(c->again, bytes, n);
        }
        crypto_hash_sha256_final(&sum, file->sum.bytes);
        file->broken = rc == KW_BAD_VALUE;
        return file->broken ? 0 : rc;
}

static struct packed *find(const struct check *c, const char *name)
{
        struct packed *file;

        HASH_FIND_STR(c->files, name, file);
        return file;
}

static int sum_files(struct check *c)
{
        struct kw_pack_reader in;
        const char *name;
        int rc = kw_pack_open(&in, c->path, c->err);

        while (rc == 0 && (rc = kw_pack_file(&in, &name)) == 1) {
                struct packed *file;

                if (c->n == FILES_MAX || strlen(name) >= sizeof(file->name) || find(c, name)) {
                        rc = wrong(c, "it", "holds more than a pack does");
                        break;
                }
                file = calloc(1, sizeof(*file));
                rc = file ? 0 : -ENOMEM;
                if (rc)
                        break;
                snprintf(file->name, sizeof(file->name), "%.95s", name);
                HASH_ADD_STR(c->files, name, file);
                if (!file->hh.tbl) {
                        free(file);
                        rc = -ENOMEM;
                        break;
                }
                rc = sum_file(c, &in, file);
                c->n++;
        }
        if (rc == KW_BAD_VALUE && !c->err->text[0])
                wrong(c, "it", "is damaged: its directory can't be read");
        kw_pack_close(&in);
        return rc ? rc : end_again(c);
}

static int check_line(struct check *c, char *line)
{
        struct packed *file;
        struct kw_hash sum;
        char hex[KW_HASH_HEX];

        if (strlen(line) < KW_HASH_HEX + 2 || strncmp(line + KW_HASH_HEX - 1, "  ", 2) != 0)
                return wrong(c, "MANIFEST.sha256", "is not as it was packed");
        memcpy(hex, line, KW_HASH_HEX - 1);
        hex[KW_HASH_HEX - 1] = '\0';
        file = find(c, line + KW_HASH_HEX + 1);
        if (!file)
                return wrong(c, line + KW_HASH_HEX + 1, "is missing");
        file->listed = true;
        if (kw_hash_unhex(hex, &sum) || memcmp(&sum, &file->sum, sizeof(sum)) != 0)
                return wrong(c, file->name, "is not what MANIFEST.sha256 says");
        return 0;
}

static int check_manifest(struct check *c)
{
        char *rest = c->manifest.at ? c->manifest.at : NULL, *line;
        int rc = 0;

        if (!find(c, "MANIFEST.sha256"))
                return wrong(c, "MANIFEST.sha256", "is missing");
        for (const struct packed *file = c->files; file; file = file->hh.next) {
                if (file->broken)
                        return wrong(c, file->name, "is not as it was packed: its bytes were changed");
        }
        kw_buf_text(&c->manifest); /* with a NUL at its end */
        rest = c->manifest.at;
        while (rc == 0 && rest && (line = strsep(&rest, "\n")) && (*line || rest)) {
                if (*line)
                        rc = check_line(c, line);
        }
        for (const struct packed *file = c->files; rc == 0 && file; file = file->hh.next) {
                if (!file->listed && strcmp(file->name, "MANIFEST.sha256") != 0)
                        rc = wrong(c, file->name, "is not in MANIFEST.sha256");
        }
        return rc;
}

/* --- head and entries -------------------------------------------------------------------------------- */

static int read_head(struct check *c)
{
        cJSON *json = NULL;
        const char *root = NULL, *libraries;
        int rc = kw_json_read(kw_buf_text(&c->head_text), c->head_text.n, &kw_json_entry_limits, &json, NULL);

        if (rc == 0)
                root = kw_json_text(json, "root");
        if (rc < 0)
                return rc;
        if (!root || kw_hash_unhex(root, &c->head.root)) {
                cJSON_Delete(json);
                return wrong(c, "head.json", "is missing or not a head");
        }
        c->head.size = kw_json_int(json, "size", -1);
        c->entries = kw_json_int(json, "entries", -1);
        c->certificates = kw_json_int(json, "certificates", -1);
        libraries = kw_json_text(json, "zip");
        c->same_libraries = libraries && strcmp(libraries, archive_version_details()) == 0;
        cJSON_Delete(json);
        return 0;
}

/* The list of certificates, and that each one's paper is there. */
static int read_certificates(struct check *c)
{
        int rc;

        if (c->certificates < 0)
                return 0;
        rc = kw_pack_read_certificates(c->path, &c->list, c->err);
        if (rc)
                return rc;
        if ((int64_t)c->list.n != c->certificates)
                return kw_refuse(c->err, KW_BAD_VALUE, "",
                                 "head.json says %" PRId64 " certificates, and certificates.ndjson has %zu",
                                 c->certificates, c->list.n);
        for (size_t i = 0; i < c->list.n; i++) {
                if (c->list.at[i].pdf[0] && !find(c, c->list.at[i].pdf))
                        return wrong(c, c->list.at[i].pdf, "is missing");
        }
        return 0;
}

static int check_all(struct check *c)
{
        int rc = sum_files(c), sums, entries;

        if (rc)
                return rc;
        sums = check_manifest(c);
        if (sums < 0)
                return sums;
        /* an entry that is wrong says more than its file's sum; but what is not whole can't be asked for proofs */
        if (sums) {
                const struct packed *list = find(c, "entries.ndjson"), *proofs = find(c, "proofs.ndjson");
                struct kw_error told = *c->err;

                if (!list || !proofs || proofs->broken || strncmp(told.text, "entries", 7) != 0 || read_head(c)) {
                        *c->err = told;
                        return sums;
                }
                entries = kw_pack_check_entries(c->path, &c->head, c->entries, &c->list, c->err);
                if (entries == 0)
                        *c->err = told;
                return entries < 0 ? entries : sums;
        }
        rc = read_head(c);
        if (rc == 0)
                rc = read_certificates(c);
        if (rc == 0)
                rc = kw_pack_check_entries(c->path, &c->head, c->entries, &c->list, c->err);
        if (rc == 0 && c->strayed && c->same_libraries)
                return kw_refuse(c->err, KW_BAD_VALUE, "",
                                 "the files are as they were packed, but the zip around them was changed: %s",
                                 c->differs);
        return rc;
}

int kw_pack_check(const char *path, struct kw_head *head, int64_t *entries, struct kw_error *err)
{
        struct check c = {.path = path, .err = err};
        struct packed *file, *next;
        int rc;

        err->text[0] = '\0';
        c.original = fopen(path, "re");
        if (!c.original)
                return kw_refuse(err, KW_NOT_FOUND, "", "%s: %s", path, strerror(errno));
        c.again = kw_zip_new(&c, compare);
        rc = c.again ? check_all(&c) : -ENOMEM;
        kw_zip_free(c.again);
        fclose(c.original);
        kw_buf_free(&c.manifest);
        kw_buf_free(&c.head_text);
        kw_pack_certificates_free(&c.list);
        HASH_ITER(hh, c.files, file, next)
        {
                HASH_DEL(c.files, file);
                free(file);
        }
        *head = c.head;
        *entries = c.entries;
        return rc;
}
