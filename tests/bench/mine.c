/*
 * This engine over its index, asked what the floor is asked.
 */
#include "bench.h"

#include <stdlib.h>
#include <string.h>

struct asking {
        struct kw_walk *walk;
        const uint32_t *number; /* of the graph's lots in the index */
};

static uint32_t ask(void *ctx, const struct start *start)
{
        struct asking *a = ctx;
        size_t n;
        int rc = kw_walk_begin(a->walk);

        for (uint32_t i = 0; rc == 0 && i < start->n; i++)
                rc = kw_walk_seed(a->walk, start->lots[i], (struct kw_narrow){0, INT32_MAX});
        if (rc == 0)
                rc = start->what == ASK_REEL ? kw_walk_back(a->walk) : kw_walk_forward(a->walk);
        if (rc)
                bench_fail("trace", strerror(-rc));
        kw_walk_hits(a->walk, &n);
        return (uint32_t)n;
}

void mine_time(struct kw_index *ix, const struct graph *g, struct took *out)
{
        struct asking a = {0};
        uint32_t number;

        if (kw_index_take(ix, -1))
                bench_fail("index", "is not ready");
        /* both number lots in order of their ids */
        for (uint32_t i = 0; i < g->lots; i += g->lots / 100 + 1)
                if (kw_index_number(ix, g->lot_id[i], &number) || number != i)
                        bench_fail("index", "numbers lots otherwise");
        if (kw_walk_new(ix, &a.walk))
                bench_fail("index", "no memory");
        bench_ask(g, ask, &a, 9, false, out);
        bench_ask(g, ask, &a, 1, true, out);
        kw_walk_free(a.walk);
        kw_index_give(ix);
}
