/*
 * The run map: a line's input coordinate v against the run's output coordinate s.
 *
 *   s = sa + (v - va)(sb - sa)/(vb - va)     between known points (va, sa) and (vb, sb)
 *   u(s) = tolerance x min(s - sa, sb - s)   by which the place is uncertain
 *
 * An end of a span moves outwards where the question is what may be affected, and inwards where it is what surely is;
 * the same holds for rounding.  u(s) is never more than the distance to the nearer known point, since the tolerance is
 * below one, so that no end leaves its piece.
 */
#include "kinwire/runmap.h"

#include "room.h"
#include "wide.h"

#include <assert.h>
#include <errno.h>

/* Towards which side an end moves and is rounded. */
enum way { DOWN, UP };

/* The piece that holds @at: its index is that of its lower known point. */
static size_t piece_of_v(const struct kw_line *line, int64_t at)
{
        size_t lo = 0, hi = line->n_points - 1;

        while (hi - lo > 1) {
                size_t mid = lo + (hi - lo) / 2;

                if (line->points[mid].v <= at)
                        lo = mid;
                else
                        hi = mid;
        }
        return lo;
}

/* A known point belongs to the piece below it: the one above has no length when a join was seen just at the end. */
static size_t piece_of_s(const struct kw_line *line, int64_t at)
{
        size_t lo = 0, hi = line->n_points - 1;

        while (hi - lo > 1) {
                size_t mid = lo + (hi - lo) / 2;

                if (line->points[mid].s < at)
                        lo = mid;
                else
                        hi = mid;
        }
        return lo;
}

static int64_t divide(kw_wide n, int64_t d, enum way way)
{
        return way == DOWN ? kw_div_down(n, d) : kw_div_up(n, d);
}

/* @s moved by its uncertainty within the piece that begins at @a. */
static int64_t moved(const struct kw_point *a, int64_t s, int32_t ppm, enum way way)
{
        int64_t below = s - a[0].s, above = a[1].s - s;
        int64_t u = kw_div_up((kw_wide)ppm * (below < above ? below : above), KW_PPM);

        return way == DOWN ? s - u : s + u;
}

/* The last join that was seen on a line of a run under way: the piece beyond it has no end yet. */
static const struct kw_point *last_seen(const struct kw_line *line)
{
        return &line->points[line->n_points - 2];
}

static int64_t end_forward(const struct kw_line *line, int32_t ppm, int64_t v, enum way way)
{
        if (line->open && v > last_seen(line)->v)
                return way == DOWN ? last_seen(line)->s : line->points[line->n_points - 1].s;

        const struct kw_point *a = &line->points[piece_of_v(line, v)];
        int64_t s = a[0].s + divide((kw_wide)(v - a[0].v) * (a[1].s - a[0].s), a[1].v - a[0].v, way);

        return moved(a, s, ppm, way);
}

static int64_t end_back(const struct kw_line *line, int32_t ppm, int64_t s, enum way way)
{
        if (line->open && s > last_seen(line)->s)
                return way == DOWN ? last_seen(line)->v : line->points[line->n_points - 1].v;

        const struct kw_point *a = &line->points[piece_of_s(line, s)];
        int64_t to = moved(a, s, ppm, way);

        return a[0].v + divide((kw_wide)(to - a[0].s) * (a[1].v - a[0].v), a[1].s - a[0].s, way);
}

typedef int64_t end_fn(const struct kw_line *line, int32_t ppm, int64_t at, enum way way);

static int map(const struct kw_line *line, int32_t ppm, const struct kw_spans *in, enum kw_which which, end_fn *end,
               struct kw_spans *out)
{
        int r = kw_spans_reserve(out, in->n);
        if (r < 0)
                return r;

        for (size_t i = 0; i < in->n; i++) {
                int64_t from = end(line, ppm, in->at[i].from, which == KW_POSSIBLE ? DOWN : UP);
                int64_t to = end(line, ppm, in->at[i].to, which == KW_POSSIBLE ? UP : DOWN);

                /* only a point stays a point; what had a length and has none left has vanished */
                if (from < to || (from == to && in->at[i].from == in->at[i].to))
                        out->at[out->n++] = (struct kw_span){from, to};
        }
        return 0;
}

int kw_map_forward(const struct kw_line *line, int32_t ppm, const struct kw_spans *v, enum kw_which which,
                   struct kw_spans *out)
{
        return map(line, ppm, v, which, end_forward, out);
}

int kw_map_back(const struct kw_line *line, int32_t ppm, const struct kw_spans *s, enum kw_which which,
                struct kw_spans *out)
{
        return map(line, ppm, s, which, end_back, out);
}

bool kw_map_known(const struct kw_line *line, int64_t v)
{
        return !line->open || v <= last_seen(line)->v;
}

int64_t kw_map_nominal(const struct kw_line *line, int64_t v)
{
        const struct kw_point *a = &line->points[piece_of_v(line, v)];
        int64_t length = a[1].v - a[0].v;

        return a[0].s + kw_div_down(2 * (kw_wide)(v - a[0].v) * (a[1].s - a[0].s) + length, 2 * length);
}

int kw_feed_to_line(const struct kw_feed *feed, const struct kw_spans *lot, struct kw_spans *v)
{
        size_t first = v->n;

        if (feed->off == KW_OFF_INNER)
                return kw_spans_clip(lot, feed->from, feed->to, feed->from - feed->v0, v);

        int r = kw_spans_clip(lot, feed->from, feed->to, 0, v);
        if (r < 0)
                return r;
        /* paid off from the outer end, the highest coordinate comes first */
        for (size_t i = first, j = v->n; i < j; i++) {
                struct kw_span low = v->at[i], high = v->at[--j];

                v->at[i] = (struct kw_span){feed->v0 + feed->to - high.to, feed->v0 + feed->to - high.from};
                v->at[j] = (struct kw_span){feed->v0 + feed->to - low.to, feed->v0 + feed->to - low.from};
        }
        return 0;
}

int kw_line_to_feed(const struct kw_feed *feed, const struct kw_spans *v, struct kw_spans *lot)
{
        /* laid from the lot onto the line and from the line onto the lot, the picture is the same */
        struct kw_feed mirror = {
                .from = feed->v0, .to = feed->v0 + (feed->to - feed->from), .v0 = feed->from, .off = feed->off};

        return kw_feed_to_line(&mirror, v, lot);
}
