/*
 * The certificates of a pack that is checked: each one's entry is there, with the document whose sum the list tells.
 *
 * How a certificate stands is the mill's own word as of the head, made of the entries that the list names.
 */
#include "pack_read.h"

#include <errno.h>
#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LIST "certificates.ndjson"

static int wrong(struct kw_error *err, size_t line)
{
        return kw_refuse(err, KW_BAD_VALUE, "", LIST ": line %zu is no certificate", line);
}

static int read_line(struct kw_pack_reader *in, struct kw_packed_certificates *out, struct kw_error *err)
{
        struct kw_packed_certificate one = {0};
        const char *code, *sum, *pdf;
        cJSON *json = NULL;
        int rc = kw_json_read(kw_buf_text(&in->line), in->line.n, &kw_json_entry_limits, &json, NULL);

        if (rc < 0)
                return rc;
        code = kw_json_text(json, "certificate");
        sum = kw_json_text(json, "document_sha256");
        pdf = kw_json_text(json, "pdf");
        one.entry = kw_json_int(json, "document_entry", 0);
        if (rc || !code || strlen(code) >= sizeof(one.code) || one.entry < 1 || !sum != !pdf ||
            (pdf && (strlen(pdf) >= sizeof(one.pdf) || kw_hash_unhex(sum, &one.sum)))) {
                cJSON_Delete(json);
                return wrong(err, out->n + 1);
        }
        snprintf(one.code, sizeof(one.code), "%s", code);
        snprintf(one.pdf, sizeof(one.pdf), "%s", pdf ? pdf : "");
        cJSON_Delete(json);
        if (out->n == out->cap) {
                size_t cap = out->cap ? 2 * out->cap : 16;
                struct kw_packed_certificate *at = reallocarray(out->at, cap, sizeof(*at));

                if (!at)
                        return -ENOMEM;
                out->at = at;
                out->cap = cap;
        }
        out->at[out->n++] = one;
        return 0;
}

static int by_entry(const void *a, const void *b)
{
        const struct kw_packed_certificate *x = a, *y = b;

        return (x->entry > y->entry) - (x->entry < y->entry);
}

int kw_pack_read_certificates(const char *path, struct kw_packed_certificates *out, struct kw_error *err)
{
        struct kw_pack_reader in = {0};
        int rc = kw_pack_find(&in, path, LIST, err), more = 1;

        while (rc == 0 && (more = kw_pack_line(&in)) == 1)
                rc = read_line(&in, out, err);
        if (rc == 0 && more > 1)
                rc = wrong(err, out->n + 1);
        kw_pack_close(&in);
        if (rc == 0 && out->n)
                qsort(out->at, out->n, sizeof(*out->at), by_entry);
        return more < 0 ? more : rc;
}

void kw_pack_certificates_free(struct kw_packed_certificates *c)
{
        free(c->at);
        *c = (struct kw_packed_certificates){0};
}

/* The document that an entry brings: its own, or that of the certificate which it puts right. */
static const cJSON *document_of(const cJSON *entry)
{
        const cJSON *body = kw_json_get(entry, "body"), *document = kw_json_get(body, "document");

        return document ? document : kw_json_get(kw_json_get(body, "body"), "document");
}

int kw_pack_meet_entry(struct kw_packed_certificates *c, int64_t seq, const cJSON *entry, struct kw_error *err)
{
        const struct kw_packed_certificate wanted = {.entry = seq};
        struct kw_packed_certificate *one = c->n ? bsearch(&wanted, c->at, c->n, sizeof(*c->at), by_entry) : NULL;
        const cJSON *document = document_of(entry);
        struct kw_buf text = {0};
        struct kw_hash sum;

        if (!one)
                return 0;
        one->met = true;
        if (document)
                kw_json_canonical(document, &text);
        crypto_hash_sha256(sum.bytes, (const unsigned char *)kw_buf_text(&text), text.n);
        kw_buf_free(&text);
        if (text.failed)
                return -ENOMEM;
        if (!document == !one->pdf[0] && (!document || memcmp(&sum, &one->sum, sizeof(sum)) == 0))
                return 0;
        return kw_refuse(err, KW_BAD_VALUE, "", LIST ": certificate %s has another document than its entry %" PRId64,
                         one->code, seq);
}

int kw_pack_all_met(const struct kw_packed_certificates *c, struct kw_error *err)
{
        for (size_t i = 0; i < c->n; i++) {
                if (!c->at[i].met)
                        return kw_refuse(err, KW_BAD_VALUE, "",
                                         LIST ": entry %" PRId64 " of certificate %s is not in entries.ndjson",
                                         c->at[i].entry, c->at[i].code);
        }
        return 0;
}
