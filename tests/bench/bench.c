/*
 * kinwire-bench: one table, each row a ratio in the same run on the same history.
 */
#include "bench.h"
#include "history.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#define CACHES ((size_t)256 << 20) /* more than any cache holds */

const char *const question_names[QUESTIONS] = {"recall of a heat", "recall of a batch", "recall of a furnace's month",
                                               "trace back of a reel"};

/* --- timing ------------------------------------------------------------------------------------------- */

static void empty_caches(void)
{
        static volatile char *other;

        if (!other)
                other = calloc(CACHES, 1);
        if (!other)
                bench_fail("bench", "no memory");
        for (size_t i = 0; i < CACHES; i += 64)
                other[i]++;
}

static double time_one(ask_fn *ask, void *ctx, const struct start *start, int repeats, bool cold, uint32_t *lots)
{
        double took[16];

        if (!cold)
                *lots = ask(ctx, start);
        for (int i = 0; i < repeats; i++) {
                if (cold)
                        empty_caches();
                took[i] = bench_now();
                *lots = ask(ctx, start);
                took[i] = bench_now() - took[i];
        }
        return bench_median(took, (size_t)repeats);
}

void bench_ask(const struct graph *g, ask_fn *ask, void *ctx, int repeats, bool cold, struct took *out)
{
        for (int q = 0; q < QUESTIONS; q++) {
                double ms[ASKED], lots[ASKED];
                uint32_t n = 0;
                size_t k = 0;

                for (size_t i = 0; i < g->n_starts; i++) {
                        if (g->starts[i].what != (enum question)q)
                                continue;
                        ms[k] = time_one(ask, ctx, &g->starts[i], repeats, cold, &n);
                        lots[k++] = n;
                }
                (cold ? out->cold : out->warm)[q] = bench_median(ms, k);
                out->lots[q] = bench_median(lots, k);
        }
        out->run = true;
}

/* --- the table ---------------------------------------------------------------------------------------- */

static void against_floor(const struct took *mine, const struct took *bare)
{
        static const double most[QUESTIONS] = {2, 2, 2, 3};
        char name[128];

        for (int q = 0; q < QUESTIONS; q++) {
                snprintf(name, sizeof(name), "%s, %.0f lots, warm, against the floor", question_names[q],
                         mine->lots[q]);
                bench_row(name, "ms", mine->warm[q], bare->warm[q], mine->warm[q] / bare->warm[q], AT_MOST, most[q]);
                snprintf(name, sizeof(name), "%s, cold, against the floor", question_names[q]);
                bench_row(name, "ms", mine->cold[q], bare->cold[q], mine->cold[q] / bare->cold[q],
                          q == ASK_BATCH ? NO_TARGET : AT_MOST, most[q]);
        }
}

/* Back, the floor goes by whether places overlap: how many lots it names for it, and what carrying places costs alone.
 */
static void against_places(const struct took *mine, const struct took *bare, const struct took *places)
{
        bench_row("trace back of a reel, named by the floor, of which some gave nothing to it", "lots",
                  mine->lots[ASK_REEL], bare->lots[ASK_REEL], bare->lots[ASK_REEL] / mine->lots[ASK_REEL], NO_TARGET,
                  0);
        bench_row("trace back of a reel, warm, against a bare walk that carries places", "ms", mine->warm[ASK_REEL],
                  places->warm[ASK_REEL], mine->warm[ASK_REEL] / places->warm[ASK_REEL], NO_TARGET, 0);
        bench_row("trace back of a reel, cold, against a bare walk that carries places", "ms", mine->cold[ASK_REEL],
                  places->cold[ASK_REEL], mine->cold[ASK_REEL] / places->cold[ASK_REEL], NO_TARGET, 0);
}

/* @least: how many times faster a recall of a heat is to be; 0: not stated */
static void against(const char *whom, const struct took *mine, const struct took *peer, double least)
{
        char name[160];

        if (!peer->run) {
                snprintf(name, sizeof(name), "against %s", whom);
                bench_not_run(name, peer->why_not);
                return;
        }
        for (int q = 0; q < QUESTIONS; q++) {
                snprintf(name, sizeof(name), "%s, times faster than %s", question_names[q], whom);
                if (peer->lots[q] <= 0)
                        bench_not_run(name, "it is not a question that it answers in one");
                else
                        bench_row(name, "ms", mine->warm[q], peer->warm[q], peer->warm[q] / mine->warm[q],
                                  q == ASK_HEAT && least > 0 ? AT_LEAST : NO_TARGET, least);
        }
}

static void how_much_smaller(const struct took *mine, const struct took *members)
{
        for (int q = 0; q < QUESTIONS; q++) {
                char name[128];

                snprintf(name, sizeof(name), "%s, named with places against by membership", question_names[q]);
                bench_row(name, "lots", mine->lots[q], members->lots[q], members->lots[q] / mine->lots[q], NO_TARGET,
                          0);
        }
}

static void index_rows(struct kw_index **ix, const char *ledger)
{
        struct kw_index_figures f;
        double start = bench_now();

        if (kw_index_new(ledger, ix) || kw_index_build(*ix))
                bench_fail(ledger, "the index can't be built");
        start = bench_now() - start;
        kw_index_figures(*ix, &f);
        bench_figure("index built, feeds and packages", "a second", (double)(f.feeds + f.packages) / start * 1e3,
                     NO_TARGET, 0);
        bench_figure("index, for each feed and package", "bytes", (double)f.bytes / (double)(f.feeds + f.packages),
                     AT_MOST, 40);
        kw_index_free(*ix);
        start = bench_now();
        if (kw_index_new(ledger, ix) || kw_index_open(*ix))
                bench_fail(ledger, "the index can't be mapped");
        bench_figure("ready to answer after a restart", "ms", bench_now() - start, AT_MOST, 1000);
}

static void memory_row(void)
{
        struct rusage usage;

        getrusage(RUSAGE_SELF, &usage);
        bench_figure("peak memory, peers and all", "MB", (double)usage.ru_maxrss / 1024, NO_TARGET, 0);
}

static void make_history(double years, const char *ledger)
{
        struct history_figures figures;
        struct kw_error err = {0};
        struct history h;

        if (access(ledger, F_OK) == 0) {
                struct kw_ledger *l;

                /* one that an earlier kinwire made is brought up before the clock runs */
                if (kw_ledger_open(ledger, KW_OPEN_WRITE, &l, &err))
                        bench_fail(ledger, err.text);
                kw_ledger_close(l);
                return;
        }
        if (history_make(&h, years, 1) || history_write(&h, ledger, &figures, &err))
                bench_fail(ledger, err.text);
        bench_figure("history written, entries", "a second", (double)figures.entries / figures.seconds, NO_TARGET, 0);
        history_free(&h);
}

static void open_index(struct kw_index **ix, const char *ledger)
{
        if (kw_index_new(ledger, ix) || (kw_index_open(*ix) && kw_index_build(*ix)))
                bench_fail(ledger, "the index can't be had");
}

/* What one lot of the answer costs beside a history of one year: an answer costs by what is in it, not by the years. */
static void year_rows(double years, const char *dir, const struct took *mine)
{
        struct took young = {0};
        char ledger[512], name[128];
        struct kw_index *ix;
        struct graph g;

        snprintf(name, sizeof(name), "a lot of a heat's recall, %g years against one", years);
        if (years <= 1) {
                bench_not_run(name, "it takes --years of more than one");
                return;
        }
        snprintf(ledger, sizeof(ledger), "%s/history-1.kw", dir);
        make_history(1, ledger);
        open_index(&ix, ledger);
        graph_load(&g, ledger);
        mine_time(ix, &g, &young);
        kw_index_free(ix);
        graph_free(&g);
        for (int cold = 0; cold < 2; cold++) {
                double old_us = (cold ? mine->cold : mine->warm)[ASK_HEAT] / mine->lots[ASK_HEAT] * 1e3;
                double young_us = (cold ? young.cold : young.warm)[ASK_HEAT] / young.lots[ASK_HEAT] * 1e3;

                snprintf(name, sizeof(name), "a lot of a heat's recall, %g years against one, %s", years,
                         cold ? "cold" : "warm");
                bench_row(name, "us", old_us, young_us, old_us / young_us, AT_MOST, 1.5);
        }
}

static void all_rows(double years, const char *dir)
{
        struct took mine = {0}, bare = {0}, bare_places = {0}, sqlite[PEERS] = {0}, postgres[PEERS] = {0}, igraph = {0};
        char ledger[512], peer[512];
        struct kw_index *ix;
        struct graph g;

        snprintf(ledger, sizeof(ledger), "%s/history-%g.kw", dir, years);
        snprintf(peer, sizeof(peer), "%s/peer-%g.db", dir, years);
        make_history(years, ledger);
        index_rows(&ix, ledger);
        graph_load(&g, ledger);
        mine_time(ix, &g, &mine);
        floor_time(&g, &bare, &bare_places);
        against_floor(&mine, &bare);
        against_places(&mine, &bare, &bare_places);
        igraph_time(&g, &igraph);
        sqlite_time(&g, peer, sqlite);
        postgres_time(&g, dir, postgres);
        how_much_smaller(&mine, &sqlite[PEER_MEMBERS]);
        against("SQLite by membership", &mine, &sqlite[PEER_MEMBERS], 250);
        against("SQLite with intervals", &mine, &sqlite[PEER_PLACES], 100);
        against("PostgreSQL by membership", &mine, &postgres[PEER_MEMBERS], 0);
        against("PostgreSQL with intervals", &mine, &postgres[PEER_PLACES], 0);
        against("igraph by membership", &mine, &igraph, 8);
        kw_index_free(ix);
        answer_rows(ledger, &g);
        bench_not_run("the same recall drawn in the browser", "tests/web/many.test.mjs measures it in Chromium");
        graph_free(&g);
        year_rows(years, dir, &mine);
        ingest_rows(dir, ledger);
        memory_row();
}

int main(int argc, char **argv)
{
        const char *dir = ".", *years = NULL;

        for (int i = 1; i + 1 < argc; i += 2) {
                if (strcmp(argv[i], "--years") == 0)
                        years = argv[i + 1];
                else if (strcmp(argv[i], "--dir") == 0)
                        dir = argv[i + 1];
                else
                        years = NULL, argc = 0;
        }
        if (argc % 2 == 0 || !years || strtod(years, NULL) <= 0) {
                fprintf(stderr, "usage: kinwire-bench --years N [--dir DIR]\n"
                                "Makes a history of N years in DIR unless it is there, and prints what was measured, "
                                "tab-separated:\n"
                                "name, this engine, the peer, ratio, target, met or missed.\n");
                return 2;
        }
        printf("name\tthis engine\tthe peer\tratio\ttarget\tresult\n");
        all_rows(strtod(years, NULL), dir);
        return 0;
}
