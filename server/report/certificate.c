/*
 * Certificates: what each says, what became of it, and the proof of its entry.
 */
#include "put.h"

#include "ledger/read/certify.h"

static void put_mark(const struct kw_mark_row *mark, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "mark", kw_mark_text(mark->what));
        kw_put_int(out, "entry", mark->seq);
        kw_put_time(out, "at", mark->at);
        kw_put_string(out, "by", mark->by);
        kw_put_object(out, "about");
        kw_put_string(out, "type", mark->type);
        kw_put_string(out, "code", mark->code);
        kw_put_object_end(out);
        kw_put_string(out, "text", mark->text);
        kw_put_number(out, "cleared", mark->cleared ? mark->cleared : KW_NONE);
        kw_put_object_end(out);
}

void kw_put_marks(struct kw_buf *out, const struct kw_certificate_whole_row *c)
{
        kw_put_array(out, "marks");
        for (size_t i = 0; i < c->n_marks; i++)
                put_mark(&c->marks[i], out);
        kw_put_array_end(out);
}

static void put_withdrawal(const struct kw_certificate_whole_row *c, struct kw_buf *out)
{
        if (!c->withdrawn_seq) {
                kw_put_null(out, "withdrawn");
                return;
        }
        kw_put_object(out, "withdrawn");
        kw_put_time(out, "at", c->withdrawn);
        kw_put_string(out, "by", c->withdrawn_by);
        kw_put_string(out, "reason", c->withdrawn_reason);
        kw_put_int(out, "entry", c->withdrawn_seq);
        kw_put_object_end(out);
}

static void put_clearings(const struct kw_certificate_whole_row *c, struct kw_buf *out)
{
        kw_put_array(out, "cleared");
        for (size_t i = 0; i < c->n_clearings; i++) {
                kw_put_object(out, NULL);
                kw_put_int(out, "entry", c->clearings[i].seq);
                kw_put_time(out, "at", c->clearings[i].at);
                kw_put_string(out, "by", c->clearings[i].by);
                kw_put_string(out, "reason", c->clearings[i].reason);
                kw_put_raw(out, "holds", c->clearings[i].holds ? c->clearings[i].holds : "null");
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

void kw_put_certificate(struct kw_buf *out, const struct kw_certificate_whole_row *c)
{
        kw_put_string(out, "certificate", c->code);
        kw_put_string(out, "type", c->type);
        kw_put_string(out, "title", kw_document(c->type)->title);
        kw_put_string(out, "state", kw_certificate_is_text(c->is));
        kw_put_time(out, "at", c->at);
        kw_put_string(out, "by", c->by);
        kw_put_int(out, "entry", c->seq);
        kw_put_string(out, "replaces", c->replaces);
        kw_put_string(out, "replaced_by", c->replaced_by);
        put_withdrawal(c, out);
        kw_put_array(out, "reels");
        for (size_t i = 0; i < c->n_reels; i++)
                kw_put_string(out, NULL, c->reels[i]->code);
        kw_put_array_end(out);
        kw_put_marks(out, c);
        put_clearings(c, out);
}

/* --- one ------------------------------------------------------------------------------------------------ */

/* The proof that the entry is under the head that it made: the same whenever it is asked for. */
static int put_first_proof(struct kw_ledger *ledger, int64_t seq, struct kw_buf *out, struct kw_error *err)
{
        struct kw_buf proof = {0};
        int rc = kw_answer_inclusion(ledger, seq, seq, &proof, err);

        if (rc == 0)
                kw_put_raw(out, "proof", kw_buf_text(&proof));
        out->failed = out->failed || proof.failed;
        kw_buf_free(&proof);
        return rc;
}

static int answer(struct kw_ledger *ledger, struct kw_reader *r, const char *code, struct kw_buf *out,
                  struct kw_error *err)
{
        const struct kw_certificate_whole_row *c;
        struct kw_head head;
        int rc = kw_read_certificate(r, code, &c, err);

        if (rc == 0)
                rc = kw_ledger_head(ledger, &head, err);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_certificate(out, c);
        kw_put_string(out, "statement", c->statement);
        kw_put_raw(out, "document", c->document ? c->document : "null");
        rc = put_first_proof(ledger, c->body_seq, out, err);
        kw_put_head(out, "ledger", &head);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_certificate(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer(ledger, r, code, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}

/* --- many ------------------------------------------------------------------------------------------------ */

int kw_answer_certificates(struct kw_ledger *ledger, int64_t before, int64_t limit, bool marked, struct kw_buf *out,
                           struct kw_error *err)
{
        const struct kw_certificate_whole_row *const *rows = NULL;
        struct kw_reader *r = NULL;
        int64_t next = 0;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0)
                rc = kw_read_certificates(r, before, (size_t)limit, marked, &rows, &n, &next);
        kw_put_object(out, NULL);
        kw_put_array(out, "certificates");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_certificate(out, rows[i]);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_number(out, "next", next ? next : KW_NONE);
        kw_put_object_end(out);
        rc = r ? kw_finish(r, out, rc, err) : rc;
        kw_reader_free(r);
        return rc;
}

struct naming {
        struct kw_reader *r;
        struct kw_buf *out;
        struct kw_error *err;
};

static int put_named(void *ctx, const char *code)
{
        struct naming *n = ctx;
        const struct kw_certificate_whole_row *c;
        int rc = kw_read_certificate(n->r, code, &c, n->err);

        if (rc)
                return rc;
        kw_put_object(n->out, NULL);
        kw_put_certificate(n->out, c);
        kw_put_object_end(n->out);
        return 0;
}

int kw_answer_certificates_named(struct kw_ledger *ledger, const char *codes, size_t most, struct kw_buf *out,
                                 struct kw_error *err)
{
        struct naming n = {.out = out, .err = err};
        int rc = kw_reader_new(ledger, &n.r);

        kw_put_object(out, NULL);
        kw_put_array(out, "certificates");
        if (rc == 0)
                rc = kw_each_code(codes, most, put_named, &n, err);
        kw_put_array_end(out);
        kw_put_null(out, "next");
        kw_put_object_end(out);
        rc = n.r ? kw_finish(n.r, out, rc, err) : rc;
        kw_reader_free(n.r);
        return rc;
}
