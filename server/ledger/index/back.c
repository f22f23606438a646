/*
 * Back over the index: the mirror image of forward.c. The move by the uncertainty comes first, then the division.
 */
#include "walk.h"

#include <string.h>

/* Let the hit's place in the run that made it wait for that run. */
static int enter(struct kw_walk *w, uint32_t hit, const struct pack_rec *pack, uint32_t depth)
{
        int rc;

        if (!pack)
                return 0;
        if (w->started && depth >= w->level)
                return -EBADMSG;
        rc = w->turns[pack->run] ? 0 : kw_queue_run(w, pack->run, depth);
        return rc ? rc : kw_wait(w, pack->run, pack, hit);
}

static int lay_out(struct kw_walk *w, const struct pack_rec *p, uint32_t at, uint32_t n, struct narrows *out)
{
        uint32_t length = p->s1 - p->s0;

        for (uint32_t i = 0; i < n && w->spans.at[at + i].from < length; i++) {
                struct kw_narrow span = w->spans.at[at + i];

                if (kw_narrow_add(out, p->s0 + span.from, p->s0 + (span.to < length ? span.to : length)) < 0)
                        return -ENOMEM;
        }
        return 0;
}

/* Where nothing is in doubt both are one. */
static int put_in_order(struct kw_walk *w)
{
        struct narrows *p = &w->possible, *c = &w->certain;
        bool same = p->n == c->n && memcmp(p->at, c->at, p->n * sizeof(*p->at)) == 0;

        kw_narrow_unite(p, 0);
        if (!same)
                kw_narrow_unite(c, 0);
        else if (p->n)
                memcpy(c->at, p->at, p->n * sizeof(*p->at));
        if (same)
                c->n = p->n;
        return 0;
}

static int to_output(struct kw_walk *w, uint32_t run)
{
        w->possible.n = w->certain.n = 0;
        for (uint32_t i = w->turns[run]; i; i = w->waiting[i].next) {
                const struct kw_walk_hit *h = &w->hits[w->waiting[i].hit];

                if (lay_out(w, w->waiting[i].rec, h->at_possible, h->possible, &w->possible) < 0 ||
                    lay_out(w, w->waiting[i].rec, h->at_certain, h->certain, &w->certain) < 0)
                        return -ENOMEM;
        }
        return put_in_order(w);
}

/* One span of the output that lies in the feed's piece, back to the piece's input. */
static inline struct kw_narrow unmap(const struct feed_rec *f, uint32_t ppm, struct kw_narrow s, int which)
{
        uint32_t length = f->s1 - f->s0, from = s.from, to = s.to;
        struct kw_narrow v = {0, f->length};

        if (from > f->s0) {
                uint32_t u = kw_unsure(f, ppm, from);

                from = (which == PIECES_POSSIBLE ? from - u : from + u) - f->s0;
                v.from = which == PIECES_POSSIBLE ? kw_scale_down(from, f->length, length)
                                                  : kw_scale_up(from, f->length, length);
        }
        if (to < f->s1) {
                uint32_t u = kw_unsure(f, ppm, to);

                to = (which == PIECES_POSSIBLE ? to + u : to - u) - f->s0;
                v.to = which == PIECES_POSSIBLE ? kw_scale_up(to, f->length, length)
                                                : kw_scale_down(to, f->length, length);
        }
        return v;
}

/* One span of the output, in the coordinate of the feed's lot. */
static inline int one_to_feed(struct kw_walk *w, const struct feed_rec *f, uint32_t ppm, struct kw_narrow span,
                              int which)
{
        uint32_t end = f->at + (f->to - f->from), from, to;
        struct kw_narrow v;

        if (span.to <= f->s0 || span.from >= f->s1 || (f->open && which == PIECES_CERTAIN))
                return 0;
        v = f->open ? (struct kw_narrow){0, f->length} : unmap(f, ppm, span, which);
        if (v.from >= v.to || v.to <= f->at || v.from >= end)
                return 0;
        from = (v.from > f->at ? v.from : f->at) - f->at;
        to = (v.to < end ? v.to : end) - f->at;
        return kw_narrow_add(&w->spans, f->inner ? f->from + from : f->to - to, f->inner ? f->from + to : f->to - from);
}

/* What of the output comes from the feed, in its lot's coordinate, added to the spans of hits. */
static inline int to_feed(struct kw_walk *w, const struct feed_rec *f, uint32_t ppm, const struct narrows *s, int which)
{
        uint32_t first = w->spans.n;

        if (s->n == 1)
                return one_to_feed(w, f, ppm, s->at[0], which);
        for (uint32_t i = 0; i < s->n && s->at[i].from < f->s1; i++)
                if (one_to_feed(w, f, ppm, s->at[i], which) < 0)
                        return -ENOMEM;
        if (w->spans.n - first > 1)
                kw_narrow_unite(&w->spans, first);
        return 0;
}

/* Whether the run is affected from end to end where the feed came out of it: then all of the feed is. */
static bool covers(const struct narrows *s, const struct feed_rec *f)
{
        return s->n == 1 && s->at[0].from <= f->s0 && s->at[0].to >= f->s1 && !f->open;
}

static int to_lot(struct kw_walk *w, const struct run_rec *run, const struct feed_rec *f)
{
        uint32_t possible = w->spans.n, certain, before = w->n_hits;
        const struct pack_rec *pack;
        uint32_t depth;
        int rc = f->far ? -EOVERFLOW : 0;

        if (rc == 0)
                rc = covers(&w->possible, f) ? kw_narrow_add(&w->spans, f->from, f->to)
                                             : to_feed(w, f, run->ppm, &w->possible, PIECES_POSSIBLE);
        certain = w->spans.n;
        if (rc || certain == possible)
                return rc;
        rc = covers(&w->certain, f) ? kw_narrow_add(&w->spans, f->from, f->to)
                                    : to_feed(w, f, run->ppm, &w->certain, PIECES_CERTAIN);
        pack = kw_lot_pack(w->x, f->lot);
        depth = pack ? kw_pack_depth(w->x, pack) : 0;
        if (rc == 0)
                rc = kw_hit_keep(w, f->lot, depth, possible, certain);
        return rc == 0 && w->n_hits > before ? enter(w, before, pack, depth) : rc;
}

#define AHEAD 8 /* feeds of one run lie apart: those that come next are fetched meanwhile */

static int to_lots(struct kw_walk *w, const struct run_view *run)
{
        uint32_t from = w->possible.at[0].from, to = w->possible.at[w->possible.n - 1].to, n = run->rec->feeds;
        int rc = 0;

        for (uint32_t i = 0; rc == 0 && i < n; i++) {
                const struct feed_rec *f = kw_run_feed(w->x, run, i);

                if (i + AHEAD < n)
                        __builtin_prefetch(kw_run_feed(w->x, run, i + AHEAD));
                if (f->far || (f->s0 < to && f->s1 > from))
                        rc = to_lot(w, run->rec, f);
        }
        return rc;
}

static int take(struct kw_walk *w, uint32_t run)
{
        struct run_view view = kw_run_of(w->x, run);
        int rc = view.rec->far ? -EOVERFLOW : to_output(w, run);

        w->turns[run] = 0;
        return rc || !w->possible.n ? rc : to_lots(w, &view);
}

int kw_walk_back(struct kw_walk *w)
{
        int rc = 0;

        w->n_seeds = w->n_hits;
        for (uint32_t i = 0; rc == 0 && i < w->n_seeds; i++) {
                const struct pack_rec *pack = kw_lot_pack(w->x, w->hits[i].lot);

                rc = enter(w, i, pack, pack ? kw_pack_depth(w->x, pack) : 0);
        }
        w->started = true;
        for (w->level = w->n_levels; rc == 0 && w->level-- > 0;) {
                rc = kw_level_out(w);
                for (uint32_t i = 0; rc == 0 && i < w->n_batch; i++)
                        rc = take(w, w->batch[i]);
        }
        if (rc)
                kw_walk_drop(w);
        return rc;
}
