/*
 * An evidence pack: a zip with everything by which someone without access to the mill can check what it says.
 *
 *      report.pdf  lots.csv  entries.ndjson  proofs.ndjson  certificates.ndjson  certificate-CODE-ENTRY.pdf ...
 *      head.json  HOWTO.txt  check.py  certificates.py  grew.py  MANIFEST.sha256
 *
 * Each file is written as its writer gives it, piece by piece; its sum is taken on the way and told in the manifest,
 * which comes last.
 */
#include "pack.h"
#include "zip.h"

#include "kinwire/embedded.h"

#include <archive.h>
#include <errno.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

extern const struct kw_embedded kw_pack_texts[];

struct pack {
        struct archive *zip;
        size_t member;                          /* that is being written */
        struct kw_pack_certificate certificate; /* of a member for each certificate, the one that is being written */
        int64_t certificates;                   /* that were listed */
        bool begun;
        crypto_hash_sha256_state sum;
        struct kw_buf manifest, piece;
        struct kw_buf *out; /* of the piece under way */
};

typedef int member_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);

/* --- what only a pack has ------------------------------------------------------------------------- */

static int next_proofs(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const size_t before = out->n;
        int64_t seq;

        while ((seq = kw_selected_next(&x->entries, x->at))) {
                struct kw_proof proof;
                char hex[KW_HASH_HEX];
                int rc;

                if (out->n - before >= KW_PIECE)
                        return 1;
                rc = kw_ledger_inclusion(x->ledger, seq, x->head.size, &proof, err);
                if (rc)
                        return rc;
                out->comma = false;
                kw_put_object(out, NULL);
                kw_put_int(out, "seq", seq);
                kw_put_array(out, "proof");
                for (size_t i = 0; i < proof.n; i++) {
                        kw_hash_hex(&proof.at[i], hex);
                        kw_put_string(out, NULL, hex);
                }
                kw_put_array_end(out);
                kw_put_object_end(out);
                kw_buf_add(out, "\n", 1);
                x->at = seq;
        }
        return 0;
}

/* What it is a pack of, in the words in which one asks for it again. */
static void put_scope(const struct kw_scope *scope, struct kw_buf *out)
{
        const struct kw_question *q = &scope->question;
        char stamp[KW_STAMP_LEN + 1];

        kw_put_string(out, "origin", scope->asked);
        if (scope->what == KW_SCOPE_TIMES) {
                if (scope->since[0])
                        kw_put_string(out, "since", scope->since);
                if (scope->until[0] != '~')
                        kw_put_string(out, "until", scope->until);
        }
        if (scope->what != KW_SCOPE_ORIGIN)
                return;
        kw_put_string(out, "direction", kw_direction_text(q->direction));
        if (q->part) {
                kw_put_int(out, "from_mm", q->from_mm);
                kw_put_int(out, "to_mm", q->to_mm);
        }
        if (q->window && q->since != INT64_MIN) {
                kw_stamp_write(q->since, stamp);
                kw_put_string(out, "since", stamp);
        }
        if (q->window && q->until != INT64_MAX) {
                kw_stamp_write(q->until, stamp);
                kw_put_string(out, "until", stamp);
        }
}

static int next_head(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        char hex[KW_HASH_HEX];

        (void)err;
        kw_hash_hex(&x->head.root, hex);
        out->comma = false;
        kw_put_object(out, NULL);
        kw_put_int(out, "size", x->head.size);
        kw_put_string(out, "root", hex);
        kw_put_string(out, "logged", x->created);
        put_scope(&x->scope, out);
        kw_put_int(out, "entries", x->entries.n);
        kw_put_int(out, "certificates", ((const struct pack *)x->own)->certificates);
        kw_put_string(out, "zip", archive_version_details());
        kw_put_object_end(out);
        kw_buf_add(out, "\n", 1);
        return 0;
}

/* What is the same in every pack. */
static int put_text(const char *name, struct kw_buf *out)
{
        for (const struct kw_embedded *text = kw_pack_texts; text->name; text++) {
                if (strcmp(text->name, name) == 0)
                        kw_buf_add(out, text->bytes, text->n);
        }
        return 0;
}

static int next_certificates(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        struct pack *p = x->own;

        return kw_pack_list_certificates(x, out, &p->certificates, err);
}

static int next_certificate(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        return kw_certificate_pdf(x->ledger, ((const struct pack *)x->own)->certificate.code, out, err);
}

static int next_manifest(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const struct pack *p = x->own;

        (void)err;
        kw_buf_add(out, p->manifest.at, p->manifest.n);
        return p->manifest.failed ? -ENOMEM : 0;
}

static const struct {
        const char *name;  /* NULL: one member for each certificate that has a document */
        bool of_origin;    /* only where there is one thing to report on */
        member_next *next; /* NULL: one of kw_pack_texts */
} members[] = {
        {"report.pdf", true, kw_report_next},
        {"lots.csv", false, kw_csv_next},
        {"entries.ndjson", false, kw_entries_next},
        {"proofs.ndjson", false, next_proofs},
        {"certificates.ndjson", false, next_certificates},
        {NULL, false, next_certificate},
        {"head.json", false, next_head},
        {"HOWTO.txt", false, NULL},
        {"check.py", false, NULL},
        {"certificates.py", false, NULL},
        {"grew.py", false, NULL},
        {"MANIFEST.sha256", false, next_manifest},
};

#define MEMBERS (sizeof(members) / sizeof(*members))

/* --- putting it together ---------------------------------------------------------------------------- */

static ssize_t take(struct archive *zip, void *ctx, const void *bytes, size_t n)
{
        struct pack *p = ctx;

        (void)zip;
        kw_buf_add(p->out, bytes, n);
        return p->out->failed ? -1 : (ssize_t)n;
}

static int start_pack(struct kw_export *x)
{
        struct pack *p = calloc(1, sizeof(*p));

        if (!p)
                return -ENOMEM;
        x->own = p;
        p->zip = kw_zip_new(p, take);
        return p->zip ? 0 : -ENOMEM;
}

static const char *name_of(const struct pack *p)
{
        return members[p->member].name ? members[p->member].name : p->certificate.file;
}

static void end_member(struct pack *p)
{
        struct kw_hash sum;
        char hex[KW_HASH_HEX];

        crypto_hash_sha256_final(&p->sum, sum.bytes);
        kw_hash_hex(&sum, hex);
        kw_buf_printf(&p->manifest, "%s  %s\n", hex, name_of(p));
        if (members[p->member].name)
                p->member++;
        p->begun = false;
}

/* One piece of the member under way. */
static int go_on(struct kw_export *x, struct pack *p, struct kw_error *err)
{
        int more, rc = 0;

        if (!p->begun) {
                x->at = 0;
                x->stage = 0;
                crypto_hash_sha256_init(&p->sum);
                rc = kw_zip_begin(p->zip, name_of(p));
                p->begun = true;
        }
        if (rc)
                return rc;
        kw_buf_clear(&p->piece);
        more = members[p->member].next ? members[p->member].next(x, &p->piece, err) : put_text(name_of(p), &p->piece);
        if (more != 0 && more != 1)
                return more;
        if (p->piece.failed)
                return -ENOMEM;
        crypto_hash_sha256_update(&p->sum, (const unsigned char *)kw_buf_text(&p->piece), p->piece.n);
        rc = kw_zip_add(p->zip, kw_buf_text(&p->piece), p->piece.n);
        if (rc == 0 && !more)
                end_member(p);
        return rc;
}

/* To the member that is written next: past a report on nothing, and on to the next certificate or past the last. */
static int find_member(struct kw_export *x, struct pack *p, struct kw_error *err)
{
        int rc = 0;

        if (!x->answer && members[p->member].of_origin)
                p->member++;
        if (p->begun || members[p->member].name)
                return 0;
        rc = kw_pack_next_certificate(x, &p->certificate, err);
        if (rc == 0 && !p->certificate.seq)
                p->member++;
        return rc;
}

int kw_pack_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        struct pack *p;
        int rc = x->own ? 0 : start_pack(x);

        if (rc)
                return rc;
        p = x->own;
        p->out = out;
        rc = find_member(x, p, err);
        if (rc == 0)
                rc = go_on(x, p, err);
        if (rc == 0 && p->member == MEMBERS)
                return kw_zip_end(p->zip);
        return rc ? rc : 1;
}

void kw_pack_end(struct kw_export *x)
{
        struct pack *p = x->own;
        struct kw_buf rest = {0};

        if (!p)
                return;
        p->out = &rest; /* an archive that is given up still writes its end */
        kw_zip_free(p->zip);
        kw_buf_free(&rest);
        kw_buf_free(&p->manifest);
        kw_buf_free(&p->piece);
        free(p);
        x->own = NULL;
}
