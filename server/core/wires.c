/*
 * The wires in a rope: which lots of wire lie in it, over how much of its length, and how long.
 *
 * From the rope back, run by run: every line of a run goes through the whole of what came out, so each line of a closer
 * or a strander is one more strand or wire in the section. Places go by proportion between known points; where one
 * bobbin follows another on a line, each has its share of the length.
 *
 *      rope   |--------------------------------|
 *      line 1 |==== bobbin 7 ====|= bobbin 8 ==|     shares 0.6 and 0.4 of one wire
 *      line 2 |========== bobbin 9 ============|     share 1
 */
#include "kinwire/quality.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdlib.h>

#define WHOLE INT64_C(1000000000)

struct walk {
        const struct kw_genealogy *g;
        kw_is_wire *is_wire;
        void *ctx;
        struct kw_wires *out;
};

static int add(struct kw_wires *w, int64_t lot, int64_t share, int64_t length)
{
        if (w->n == w->cap) {
                size_t cap = w->cap ? 2 * w->cap : 64;
                struct kw_wire_in *at = reallocarray(w->at, cap, sizeof(*at));

                if (!at)
                        return -ENOMEM;
                w->at = at;
                w->cap = cap;
        }
        w->at[w->n++] = (struct kw_wire_in){lot, share, length};
        return 0;
}

static int visit(struct walk *w, int64_t lot, struct kw_span part, int64_t share);

/* Of one feed: its part of the line's length is its part of the share. */
static int visit_feed(struct walk *w, const struct kw_feed *feed, const struct kw_spans *v, int64_t share)
{
        struct kw_spans lot = {0};
        int64_t all = kw_spans_total(v);
        int rc = kw_line_to_feed(feed, v, &lot);

        for (size_t i = 0; rc == 0 && i < lot.n; i++)
                rc = visit(w, feed->lot, lot.at[i], kw_share(share, lot.at[i].to - lot.at[i].from, all));
        kw_spans_free(&lot);
        return rc;
}

static int visit_line(struct walk *w, const struct kw_line *line, struct kw_span s, int64_t share)
{
        struct kw_spans on_s = {.at = &s, .n = 1, .cap = 1}, on_v = {0};
        int rc = kw_map_back(line, 0, &on_s, KW_POSSIBLE, &on_v);

        if (rc == 0 && kw_spans_total(&on_v) > 0)
                for (size_t i = 0; rc == 0 && i < line->n_feeds; i++)
                        rc = visit_feed(w, &line->feeds[i], &on_v, share);
        kw_spans_free(&on_v);
        return rc;
}

static int visit(struct walk *w, int64_t lot, struct kw_span part, int64_t share)
{
        const struct kw_run *run;
        uint32_t depth;
        int64_t made_by;
        bool wire = false;
        int rc = w->is_wire(w->ctx, lot, &wire);

        if (rc || wire)
                return rc ? rc : add(w->out, lot, share, part.to - part.from);
        rc = w->g->maker(w->g->ctx, lot, &made_by, &depth);
        if (rc || !made_by)
                return rc;
        rc = w->g->run(w->g->ctx, made_by, &run);
        for (size_t p = 0; rc == 0 && p < run->n_packages; p++) {
                const struct kw_package *package = &run->packages[p];
                struct kw_span s = {package->s0 + part.from, package->s0 + part.to};

                if (package->lot != lot)
                        continue;
                for (size_t i = 0; rc == 0 && i < run->n_lines; i++)
                        rc = visit_line(w, &run->lines[i], s, share);
        }
        return rc;
}

static int by_lot(const void *a, const void *b)
{
        const struct kw_wire_in *x = a, *y = b;

        return (x->lot > y->lot) - (x->lot < y->lot);
}

/* One row a lot. */
static void gather(struct kw_wires *w)
{
        size_t n = 0;

        if (w->n)
                qsort(w->at, w->n, sizeof(*w->at), by_lot);
        for (size_t i = 0; i < w->n; i++) {
                if (n && w->at[n - 1].lot == w->at[i].lot) {
                        w->at[n - 1].share_ppb += w->at[i].share_ppb;
                        w->at[n - 1].length_mm += w->at[i].length_mm;
                } else {
                        w->at[n++] = w->at[i];
                }
        }
        w->n = n;
}

int kw_wires_in(const struct kw_genealogy *g, int64_t lot, int64_t length_mm, kw_is_wire *is_wire, void *ctx,
                struct kw_wires *out)
{
        struct walk w = {g, is_wire, ctx, out};
        int rc = visit(&w, lot, (struct kw_span){0, length_mm}, WHOLE);

        gather(out);
        return rc;
}

void kw_wires_free(struct kw_wires *wires)
{
        free(wires->at);
        *wires = (struct kw_wires){0};
}
