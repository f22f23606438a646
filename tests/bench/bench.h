#ifndef KW_BENCH_H
#define KW_BENCH_H
/*
 * The bench: a history as plain arrays for the peers, the questions, and rows of the table.
 */
#include "kinwire/index.h"

#include <stdio.h>

enum question { ASK_HEAT, ASK_BATCH, ASK_MONTH, ASK_REEL, QUESTIONS };
extern const char *const question_names[QUESTIONS];
#define ASKED 20 /* of each at most */

/* Where a trace starts: lots, whole. */
struct start {
        enum question what;
        int64_t a, b, c; /* heat, run; machine, since, until; lot: as the peers know them */
        uint32_t *lots;
        uint32_t n;
};

struct graph_feed {
        uint32_t lot, run;
        int32_t from, to, s0, s1;
        int32_t line;
        uint8_t inner;
};

struct graph_pack {
        uint32_t lot, run;
        int32_t s0, s1;
};

/*
 * The genealogy with nominal places, as a peer holds it. Lots and runs are numbered from 0 in order of their ids, in
 * which a run follows those that made what it takes.
 */
struct graph {
        uint32_t lots, runs, feeds, packs, heats;
        struct graph_feed *feed; /* by lot, then place */
        struct graph_pack *pack; /* by run, then place */
        uint32_t *first_feed;    /* of each lot, and one more */
        uint32_t *first_pack;    /* of each run, and one more */
        uint32_t *heat_of;       /* from 1; 0: none */
        int64_t *lot_id, *run_id;
        int32_t *started;
        uint8_t *furnace; /* from 1; 0: another machine */
        uint8_t *reel;    /* whether a lot is one */
        struct start starts[QUESTIONS * ASKED];
        size_t n_starts;
};

void graph_load(struct graph *g, const char *ledger);
void graph_free(struct graph *g);

/* --- rows --------------------------------------------------------------------------------------------- */

double bench_now(void); /* ms */
double bench_median(double *at, size_t n);
_Noreturn void bench_fail(const char *what, const char *why);

enum target { AT_MOST, AT_LEAST, NO_TARGET };
/** bench_row - name, this engine, the peer, ratio, target, met or missed; a target is about the ratio. */
void bench_row(const char *name, const char *unit, double mine, double peer, double ratio, enum target which,
               double target);
/** bench_figure - a target about the figure itself. */
void bench_figure(const char *name, const char *unit, double mine, enum target which, double target);
void bench_not_run(const char *name, const char *why);

/* What one engine took for each question, ms: the median over its starts; lots: the median of what it named. */
struct took {
        bool run;
        const char *why_not;
        double warm[QUESTIONS], cold[QUESTIONS], lots[QUESTIONS];
};

/** bench_ask - time @ask over all starts. It returns the number of lots. @cold: with the caches emptied before each. */
typedef uint32_t ask_fn(void *ctx, const struct start *start);
void bench_ask(const struct graph *g, ask_fn *ask, void *ctx, int repeats, bool cold, struct took *out);

/* --- the peers ------------------------------------------------------------------------------------------ */

/** floor_time - @with_places: of the trace back alone, by a walk that carries intervals as the recall does. */
void floor_time(const struct graph *g, struct took *out, struct took *with_places);
void mine_time(struct kw_index *ix, const struct graph *g, struct took *out);
enum { PEER_MEMBERS, PEER_PLACES, PEERS };
void sqlite_time(const struct graph *g, const char *file, struct took out[PEERS]);
void postgres_time(const struct graph *g, const char *dir, struct took out[PEERS]);
void igraph_time(const struct graph *g, struct took *out);

/** ingest_rows - on a ledger that is new, and on a copy of @history unless that is NULL. */
void ingest_rows(const char *dir, const char *history);
/** answer_rows - a recall as it is answered, with all that is said of each lot. */
void answer_rows(const char *ledger, const struct graph *g);

#endif
