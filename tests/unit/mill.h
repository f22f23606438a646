#ifndef KW_TESTS_MILL_H
#define KW_TESTS_MILL_H
/*
 * A mill in memory: lots, runs with their lines, feeds and packages, and the genealogy that the engine asks for.
 *
 * Built by calls in the order of an entry: a run, its lines, on each line its feeds, then its packages, then
 * mill_close(). Lots are named; a lot is received when its name is first met as a feed's and it was given by
 * mill_receive().
 */
#include "kinwire/trace.h"

#define MILL_LOTS  256
#define MILL_RUNS  64
#define MILL_LINES 8
#define MILL_PARTS 40 /* feeds on a line, packages of a run, uses of a lot */
#define MILL_TEXT  8192

struct mill_lot {
        char name[16];
        int64_t length;
        int64_t maker; /* run id; 0: received */
        uint32_t depth;
        struct kw_use uses[MILL_PARTS];
        size_t n_uses;
};

struct mill_line {
        char label[16];
        struct kw_feed feeds[MILL_PARTS];
        struct kw_point points[MILL_PARTS + 1];
        size_t n_feeds, n_points;
        int64_t v;
};

struct mill_run {
        char name[16];
        struct kw_run run;
        struct kw_line lines[MILL_LINES];
        struct mill_line parts[MILL_LINES];
        struct kw_package packages[MILL_PARTS];
};

struct mill {
        struct mill_lot lots[MILL_LOTS]; /* lot id = index + 1 */
        size_t n_lots;
        struct mill_run runs[MILL_RUNS];
        size_t n_runs;
        int asked;   /* questions put to the genealogy */
        int fail_at; /* the number of the question that is answered with -EIO; 0: none */
};

struct mill *mill_new(void);
void mill_free(struct mill *m);

void mill_receive(struct mill *m, const char *lot, int64_t length);
void mill_run(struct mill *m, const char *name, int32_t tolerance_ppm);
void mill_line(struct mill *m, const char *label);
/* @seen: where on the output the join before this feed was seen; 0: not seen */
void mill_feed(struct mill *m, const char *lot, int64_t from, int64_t to, enum kw_off off, int64_t seen);
/* @lot NULL: scrap */
void mill_package(struct mill *m, const char *lot, int64_t length);
/*
 * Coils C and D of so many millimetres are received and welded on line 1 of run DR, @seen as in mill_feed(); its
 * packages follow.
 */
void mill_draw_two(struct mill *m, int64_t c, int64_t d, int32_t tolerance_ppm, int64_t seen);
/*
 * Two coils of 1000 welded and drawn to 4000 in 10 %, on four bobbins of 1000, P to S; the weld not seen, or seen where
 * the second bobbin ends.
 */
void mill_weld_unseen(struct mill *m);
void mill_weld_at_boundary(struct mill *m);
/*
 * A bobbin B with a weld at its middle, split between two wires of a strand's run ST and brazed to bobbin X on one of
 * them; the run's packages follow.
 */
void mill_split_bobbin(struct mill *m, int32_t tolerance_ppm);
/* Takes the last line of the run away again, before it has feeds. */
void mill_drop_line(struct mill *m);
void mill_close(struct mill *m);

struct kw_genealogy mill_genealogy(struct mill *m);
int64_t mill_lot_id(const struct mill *m, const char *lot);
int64_t mill_run_id(const struct mill *m, const char *run);
const struct kw_run *mill_run_of(const struct mill *m, int64_t id);
struct mill_lot *mill_lot_of(struct mill *m, int64_t id);

/*
 * What a trace says, one lot a line in order of name: "BB-2: 0-9700000 / 0-10300000", certain before the stroke and
 * possible after it, several spans joined by "+", "none" for none.
 */
void mill_tell(const struct mill *m, const struct kw_hits *hits, char text[MILL_TEXT]);
void mill_tell_spans(const struct kw_spans *spans, char text[MILL_TEXT]);

/* Adds the whole of a lot, or a part of it, to the origin of a trace. */
void mill_start(const struct mill *m, struct kw_hits *hits, const char *lot);
void mill_start_part(const struct mill *m, struct kw_hits *hits, const char *lot, int64_t from, int64_t to);

/* A stream of numbers that is the same on every machine (Marsaglia 2003, xorshift64). */
struct dice {
        uint64_t state; /* not 0 */
};
int64_t dice_between(struct dice *d, int64_t least, int64_t greatest);

/*
 * A random mill of a few coils and up to 20 runs of 1 to 3 lines, lots consumed in pieces from either end, welds seen
 * and not seen, scrap, and depth that does not follow the order of ids.
 */
struct mill *mill_random(struct dice *d, int32_t greatest_ppm, bool scrap);

#endif
