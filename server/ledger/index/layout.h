#ifndef KW_INDEX_LAYOUT_H
#define KW_INDEX_LAYOUT_H
/*
 * The index from inside: lots and runs by dense numbers, and what a trace asks of them in as few cache lines as it
 * takes.
 *
 *      lot --first--> its feeds, in order of place, 32 bytes each. Each holds the piece between two known points of its
 *                     line in which it lies, so that it is mapped without a look at the run
 *      run ---------> its packages, in order of s, 16 bytes each; its feeds, by number, in order of line
 *
 * A base is one block of memory, laid out as in its file and never changed but for the marks of touched lots. What was
 * recorded since is in a delta beside it. Lengths are held in 32 bits, 4,294 km; a feed or a run with a longer one is
 * marked far, and a trace that meets it is left to SQLite.
 */
#include "kinwire/index.h"

#include "../store.h"

#include <pthread.h>

#define NO_LOT    UINT32_C(0x0fffffff) /* of a package: scrap */
#define LOTS_MOST UINT32_C(0x0ffffffe)
#define RUNS_MOST UINT32_C(0x00fffffe)
#define LINE_MOST UINT32_C(255)
#define NONE      UINT32_MAX
#define TOUCHED   UINT32_C(0x80000000)
/* Entries after which the file is made again: a start reads as many in less than a second, and what an answer says of
 * lots that are in no base is asked of SQLite. */
#define KW_INDEX_FILE_LAG 5000
#define IDS               4096 /* ids of an entry: seq * 4096 + a number within it */

/*
 * What a run took of a lot. The feed lies in the piece of @length mm of input that comes out at [s0, s1], and begins
 * @at mm into it. shared: there is more in the piece than this feed. open: the piece of a run under way that has no end
 * yet.
 */
struct feed_rec {
        uint32_t lot : 28, inner : 1, open : 1, shared : 1, far : 1;
        uint32_t run : 24, line : 8; /* line: tells lines with shared pieces apart */
        uint32_t from, to;
        uint32_t s0, s1;
        uint32_t at, length;
};

#define DEPTH_MOST UINT32_C(0x3fffffff)
#define DEEP       255 /* the depth is that of the run's own record */

struct pack_rec {
        uint32_t lot, s0, s1;
        uint32_t run : 24, depth : 8; /* depth: of the run, so that it need not be looked at for it */
};

/*
 * Lots are numbered in order of their ids. The id of one that a run made is told by its place in the run: seq * 4096,
 * and 1 for the first package; that of one that was received is seq * 4096.
 */
struct received_rec {
        uint32_t lot, seq;
};

struct run_rec {
        uint32_t pack, packs;
        uint32_t feed, feeds; /* in by_run */
        uint32_t ppm;
        uint32_t depth : 30, in_turn : 1, far : 1; /* in_turn: its feeds are in order of s0, and of s1 */
        uint32_t length;                           /* S */
        uint32_t seq;
};

/*
 * What an answer says of a lot, so that it need not be asked of SQLite lot by lot. Packages of a run are alike, so what
 * they have in common is a row of SEC_SORTS, and codes follow one another, so that most are told by their last letters
 * (codes.c). Of received lots, which are few, nothing is here.
 */
struct sort_rec {
        uint32_t kind, mass_from, construction, grade; /* in SEC_TEXTS; NONE: NULL */
        uint32_t diameter_um, tensile_kpa;             /* NONE: NULL */
};

/* In order of lot. */
struct placed_rec {
        uint32_t lot, text;
};
struct taken_rec { /* other than by feeds */
        uint32_t lot, from, to, scrap;
};
/* Of what there is something left: most lots' rows are here, what these count for follows from them. */
struct left_rec {
        uint32_t lot, left_mm;
};
struct stock_rec {                    /* all others, in order of id */
        int64_t lot, left_mm, left_g; /* left_g: -1, not known */
        uint32_t kind, zero;          /* in SEC_TEXTS */
};
struct stock_sum_rec {
        uint32_t kind, zero;
        int64_t lots, weighed, left_mm, left_g;
};
struct sent_rec {
        uint32_t lot, consignment;
};
struct consignment_rec {
        uint32_t code, consignee; /* in SEC_TEXTS */
        int64_t at;
};

/* Of each lot. What is not right any more, or never was within the index's means, is for SQLite. */
enum lot_flags {
        FACT_ROW = 1,   /* its row is as it is said here */
        FACT_STATE = 2, /* so is what has become of it: */
        FACT_PLACED = 4,
        FACT_TAKEN = 8,
        FACT_SENT = 16,
        FACT_CERTIFIED = 32, /* SQLite says by what */
        FACT_HELD = 64       /* as well */
};

/** kw_run_feed_next - the run gets another feed, after @last or as its first. */
static inline void kw_run_feed_next(struct run_rec *run, const struct feed_rec *last, const struct feed_rec *next)
{
        run->in_turn = !next->far && (!run->feeds++ || (run->in_turn && last->s0 <= next->s0 && last->s1 <= next->s1));
}

static inline uint8_t kw_depth_in_pack(uint32_t depth)
{
        return depth < DEEP ? (uint8_t)depth : DEEP;
}

enum section {
        SEC_RUNS,
        SEC_PACKS,
        SEC_FEEDS,
        SEC_BY_RUN,
        SEC_FIRST,
        SEC_PACK_OF,
        SEC_RECEIVED,
        SEC_FLAGS,
        SEC_SORT_OF,
        SEC_MASS,
        SEC_SORTS,
        SEC_TEXTS,
        SEC_CODE_AT,
        SEC_CODES,
        SEC_RUN_CODE_AT,
        SEC_RUN_CODES,
        SEC_RUN_TIME,
        SEC_PLACED,
        SEC_TAKEN,
        SEC_SENT,
        SEC_CONSIGNMENTS,
        SEC_LEFT,
        SEC_STOCK,
        SEC_STOCK_SUMS,
        SECTIONS
};

/* How the file begins; the sections follow, each at a multiple of 64 bytes. */
struct base_head {
        char magic[16];
        uint64_t bytes;
        uint64_t at[SECTIONS], n[SECTIONS];
        int64_t size; /* of the ledger */
        struct kw_hash root;
        uint64_t content; /* sum of the sections */
        uint32_t depth_most;
        uint32_t sum; /* of all before it */
};

struct base {
        struct base_head head;
        void *mapped; /* the file; NULL: the sections are allocated */
        void *section[SECTIONS];
        /* the same by name */
        const struct run_rec *runs;
        const struct pack_rec *packs;
        const struct feed_rec *feeds; /* by lot, then place */
        const uint32_t *by_run;       /* numbers of feeds by run, then line and place on it */
        uint32_t *first;              /* feed of each lot, and one more; TOUCHED: its feeds are in the delta */
        const uint32_t *pack_of;      /* of each lot; NONE: received */
        const struct received_rec *received;
        uint8_t *flags; /* of lots; what is not right any more is cleared */
        uint32_t n_runs, n_lots, n_received;
        bool touched; /* some of its lots are */
};

struct delta;
struct stock;

/* All that a trace sees: changed by one, read by many (index.c). */
struct body {
        struct base base;
        struct delta *delta;
        struct stock *stock;
        int64_t size;
        uint32_t depth_most;
};

/* --- base.c --------------------------------------------------------------------------------------- */

/** kw_base_name - set what is named after the sections were. */
void kw_base_name(struct base *b);
/** kw_base_map - Return: 0; -ENOENT when there is none, or one that can't be used; a negative errno. */
int kw_base_map(struct base *b, const char *file);
/** kw_base_save - write it as a file, which takes its name when it is whole and on disk; as kw_write_aside(). */
int kw_base_save(const struct base *b, const char *file);
void kw_base_free(struct base *b);
uint64_t kw_base_bytes(const struct base *b);
/** kw_base_sizes - the bytes of a row of each section. */
void kw_base_sizes(size_t out[SECTIONS]);

/* --- build.c -------------------------------------------------------------------------------------- */

/** kw_base_build - from what @l looks at. Return: 0; a negative errno. */
int kw_base_build(struct base *b, struct kw_ledger *l);
/** kw_base_run - the run that entry @seq made, NONE when it made none. */
uint32_t kw_base_run(const struct base *b, int64_t seq);
/** kw_base_number - of the lot with this id, NONE when there is none; kw_base_id - and back. */
uint32_t kw_base_number(const struct base *b, int64_t id);
int64_t kw_base_id(const struct base *b, uint32_t lot);

/* --- codes.c -------------------------------------------------------------------------------------- */

#define CODES_IN_BLOCK 16

/** A list of codes while it is written: each told by what it shares with the one before it, a block from anew. */
struct codes {
        uint32_t *at; /* of each block */
        unsigned char *bytes;
        uint64_t n, n_at, n_bytes, cap_at, cap_bytes;
        char last[KW_CODE_MAX + 1];
};
/** kw_codes_add - Return: 0; -ENOMEM; -E2BIG. */
int kw_codes_add(struct codes *c, const char *code);
void kw_codes_free(struct codes *c);
/** kw_codes_get - code @i of a list. */
void kw_codes_get(const uint32_t *at, const unsigned char *bytes, uint32_t i, char code[KW_CODE_MAX + 1]);

/* --- facts.c -------------------------------------------------------------------------------------- */

struct facts;
/** kw_facts_new - what is gathered of lots beside their genealogy, for @b. Free with kw_facts_free(). */
struct facts *kw_facts_new(struct base *b, struct kw_ledger *l);
void kw_facts_free(struct facts *f);
/** kw_facts_run, _lot - the next run and the next lot, in order of id. Columns: RUN_FACTS, LOT_FACTS from @at on. */
int kw_facts_run(struct facts *f, struct kw_query *q, int at);
int kw_facts_lot(struct facts *f, struct kw_query *q, int at);
#define RUN_FACTS "code, at"
#define LOT_FACTS                                                                                                      \
        "code, kind, length_mm, length_from, mass_g, mass_from, diameter_um, construction, run, s0, depth, at, grade," \
        " coalesce(heat, supply, ord, measured) IS NULL, tensile_kpa"
/** kw_facts_place - the lot's place on its run is known: hold its row against it. */
void kw_facts_place(struct facts *f, uint32_t lot, const struct pack_rec *pack);
/** kw_facts_fed - this much was taken of the lot by a run. */
void kw_facts_fed(struct facts *f, uint32_t lot, int64_t mm);
/** kw_facts_done - after all of these, and what has become of lots. Return: 0; a negative errno. */
int kw_facts_done(struct facts *f);
/** kw_facts_not - the lot's flags @which are not right. */
void kw_facts_not(struct base *b, uint32_t lot, unsigned which);

/* --- line.c --------------------------------------------------------------------------------------- */

/** A line's feeds as they are read, and as they become records. Free with kw_line_free(). */
struct line_rows {
        struct feed_row {
                int64_t lot, from, to, v0, seen; /* seen: KW_LENGTH_MAX + 1 where it was not */
                bool inner;
        } * rows;
        struct feed_rec *recs; /* without lot and run */
        size_t n, cap;
        uint32_t shared; /* lines with shared pieces before this one */
};

/** kw_line_add - one row of "lot, from_mm, to_mm, inner, v0, seen_mm" from column @at on. Return: 0; -ENOMEM. */
int kw_line_add(struct line_rows *line, struct kw_query *q, int at);
/**
 * kw_line_recs - make the records of a line
 * @v, @s: where it ends
 * Return: their number, 0 for a line that has no map yet.
 */
size_t kw_line_recs(struct line_rows *line, int64_t v, int64_t s, bool open);
void kw_line_free(struct line_rows *line);

/* --- delta.c -------------------------------------------------------------------------------------- */

int kw_delta_new(struct delta **out);
void kw_delta_free(struct delta *d);
/** kw_delta_entry - read again what entry @seq made. Return: 0; a negative errno with the body half changed. */
int kw_delta_entry(struct body *x, struct kw_ledger *l, int64_t seq);
uint64_t kw_delta_bytes(const struct delta *d);
size_t kw_delta_count(const struct delta *d);

/* --- stock.c -------------------------------------------------------------------------------------- */

/** kw_stock_new - the sums of a base. Return: 0; a negative errno, and *@out may be freed with kw_stock_drop(). */
int kw_stock_new(struct stock **out, const struct base *b);
void kw_stock_drop(struct stock *s);
/** kw_stock_usual - what a lot of the base counts for with this much left, by its row there, which it must have had. */
struct kw_index_stock kw_stock_usual(const struct base *b, uint32_t lot, uint32_t left_mm);
/** kw_stock_mark - what is left of this lot may have changed. Return: 0; -ENOMEM. */
int kw_stock_mark(struct body *x, int64_t lot);
/** kw_stock_ask - what the tables say is left of one lot; lots is 0 or 1. Return: 0; -ENOENT; a negative errno. */
int kw_stock_ask(struct kw_ledger *l, int64_t lot, struct kw_index_stock *out);

/* --- index.c, keeper.c ---------------------------------------------------------------------------- */

/*
 * Two locks: @lock over what traces see; a trace holds it for reading, whoever changes the body for writing.
 * @walks_lock over the scratch that traces leave for the next one.
 */
struct kw_index {
        char *ledger, *file;
        pthread_rwlock_t lock;
        struct body body;
        bool ready;
        /* what the writer told: up to where, and since where without a gap; what was undone is noted while a base is
         * built */
        int64_t followed, followed_from;
        bool noting;
        struct kw_numbers noted, noted_lots;
        int64_t ready_us, not_in_file; /* entries, and corrections count for many */
        /* the thread that keeps it */
        pthread_t thread;
        pthread_mutex_t keeper_lock;
        pthread_cond_t wake;
        bool running, stopping, wanted;
        pthread_mutex_t walks_lock;
        struct kw_walk *walks;
};

void kw_body_free(struct body *x);
/**
 * kw_body_catch_up - what is in @l and not in @x yet, and the entries that were undone, with the lots that they spoke
 * of
 * @told_from: what steps up to this entry undid is not among @undone; they are no corrections
 * Return: 0; -errno.
 */
int kw_body_catch_up(struct body *x, struct kw_ledger *l, int64_t size, int64_t told_from,
                     const struct kw_numbers *undone, const struct kw_numbers *undone_lots);
/** kw_index_wake - the thread has something to do. */
void kw_index_wake(struct kw_index *ix);

/* --- what the walks ask --------------------------------------------------------------------------- */

struct feeds_view {
        const struct feed_rec *at;
        uint32_t n;
};

struct run_view {
        const struct run_rec *rec;
        const struct pack_rec *packs;
        const struct feed_rec *feeds; /* of the delta; NULL: base.feeds[by_run[..]] */
        const uint32_t *by_run;
};

struct feeds_view kw_delta_feeds(const struct body *x, uint32_t lot);
struct run_view kw_delta_run(const struct body *x, uint32_t run);
const struct pack_rec *kw_delta_pack(const struct body *x, uint32_t lot);
int64_t kw_lot_id(const struct body *x, uint32_t lot);
/** kw_lot_number - NONE when there is none. */
uint32_t kw_lot_number(const struct body *x, int64_t id);
uint32_t kw_all_runs(const struct body *x);
uint32_t kw_all_lots(const struct body *x);

static inline struct feeds_view kw_feeds_of(const struct body *x, uint32_t lot)
{
        if (lot < x->base.n_lots) {
                uint32_t first = x->base.first[lot];

                if (!(first & TOUCHED))
                        return (struct feeds_view){&x->base.feeds[first], (x->base.first[lot + 1] & ~TOUCHED) - first};
        }
        return kw_delta_feeds(x, lot);
}

/** kw_lot_pack - its place in the run that made it; NULL: received. */
static inline const struct pack_rec *kw_lot_pack(const struct body *x, uint32_t lot)
{
        const struct base *b = &x->base;

        if (lot >= b->n_lots || (b->touched && (b->first[lot] & TOUCHED)))
                return kw_delta_pack(x, lot);
        return b->pack_of[lot] == NONE ? NULL : &b->packs[b->pack_of[lot]];
}

static inline struct run_view kw_run_of(const struct body *x, uint32_t run)
{
        if (run >= x->base.n_runs)
                return kw_delta_run(x, run);
        const struct run_rec *rec = &x->base.runs[run];
        return (struct run_view){rec, &x->base.packs[rec->pack], NULL, &x->base.by_run[rec->feed]};
}

static inline uint32_t kw_pack_depth(const struct body *x, const struct pack_rec *pack)
{
        return pack->depth < DEEP ? pack->depth : kw_run_of(x, pack->run).rec->depth;
}

static inline const struct feed_rec *kw_run_feed(const struct body *x, const struct run_view *run, uint32_t i)
{
        return run->feeds ? &run->feeds[i] : &x->base.feeds[run->by_run[i]];
}

#endif
