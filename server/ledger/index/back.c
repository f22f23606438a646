/*
 * Back over the index: the mirror image of forward.c. The move by the uncertainty comes first, then the division.
 */
#include "walk.h"

#define AHEAD         8 /* so many hits, or feeds, that memory has time to answer */
#define PACKS_BY_BITS 512

/* --- from a lot to the run that made it ----------------------------------------------------------- */

/* Let the hit's place in the run that made it wait for that run. There is room. */
static inline int enter(struct kw_walk *w, uint32_t hit)
{
        const struct pack_rec *pack = kw_lot_pack(w->x, w->hits[hit].lot);
        uint32_t depth;

        if (!pack)
                return 0;
        w->hits[hit].depth = depth = kw_pack_depth(w->x, pack);
        if (w->started && depth >= w->level)
                return -EBADMSG;
        if (!w->turns[pack->run]) {
                int rc = kw_queue_run(w, pack->run, depth);

                if (rc)
                        return rc;
        }
        kw_wait(w, pack->run, pack, hit);
        return 0;
}

/* Lots of one run were made anywhere: their places are fetched while hits before them are entered. */
static inline void fetch_for(const struct kw_walk *w, uint32_t hit)
{
        const struct base *b = &w->x->base;

        if (hit + AHEAD < w->n_hits && w->hits[hit + AHEAD].lot < b->n_lots)
                __builtin_prefetch(&b->packs[b->pack_of[w->hits[hit + AHEAD].lot]]);
}

static int enter_all(struct kw_walk *w)
{
        int rc = kw_wait_room(w, w->n_hits - w->n_entered);

        for (; rc == 0 && w->n_entered < w->n_hits; w->n_entered++) {
                fetch_for(w, w->n_entered);
                rc = enter(w, w->n_entered);
        }
        return rc;
}

/* --- from lots to the output ---------------------------------------------------------------------- */

/* A lot's spans onto the output, behind those that are there; what touches the last of these is one with it. */
static inline void lay_out(const struct pack_rec *p, const struct kw_narrow *span, uint32_t n, struct narrows *out)
{
        uint32_t length = p->s1 - p->s0, kept = out->n;

        for (uint32_t i = 0; i < n && span[i].from < length; i++) {
                uint32_t from = p->s0 + span[i].from, to = p->s0 + (span[i].to < length ? span[i].to : length);

                if (kept && from <= out->at[kept - 1].to && from >= out->at[kept - 1].from)
                        out->at[kept - 1].to = to > out->at[kept - 1].to ? to : out->at[kept - 1].to;
                else
                        out->at[kept++] = (struct kw_narrow){from, to};
        }
        out->n = kept;
}

static inline int lay_out_hit(struct kw_walk *w, const struct pack_rec *p, const struct kw_walk_hit *h)
{
        if (kw_narrow_room(&w->possible, h->possible) < 0 || kw_narrow_room(&w->certain, h->certain) < 0)
                return -ENOMEM;
        lay_out(p, &w->spans.at[h->at_possible], h->possible, &w->possible);
        lay_out(p, &w->spans.at[h->at_certain], h->certain, &w->certain);
        return 0;
}

/*
 * What waits for a run came in any order and is wanted in that of the packages: of a run with few enough, each has a
 * bit, and the order is that of the bits. Return: 0; 1 when it is to be sorted instead; -ENOMEM.
 */
static int to_output_by_bits(struct kw_walk *w, uint32_t first, const struct run_view *run)
{
        uint64_t bits[PACKS_BY_BITS / 64] = {0};
        uint32_t of_hit[PACKS_BY_BITS];
        uint32_t n = run->rec->packs;

        if (n > PACKS_BY_BITS)
                return 1;
        for (uint32_t i = first; i; i = w->waiting[i].next) {
                uintptr_t at = (uintptr_t)w->waiting[i].rec - (uintptr_t)run->packs;

                if (at >= n * sizeof(struct pack_rec)) /* of the delta */
                        return 1;
                at /= sizeof(struct pack_rec);
                bits[at / 64] |= UINT64_C(1) << (at % 64);
                of_hit[at] = w->waiting[i].hit;
        }
        for (uint32_t word = 0; word < (n + 63) / 64; word++)
                for (uint64_t left = bits[word]; left; left &= left - 1) {
                        uint32_t at = word * 64 + (uint32_t)__builtin_ctzll(left);

                        if (lay_out_hit(w, &run->packs[at], &w->hits[of_hit[at]]) < 0)
                                return -ENOMEM;
                }
        return 0;
}

static int to_output(struct kw_walk *w, uint32_t first, const struct run_view *run)
{
        int rc;

        w->possible.n = w->certain.n = 0;
        rc = to_output_by_bits(w, first, run);
        if (rc <= 0)
                return rc;
        for (uint32_t i = first; i; i = w->waiting[i].next)
                if (lay_out_hit(w, w->waiting[i].rec, &w->hits[w->waiting[i].hit]) < 0)
                        return -ENOMEM;
        kw_narrow_unite(&w->possible, 0);
        kw_narrow_unite(&w->certain, 0);
        return 0;
}

/* --- from the output to the lots that it came from ------------------------------------------------ */

__extension__ typedef unsigned __int128 wide;

/*
 * A feed's piece to be gone back through. What is divided by is the same for all spans, so that it is turned over once:
 * n times the inverse, shifted, is n / length or one less (Granlund and Montgomery, Division by invariant integers
 * using multiplication, 1994), and one multiplication tells which.
 */
struct piece {
        const struct feed_rec *f;
        uint64_t length, inverse;
        uint32_t ppm;
};

static inline uint32_t divided(const struct piece *p, uint64_t n)
{
        uint64_t q = (uint64_t)((wide)n * p->inverse >> 64);

        return (uint32_t)(q + (n - q * p->length >= p->length));
}

static inline uint32_t input_down(const struct piece *p, uint32_t s)
{
        return divided(p, (uint64_t)s * p->f->length);
}

static inline uint32_t input_up(const struct piece *p, uint32_t s)
{
        return divided(p, (uint64_t)s * p->f->length + p->length - 1);
}

/*
 * One span of the output that reaches into the piece, back to the piece's input. At the piece's ends nothing is in
 * doubt and 0 and all of it come out, so that a span that goes beyond needs no branch, which would be guessed wrong
 * half of the time.
 */
static inline struct kw_narrow unmap(const struct piece *p, struct kw_narrow s, int which)
{
        const struct feed_rec *f = p->f;
        uint32_t from = s.from > f->s0 ? s.from : f->s0, to = s.to < f->s1 ? s.to : f->s1;
        uint32_t unsure_from = kw_unsure(f, p->ppm, from), unsure_to = kw_unsure(f, p->ppm, to);

        if (which == PIECES_POSSIBLE)
                return (struct kw_narrow){input_down(p, from - unsure_from - f->s0),
                                          input_up(p, to + unsure_to - f->s0)};
        return (struct kw_narrow){input_up(p, from + unsure_from - f->s0), input_down(p, to - unsure_to - f->s0)};
}

/*
 * What of the feed the @n spans come from that reach into its piece, in its lot's coordinate and order. @out has room
 * for all. Of two spans, what is before stays before, since a tolerance is less than the whole: they are united where
 * they are made. Return: how many.
 */
static inline __attribute__((always_inline)) uint32_t through(const struct piece *p, const struct kw_narrow *s,
                                                              uint32_t n, bool inner, int which, struct kw_narrow *out)
{
        const struct feed_rec *f = p->f;
        uint32_t begin = f->at, end = f->at + (f->to - f->from), kept = 0;

        for (uint32_t i = 0; i < n; i++) {
                struct kw_narrow v = unmap(p, s[inner ? i : n - 1 - i], which);

                v.from = v.from > begin ? v.from : begin;
                v.to = v.to < end ? v.to : end;
                if (v.from >= v.to)
                        continue;
                v = inner ? (struct kw_narrow){f->from + (v.from - begin), f->from + (v.to - begin)}
                          : (struct kw_narrow){f->to - (v.to - begin), f->to - (v.from - begin)};
                if (kept && v.from <= out[kept - 1].to)
                        out[kept - 1].to = v.to;
                else
                        out[kept++] = v;
        }
        return kept;
}

/* The spans of the output that reach into a piece: from first on up to end. */
struct reach {
        uint32_t first, end;
};

static inline __attribute__((always_inline)) uint32_t to_feed(const struct piece *p, const struct narrows *s,
                                                              struct reach in, int which, struct kw_narrow *out)
{
        const struct feed_rec *f = p->f;
        const struct kw_narrow *at = &s->at[in.first];

        if (in.first == in.end || (f->open && which == PIECES_CERTAIN))
                return 0;
        if (f->open || (at->from <= f->s0 && at->to >= f->s1)) { /* all of it */
                out[0] = (struct kw_narrow){f->from, f->to};
                return 1;
        }
        return f->inner ? through(p, at, in.end - in.first, true, which, out)
                        : through(p, at, in.end - in.first, false, which, out);
}

/* A lot that is a hit already is affected in more places; there is room for another one. */
static inline int put_hit(struct kw_walk *w, uint32_t lot, uint32_t possible, uint32_t certain)
{
        uint32_t *slot = kw_hit_slot(w, lot);

        if (*slot != NONE)
                return kw_hit_unite(w, &w->hits[*slot], possible, certain);
        *slot = w->n_hits;
        w->used[w->n_used++] = (uint32_t)(slot - w->slots);
        w->hits[w->n_hits++] = (struct kw_walk_hit){.lot = lot,
                                                    .at_possible = possible,
                                                    .possible = certain - possible,
                                                    .at_certain = certain,
                                                    .certain = w->spans.n - certain};
        return 0;
}

static inline int to_lot(struct kw_walk *w, uint32_t ppm, const struct feed_rec *f, struct reach possible,
                         struct reach certain)
{
        const uint32_t length = f->s1 - f->s0;
        const struct piece p = {f, length, length ? UINT64_MAX / length : 0, ppm};
        uint32_t at = w->spans.n, then;

        if (kw_narrow_room(&w->spans, possible.end - possible.first + certain.end - certain.first) < 0)
                return -ENOMEM;
        then = at + to_feed(&p, &w->possible, possible, PIECES_POSSIBLE, &w->spans.at[at]);
        if (then == at)
                return 0;
        w->spans.n = then + to_feed(&p, &w->certain, certain, PIECES_CERTAIN, &w->spans.at[then]);
        return put_hit(w, f->lot, at, then);
}

/* @in moves on to the spans that reach into [s0, s1]; what it began with ends no later. */
static inline void reach_into(const struct narrows *s, uint32_t s0, uint32_t s1, struct reach *in)
{
        const struct kw_narrow *at = s->at;
        uint32_t first = in->end - (in->end > 0), n = s->n, end;

        while (first < n && at[first].to <= s0)
                first++;
        for (end = first; end < n && at[end].from < s1; end++)
                ;
        *in = (struct reach){first, end};
}

/* The first feed that came out beyond @s, of feeds that are in turn and about as long as one another. */
static uint32_t first_feed(const struct kw_walk *w, const struct run_view *run, uint32_t s)
{
        uint32_t n = run->rec->feeds, length = run->rec->length, i = 0;

        if (n > 1 && length)
                i = (uint32_t)((uint64_t)(s < length ? s : length - 1) * n / length);
        while (i && kw_run_feed(w->x, run, i - 1)->s1 > s)
                i--;
        while (i < n && kw_run_feed(w->x, run, i)->s1 <= s)
                i++;
        return i;
}

static int to_lots(struct kw_walk *w, const struct run_view *run)
{
        uint32_t n = run->rec->feeds, s0 = 0, s1 = 0, end = w->possible.at[w->possible.n - 1].to;
        uint32_t i = run->rec->in_turn ? first_feed(w, run, w->possible.at[0].from) : 0;
        struct reach possible = {0, 0}, certain = {0, 0};
        int rc = kw_hits_room(w, n - i);

        for (; rc == 0 && i < n; i++) {
                const struct feed_rec *f = kw_run_feed(w->x, run, i);

                /* feeds of one run lie apart */
                __builtin_prefetch(kw_run_feed(w->x, run, i + AHEAD < n ? i + AHEAD : n - 1));
                if (f->far)
                        return -EOVERFLOW;
                if (f->s0 >= end) {
                        if (run->rec->in_turn)
                                break;
                        continue;
                }
                if (f->s0 != s0 || f->s1 != s1) { /* another piece than the last feed's */
                        if (f->s0 < s1)           /* of another line */
                                possible = certain = (struct reach){0, 0};
                        s0 = f->s0;
                        s1 = f->s1;
                        reach_into(&w->possible, s0, s1, &possible);
                        reach_into(&w->certain, s0, s1, &certain);
                }
                if (possible.first < possible.end)
                        rc = to_lot(w, run->rec->ppm, f, possible, certain);
        }
        return rc;
}

/* --- the walk ------------------------------------------------------------------------------------- */

static int take(struct kw_walk *w, uint32_t run)
{
        struct run_view view = kw_run_of(w->x, run);
        uint32_t first = w->turns[run];
        int rc = view.rec->far ? -EOVERFLOW : to_output(w, first, &view);

        w->turns[run] = 0;
        return rc || !w->possible.n ? rc : to_lots(w, &view);
}

static int take_level(struct kw_walk *w)
{
        int rc = kw_level_out(w);

        for (uint32_t i = 0; rc == 0 && i < w->n_batch; i++) {
                rc = take(w, w->batch[i]);
                if (rc == 0)
                        rc = kw_walk_bound(w);
        }
        return rc ? rc : enter_all(w);
}

int kw_walk_back(struct kw_walk *w)
{
        int rc;

        w->n_seeds = w->n_hits;
        rc = enter_all(w);
        w->started = true;
        for (w->level = w->n_levels; rc == 0 && w->level-- > 0;)
                rc = take_level(w);
        if (rc)
                kw_walk_drop(w);
        return rc;
}
