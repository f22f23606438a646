/*
 * Back over the index: the mirror image of forward.c. The move by the uncertainty comes first, then the division.
 */
#include "walk.h"

#include <string.h>

static int enter(struct kw_walk *w, uint32_t hit)
{
        const struct pack_rec *pack = kw_lot_pack(w->x, w->hits[hit].lot);

        if (!pack)
                return 0;
        const struct run_rec *run = kw_run_of(w->x, pack->run).rec;
        if (run->far)
                return -EOVERFLOW;
        if (w->started && run->depth >= w->level)
                return -EBADMSG;
        int rc = w->turns[pack->run].first ? 0 : kw_queue_run(w, pack->run, run->depth);
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

static int to_output(struct kw_walk *w, uint32_t run)
{
        w->possible.n = w->certain.n = 0;
        for (uint32_t i = w->turns[run].first; i; i = w->waiting[i].next) {
                const struct kw_walk_hit *h = &w->hits[w->waiting[i].hit];

                if (lay_out(w, w->waiting[i].rec, h->at_possible, h->possible, &w->possible) < 0 ||
                    lay_out(w, w->waiting[i].rec, h->at_certain, h->certain, &w->certain) < 0)
                        return -ENOMEM;
        }
        kw_narrow_unite(&w->possible, 0);
        kw_narrow_unite(&w->certain, 0);
        return 0;
}

/* One span of the output that lies in the feed's piece, back to the piece's input. */
static struct kw_narrow unmap(const struct feed_rec *f, uint32_t ppm, struct kw_narrow s, int which)
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

/* What of the output comes from the feed, in its lot's coordinate, added to the spans of hits. */
static int to_feed(struct kw_walk *w, const struct feed_rec *f, uint32_t ppm, const struct narrows *s, int which)
{
        uint32_t first = w->spans.n, end = f->at + (f->to - f->from);

        for (uint32_t i = 0; i < s->n && s->at[i].from < f->s1; i++) {
                struct kw_narrow span = s->at[i];

                if (span.to <= f->s0 || (f->open && which == PIECES_CERTAIN))
                        continue;
                span.from = span.from > f->s0 ? span.from : f->s0;
                span.to = span.to < f->s1 ? span.to : f->s1;
                struct kw_narrow v = f->open ? (struct kw_narrow){0, f->length} : unmap(f, ppm, span, which);
                if (v.from >= v.to || v.to <= f->at || v.from >= end)
                        continue;
                uint32_t from = (v.from > f->at ? v.from : f->at) - f->at, to = (v.to < end ? v.to : end) - f->at;
                if (kw_narrow_add(&w->spans, f->inner ? f->from + from : f->to - to,
                                  f->inner ? f->from + to : f->to - from) < 0)
                        return -ENOMEM;
        }
        kw_narrow_unite(&w->spans, first);
        return 0;
}

static int to_lots(struct kw_walk *w, const struct run_view *run)
{
        for (uint32_t i = 0; i < run->rec->feeds; i++) {
                const struct feed_rec *f = kw_run_feed(w->x, run, i);
                uint32_t possible = w->spans.n, before = w->n_hits;
                int rc = f->far ? -EOVERFLOW : to_feed(w, f, run->rec->ppm, &w->possible, PIECES_POSSIBLE);

                if (rc == 0 && w->spans.n == possible)
                        continue;
                uint32_t certain = w->spans.n;
                if (rc == 0)
                        rc = to_feed(w, f, run->rec->ppm, &w->certain, PIECES_CERTAIN);
                const struct pack_rec *pack = kw_lot_pack(w->x, f->lot);
                if (rc == 0)
                        rc = kw_hit_keep(w, f->lot, pack ? kw_run_of(w->x, pack->run).rec->depth : 0, possible,
                                         certain);
                if (rc == 0 && w->n_hits > before)
                        rc = enter(w, before);
                if (rc)
                        return rc;
        }
        return 0;
}

static int take(struct kw_walk *w, uint32_t run)
{
        struct run_view view = kw_run_of(w->x, run);
        int rc = to_output(w, run);

        w->turns[run].first = 0;
        return rc || !w->possible.n ? rc : to_lots(w, &view);
}

int kw_walk_back(struct kw_walk *w)
{
        int rc = 0;

        w->n_seeds = w->n_hits;
        for (uint32_t i = 0; rc == 0 && i < w->n_seeds; i++)
                rc = enter(w, i);
        w->started = true;
        for (w->level = w->n_levels; rc == 0 && w->level-- > 0;) {
                while (rc == 0 && w->levels[w->level]) {
                        uint32_t run = w->levels[w->level] - 1;

                        w->levels[w->level] = w->turns[run].next;
                        rc = take(w, run);
                }
        }
        if (rc)
                kw_walk_drop(w);
        return rc;
}
