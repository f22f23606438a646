/*
 * The peer igraph: a general graph library on the same history, lot to run to lot, by membership. It knows no places.
 */
#include "bench.h"

#ifdef HAVE_IGRAPH

#include <igraph/igraph.h>

/* Vertices: lots, runs, heats. */
static uint32_t ask(void *ctx, const struct start *start)
{
        struct {
                const struct graph *g;
                igraph_t *graph;
        } *a = ctx;
        igraph_integer_t from = start->what == ASK_HEAT    ? a->g->lots + a->g->runs + start->a
                                : start->what == ASK_BATCH ? a->g->lots + start->a
                                                       : start->lots[0];
        igraph_vector_int_t reached;
        uint32_t lots = 0;

        if (start->what == ASK_MONTH)
                return 0;
        igraph_vector_int_init(&reached, 0);
        igraph_subcomponent(a->graph, &reached, from, start->what == ASK_REEL ? IGRAPH_IN : IGRAPH_OUT);
        for (igraph_integer_t i = 0; i < igraph_vector_int_size(&reached); i++)
                lots += VECTOR(reached)[i] < a->g->lots;
        igraph_vector_int_destroy(&reached);
        return lots;
}

void igraph_time(const struct graph *g, struct took *out)
{
        igraph_vector_int_t edges;
        igraph_t graph;
        struct {
                const struct graph *g;
                igraph_t *graph;
        } a = {g, &graph};

        igraph_vector_int_init(&edges, 0);
        for (uint32_t i = 0; i < g->lots; i++)
                if (g->heat_of[i]) {
                        igraph_vector_int_push_back(&edges, g->lots + g->runs + g->heat_of[i]);
                        igraph_vector_int_push_back(&edges, i);
                }
        for (uint32_t i = 0; i < g->feeds; i++) {
                igraph_vector_int_push_back(&edges, g->feed[i].lot);
                igraph_vector_int_push_back(&edges, g->lots + g->feed[i].run);
        }
        for (uint32_t i = 0; i < g->packs; i++) {
                igraph_vector_int_push_back(&edges, g->lots + g->pack[i].run);
                igraph_vector_int_push_back(&edges, g->pack[i].lot);
        }
        igraph_create(&graph, &edges, g->lots + g->runs + g->heats + 1, 1);
        igraph_vector_int_destroy(&edges);
        bench_ask(g, ask, &a, 3, false, out);
        igraph_destroy(&graph);
}

#else

void igraph_time(const struct graph *g, struct took *out)
{
        (void)g;
        out->why_not = "igraph was not there when kinwire was built";
}

#endif
