/*
 * Makeup: where along a lot one group of its ancestors lies, say the coils of one heat.
 *
 * It is the forward trace of the group, kept to the lot's family.
 */
#include "kinwire/trace.h"

#include <errno.h>

int kw_makeup(const struct kw_genealogy *g, const struct kw_hits *family, int64_t lot, const int64_t *sources, size_t n,
              struct kw_reach *out)
{
        struct kw_hits *hits = kw_hits_new();
        int r = hits ? 0 : -ENOMEM;

        for (size_t i = 0; r == 0 && i < n; i++)
                if (kw_hits_find(family, sources[i]))
                        r = kw_hits_add(hits, sources[i], 0, KW_LENGTH_MAX, KW_CERTAIN);
        if (r == 0)
                r = kw_trace_forward(g, hits, family);
        if (r == 0) {
                struct kw_hit *hit = kw_hits_find(hits, lot);

                *out = hit ? hit->reach : (struct kw_reach){0};
                if (hit)
                        hit->reach = (struct kw_reach){0};
        }
        kw_hits_free(hits);
        return r;
}
