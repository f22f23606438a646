/*
 * A line's feeds as records: each with the piece between two known points in which it lies.
 */
#include "layout.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define NOT_SEEN (KW_LENGTH_MAX + 1)

int kw_line_add(struct line_rows *line, struct kw_query *q, int at)
{
        if (line->n == line->cap) {
                size_t cap = line->cap ? 2 * line->cap : 64;
                struct feed_row *rows = reallocarray(line->rows, cap, sizeof(*rows));
                struct feed_rec *recs;

                if (!rows)
                        return -ENOMEM;
                line->rows = rows;
                recs = reallocarray(line->recs, cap, sizeof(*recs));
                if (!recs)
                        return -ENOMEM;
                line->recs = recs;
                line->cap = cap;
        }
        line->rows[line->n++] = (struct feed_row){.lot = kw_int(q, at),
                                                  .from = kw_int(q, at + 1),
                                                  .to = kw_int(q, at + 2),
                                                  .inner = kw_int(q, at + 3) != 0,
                                                  .v0 = kw_int(q, at + 4),
                                                  .seen = kw_is_null(q, at + 5) ? NOT_SEEN : kw_int(q, at + 5)};
        return 0;
}

struct piece {
        int64_t v0, v1, s0, s1;
        bool open;
};

static void make_rec(struct line_rows *line, size_t i, const struct piece *piece)
{
        const struct feed_row *row = &line->rows[i];
        bool far = row->to > UINT32_MAX || piece->s1 > UINT32_MAX || piece->v1 - piece->v0 > UINT32_MAX ||
                   line->shared > LINE_MOST;

        line->recs[i] = (struct feed_rec){
                .inner = row->inner,
                .open = piece->open,
                .shared = row->v0 != piece->v0 || row->to - row->from != piece->v1 - piece->v0,
                .far = far,
                .line = line->shared & LINE_MOST,
                .from = (uint32_t)row->from,
                .to = (uint32_t)row->to,
                .s0 = (uint32_t)piece->s0,
                .s1 = (uint32_t)piece->s1,
                .at = (uint32_t)(row->v0 - piece->v0),
                .length = (uint32_t)(piece->v1 - piece->v0),
        };
        if (far) { /* something that it can be found by, in order */
                line->recs[i].from = row->from > UINT32_MAX ? UINT32_MAX - 1 : (uint32_t)row->from;
                line->recs[i].to = row->to > UINT32_MAX ? UINT32_MAX : (uint32_t)row->to;
        }
}

size_t kw_line_recs(struct line_rows *line, int64_t v, int64_t s, bool open)
{
        struct piece piece = {.s0 = 0};
        bool shared = false;
        int64_t last = 0; /* s of the last known point */

        if (!v || (open && !s))
                return 0;
        for (size_t i = 0; i < line->n; i++)
                if (line->rows[i].seen != NOT_SEEN)
                        last = line->rows[i].seen;
        if (open && s <= last)
                s = last + 1;
        for (size_t i = 0, end; i < line->n; i = end) {
                for (end = i + 1; end < line->n && line->rows[end].seen == NOT_SEEN; end++)
                        ;
                piece.v1 = end < line->n ? line->rows[end].v0 : v;
                piece.s1 = end < line->n ? line->rows[end].seen : s;
                piece.open = open && end == line->n;
                for (size_t k = i; k < end; k++) {
                        make_rec(line, k, &piece);
                        shared = shared || line->recs[k].shared;
                }
                piece.v0 = piece.v1;
                piece.s0 = piece.s1;
        }
        line->shared += shared;
        return line->n;
}

void kw_line_free(struct line_rows *line)
{
        free(line->rows);
        free(line->recs);
}
