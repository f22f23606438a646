/*
 * A certificate as a PDF: what stands in its entry, and nothing that comes after it.
 *
 * The only time in it is that of issue, the only head that which its entry made. So it is the same to the byte whenever
 * it is made, as long as the libraries that draw it and the fonts are the same; where they differ, the document's
 * SHA-256 says that the figures don't.
 */
#include "certificate.h"

#include "kinwire/export.h"
#include "report/put.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <string.h>

#define SYMBOL_SIDE 84.0 /* points: 30 mm */

/* --- heading ------------------------------------------------------------------------------------------- */

static const char *text_of(const struct kw_sheet *s, const char *name)
{
        return kw_json_text(s->document, name);
}

/* Scanned, it leads back here: to the page where one is known, else to the certificate's name. */
static const char *scanned(struct kw_sheet *s)
{
        if (s->address)
                return kw_sheet_words(s, "%scertificate.html?c=%s", s->address, s->c->code);
        return kw_sheet_words(s, "certificate:%s", s->c->code);
}

/* Of all its reels, once each. */
static const char *customers(struct kw_sheet *s)
{
        struct kw_buf list = {0};
        const cJSON *reel;
        const char *text;

        cJSON_ArrayForEach(reel, kw_json_get(s->document, "reels"))
        {
                const char *customer = kw_json_text(kw_json_get(reel, "order"), "customer");

                if (!customer)
                        customer = kw_json_text(kw_json_get(reel, "sent"), "consignee");
                if (customer && !strstr(kw_buf_text(&list), customer))
                        kw_buf_printf(&list, "%s%s", list.n ? ", " : "", customer);
        }
        text = kw_sheet_words(s, "%s", kw_buf_text(&list));
        s->failed = s->failed || list.failed;
        kw_buf_free(&list);
        return text;
}

static int put_heading(struct kw_sheet *s)
{
        int rc = kw_paper_symbol(s->p, scanned(s), SYMBOL_SIDE);

        kw_paper_title(s->p, kw_sheet_words(s, "%s %s", text_of(s, "title"), text_of(s, "type")));
        kw_paper_space(s->p, 2);
        kw_paper_text(s->p, kw_sheet_words(s, "EN 10204:2004, type %s", text_of(s, "type")));
        kw_paper_space(s->p, 8);
        kw_paper_fact(s->p, "Certificate", s->c->code);
        kw_paper_fact(s->p, "Issued", text_of(s, "issued"));
        kw_paper_fact(s->p, "For", customers(s));
        kw_paper_fact(s->p, "Replaces", text_of(s, "replaces"));
        kw_paper_fact_linked(s->p, "Entry", kw_sheet_entry(s, kw_json_int(s->document, "entry", 0)),
                             kw_sheet_link(s, kw_json_int(s->document, "entry", 0)));
        kw_paper_space(s->p, 8);
        kw_paper_text(s->p, text_of(s, "declares"));
        kw_paper_space(s->p, 4);
        kw_paper_text(s->p, "A number after # is that of the entry in the mill's ledger from which a figure comes.");
        return rc;
}

/* --- foot ------------------------------------------------------------------------------------------------ */

static void put_statement(struct kw_sheet *s)
{
        if (!text_of(s, "statement"))
                return;
        kw_paper_heading(s->p, "Statement");
        kw_paper_text(s->p, text_of(s, "statement"));
}

static void put_caution(struct kw_sheet *s)
{
        const cJSON *caution = kw_json_get(s->document, "caution"), *line;
        const char *lines[16];
        size_t n = 0;

        cJSON_ArrayForEach(line, caution)
        {
                if (n < sizeof(lines) / sizeof(*lines))
                        lines[n++] = line->valuestring;
        }
        kw_paper_heading(s->p, "Caution");
        kw_paper_framed(s->p, lines, n);
}

static void put_signatures(struct kw_sheet *s)
{
        const cJSON *one = kw_json_get(s->document, "signed"), *two = kw_json_get(s->document, "countersigned");
        const char *position = kw_json_text(one, "position");
        const struct kw_document_row *document = kw_document(text_of(s, "type"));

        kw_paper_heading(s->p, "Signed");
        kw_paper_signature(s->p, false, kw_json_text(one, "name"),
                           position             ? position
                           : document->specific ? "authorised inspection representative of the manufacturer"
                                                : "for the manufacturer");
        if (document->countersigned)
                kw_paper_signature(s->p, true, two ? kw_json_text(two, "name") : "",
                                   two ? kw_sheet_words(s, "for %s", kw_json_text(two, "for"))
                                       : "for the purchaser, or inspector designated by official regulations");
}

static void put_proof(struct kw_sheet *s)
{
        const int64_t seq = s->c->body_seq;

        kw_paper_heading(s->p, "Proof");
        kw_paper_text(s->p,
                      kw_sheet_words(s,
                                     "This certificate is entry #%" PRId64
                                     " of the mill's ledger, a Merkle tree by RFC 9162 over SHA-256. The hash of the "
                                     "entry and the hashes below give the head of the ledger at %" PRId64
                                     " entries; every later head of the same ledger has it within.",
                                     seq, seq));
        kw_paper_space(s->p, 4);
        kw_sheet_hash(s, "Hash of the entry", &s->leaf);
        kw_sheet_hash(s, kw_sheet_words(s, "Head at %" PRId64 " entries", seq), &s->root);
        kw_paper_text(s->p, "SHA-256 of the document, canonical JSON (RFC 8785)");
        kw_paper_code(s->p, s->digest);
        kw_sheet_proof(s);
        kw_paper_space(s->p, 4);
        kw_paper_text(s->p, "Whether it still stands is not on this paper, which never changes: scan the code, or ask "
                            "the mill.");
}

/* --- the sheet -------------------------------------------------------------------------------------------- */

static int write_once(struct kw_sheet *s)
{
        static void (*const parts[])(struct kw_sheet *) = {
                kw_sheet_reels,       kw_sheet_strength, kw_sheet_tests, kw_sheet_heats, kw_sheet_makeup,
                kw_sheet_concessions, put_statement,     put_signatures, put_caution,    put_proof};
        int rc = put_heading(s);

        for (size_t i = 0; rc == 0 && i < sizeof(parts) / sizeof(*parts); i++)
                parts[i](s);
        return rc ? rc : kw_paper_end(s->p);
}

static void sum_document(struct kw_sheet *s)
{
        struct kw_hash digest;

        crypto_hash_sha256(digest.bytes, (const unsigned char *)s->c->document, strlen(s->c->document));
        kw_hash_hex(&digest, s->digest);
}

static int write_sheet(struct kw_sheet *s, struct kw_buf *out)
{
        char root[KW_HASH_HEX];

        kw_hash_hex(&s->root, root);
        return kw_sheet_write(
                s, write_once,
                kw_sheet_words(s, "%s %s, certificate %s", text_of(s, "title"), text_of(s, "type"), s->c->code),
                kw_sheet_words(s, "certificate %s \xc2\xb7 entry %" PRId64 " \xc2\xb7 head %.16s\xe2\x80\xa6",
                               s->c->code, s->c->body_seq, root),
                text_of(s, "issued"), out);
}

static int make(struct kw_ledger *ledger, struct kw_sheet *s, const char *code, struct kw_buf *out,
                struct kw_error *err)
{
        cJSON *document = NULL;
        int rc = kw_read_certificate(s->r, code, &s->c, err);

        if (rc)
                return rc;
        if (!s->c->document)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "no-document",
                                      KW_VALUES(KW_WORD("certificate", code), KW_FIGURE("seq", s->c->seq)),
                                      "certificate %s was recorded without a document (entry %" PRId64
                                      "): its entry is all there is of it",
                                      code, s->c->seq);
        rc = kw_json_read(s->c->document, strlen(s->c->document), &kw_any_size, &document, NULL) ? -EIO : 0;
        s->document = document;
        s->address = document ? kw_json_text(document, "address") : NULL;
        if (rc == 0)
                rc = kw_sheet_prove(ledger, s, s->c->body_seq, err);
        if (rc == 0)
                sum_document(s);
        if (rc == 0)
                rc = write_sheet(s, out);
        cJSON_Delete(document);
        return rc;
}

int kw_certificate_pdf(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err)
{
        struct kw_sheet s = {0};
        int rc = kw_reader_new(ledger, &s.r);

        if (rc == 0) {
                rc = make(ledger, &s, code, out, err);
                rc = kw_finish(s.r, out, rc, err);
        }
        kw_reader_free(s.r);
        return rc;
}
