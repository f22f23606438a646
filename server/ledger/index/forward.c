/*
 * Forward over the index: the steps of server/core/trace.c, with the same ends to the millimetre.
 *
 * A known point is a joint between feeds, so a feed lies in one piece of its line, and at the piece's ends nothing is
 * in doubt. To unite on the line's v what touches at such an end and then to map it gives the same as to map both and
 * unite on s. So only feeds that share a piece are united before they are mapped.
 */
#include "walk.h"

#include <string.h>

#define AHEAD       8 /* so many hits, or runs, that memory has time to answer */
#define FEEDS_AHEAD 4 /* more of one lot are in the same lines, mostly */

/* --- from a lot to the runs that took of it ------------------------------------------------------- */

/* Whether the feed, all of it surely affected, is all that its run's output comes from on its line. */
static bool makes_whole(const struct kw_walk *w, const struct kw_walk_hit *h, const struct feed_rec *f, uint32_t length)
{
        const struct kw_narrow *certain = &w->spans.at[h->at_certain];

        return f->s0 == 0 && f->s1 == length && !f->shared && !f->open && h->certain == 1 && certain->from <= f->from &&
               certain->to >= f->to;
}

static int put(struct kw_walk *w, uint32_t hit, const struct feed_rec *f)
{
        uint32_t *turn = &w->turns[f->run];
        const struct run_rec *run = NULL;
        int rc;

        if (*turn == WHOLE)
                return 0;
        if (!*turn) {
                run = kw_run_of(w->x, f->run).rec;
                if (f->far || run->far)
                        return -EOVERFLOW;
                if (w->started && run->depth <= w->level)
                        return -EBADMSG;
                rc = kw_queue_run(w, f->run, run->depth);
                if (rc)
                        return rc;
        }
        if (f->s0 == 0) { /* only then is it worth a look at the run */
                run = run ? run : kw_run_of(w->x, f->run).rec;
                if (makes_whole(w, &w->hits[hit], f, run->length)) {
                        *turn = WHOLE;
                        return 0;
                }
        }
        if (f->far)
                return -EOVERFLOW;
        rc = kw_wait_room(w, 1);
        if (rc == 0)
                kw_wait(w, f->run, f, hit);
        return rc;
}

static int enter(struct kw_walk *w, uint32_t hit)
{
        const struct kw_walk_hit *h = &w->hits[hit];
        const struct kw_narrow *spans = &w->spans.at[h->at_possible];
        struct feeds_view feeds = kw_feeds_of(w->x, h->lot);

        for (uint32_t i = 0; i < feeds.n; i++) {
                const struct feed_rec *f = &feeds.at[i];
                uint32_t k = 0;

                while (k < h->possible && spans[k].to <= f->from)
                        k++;
                if (k == h->possible)
                        break;
                if (spans[k].from >= f->to)
                        continue;
                int rc = put(w, hit, f);
                if (rc)
                        return rc;
        }
        return 0;
}

/* A hit's feeds, and the runs that took of it, lie anywhere: they are fetched while hits before it are entered. */
static inline void fetch_for(const struct kw_walk *w, uint32_t hit)
{
        const struct base *b = &w->x->base;

        if (hit + 3 * AHEAD < w->n_hits && w->hits[hit + 3 * AHEAD].lot < b->n_lots)
                __builtin_prefetch(&b->first[w->hits[hit + 3 * AHEAD].lot]);
        if (hit + 2 * AHEAD < w->n_hits && w->hits[hit + 2 * AHEAD].lot < b->n_lots)
                __builtin_prefetch(&b->feeds[b->first[w->hits[hit + 2 * AHEAD].lot] & ~TOUCHED]);
        if (hit + AHEAD < w->n_hits && w->hits[hit + AHEAD].lot < b->n_lots) {
                const uint32_t *first = &b->first[w->hits[hit + AHEAD].lot];
                uint32_t from = first[0] & ~TOUCHED, to = first[1] & ~TOUCHED;

                for (uint32_t i = from; i < to && i < from + FEEDS_AHEAD; i++) {
                        __builtin_prefetch(&w->turns[b->feeds[i].run]);
                        __builtin_prefetch(&b->runs[b->feeds[i].run]);
                }
        }
}

static int enter_all(struct kw_walk *w)
{
        int rc = 0;

        for (; rc == 0 && w->n_entered < w->n_hits; w->n_entered++) {
                fetch_for(w, w->n_entered);
                rc = enter(w, w->n_entered);
        }
        return rc;
}

/* --- from a lot's spans to the run's output ------------------------------------------------------- */

static int map_possible(struct narrows *out, const struct feed_rec *f, uint32_t ppm, uint32_t a, uint32_t b)
{
        uint32_t from = f->s0, to = f->s1, length = f->s1 - f->s0;

        if (a > 0) {
                from += kw_scale_down(a, length, f->length);
                from -= kw_unsure(f, ppm, from);
        }
        if (b < f->length) {
                to = f->s0 + kw_scale_up(b, length, f->length);
                to += kw_unsure(f, ppm, to);
        }
        return kw_narrow_add(out, from, to);
}

static int map_certain(struct narrows *out, const struct feed_rec *f, uint32_t ppm, uint32_t a, uint32_t b)
{
        uint32_t from = f->s0, to = f->s1, length = f->s1 - f->s0;

        if (a > 0) {
                from += kw_scale_up(a, length, f->length);
                from += kw_unsure(f, ppm, from);
        }
        if (b < f->length) {
                to = f->s0 + kw_scale_down(b, length, f->length);
                to -= kw_unsure(f, ppm, to);
        }
        return from < to ? kw_narrow_add(out, from, to) : 0;
}

static int put_aside(struct kw_walk *w, int which, const struct feed_rec *f, uint32_t a, uint32_t b)
{
        if (kw_more(&w->pieces[which], w->n_pieces[which], &w->cap_pieces[which], sizeof(struct in_piece)) < 0)
                return -ENOMEM;
        w->pieces[which][w->n_pieces[which]++] = (struct in_piece){f, a, b};
        return 0;
}

/* Spans of the lot as far as the feed took them, onto the output or among the pieces that are shared. */
static int carry(struct kw_walk *w, const struct feed_rec *f, uint32_t ppm, uint32_t at, uint32_t n, int which)
{
        for (uint32_t i = 0; i < n; i++) {
                struct kw_narrow span = w->spans.at[at + i];
                int rc;

                if (span.to <= f->from)
                        continue;
                if (span.from >= f->to)
                        break;
                span.from = span.from > f->from ? span.from : f->from;
                span.to = span.to < f->to ? span.to : f->to;
                uint32_t a = f->at + (f->inner ? span.from - f->from : f->to - span.to);
                uint32_t b = f->at + (f->inner ? span.to - f->from : f->to - span.from);

                if (f->open)
                        rc = which == PIECES_POSSIBLE ? kw_narrow_add(&w->possible, f->s0, f->s1) : 0;
                else if (f->shared)
                        rc = put_aside(w, which, f, a, b);
                else if (which == PIECES_POSSIBLE)
                        rc = map_possible(&w->possible, f, ppm, a, b);
                else
                        rc = map_certain(&w->certain, f, ppm, a, b);
                if (rc)
                        return rc;
        }
        return 0;
}

static int by_piece(const void *a, const void *b)
{
        const struct in_piece *x = a, *y = b;

        if (x->feed->line != y->feed->line)
                return x->feed->line < y->feed->line ? -1 : 1;
        if (x->feed->s0 != y->feed->s0)
                return x->feed->s0 < y->feed->s0 ? -1 : 1;
        return (x->from > y->from) - (x->from < y->from);
}

static bool same_piece(const struct in_piece *x, const struct in_piece *y)
{
        return x->feed->line == y->feed->line && x->feed->s0 == y->feed->s0;
}

/* What touches on one line and in one piece is one span. */
static int map_pieces(struct kw_walk *w, int which, uint32_t ppm)
{
        struct in_piece *p = w->pieces[which];
        uint32_t n = w->n_pieces[which];
        int rc = 0;

        w->n_pieces[which] = 0;
        if (n > 1)
                qsort(p, n, sizeof(*p), by_piece);
        for (uint32_t i = 0, end; rc == 0 && i < n; i = end) {
                uint32_t to = p[i].to;

                for (end = i + 1; end < n && same_piece(&p[i], &p[end]) && p[end].from <= to; end++)
                        to = p[end].to > to ? p[end].to : to;
                rc = which == PIECES_POSSIBLE ? map_possible(&w->possible, p[i].feed, ppm, p[i].from, to)
                                              : map_certain(&w->certain, p[i].feed, ppm, p[i].from, to);
        }
        return rc;
}

static int to_output(struct kw_walk *w, uint32_t run, uint32_t ppm)
{
        w->possible.n = w->certain.n = 0;
        for (uint32_t i = w->turns[run]; i; i = w->waiting[i].next) {
                const struct kw_walk_hit *h = &w->hits[w->waiting[i].hit];
                const struct feed_rec *f = w->waiting[i].rec;
                int rc = carry(w, f, ppm, h->at_possible, h->possible, PIECES_POSSIBLE);

                if (rc == 0)
                        rc = carry(w, f, ppm, h->at_certain, h->certain, PIECES_CERTAIN);
                if (rc)
                        return rc;
        }
        int rc = w->n_pieces[PIECES_POSSIBLE] ? map_pieces(w, PIECES_POSSIBLE, ppm) : 0;
        if (rc == 0 && w->n_pieces[PIECES_CERTAIN])
                rc = map_pieces(w, PIECES_CERTAIN, ppm);
        kw_narrow_unite(&w->possible, 0);
        kw_narrow_unite(&w->certain, 0);
        return rc;
}

/* --- from the output to the packages -------------------------------------------------------------- */

/* The part of @in from span *@at on that lies on the package, in its lot's coordinate; *@at moves to where it ends. */
static int clip(struct kw_walk *w, const struct narrows *in, uint32_t *at, const struct pack_rec *p)
{
        uint32_t i = *at;

        while (i < in->n && in->at[i].to <= p->s0)
                i++;
        *at = i;
        for (; i < in->n && in->at[i].from < p->s1; i++) {
                uint32_t from = in->at[i].from > p->s0 ? in->at[i].from : p->s0;
                uint32_t to = in->at[i].to < p->s1 ? in->at[i].to : p->s1;

                if (kw_narrow_add(&w->spans, from - p->s0, to - p->s0) < 0)
                        return -ENOMEM;
        }
        return 0;
}

/* The lot's hit when it is among the seeds, NONE otherwise: nothing else is reached from more than one run. */
static inline uint32_t seed_of(struct kw_walk *w, uint32_t lot)
{
        return lot < w->seed_least || lot > w->seed_most ? NONE : *kw_hit_slot(w, lot);
}

static int reach(struct kw_walk *w, uint32_t lot, uint32_t depth, uint32_t possible, uint32_t certain)
{
        uint32_t seed = seed_of(w, lot);
        int rc;

        if (seed == NONE)
                return kw_hit_new(w, lot, depth, possible, certain);
        rc = kw_hit_unite(w, &w->hits[seed], possible, certain);
        return rc ? rc : enter(w, seed);
}

/* The first package that ends beyond @s: packages of a run are about as long as one another. */
static uint32_t first_pack(const struct run_view *run, uint32_t s)
{
        uint32_t n = run->rec->packs, length = run->rec->length, i = 0;

        if (n && length && run->packs[0].s1 <= s) {
                i = (uint32_t)((uint64_t)(s < length ? s : length - 1) * n / length);
                while (i && run->packs[i - 1].s1 > s)
                        i--;
                while (i < n && run->packs[i].s1 <= s)
                        i++;
        }
        return i;
}

static int to_packages(struct kw_walk *w, const struct run_view *run)
{
        uint32_t p = 0, c = 0;

        if (!w->possible.n)
                return 0;
        for (uint32_t i = first_pack(run, w->possible.at[0].from); i < run->rec->packs; i++) {
                const struct pack_rec *pack = &run->packs[i];
                uint32_t possible = w->spans.n;

                if (p == w->possible.n)
                        break;
                if (pack->lot == NO_LOT)
                        continue;
                if (clip(w, &w->possible, &p, pack) < 0)
                        return -ENOMEM;
                if (w->spans.n == possible)
                        continue;
                uint32_t certain = w->spans.n;
                if (clip(w, &w->certain, &c, pack) < 0)
                        return -ENOMEM;
                int rc = reach(w, pack->lot, run->rec->depth, possible, certain);
                if (rc)
                        return rc;
        }
        return 0;
}

/* A strand is affected all along as soon as one of its wires is: then so is all that was made of it, and certainly. */
static int to_all_packages(struct kw_walk *w, const struct run_view *run)
{
        for (uint32_t i = 0; i < run->rec->packs; i++) {
                const struct pack_rec *pack = &run->packs[i];
                uint32_t end = pack->s1 < run->rec->length ? pack->s1 : run->rec->length, at = w->spans.n;
                int rc;

                if (pack->lot == NO_LOT || pack->s0 >= end)
                        continue;
                if (kw_narrow_add(&w->spans, 0, end - pack->s0) < 0 || kw_narrow_add(&w->spans, 0, end - pack->s0) < 0)
                        return -ENOMEM;
                rc = reach(w, pack->lot, run->rec->depth, at, at + 1);
                if (rc)
                        return rc;
        }
        return 0;
}

/* --- the walk ------------------------------------------------------------------------------------- */

static int take(struct kw_walk *w, uint32_t run)
{
        struct run_view view = kw_run_of(w->x, run);
        bool whole = w->turns[run] == WHOLE;
        int rc = whole ? to_all_packages(w, &view) : to_output(w, run, view.rec->ppm);

        w->turns[run] = 0;
        return rc || whole ? rc : to_packages(w, &view);
}

static int take_level(struct kw_walk *w)
{
        const struct base *b = &w->x->base;
        int rc = kw_level_out(w);

        for (uint32_t i = 0; rc == 0 && i < w->n_batch; i++) {
                if (i + AHEAD < w->n_batch && w->batch[i + AHEAD] < b->n_runs)
                        __builtin_prefetch(&b->packs[b->runs[w->batch[i + AHEAD]].pack]);
                rc = take(w, w->batch[i]);
                if (rc == 0)
                        rc = kw_walk_bound(w);
        }
        return rc ? rc : enter_all(w);
}

int kw_walk_forward(struct kw_walk *w)
{
        int rc;

        w->n_seeds = w->n_hits;
        w->n_pieces[0] = w->n_pieces[1] = 0;
        w->seed_least = NONE;
        w->seed_most = 0;
        for (uint32_t i = 0; i < w->n_seeds; i++) {
                w->seed_least = w->hits[i].lot < w->seed_least ? w->hits[i].lot : w->seed_least;
                w->seed_most = w->hits[i].lot > w->seed_most ? w->hits[i].lot : w->seed_most;
        }
        rc = enter_all(w);
        w->started = true;
        for (w->level = 0; rc == 0 && w->level < w->n_levels; w->level++)
                rc = take_level(w);
        if (rc)
                kw_walk_drop(w);
        return rc;
}
