/*
 * Questions about certificates: may these reels be certified; the certificates there are; one of them, as JSON or PDF.
 */
#include "kinwire/export.h"
#include "server.h"

#include <string.h>

#define CERTIFICATES_MOST 200

int kw_ask_certifiable(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *replaces = kw_request_query(r, "replaces"), *type = kw_request_query(r, "type");
        char code[KW_CODE_MAX + 1];
        struct kw_certify_question q = {.reels = kw_request_query(r, "reels"), .type = type ? type : "3.1"};
        int rc = 0;

        if (!q.reels || !*q.reels)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter", KW_VALUES(KW_WORD("parameter", "reels")),
                                      "\"reels\" says which reels, codes with commas between them");
        if (replaces && *replaces) {
                rc = kw_request_code(replaces, "parameter \"replaces\"", code, err);
                q.replaces = code;
        }
        return rc ? rc : kw_answer_certifiable(ledger, &q, out, err);
}

int kw_ask_certificates(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *state = kw_request_query(r, "state"), *codes = kw_request_query(r, "codes");
        int64_t before, limit;
        int rc = kw_request_int(r, "before", 0, INT64_MAX, 0, &before, err);

        if (!rc)
                rc = kw_request_int(r, "limit", 1, CERTIFICATES_MOST, 50, &limit, err);
        if (!rc && state && strcmp(state, "marked") != 0)
                rc = kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", state)),
                                    "\"state\" is \"marked\", or is left out");
        if (!rc && codes)
                return kw_answer_certificates_named(ledger, codes, CERTIFICATES_MOST, out, err);
        return rc ? rc : kw_answer_certificates(ledger, before, limit, state != NULL, out, err);
}

/* CODE, or CODE.pdf with these four letters small: a code that ends so is asked for in capitals. */
enum MHD_Result kw_answer_certificate_of(struct kw_request *r)
{
        char *part = r->part[0], code[KW_CODE_MAX + 1];
        size_t n = strlen(part);
        bool pdf = n > 4 && strcmp(part + n - 4, ".pdf") == 0;
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc;

        if (pdf)
                part[n - 4] = '\0';
        rc = kw_request_code(part, "certificate", code, &err);
        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (!rc) {
                rc = pdf ? kw_certificate_pdf(ledger, code, &out, &err)
                         : kw_answer_certificate(ledger, code, &out, &err);
                kw_reader_give(r->http, ledger);
        }
        if (rc) {
                kw_buf_free(&out);
                return kw_reply_problem(r, rc, &err);
        }
        if (pdf)
                kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "inline; filename=\"%s.pdf\"", code);
        return kw_reply(r, MHD_HTTP_OK, pdf ? "application/pdf" : "application/json", &out);
}

/* What is missing is asked of the ledger as it is now, by what the writer asked. Where that can't be had, the sentence
 * has to do. */
enum MHD_Result kw_reply_not_certified(struct kw_request *r, const cJSON *body, int rc, const struct kw_error *err)
{
        struct kw_error none = {0};
        struct kw_buf missing = {0};
        struct kw_ledger *ledger;
        enum MHD_Result result;
        bool there = false;

        if (!kw_reader_take(r->http, &ledger, &none)) {
                there = kw_answer_missing(ledger, body, &missing, &none) == 0;
                kw_reader_give(r->http, ledger);
        }
        result = kw_reply_problem_with(r, rc, err, "missing", there ? kw_buf_text(&missing) : NULL);
        kw_buf_free(&missing);
        return result;
}
