#ifndef KINWIRE_INDEX_H
#define KINWIRE_INDEX_H
/*
 * The index: the genealogy in memory, for traces at the speed of memory.
 *
 * It holds nothing that is not in the ledger and is never asked for what it does not hold: where it can't answer (it is
 * being built, it stands at another size than the asker's view, a length does not fit) the asker goes to SQLite and
 * gets the same answer. kw_index_check() compares the two.
 *
 * The design, and why. A recall of 4,300 lots out of 7 million visits some 8,000 feeds and packages; warm, a plain walk
 * over arrays takes 0.1 ms, so a call or an allocation a lot is too much, and cold it is as many cache lines as are
 * touched. So lots and runs have dense numbers, a lot's feeds lie side by side, two to a cache line, and each holds the
 * piece of its run's map that it lies in: forward, a feed needs no look at its run but for the packages. Arrays are
 * written once, as one block that is the file beside the ledger too: at a restart it is mapped, checked against the
 * ledger's size and root, and what was recorded since is read from SQLite. What is recorded while it serves goes into a
 * delta (hash tables by lot and run), so that the block never changes; a correction replaces the runs and lots that it
 * touched there. When the delta has grown the block is built anew behind it.
 *
 * An answer says of each lot its code, kind, mass, place and what has become of it; asked of SQLite lot by lot that
 * took ten times as long as finding the lots. So the block has these as well, in some ten bytes a lot: codes told by
 * what they do not share with the one before, what packages of a run have in common once, and flags for what most lots
 * have none of. A flag is cleared when an entry speaks of its lot, and from then on SQLite is asked about it.
 */
#include "kinwire/ledger.h"
#include "kinwire/trace.h"

struct kw_index;

/**
 * kw_index_new - an index of the ledger in file @path, not built yet
 * kw_index_start - map or build it in a thread of its own, and keep its file fresh; kw_index_free() stops that
 * kw_index_build - build it before returning
 * kw_index_open - map its file and catch up; -ENOENT when there is none that fits
 * kw_index_save - write the file, atomically
 *
 * Return: 0; a negative errno.
 */
int kw_index_new(const char *path, struct kw_index **out);
void kw_index_free(struct kw_index *ix);
int kw_index_start(struct kw_index *ix);
int kw_index_build(struct kw_index *ix);
int kw_index_open(struct kw_index *ix);
int kw_index_save(struct kw_index *ix);

/**
 * kw_index_follow - take in what was committed since the size at which the index stands
 * @ledger: the writer's, after its commit, or one that looks after it (kw_ledger_look_after()) and is done then
 *
 * Entries that another program committed before are taken in too, as long as there is no correction among them; then,
 * as after a failure, the index is not ready until it was built again. Nothing is to be done about it by the caller.
 */
void kw_index_follow(struct kw_index *ix, struct kw_ledger *ledger);

/**
 * kw_index_take - hold the index as it stands at ledger size @size, for reading
 * Return: 0, to be given back with kw_index_give(); -EAGAIN when it is not ready or stands at another size.
 */
int kw_index_take(struct kw_index *ix, int64_t size);
void kw_index_give(struct kw_index *ix);

/** kw_ledger_ask_index - let traces on this connection use the index as well; NULL: no more. */
void kw_ledger_ask_index(struct kw_ledger *ledger, struct kw_index *ix);
/** kw_ledger_take_index - hold the ledger's index where it stands at the view's size; NULL: it does not, or is none. */
struct kw_index *kw_ledger_take_index(struct kw_ledger *ledger);
/**
 * kw_ledger_hold_index - hold the ledger's index at the size that the ledger looks at
 *
 * When the index has just gone on, the ledger is made to look anew; so it is the first thing to do with a view.
 * Return: the index, to be given back with kw_index_give(); NULL when SQLite is to answer.
 */
struct kw_index *kw_ledger_hold_index(struct kw_ledger *ledger);

/**
 * kw_index_forward, _back - kw_trace_forward() and kw_trace_back() on the index, without @within
 * Return: as these; -EOVERFLOW with @hits untouched when the question is for SQLite; -E2BIG when it touches more lots
 * than @hits takes, as soon as that is known.
 */
int kw_index_forward(struct kw_index *ix, struct kw_hits *hits);
int kw_index_back(struct kw_index *ix, struct kw_hits *hits);

/* --- what an answer says of lots ------------------------------------------------------------------ */

/** A lot's row. Texts live as long as the index is held. What is not said here is NULL or 0 in the table as well. */
struct kw_index_lot {
        uint32_t number;
        uint32_t depth;
        int64_t run, s0, length_mm, at;
        int64_t mass_g, diameter_um, tensile_kpa; /* -1: NULL */
        char code[KW_CODE_MAX + 1];
        const char *kind, *mass_from, *construction, *grade;
};

/** What has become of a lot. */
struct kw_index_state {
        bool fed, scrapped;
        bool certified, held; /* SQLite says by what */
        const char *location; /* where it was put last, or NULL */
        const char *consignment, *consignee;
        int64_t dispatched;
};

/**
 * kw_index_lot - the row of the lot with this id
 * kw_index_run_code - the code of the run that made it
 * kw_index_state - what has become of it; @taken: every length that was taken of it, appended
 * @hint: the number at which it may be, for lots that are asked about one after the other: that of the last and one
 * more
 *
 * With the index held. Return: 0; -ENOENT, ask SQLite; -ENOMEM.
 */
int kw_index_lot(struct kw_index *ix, int64_t id, uint32_t hint, struct kw_index_lot *out);
int kw_index_run_code(struct kw_index *ix, int64_t lot, uint32_t hint, char code[KW_CODE_MAX + 1]);
int kw_index_state(struct kw_index *ix, int64_t id, uint32_t hint, struct kw_index_state *out, struct kw_spans *taken);

/* --- what is in stock ------------------------------------------------------------------------------- */

#define KW_INDEX_KINDS 16

/** All lots of one kind of which something is left. */
struct kw_index_stock {
        const char *kind;      /* NULL: no such kind */
        int64_t lots, weighed; /* lots, and those whose mass is known */
        int64_t left_mm, left_g;
};

/**
 * kw_index_stock - the sums at the size at which the index stands
 * @ledger: looks at that size; what was recorded since the base was made is read from it
 *
 * With the index held. Return: 0; -ENOENT, ask SQLite; another negative errno.
 */
int kw_index_stock(struct kw_index *ix, struct kw_ledger *ledger, struct kw_index_stock out[KW_INDEX_KINDS]);

/* --- the walk itself, for what is measured -------------------------------------------------------- */

struct kw_narrow {
        uint32_t from, to;
};

/** Affected spans of the lot with dense number @lot: @possible and @certain of them from kw_walk.spans on. */
struct kw_walk_hit {
        uint32_t lot, depth;
        uint32_t at_possible, at_certain;
        uint32_t possible, certain;
};

struct kw_walk;
/** kw_walk_new - the index is to be held as long as the walk is used. Return: 0; -ENOMEM. */
int kw_walk_new(struct kw_index *ix, struct kw_walk **out);
void kw_walk_free(struct kw_walk *w);
/** kw_walk_begin - with nothing yet; kw_walk_seed - and with [from, to] of a lot. Return: 0; -ENOMEM. */
int kw_walk_begin(struct kw_walk *w);
int kw_walk_seed(struct kw_walk *w, uint32_t lot, struct kw_narrow span);
int kw_walk_forward(struct kw_walk *w);
int kw_walk_back(struct kw_walk *w);
/** kw_walk_hits - valid until the next kw_walk_begin(). */
const struct kw_walk_hit *kw_walk_hits(const struct kw_walk *w, size_t *n);
/** kw_walk_spans - what the hits' at_possible and at_certain count in; valid as long as these. */
const struct kw_narrow *kw_walk_spans(const struct kw_walk *w);
/** kw_index_number - the dense number of a lot. Return: 0; -ENOENT. */
int kw_index_number(struct kw_index *ix, int64_t lot, uint32_t *number);

struct kw_index_figures {
        bool ready;
        int64_t size; /* of the ledger */
        uint64_t lots, runs, feeds, packages;
        uint64_t bytes;   /* of the block and the delta */
        uint64_t added;   /* lots and runs in the delta */
        int64_t ready_us; /* how long it took to be ready */
        bool mapped;
};
void kw_index_figures(struct kw_index *ix, struct kw_index_figures *out);

/**
 * kw_index_check - compare the index with the ledger, row by row
 * Return: 0, they say the same; KW_BAD_VALUE with the first difference; another refusal; a negative errno.
 */
int kw_index_check(struct kw_index *ix, struct kw_ledger *ledger, struct kw_error *err);

#endif
