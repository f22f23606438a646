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
#include <poll.h>
#include <stdlib.h>

struct export
{
        struct kw_http *http;
        struct kw_peer *peer;
        struct kw_ledger *ledger;
        struct kw_export *export;
};

static void free_export(void *ctx)
{
        struct export *x = ctx;

        kw_export_end(x->export);
        kw_peer_views(&x->http->reaper, x->peer, false);
        if (x->ledger) {
                kw_ledger_while(x->ledger, NULL, NULL);
                kw_reader_give(x->http, x->ledger);
        }
        free(x);
}

static bool wanted(void *ctx)
{
        const struct export *x = ctx;
        struct pollfd client = {.fd = x->peer ? x->peer->fd : -1, .events = POLLRDHUP};

        return !atomic_load(&x->http->stopping) && poll(&client, 1, 0) <= 0;
}

static int more_of_export(void *ctx, struct kw_buf *out, struct kw_error *err)
{
        return kw_export_next(((struct export *)ctx)->export, out, err);
}

static int begin(struct kw_request *r, struct export *x, struct kw_scope *scope, const struct kw_export_form **form,
                 struct kw_error *err)
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
        *form = kw_export_form_named(as ? as : "");
        if (!*form)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", as ? as : "")),
                                      "\"as\" is one of entries, csv, epcis, prov, report, genealogy and pack");
        rc = kw_scope_read(&words, scope, err);
        if (!rc)
                rc = kw_reader_take_then(r, &x->ledger, err);
        if (rc)
                return rc;
        kw_ledger_while(x->ledger, wanted, x);
        scope->question.most = KW_TRACE_MOST;
        return kw_export_start(x->ledger, scope, *form, &x->export, err);
}

enum MHD_Result kw_answer_export(struct kw_request *r)
{
        struct export *x = calloc(1, sizeof *x);
        const struct kw_export_form *form = NULL;
        struct kw_error err = {0};
        struct kw_scope scope;
        int rc = -ENOMEM;

        if (x) {
                x->http = r->http;
                x->peer = r->peer;
                kw_peer_views(&r->http->reaper, r->peer, true);
                rc = begin(r, x, &scope, &form, &err);
        }
        if (rc) {
                if (x)
                        free_export(x);
                if (rc == -EINPROGRESS)
                        return kw_reply_on_its_way(r);
                return kw_reply_problem(r, rc, &err);
        }
        kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "attachment; filename=\"%s.%s\"", scope.name,
                        form->ending);
        return kw_reply_pieces(r, form->media, &(struct kw_source){more_of_export, free_export, x});
}
