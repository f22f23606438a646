/*
 * Where a trace starts within a run: spans on the run's output handed to its packages, and the metal beside a weld.
 */
#include "kinwire/trace.h"

int kw_output_spans(const struct kw_run *run, const struct kw_spans *s, enum kw_which which, struct kw_hits *hits)
{
        struct kw_spans on_lot = {0};
        const struct kw_spans none = {0};
        int r = 0;

        for (size_t i = 0; r == 0 && i < run->n_packages; i++) {
                const struct kw_package *p = &run->packages[i];
                struct kw_hit *hit;

                if (p->lot == 0)
                        continue;
                kw_spans_clear(&on_lot);
                r = kw_spans_clip(s, p->s0, p->s1, p->s0, &on_lot);
                if (r < 0 || on_lot.n == 0)
                        continue;
                r = kw_hits_unite(hits, p->lot, which == KW_CERTAIN ? &on_lot : &none, &on_lot, &hit);
                if (r == 0)
                        hit->depth = run->depth;
        }
        kw_spans_free(&on_lot);
        return r;
}

int kw_weld_spans(const struct kw_run *run, size_t line, int64_t v, int64_t half, struct kw_hits *hits)
{
        const struct kw_line *on = &run->lines[line];
        int64_t end = on->points[on->n_points - 1].v;
        struct kw_span beside = {v > half ? v - half : 0, v < end - half ? v + half : end};
        const struct kw_spans metal = {&beside, 1, 1};
        struct kw_reach output = {0};

        int r = kw_map_forward(on, run->tolerance_ppm, &metal, KW_CERTAIN, &output.certain);
        if (r == 0)
                r = kw_map_forward(on, run->tolerance_ppm, &metal, KW_POSSIBLE, &output.possible);
        if (r == 0)
                r = kw_output_spans(run, &output.possible, KW_POSSIBLE, hits);
        if (r == 0)
                r = kw_output_spans(run, &output.certain, KW_CERTAIN, hits);
        kw_reach_free(&output);
        return r;
}
