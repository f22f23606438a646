/*
 * Answers that may be very large: a trace, and the stored entries.
 *
 * A trace is computed once and held; its text is made as the client takes it. Stored entries are read in batches by
 * number, each in a view of its own, so that a slow client never keeps a view open (the ledger's file would grow behind
 * it).
 */
#include "server.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define BATCH       500
#define BATCH_BYTES ((size_t)256 * 1024)

/* --- a trace ---------------------------------------------------------------------------------- */

struct kw_tracing {
        struct kw_wish wish;
        struct kw_ledger *ledger; /* until it was asked */
        struct kw_question question;
        struct kw_error err;
        int rc;
        struct kw_trace_answer *answer;
        struct kw_trace_writer writer;
        char after[KW_CODE_MAX + 1];
};

void kw_tracing_free(struct kw_tracing *t)
{
        if (!t)
                return;
        kw_trace_answer_free(t->answer);
        if (t->ledger)
                kw_reader_give(t->wish.http, t->ledger);
        free(t);
}

static void free_trace(void *ctx)
{
        kw_tracing_free(ctx);
}

static int more_of_trace(void *ctx, struct kw_buf *out, struct kw_error *err)
{
        struct kw_tracing *t = ctx;

        (void)err;
        return kw_trace_write(&t->writer, out);
}

static int read_question(const struct kw_request *r, struct kw_question *q, struct kw_error *err)
{
        const char *origin = kw_request_query(r, "origin");
        int rc;

        if (!origin)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter", KW_VALUES(KW_WORD("parameter", "origin")),
                                      "\"origin\" says what to trace from, as in heat:H1");
        rc = kw_question_read(origin, kw_request_query(r, "direction"), q, err);
        if (rc)
                return rc;
        q->most = KW_TRACE_MOST;
        q->part = kw_request_query(r, "from_mm") || kw_request_query(r, "to_mm");
        if (q->part && !(kw_request_query(r, "from_mm") && kw_request_query(r, "to_mm")))
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "together",
                                      KW_VALUES(KW_WORD("a", "from_mm"), KW_WORD("b", "to_mm")),
                                      "\"from_mm\" and \"to_mm\" go together");
        q->window = kw_request_query(r, "since") || kw_request_query(r, "until");
        rc = kw_request_int(r, "from_mm", 0, KW_JSON_INT_MAX, 0, &q->from_mm, err);
        if (!rc)
                rc = kw_request_int(r, "to_mm", 0, KW_JSON_INT_MAX, 0, &q->to_mm, err);
        if (!rc)
                rc = kw_request_time(r, "since", INT64_MIN, &q->since, err);
        if (!rc)
                rc = kw_request_time(r, "until", INT64_MAX, &q->until, err);
        return rc;
}

static int read_page(const struct kw_request *r, struct kw_tracing *t, struct kw_error *err)
{
        const char *after = kw_request_query(r, "after");
        int64_t limit;
        int rc = kw_request_int(r, "limit", 1, KW_JSON_INT_MAX, 0, &limit, err);

        if (!rc && after && *after) {
                rc = kw_request_code(after, "parameter \"after\"", t->after, err);
                t->writer.after = t->after;
        }
        t->writer.limit = (size_t)limit;
        return rc;
}

static int read_all(struct kw_request *r, struct kw_tracing *t, struct kw_error *err)
{
        int rc = read_question(r, &t->question, err);

        if (!rc)
                rc = read_page(r, t, err);
        return rc ? rc : kw_reader_take_then(r, &t->ledger, err);
}

static void ask(void *ctx)
{
        struct kw_tracing *t = ctx;

        kw_ledger_while(t->ledger, kw_still_wanted, &t->wish);
        t->rc = kw_trace_ask(t->ledger, &t->question, &t->answer, &t->err);
        kw_ledger_while(t->ledger, NULL, NULL);
        kw_reader_give(t->wish.http, t->ledger);
        t->ledger = NULL;
        t->writer.answer = t->answer;
}

/* What lay in a machine or was measured with an instrument is found run by run: of its whole life that takes seconds.
 */
static bool takes_long(const struct kw_question *q)
{
        return strcmp(q->type, "machine") == 0 || strcmp(q->type, "instrument") == 0;
}

/* A name for a file out of what was asked: a code's "/" can't be in one. */
static void name_file(struct kw_request *r, const struct kw_question *q)
{
        static const char *const directions[] = {[KW_FORWARD] = "forward", [KW_BACK] = "back", [KW_KIN] = "kin"};
        char code[KW_CODE_MAX + 1];

        memcpy(code, q->code, sizeof code);
        for (char *slash; (slash = strchr(code, '/'));)
                *slash = '-';
        kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "attachment; filename=\"trace-%s-%s-%s.csv\"", q->type,
                        code, directions[q->direction]);
}

static enum MHD_Result reply(struct kw_request *r)
{
        struct kw_tracing *t = r->tracing;

        if (t->rc)
                return kw_reply_problem(r, t->rc, &t->err);
        r->tracing = NULL;
        t->writer.as = kw_request_wants_csv(r) ? KW_AS_CSV : KW_AS_JSON;
        if (t->writer.as == KW_AS_CSV)
                name_file(r, &t->question);
        return kw_reply_pieces(
                r, t->writer.as == KW_AS_CSV ? "text/csv; charset=utf-8; header=present" : "application/json",
                &(struct kw_source){more_of_trace, free_trace, t});
}

enum MHD_Result kw_answer_trace(struct kw_request *r)
{
        struct kw_tracing *t = calloc(1, sizeof *t);
        struct kw_error err = {0};
        int rc;

        kw_reply_header(r, MHD_HTTP_HEADER_VARY, MHD_HTTP_HEADER_ACCEPT);
        if (!t)
                return kw_reply_problem(r, -ENOMEM, NULL);
        t->wish = (struct kw_wish){r->http, r->peer};
        r->tracing = t;
        rc = read_all(r, t, &err);
        if (rc == -EINPROGRESS)
                return kw_reply_on_its_way(r);
        if (rc)
                return kw_reply_problem(r, rc, &err);
        if (takes_long(&t->question))
                return kw_aside(r, ask, t, reply);
        ask(t);
        return reply(r);
}

/* --- the stored entries ----------------------------------------------------------------------- */

struct stored {
        struct kw_http *http;
        int64_t after, left; /* entries */
        struct kw_buf *out;
};

static int put_entry(void *ctx, const struct kw_stored *e)
{
        struct stored *s = ctx;

        kw_buf_text_add(s->out, e->leaf);
        kw_buf_add(s->out, "\n", 1);
        s->after = e->seq;
        s->left--;
        return s->out->n >= BATCH_BYTES ? -EAGAIN : 0; /* enough for one piece */
}

static int more_of_stored(void *ctx, struct kw_buf *out, struct kw_error *err)
{
        struct stored *s = ctx;
        int64_t asked = s->left < BATCH ? s->left : BATCH, before = s->left;
        struct kw_ledger *ledger;
        int rc = kw_reader_take(s->http, &ledger, err);

        if (rc)
                return rc;
        s->out = out;
        rc = kw_ledger_entries(ledger, s->after, asked, put_entry, s, err);
        kw_reader_give(s->http, ledger);
        if (rc == -EAGAIN)
                return s->left > 0;
        return rc ? rc : s->left > 0 && before - s->left == asked;
}

enum MHD_Result kw_answer_stored(struct kw_request *r)
{
        struct stored *s = calloc(1, sizeof *s);
        struct kw_error err = {0};
        int rc = s ? kw_request_int(r, "after", 0, INT64_MAX, 0, &s->after, &err) : -ENOMEM;

        if (!rc)
                rc = kw_request_int(r, "limit", 1, KW_JSON_INT_MAX, KW_JSON_INT_MAX, &s->left, &err);
        if (rc) {
                free(s);
                return kw_reply_problem(r, rc, &err);
        }
        s->http = r->http;
        return kw_reply_pieces(r, "application/x-ndjson", &(struct kw_source){more_of_stored, free, s});
}
