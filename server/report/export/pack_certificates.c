/*
 * What a pack says of certificates. A certificate's PDF never changes, so it can't say that it was overtaken; the list
 * beside it does, as of the pack's head, and the entries that the list names are in the pack with their proofs.
 */
#include "pack.h"

#include "ledger/read/certify.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

/* The certificate of the next selected entry after @seq, which receives its number, 0 when there is none. */
static int next_one(struct kw_export *x, int64_t *seq, const struct kw_certificate_whole_row **out,
                    struct kw_error *err)
{
        const char *code;
        int rc = kw_selected_certificate(x->reader, &x->entries, seq, &code);

        *out = NULL;
        return rc || !code ? rc : kw_read_certificate(x->reader, code, out, err);
}

/* --- as a file ---------------------------------------------------------------------------------------- */

static void name_file(const struct kw_certificate_whole_row *c, char file[KW_PACK_NAME_MAX])
{
        snprintf(file, KW_PACK_NAME_MAX, "certificate-%.40s-%" PRId64 ".pdf", c->code, c->seq);
        for (char *at = file; *at; at++) {
                if (*at == '/')
                        *at = '-';
        }
}

int kw_pack_next_certificate(struct kw_export *x, struct kw_pack_certificate *at, struct kw_error *err)
{
        const struct kw_certificate_whole_row *c;
        int rc;

        do
                rc = next_one(x, &at->seq, &c, err);
        while (rc == 0 && c && !c->document);
        if (rc || !c)
                return rc;
        snprintf(at->code, sizeof(at->code), "%s", c->code);
        name_file(c, at->file);
        return 0;
}

/* --- in the list -------------------------------------------------------------------------------------- */

static void put_line(const struct kw_certificate_whole_row *c, struct kw_buf *out)
{
        char file[KW_PACK_NAME_MAX], hex[KW_HASH_HEX];
        struct kw_hash sum;

        out->comma = false;
        kw_put_object(out, NULL);
        kw_put_certificate(out, c);
        kw_put_int(out, "document_entry", c->body_seq);
        if (c->document) {
                crypto_hash_sha256(sum.bytes, (const unsigned char *)c->document, strlen(c->document));
                kw_hash_hex(&sum, hex);
                name_file(c, file);
        }
        kw_put_string(out, "document_sha256", c->document ? hex : NULL);
        kw_put_string(out, "pdf", c->document ? file : NULL);
        kw_put_object_end(out);
        kw_buf_add(out, "\n", 1);
}

int kw_pack_list_certificates(struct kw_export *x, struct kw_buf *out, int64_t *n, struct kw_error *err)
{
        const size_t before = out->n;

        for (;;) {
                const struct kw_certificate_whole_row *c;
                int rc = next_one(x, &x->at, &c, err);

                if (rc || !c)
                        return rc;
                put_line(c, out);
                ++*n;
                if (out->n - before >= KW_PIECE)
                        return 1;
        }
}

/* --- the entries that it rests on ------------------------------------------------------------------------ */

static int select_one(struct kw_export *x, int64_t *seq, struct kw_error *err)
{
        const struct kw_certificate_whole_row *c;
        int rc = next_one(x, seq, &c, err);

        if (rc || !c)
                return rc;
        kw_select(&x->entries, c->body_seq);
        for (size_t i = 0; i < c->n_marks; i++) {
                kw_select(&x->entries, c->marks[i].seq);
                kw_select(&x->entries, c->marks[i].cleared);
        }
        return 0;
}

/* Each with a reader of its own, as documents are long. */
int kw_pack_select(struct kw_export *x, struct kw_error *err)
{
        struct kw_reader *whole = x->reader;
        int64_t seq = 0;
        int rc;

        do {
                rc = kw_reader_new(x->ledger, &x->reader);
                if (rc == 0)
                        rc = kw_reader_failed(x->reader, select_one(x, &seq, err), err);
                kw_reader_free(x->reader);
                x->reader = whole;
        } while (rc == 0 && seq);
        return rc;
}
