/*
 * What leaves the mill, over HTTP.
 *
 * An export is one view of the ledger from its first byte to its last, so that it holds together. The view is kept
 * while the client takes the pieces; each has to be taken within its time (pieces.c), and all of them sooner when the
 * write-ahead log grows long behind the view (reaper.c), so that none keeps it for ever. What an export is to hold may
 * take minutes to gather, so it is given up when its client was cut or hung up meanwhile, and when the server stops.
 */
#include "server.h"

#include "kinwire/export.h"

#include <errno.h>
#include <stdlib.h>

struct kw_exporting {
        struct kw_wish wish;
        struct kw_ledger *ledger;
        struct kw_scope scope;
        const struct kw_export_form *form;
        struct kw_export *export;
        /* of the beginning, until it was handed over: */
        struct kw_buf first;
        struct kw_error err;
        int rc;
        bool begun, more;
};

void kw_exporting_free(struct kw_exporting *x)
{
        if (!x)
                return;
        kw_export_end(x->export);
        kw_peer_views(&x->wish.http->reaper, x->wish.peer, false);
        if (x->ledger) {
                kw_ledger_while(x->ledger, NULL, NULL);
                kw_reader_give(x->wish.http, x->ledger);
        }
        kw_buf_free(&x->first);
        free(x);
}

static void free_export(void *ctx)
{
        kw_exporting_free(ctx);
}

/* What it is to hold, and its first bytes. */
static void begin(void *ctx)
{
        struct kw_exporting *x = ctx;
        int more = 1;

        x->rc = kw_export_start(x->ledger, &x->scope, x->form, &x->export, &x->err);
        while (x->rc == 0 && more == 1 && !x->first.n) {
                more = kw_export_next(x->export, &x->first, &x->err);
                if (more != 0 && more != 1)
                        x->rc = more;
        }
        x->begun = true;
        x->more = more == 1;
}

static int more_of_export(void *ctx, struct kw_buf *out, struct kw_error *err)
{
        struct kw_exporting *x = ctx;

        if (!x->begun)
                return kw_export_next(x->export, out, err);
        x->begun = false;
        kw_buf_add(out, kw_buf_text(&x->first), x->first.n);
        kw_buf_free(&x->first);
        return x->more;
}

static enum MHD_Result reply(struct kw_request *r)
{
        struct kw_exporting *x = r->exporting;

        if (x->rc)
                return kw_reply_problem(r, x->rc, &x->err);
        r->exporting = NULL;
        kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "attachment; filename=\"%s.%s\"", x->scope.name,
                        x->form->ending);
        return kw_reply_pieces(r, x->form->media, &(struct kw_source){more_of_export, free_export, x});
}

static int read_question(struct kw_request *r, struct kw_exporting *x, struct kw_error *err)
{
        const struct kw_scope_words words = {.origin = kw_request_query(r, "origin"),
                                             .direction = kw_request_query(r, "direction"),
                                             .since = kw_request_query(r, "since"),
                                             .until = kw_request_query(r, "until"),
                                             .from_mm = kw_request_query(r, "from_mm"),
                                             .to_mm = kw_request_query(r, "to_mm"),
                                             .names = r->http->names};
        const char *as = kw_request_query(r, "as");
        int rc;

        if (!words.origin)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter", KW_VALUES(KW_WORD("parameter", "origin")),
                                      "\"origin\" says what to export, as in lot:RL-0001, month:2026-09 or all");
        x->form = kw_export_form_named(as ? as : "");
        if (!x->form)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", as ? as : "")),
                                      "\"as\" is one of entries, csv, epcis, prov, report, genealogy and pack");
        rc = kw_scope_read(&words, &x->scope, err);
        if (!rc)
                rc = kw_reader_take_then(r, &x->ledger, err);
        if (rc)
                return rc;
        kw_ledger_while(x->ledger, kw_still_wanted, &x->wish);
        x->scope.question.most = KW_TRACE_MOST;
        return 0;
}

enum MHD_Result kw_answer_export(struct kw_request *r)
{
        struct kw_exporting *x = calloc(1, sizeof *x);
        struct kw_error err = {0};
        int rc;

        if (!x)
                return kw_reply_problem(r, -ENOMEM, NULL);
        x->wish = (struct kw_wish){r->http, r->peer};
        r->exporting = x;
        kw_peer_views(&r->http->reaper, r->peer, true);
        rc = read_question(r, x, &err);
        if (rc == -EINPROGRESS)
                return kw_reply_on_its_way(r);
        if (rc)
                return kw_reply_problem(r, rc, &err);
        return kw_aside(r, begin, x, reply);
}
