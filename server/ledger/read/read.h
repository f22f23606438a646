#ifndef KW_READ_H
#define KW_READ_H
/*
 * Reading the ledger for an answer: everything that is asked of the tables, as plain structs.
 *
 * A reader lives as long as one question, between kw_ledger_look() and kw_ledger_done(). What it hands out stays valid
 * as long as the reader, also after kw_ledger_done(); nothing of it is to be freed. Runs and lots are loaded when they
 * are first asked for and kept, so that a trace reads what it touches once.
 *
 * Functions return 0, a negative errno (kw_reader_failed() makes a refusal of it), or where they take a struct kw_error
 * a refusal. A number that is not known is KW_NONE, a text that is not known is NULL. Lengths are mm, masses g, times
 * seconds since 1970.
 */
#include "arena.h"
#include "kinwire/ledger.h"
#include "kinwire/trace.h"

#define KW_NONE INT64_MIN

struct kw_index;

struct kw_reader;

int kw_reader_new(struct kw_ledger *ledger, struct kw_reader **out);
void kw_reader_free(struct kw_reader *r);
struct kw_arena *kw_reader_arena(struct kw_reader *r);
/** kw_reader_genealogy - the mill as the trace engine sees it; its use() and maker() load on demand. */
const struct kw_genealogy *kw_reader_genealogy(struct kw_reader *r);
/** kw_reader_failed - a negative errno as a refusal with its sentence; anything else unchanged. */
int kw_reader_failed(struct kw_reader *r, int rc, struct kw_error *err);

/* --- lots and runs ---------------------------------------------------------------------------- */

/** A lot as it was made or received. */
struct kw_lot_row {
        int64_t id, seq;
        const char *code, *kind;
        int64_t length_mm;
        const char *length_from;
        int64_t mass_g;
        const char *mass_from;
        int64_t diameter_um;
        const char *construction;
        int64_t heat, supply; /* ids, 0: none */
        int64_t run;          /* that made it, 0: received */
        int64_t s0;           /* its place on that run's output */
        uint32_t depth;
        int64_t at;
        const char *order;
        const char *measured; /* JSON: [um, ...] */
        const char *grade;    /* of its heats, where that is one */
        int64_t tensile_kpa;  /* tensile grade */
};

/**
 * kw_reader_hold - let rows come from an index that is held, where it has them; NULL before it is given back
 * What was read stays as it was read.
 */
void kw_reader_hold(struct kw_reader *r, struct kw_index *ix);

/** kw_read_lot - by id. *@out is NULL when there is no such lot. */
int kw_read_lot(struct kw_reader *r, int64_t id, const struct kw_lot_row **out);
/** kw_read_lot_named - by code. Return: 0; KW_NOT_FOUND; a negative errno. */
int kw_read_lot_named(struct kw_reader *r, const char *code, const struct kw_lot_row **out, struct kw_error *err);

struct kw_line_row {
        int64_t ord;
        const int64_t *feed_ords;
};

struct kw_package_row {
        int64_t doffed;
        const char *reason; /* of scrap */
};

/** A run: its map for the engine, and beside it what the map has no use for. */
struct kw_run_row {
        int64_t id, seq;
        const char *code, *process, *machine;
        int64_t started, ended, at;
        int64_t batch; /* id, 0: none */
        bool under_way;
        const char *order; /* that it is made for */
        struct kw_run map;
        const struct kw_line_row *lines;       /* map.n_lines */
        const struct kw_package_row *packages; /* map.n_packages */
};

/** kw_read_run - by id. *@out is NULL when there is no such run. */
int kw_read_run(struct kw_reader *r, int64_t id, const struct kw_run_row **out);

/** kw_read_code - the code of a thing whose id is known; NULL when there is none. */
enum kw_named { KW_NAMED_HEAT, KW_NAMED_SUPPLY, KW_NAMED_BATCH, KW_NAMED_RUN };
int kw_read_code(struct kw_reader *r, enum kw_named what, int64_t id, const char **out);

/** kw_read_run_of_lot - the code of the run that made a lot; NULL: it was received. */
int kw_read_run_of_lot(struct kw_reader *r, const struct kw_lot_row *lot, const char **out);

/** Where a lot came from, in words: of its heat or its supply. */
struct kw_source_row {
        const char *heat, *supply; /* codes */
        const char *supplier, *grade;
};
int kw_read_source(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_source_row *out);

/** kw_read_weld_before - the code of the joint before a feed, NULL when it has none. @line, @feed: numbers in the map.
 */
int kw_read_weld_before(struct kw_reader *r, const struct kw_run_row *run, size_t line, size_t feed, const char **code,
                        const char **made_by);

/**
 * kw_read_heats_of - the heats that what is in @hits is made of, surely or possibly, in order of code
 * @hits: the spans asked about; extended by the trace back
 */
int kw_read_heats_of(struct kw_reader *r, struct kw_hits *hits, const char *const **codes, size_t *n);
/** kw_read_heats_in - the same of a whole lot. */
int kw_read_heats_in(struct kw_reader *r, const struct kw_lot_row *lot, const char *const **codes, size_t *n);

/* --- where a trace starts ----------------------------------------------------------------------- */

/** What a trace starts from. */
struct kw_origin {
        const char *type, *code;
        bool part; /* of a lot: only from_mm to to_mm */
        int64_t from_mm, to_mm;
        int64_t since, until; /* of a machine or an instrument; INT64_MIN and INT64_MAX where not bounded */
};

/** kw_origin_known - whether a trace can start from such a type of thing. */
bool kw_origin_known(const char *type);
/**
 * kw_origin_spans - the spans that a trace from @origin starts with
 * Return: 0; KW_NOT_FOUND; KW_OUT_OF_RANGE; a negative errno.
 */
int kw_origin_spans(struct kw_reader *r, const struct kw_origin *origin, struct kw_hits *out, struct kw_error *err);
/** kw_heat_coils - add every lot received of a heat, whole and certain. */
int kw_heat_coils(struct kw_reader *r, int64_t heat, struct kw_hits *out);

/* --- what has become of a lot ----------------------------------------------------------------- */

enum kw_claim_kind { KW_CLAIM_FEED, KW_CLAIM_SAMPLE, KW_CLAIM_SCRAP, KW_CLAIM_DISPATCH };

/** A length of a lot that was taken, and what took it. */
struct kw_claim_row {
        enum kw_claim_kind what;
        int64_t from, to;
        int64_t at, seq;
        const char *code;   /* run, test or consignment */
        int64_t run;        /* of a feed */
        const char *line;   /* of a feed */
        bool inner;         /* of a feed: paid off from the inner end */
        const char *reason; /* of scrap */
};
/** kw_read_claims - everything that was taken of a lot, in order of from. */
int kw_read_claims(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_claim_row **out, size_t *n);
/** kw_read_left_before - what was left of a lot at a time: claims at the same second count when their entry is earlier.
 */
int kw_read_left_before(struct kw_reader *r, const struct kw_lot_row *lot, int64_t at, int64_t seq,
                        struct kw_spans *out);

enum kw_lot_is { KW_LOT_IN_STOCK, KW_LOT_CONSUMED, KW_LOT_SCRAPPED, KW_LOT_DISPATCHED, KW_LOT_ON_HOLD };
/** kw_lot_is_text - "in-stock", ... */
const char *kw_lot_is_text(enum kw_lot_is is);

/** What every row of an answer says of a lot. */
struct kw_lot_state {
        enum kw_lot_is is;
        struct kw_spans left;
        int64_t left_mm;
        const char *location; /* of what is left; NULL when nothing is */
        const char *consignment, *consignee;
        int64_t dispatched;
        const char *const *holds; /* codes of holds that are open on the lot, in order */
        size_t n_holds;
        const char *const *certificates; /* codes of those neither withdrawn nor replaced, in order */
        size_t n_certificates;
};
int kw_read_state(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_lot_state *out);

struct kw_freed_row {
        int64_t seq, at;
        const char *disposition, *reason;
        const char *grade, *works; /* works: of rework, processes with commas between them */
        struct kw_spans spans;
};
/** A hold as far as it bars one lot. */
struct kw_hold_row {
        int64_t id, at;
        const char *code, *reason;
        struct kw_spans spans, open;
        const struct kw_freed_row *freed;
        size_t n_freed;
};
/** kw_read_holds_on - every hold that a lot was put on, open or not, in order of code. */
int kw_read_holds_on(struct kw_reader *r, int64_t lot, const struct kw_hold_row **out, size_t *n);

/* --- a lot's papers ------------------------------------------------------------------------------ */

struct kw_result_row {
        const char *property;
        int64_t value;
};
struct kw_test_row {
        int64_t id, seq, at;
        const char *code, *instrument, *verdict; /* what counts: as said, else as judged */
        const char *said;                        /* by whoever sent it */
        int64_t spec;                            /* id of what it was judged by, 0: by none */
        const char *spec_code, *judged;          /* judged: the computed verdict, NULL: nothing measured is limited */
        int64_t spec_version;
        const char *retest_of; /* the test that it repeats */
        int64_t at_mm, sample_mm;
        const struct kw_result_row *results;
        size_t n_results;
};
/** kw_read_tests_of - in order of place, then code. */
int kw_read_tests_of(struct kw_reader *r, int64_t lot, const struct kw_test_row **out, size_t *n);

struct kw_certificate_row {
        const char *code, *type;
        int64_t at;
        int64_t withdrawn; /* time, KW_NONE: it stands */
        const char *withdrawn_reason;
};
int kw_read_certificates_of(struct kw_reader *r, int64_t lot, const struct kw_certificate_row **out, size_t *n);

struct kw_treatment_row {
        const char *code, *process, *machine;
        int64_t started, ended;
        struct kw_spans spans;
};
/** kw_read_batches_of - the batches a lot was treated in, and which length of it. */
int kw_read_batches_of(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_treatment_row **out,
                       size_t *n);

struct kw_note_row {
        int64_t seq, at;
        const char *by, *text;
};
int kw_read_notes(struct kw_reader *r, const char *type, const char *code, const struct kw_note_row **out, size_t *n);

struct kw_finding_row {
        int64_t seq, at;
        const char *code, *text;
        const char *about; /* "run:DR-1"; NULL where the entry made nothing that has a code */
        const char *said;  /* JSON */
};
/** kw_read_findings_of - of one entry, and, with @lot not 0, of the tests on that lot. */
int kw_read_findings_of(struct kw_reader *r, int64_t seq, int64_t lot, const struct kw_finding_row **out, size_t *n);

/* --- things of any type ------------------------------------------------------------------------- */

/** What a thing is, in few words of English, and what a page says the same by. */
struct kw_few_words {
        const char *text;              /* "bobbin, 20000 m" */
        const char *kind;              /* of a lot, else NULL */
        int64_t length_mm;             /* of a lot, else KW_NONE */
        const char *process, *machine; /* of a run or a batch; NULL: of others, or the machine that was asked about */
};

struct kw_thing_row {
        const char *type, *code;
        int64_t id, seq;
        struct kw_few_words few;
        bool exact;
};
/** kw_read_thing - machines and instruments have id and seq 0. Return: 0; KW_NOT_FOUND; KW_BAD_REQUEST; a negative
 * errno. */
int kw_read_thing(struct kw_reader *r, const char *type, const char *code, struct kw_thing_row *out,
                  struct kw_error *err);

struct kw_link_row {
        const char *rel, *type, *code;
        struct kw_few_words few;
};
/** kw_read_links - what a thing leads to. */
int kw_read_links(struct kw_reader *r, const struct kw_thing_row *thing, const struct kw_link_row **out, size_t *n);

/** kw_read_find - things whose code is @text, then those whose code begins with it; @most at most. */
int kw_read_find(struct kw_reader *r, const char *text, size_t most, const struct kw_thing_row **out, size_t *n);

/* --- what needs attention ------------------------------------------------------------------------- */

struct kw_failed_row {
        const char *test, *lot;
        int64_t at;
};
/** kw_read_failed - failed tests whose lot has something left and no open hold, and that no retests made good (as
 * kw_tests_stand() has it), newest first. */
int kw_read_failed(struct kw_reader *r, const struct kw_failed_row **out, size_t *n);
/** kw_read_findings - the newest @most, newest first. */
int kw_read_findings(struct kw_reader *r, size_t most, const struct kw_finding_row **out, size_t *n);

struct kw_stock_row {
        const char *kind;
        int64_t lots, left_mm;
        int64_t left_g; /* KW_NONE when the mass of any of them is not known */
};
/**
 * kw_read_stock - what is left, by kind of lot; kinds of which nothing is left are not listed
 * Return: 0; -EAGAIN when it is not to be had without a look at every lot of a large ledger: the index that keeps the
 * sums is being made; another negative errno.
 */
int kw_read_stock(struct kw_reader *r, const struct kw_stock_row **out, size_t *n);

/* --- entries -------------------------------------------------------------------------------------- */

enum kw_standing { KW_STANDS, KW_CORRECTED, KW_VOID };
const char *kw_standing_text(enum kw_standing s);

struct kw_correction_row {
        int64_t seq;
        const char *reason;
        bool is_void;
};
struct kw_entry_row {
        int64_t seq;
        const char *key, *kind, *at, *logged, *by, *terminal;
        const char *leaf; /* canonical JSON, as hashed */
        const char *body; /* canonical JSON: as sent */
        struct kw_hash hash;
        enum kw_standing standing;
        int64_t body_seq; /* the entry whose body stands for it */
        const struct kw_correction_row *corrections;
        size_t n_corrections;
        const struct kw_finding_row *findings;
        size_t n_findings;
};
/** kw_read_entry - Return: 0; KW_NOT_FOUND; a negative errno. */
int kw_read_entry(struct kw_reader *r, int64_t seq, struct kw_entry_row *out, struct kw_error *err);
/** kw_read_standing_body - the body that stands for an entry, canonical JSON; NULL when it is void. */
int kw_read_standing_body(struct kw_reader *r, const struct kw_entry_row *entry, const char **out);
/** kw_entry_about - the things an entry is about, in words: "DR-1", "BB-1, BB-2 to A-12". */
int kw_entry_about(struct kw_reader *r, const struct kw_entry_row *entry, const char **out);

/** Which entries: newest first, with seq < @before where it is not 0. NULL where a filter is not wanted. */
struct kw_entries_wanted {
        int64_t before;
        size_t limit;
        const char *kind, *by, *code;
};
/** kw_read_entries - @next: the `before` of the next page, 0 when this is the last. */
int kw_read_entries(struct kw_reader *r, const struct kw_entries_wanted *wanted, const struct kw_entry_row **out,
                    size_t *n, int64_t *next);

#endif
