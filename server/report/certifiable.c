/*
 * May these reels be certified? All that is missing, and what whoever signs has to know, each with where to look.
 */
#include "put.h"

#include "ledger/read/certify.h"

#include <string.h>

#define REELS_MOST 2000

static void put_lacking(const struct kw_lacking_row *row, const char *reel, struct kw_buf *out)
{
        struct kw_said said;

        kw_said_set(&said, row->as, row->values);
        kw_put_object(out, NULL);
        if (reel)
                kw_put_string(out, "reel", reel);
        kw_put_string(out, "code", kw_lack_row(row->what)->code);
        kw_put_string(out, "text", row->text);
        kw_put_said(out, "values", &said);
        kw_put_object(out, "at");
        kw_put_string(out, "type", row->type);
        kw_put_string(out, "code", row->code);
        kw_put_object_end(out);
        if (row->spans.n)
                kw_put_spans(out, "spans", &row->spans);
        kw_put_object_end(out);
}

static void put_list(const char *name, const struct kw_lacking_row *rows, size_t n, bool bars, struct kw_buf *out)
{
        kw_put_array(out, name);
        for (size_t i = 0; i < n; i++)
                if (kw_lack_row(rows[i].what)->bars == bars)
                        put_lacking(&rows[i], NULL, out);
        kw_put_array_end(out);
}

static int put_reel(struct kw_reader *r, const char *code, const struct kw_certify_wanted *wanted, bool *complete,
                    struct kw_buf *out, struct kw_error *err)
{
        const struct kw_lacking_row *rows;
        const struct kw_lot_row *lot;
        size_t n = 0;
        int rc = kw_read_lot_named(r, code, &lot, err);

        if (rc == 0)
                rc = kw_read_lacking(r, lot, wanted, &rows, &n);
        if (rc)
                return rc;
        *complete = *complete && !(n && kw_lack_row(rows[0].what)->bars);
        kw_put_object(out, NULL);
        kw_put_string(out, "reel", lot->code);
        kw_put_string(out, "kind", lot->kind);
        kw_put_string(out, "construction", lot->construction);
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_bool(out, "complete", !(n && kw_lack_row(rows[0].what)->bars));
        put_list("missing", rows, n, true, out);
        put_list("know", rows, n, false, out);
        kw_put_object_end(out);
        return 0;
}

struct putting {
        struct kw_reader *r;
        const struct kw_certify_wanted *wanted;
        bool complete;
        struct kw_buf *out;
        struct kw_error *err;
};

static int put_one(void *ctx, const char *code)
{
        struct putting *p = ctx;

        return put_reel(p->r, code, p->wanted, &p->complete, p->out, p->err);
}

static int answer(struct kw_ledger *ledger, struct kw_reader *r, const struct kw_certify_question *q,
                  const struct kw_certify_wanted *wanted, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_document_row *document = wanted->document;
        struct kw_head head;
        struct putting p = {r, wanted, true, out, err};
        int rc;

        kw_put_object(out, NULL);
        kw_put_string(out, "type", document->name);
        kw_put_string(out, "title", document->title);
        kw_put_string(out, "declares", document->declares);
        kw_put_bool(out, "countersigned", document->countersigned);
        kw_put_array(out, "reels");
        rc = kw_each_code(q->reels, REELS_MOST, put_one, &p, err);
        kw_put_array_end(out);
        if (rc == 0)
                rc = kw_ledger_head(ledger, &head, err);
        if (rc)
                return rc;
        kw_put_bool(out, "complete", p.complete);
        kw_put_head(out, "ledger", &head);
        kw_put_object_end(out);
        return 0;
}

int kw_answer_certifiable(struct kw_ledger *ledger, const struct kw_certify_question *q, struct kw_buf *out,
                          struct kw_error *err)
{
        const struct kw_certify_wanted wanted = {kw_document(q->type), q->replaces};
        struct kw_reader *r = NULL;
        int rc;

        if (!wanted.document)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "choice", KW_VALUES(KW_WORD("text", q->type)),
                                      "there is no inspection document of type '%.20s': 2.2, 3.1 or 3.2", q->type);
        rc = kw_reader_new(ledger, &r);
        if (rc == 0) {
                rc = answer(ledger, r, q, &wanted, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}

/* --- for a body that was refused ------------------------------------------------------------------------------ */

static int put_missing(struct kw_reader *r, const cJSON *reel, const struct kw_certify_wanted *wanted,
                       struct kw_buf *out)
{
        const struct kw_lacking_row *rows;
        const struct kw_lot_row *lot;
        struct kw_error none;
        size_t n = 0;
        int rc = kw_read_lot_named(r, reel->valuestring, &lot, &none);

        if (rc == 0)
                rc = kw_read_lacking(r, lot, wanted, &rows, &n);
        for (size_t i = 0; rc == 0 && i < n && kw_lack_row(rows[i].what)->bars; i++)
                put_lacking(&rows[i], lot->code, out);
        return rc == KW_NOT_FOUND ? 0 : rc;
}

int kw_answer_missing(struct kw_ledger *ledger, const cJSON *body, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_certify_wanted wanted = {kw_document(kw_json_text(body, "type")),
                                                 kw_json_text(body, "replaces")};
        struct kw_reader *r = NULL;
        const cJSON *reel;
        int rc = kw_reader_new(ledger, &r);

        kw_put_array(out, NULL);
        cJSON_ArrayForEach(reel, kw_json_get(body, "reels"))
        {
                if (rc == 0)
                        rc = put_missing(r, reel, &wanted, out);
        }
        kw_put_array_end(out);
        rc = r ? kw_finish(r, out, rc, err) : rc;
        kw_reader_free(r);
        return rc;
}
