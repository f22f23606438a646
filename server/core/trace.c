/*
 * The trace: spans carried from lot to lot through the runs that took or made them.
 *
 *   forward   lots --feeds--> lines, united --map--> output, united over the lines --packages--> lots
 *   back      lots --packages--> output, united --map--> each line --feeds--> lots
 *
 * A run is taken when all its inputs (back: all its outputs) have their final spans. Depth gives that order: a run is
 * deeper than every run that made one of its inputs. Certain and possible go side by side and never mix.
 */
#include "kinwire/trace.h"

#include "queue.h"

#include <errno.h>

struct walk;

/* The two things in which one kind of walk differs from another. */
struct direction {
        int (*enter)(struct walk *w, struct kw_hit *hit);      /* puts the runs that follow a hit into the queue */
        int (*take)(struct walk *w, const struct kw_run *run); /* carries the hits through one run */
};

struct walk {
        const struct direction *direction;
        const struct kw_genealogy *g;
        const struct kw_hits *within;
        struct kw_hits *hits;
        struct kw_queue todo;
        bool started;                      /* whether a run is being taken; before that, hits of any depth may enter */
        struct kw_reach line, output, lot; /* spans on v, on s, on a lot: kept to save memory being asked for again */
};

static void reach_clear(struct kw_reach *r)
{
        kw_spans_clear(&r->certain);
        kw_spans_clear(&r->possible);
}

static void reach_unite(struct kw_reach *r)
{
        kw_spans_unite(&r->certain);
        kw_spans_unite(&r->possible);
}

static int reach_clip(const struct kw_reach *in, int64_t from, int64_t to, int64_t shift, struct kw_reach *out)
{
        int r = kw_spans_clip(&in->certain, from, to, shift, &out->certain);

        return r < 0 ? r : kw_spans_clip(&in->possible, from, to, shift, &out->possible);
}

static bool outside(const struct walk *w, int64_t lot)
{
        return w->within && !kw_hits_find(w->within, lot);
}

static int put(struct walk *w, uint32_t rank, int64_t run, struct kw_hit *hit)
{
        /* a store in which depth does not rise from run to run would be walked wrongly, or for ever */
        if (w->started && rank <= w->todo.rank)
                return -EBADMSG;
        return kw_queue_put(&w->todo, (struct kw_turn){rank, run, hit});
}

/* What was found on one lot: unites it into the hits and puts the runs that follow into the queue. */
static int found(struct walk *w, int64_t lot, uint32_t depth)
{
        struct kw_hit *hit;
        int r = kw_hits_unite(w->hits, lot, &w->lot.certain, &w->lot.possible, &hit);

        if (r < 0)
                return r;
        hit->depth = depth;
        return w->direction->enter(w, hit);
}

/* --- forward ---------------------------------------------------------------------------------- */

static int enter_users(struct walk *w, struct kw_hit *hit)
{
        const struct kw_use *uses;
        size_t n;
        int r = w->g->uses(w->g->ctx, hit->lot, &uses, &n);

        for (size_t i = 0; r == 0 && i < n; i++)
                if (kw_spans_meets(&hit->reach.possible, uses[i].from, uses[i].to))
                        r = put(w, uses[i].depth, uses[i].run, hit);
        return r;
}

static int feeds_to_line(struct walk *w, const struct kw_line *line)
{
        reach_clear(&w->line);
        for (size_t i = 0; i < line->n_feeds; i++) {
                const struct kw_feed *feed = &line->feeds[i];
                const struct kw_hit *hit = kw_queue_hit(&w->todo, feed->lot);
                int r = 0;

                if (hit)
                        r = kw_feed_to_line(feed, &hit->reach.certain, &w->line.certain);
                if (hit && r == 0)
                        r = kw_feed_to_line(feed, &hit->reach.possible, &w->line.possible);
                if (r < 0)
                        return r;
        }
        reach_unite(&w->line);
        return 0;
}

static int line_to_output(struct walk *w, const struct kw_run *run, const struct kw_line *line)
{
        int r = kw_map_forward(line, run->tolerance_ppm, &w->line.certain, KW_CERTAIN, &w->output.certain);

        if (r < 0)
                return r;
        return kw_map_forward(line, run->tolerance_ppm, &w->line.possible, KW_POSSIBLE, &w->output.possible);
}

static int output_to_packages(struct walk *w, const struct kw_run *run)
{
        for (size_t i = 0; i < run->n_packages; i++) {
                const struct kw_package *p = &run->packages[i];

                if (p->lot == 0 || outside(w, p->lot))
                        continue;
                reach_clear(&w->lot);
                int r = reach_clip(&w->output, p->s0, p->s1, p->s0, &w->lot);
                if (r == 0 && w->lot.possible.n)
                        r = found(w, p->lot, run->depth);
                if (r < 0)
                        return r;
        }
        return 0;
}

static int take_forward(struct walk *w, const struct kw_run *run)
{
        reach_clear(&w->output);
        for (size_t i = 0; i < run->n_lines; i++) {
                int r = feeds_to_line(w, &run->lines[i]);

                if (r == 0)
                        r = line_to_output(w, run, &run->lines[i]);
                if (r < 0)
                        return r;
        }
        reach_unite(&w->output);
        return output_to_packages(w, run);
}

/* --- back ------------------------------------------------------------------------------------- */

/* Back, the deepest run comes first. */
static uint32_t rank_back(uint32_t depth)
{
        return UINT32_MAX - depth;
}

static int enter_maker(struct walk *w, struct kw_hit *hit)
{
        int64_t run;
        int r = w->g->maker(w->g->ctx, hit->lot, &run, &hit->depth);

        if (r == 0 && run != 0)
                r = put(w, rank_back(hit->depth), run, hit);
        return r;
}

static int packages_to_output(struct walk *w, const struct kw_run *run)
{
        reach_clear(&w->output);
        for (size_t i = 0; i < run->n_packages; i++) {
                const struct kw_package *p = &run->packages[i];
                const struct kw_hit *hit = kw_queue_hit(&w->todo, p->lot);
                int r = hit ? reach_clip(&hit->reach, 0, p->s1 - p->s0, -p->s0, &w->output) : 0;

                if (r < 0)
                        return r;
        }
        reach_unite(&w->output);
        return 0;
}

static int output_to_line(struct walk *w, const struct kw_run *run, const struct kw_line *line)
{
        reach_clear(&w->line);
        int r = kw_map_back(line, run->tolerance_ppm, &w->output.certain, KW_CERTAIN, &w->line.certain);
        if (r == 0)
                r = kw_map_back(line, run->tolerance_ppm, &w->output.possible, KW_POSSIBLE, &w->line.possible);
        reach_unite(&w->line);
        return r;
}

static int line_to_feeds(struct walk *w, const struct kw_line *line)
{
        for (size_t i = 0; i < line->n_feeds; i++) {
                const struct kw_feed *feed = &line->feeds[i];

                if (outside(w, feed->lot))
                        continue;
                reach_clear(&w->lot);
                int r = kw_line_to_feed(feed, &w->line.certain, &w->lot.certain);
                if (r == 0)
                        r = kw_line_to_feed(feed, &w->line.possible, &w->lot.possible);
                if (r == 0 && w->lot.possible.n)
                        r = found(w, feed->lot, 0);
                if (r < 0)
                        return r;
        }
        return 0;
}

static int take_back(struct walk *w, const struct kw_run *run)
{
        int r = packages_to_output(w, run);

        for (size_t i = 0; r == 0 && i < run->n_lines; i++) {
                if (run->lines[i].n_points < 2)
                        continue; /* nothing was loaded on it yet */
                r = output_to_line(w, run, &run->lines[i]);
                if (r == 0)
                        r = line_to_feeds(w, &run->lines[i]);
        }
        return r;
}

/* --- ancestry --------------------------------------------------------------------------------- */

/*
 * A lot is an ancestor when its feed, whole, may come out on a package of the family. Asked forward, since forward is
 * how makeup and joints then go: no part of a lot outside the family can reach the lot that was asked for.
 */
static int feed_if_kin(struct walk *w, const struct kw_run *run, const struct kw_line *line, const struct kw_feed *feed)
{
        struct kw_span on_v = {feed->v0, feed->v0 + (feed->to - feed->from)};
        const struct kw_spans whole = {&on_v, 1, 1};

        kw_spans_clear(&w->line.possible);
        int r = kw_map_forward(line, run->tolerance_ppm, &whole, KW_POSSIBLE, &w->line.possible);
        if (r < 0)
                return r;

        /* of a run under way, what lies beyond the last join may be on no package yet */
        const struct kw_spans *on_s = &w->line.possible;
        if (on_s->n == 0 || !kw_spans_meets(&w->output.possible, on_s->at[0].from, on_s->at[0].to))
                return 0;
        return found(w, feed->lot, 0);
}

static int take_family(struct walk *w, const struct kw_run *run)
{
        int r = packages_to_output(w, run);

        if (r == 0) {
                reach_clear(&w->lot);
                r = kw_spans_add(&w->lot.possible, 0, KW_LENGTH_MAX);
        }
        for (size_t i = 0; r == 0 && i < run->n_lines; i++)
                for (size_t j = 0; r == 0 && j < run->lines[i].n_feeds; j++)
                        r = feed_if_kin(w, run, &run->lines[i], &run->lines[i].feeds[j]);
        return r;
}

/* --- the walk --------------------------------------------------------------------------------- */

static const struct direction forward = {enter_users, take_forward};
static const struct direction back = {enter_maker, take_back};
static const struct direction family = {enter_maker, take_family};

static int enter_origin(void *ctx, struct kw_hit *hit)
{
        struct walk *w = ctx;
        int64_t run;
        int r = w->g->maker(w->g->ctx, hit->lot, &run, &hit->depth);

        return r == 0 ? w->direction->enter(w, hit) : r;
}

static int walk(const struct direction *direction, const struct kw_genealogy *g, struct kw_hits *hits,
                const struct kw_hits *within)
{
        struct walk w = {.direction = direction, .g = g, .hits = hits, .within = within};
        int r = kw_hits_each(hits, enter_origin, &w);

        w.started = true;
        while (r == 0 && kw_queue_take(&w.todo)) {
                const struct kw_run *run;

                r = g->run(g->ctx, w.todo.run, &run);
                if (r == 0)
                        r = direction->take(&w, run);
        }

        kw_queue_free(&w.todo);
        kw_reach_free(&w.line);
        kw_reach_free(&w.output);
        kw_reach_free(&w.lot);
        return r;
}

int kw_trace_forward(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within)
{
        return walk(&forward, g, hits, within);
}

int kw_trace_back(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within)
{
        return walk(&back, g, hits, within);
}

int kw_ancestry(const struct kw_genealogy *g, int64_t lot, struct kw_hits *out)
{
        int r = kw_hits_add(out, lot, 0, KW_LENGTH_MAX, KW_POSSIBLE);

        return r < 0 ? r : walk(&family, g, out, NULL);
}
