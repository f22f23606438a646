/*
 * Replies in pieces: what may be larger than one would hold in memory is made piece by piece, as the client takes it.
 *
 * The first piece is made before the reply begins, so that what is wrong with the question is still said as a problem;
 * when it is also the last one, the reply goes out with its length, in one.
 */
#include "server.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define PIECE_WITHIN 60000 /* ms for a client to take one piece: a long reply may take long, but not for ever */

struct pieces {
        struct kw_http *http;
        struct kw_peer *peer; /* outlives the reply */
        struct kw_source source;
        struct kw_buf piece;
        size_t given; /* of the piece */
        bool last;
};

static void free_pieces(void *cls)
{
        struct pieces *p = cls;

        kw_buf_free(&p->piece);
        p->source.free(p->source.ctx);
        free(p);
}

static int fetch(struct pieces *p, struct kw_error *err)
{
        int rc;

        kw_buf_clear(&p->piece);
        p->given = 0;
        rc = p->source.more(p->source.ctx, &p->piece, err);
        if (rc != 0 && rc != 1)
                return rc;
        p->last = rc == 0;
        return p->piece.failed ? -ENOMEM : 0;
}

static ssize_t give(void *cls, uint64_t pos, char *out, size_t max)
{
        struct pieces *p = cls;
        struct kw_error err = {0};
        size_t n;

        (void)pos;
        while (p->given == p->piece.n) {
                if (p->last)
                        return MHD_CONTENT_READER_END_OF_STREAM;
                if (fetch(p, &err)) {
                        kw_say(p->http, "a reply was broken off: %s", err.text[0] ? err.text : "no memory");
                        return MHD_CONTENT_READER_END_WITH_ERROR;
                }
                kw_peer_within(&p->http->reaper, p->peer, PIECE_WITHIN);
        }
        n = p->piece.n - p->given < max ? p->piece.n - p->given : max;
        memcpy(out, p->piece.at + p->given, n);
        p->given += n;
        return (ssize_t)n;
}

enum MHD_Result kw_reply_pieces(struct kw_request *r, const char *type, const struct kw_source *source)
{
        struct pieces *p = calloc(1, sizeof *p);
        struct kw_error err = {0};
        struct MHD_Response *response;
        enum MHD_Result result;
        int rc;

        if (!p) {
                source->free(source->ctx);
                return MHD_NO;
        }
        p->http = r->http;
        p->peer = r->peer;
        p->source = *source;
        rc = fetch(p, &err);
        if (rc || p->last) {
                result = rc ? kw_reply_problem(r, rc, &err) : kw_reply(r, MHD_HTTP_OK, type, &p->piece);
                free_pieces(p);
                return result;
        }
        response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 64 * 1024, give, p, free_pieces);
        if (!response)
                free_pieces(p);
        return kw_reply_response(r, MHD_HTTP_OK, type, response);
}
