/*
 * Everything that is sent: status, the headers that every reply carries, and problems (RFC 9457).
 */
#include "server.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define READ_WITHIN 300000 /* ms for a client to take its reply */

/* Pages get what they need from this server alone, run no inline script and stand in nobody's frame. */
#define POLICY                                                                                                \
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " \
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'; worker-src 'self'"

static const struct {
        const char *name, *value;
} always[] = {
        {"Content-Security-Policy", POLICY},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"X-Frame-Options", "DENY"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
};

void kw_reply_header(struct kw_request *r, const char *name, const char *fmt, ...)
{
        va_list ap;

        if (r->n_headers == sizeof r->header / sizeof r->header[0])
                return;
        r->header[r->n_headers].name = name;
        va_start(ap, fmt);
        vsnprintf(r->header[r->n_headers].value, sizeof r->header[0].value, fmt, ap);
        va_end(ap);
        r->n_headers++;
}

static bool add_headers(struct kw_request *r, struct MHD_Response *response, const char *type)
{
        bool stored = false, ok = true;

        for (size_t i = 0; i < sizeof always / sizeof always[0]; i++)
                ok &= MHD_add_response_header(response, always[i].name, always[i].value) == MHD_YES;
        for (size_t i = 0; i < r->n_headers; i++) {
                ok &= MHD_add_response_header(response, r->header[i].name, r->header[i].value) == MHD_YES;
                stored |= strcmp(r->header[i].name, MHD_HTTP_HEADER_CACHE_CONTROL) == 0;
        }
        /* a year without plain HTTP, for whoever came by TLS */
        if (r->http->address.tls || r->http->address.proxied)
                ok &= MHD_add_response_header(response, "Strict-Transport-Security", "max-age=31536000") == MHD_YES;
        if (!stored)
                ok &= MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL, "no-store") == MHD_YES;
        if (type)
                ok &= MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type) == MHD_YES;
        if (r->closing || atomic_load(&r->http->stopping))
                ok &= MHD_add_response_header(response, MHD_HTTP_HEADER_CONNECTION, "close") == MHD_YES;
        return ok;
}

enum MHD_Result kw_reply_response(struct kw_request *r, unsigned status, const char *type,
                                  struct MHD_Response *response)
{
        enum MHD_Result result = MHD_NO; /* cuts the connection: there is no memory to say more */

        r->stage = KW_REPLIED;
        if (!response)
                return MHD_NO;
        if (add_headers(r, response, type))
                result = MHD_queue_response(r->connection, status, response);
        MHD_destroy_response(response);
        if (result == MHD_YES) {
                kw_count_reply(r->http, status);
                kw_tell_request(r, status);
                kw_peer_within(&r->http->reaper, r->peer, READ_WITHIN);
        }
        return result;
}

enum MHD_Result kw_reply(struct kw_request *r, unsigned status, const char *type, struct kw_buf *body)
{
        struct kw_buf taken = *body;
        struct MHD_Response *response;

        *body = (struct kw_buf){0};
        if (taken.failed) {
                kw_buf_free(&taken);
                return kw_reply_problem(r, -ENOMEM, NULL);
        }
        if (!taken.n) {
                kw_buf_free(&taken);
                return kw_reply_fixed(r, status, type, "", 0);
        }
        response = MHD_create_response_from_buffer_with_free_callback(taken.n, taken.at, free);
        if (!response)
                kw_buf_free(&taken);
        return kw_reply_response(r, status, type, response);
}

enum MHD_Result kw_reply_fixed(struct kw_request *r, unsigned status, const char *type, const void *bytes, size_t n)
{
        void *at;

        memcpy(&at, &bytes, sizeof at); /* the library asks for a pointer that may write, and doesn't */
        return kw_reply_response(r, status, type, MHD_create_response_from_buffer(n, at, MHD_RESPMEM_PERSISTENT));
}

/* --- problems --------------------------------------------------------------------------------- */

/* What a sender is told of @rc. What went wrong inside is said where the operator of the server reads it, not to
 * everyone. */
static struct kw_error for_sender(struct kw_request *r, int rc, const struct kw_error *err)
{
        struct kw_error told = {0};

        if (rc == -ENOMEM) {
                kw_refuse_with(&told, KW_BUSY, NULL, "memory", NULL,
                               "there is no memory left for this now; ask for less, or again later");
        } else if (rc == -ECANCELED) {
                kw_refuse_with(&told, KW_BUSY, NULL, "stopping", NULL, "kinwire is stopping");
        } else if (rc < 0 || rc == KW_INTERNAL) {
                kw_say(r->http, "%s: %s", r->target, rc < 0 ? strerror(-rc) : err->text);
                kw_refuse_with(&told, KW_INTERNAL, NULL, "inside", NULL,
                               "something failed inside kinwire; its log says what");
        } else {
                told = *err;
                told.what = (enum kw_refusal)rc;
        }
        /* asked about, what isn't there is not found; only in a body it makes the whole thing wrong */
        if (!r->intake && told.what >= KW_UNKNOWN_LOT && told.what <= KW_UNKNOWN_ENTRY)
                told.what = KW_NOT_FOUND;
        return told;
}

enum MHD_Result kw_reply_problem(struct kw_request *r, int rc, const struct kw_error *err)
{
        return kw_reply_problem_with(r, rc, err, NULL, NULL);
}

enum MHD_Result kw_reply_problem_with(struct kw_request *r, int rc, const struct kw_error *err, const char *member,
                                      const char *json)
{
        struct kw_error told = for_sender(r, rc, err);
        const struct kw_refusal_row *row = kw_refusal_row(told.what);
        struct kw_buf body = {0};
        char type[96];

        snprintf(type, sizeof type, "https://kinwire.example/problems/%s", row->slug);
        kw_put_object(&body, NULL);
        kw_put_string(&body, "type", type);
        kw_put_string(&body, "title", row->title);
        kw_put_int(&body, "status", row->status);
        kw_put_string(&body, "detail", told.text);
        if (r->intake || r->form)
                kw_put_string(&body, "pointer", told.pointer);
        if (told.said.as || told.said.n)
                kw_put_said(&body, "values", &told.said);
        if (json)
                kw_put_raw(&body, member, json);
        if (told.line)
                kw_put_int(&body, "line", (int64_t)told.line);
        kw_put_object_end(&body);
        atomic_fetch_add(&r->http->figures.refused[told.what], 1);
        if (told.what == KW_BUSY || told.what == KW_TOO_MANY || told.what == KW_LOCKED)
                kw_reply_header(r, MHD_HTTP_HEADER_RETRY_AFTER, "%lld", r->retry_after ? (long long)r->retry_after : 1);
        if (body.failed) {
                kw_buf_free(&body);
                return MHD_NO;
        }
        return kw_reply(r, (unsigned)row->status, "application/problem+json", &body);
}
