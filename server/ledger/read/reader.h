#ifndef KW_READ_READER_H
#define KW_READ_READER_H
/*
 * The reader from inside: its ledger, its memory, and what it has loaded.
 */
#include "../store.h"
#include "read.h"

/* Ids are whole numbers that lie close together: a multiplication spreads them (Knuth, TAOCP 3, 6.4). */
static inline unsigned kw_spread_id(int64_t id)
{
        return (unsigned)(((uint64_t)id * UINT64_C(0x9E3779B97F4A7C15)) >> 32);
}

#define HASH_NONFATAL_OOM                1
#define HASH_FUNCTION(key, length, hash) ((hash) = kw_spread_id(*(const int64_t *)(key)))
#include <uthash.h>

#define KW_TEXTS_KEPT 64

struct kw_kept_lot {
        int64_t id;
        uint32_t number; /* in the index that was held, UINT32_MAX: none */
        struct kw_lot_row row;
        const struct kw_use *uses;
        size_t n_uses;
        bool uses_read;
        UT_hash_handle hh;
};

struct kw_kept_run {
        int64_t id;
        struct kw_run_row row;
        UT_hash_handle hh;
};

struct kw_reader {
        struct kw_ledger *ledger;
        struct kw_index *index; /* held, or NULL */
        uint32_t next_lot;      /* its number of the lot after the last that was read */
        /* texts of the index that were kept last, by where they stand in it */
        struct {
                const char *from, *kept;
        } texts[KW_TEXTS_KEPT];
        struct kw_arena arena;
        struct kw_kept_lot *lots;
        struct kw_kept_run *runs;
        struct kw_genealogy genealogy;
};

/* types (type): each type of code in use, found by stepping from one to the next. After WITH RECURSIVE. */
#define KW_TYPES                                                              \
        "types (type) AS MATERIALIZED (SELECT min(type) FROM thing UNION ALL" \
        " SELECT (SELECT min(type) FROM thing WHERE thing.type > types.type) FROM types WHERE types.type IS NOT NULL)"

/** Of a leaf: a correction holds a whole body inside its own, and a leaf holds a body inside an envelope. */
extern const struct kw_json_limits kw_leaf_limits;

/** kw_keep_text - a column as text kept in the arena; a failed allocation is told by @failed. */
static inline const char *kw_keep_text(struct kw_reader *r, struct kw_query *q, int column, bool *failed)
{
        return kw_arena_text(&r->arena, kw_text(q, column), failed);
}
/** kw_keep_said - a text of the index, kept in the arena: the same few come again and again. */
const char *kw_keep_said(struct kw_reader *r, const char *text, bool *failed);
/** kw_number_of_lot - the number in the index at which a lot was found; UINT32_MAX: not there. */
uint32_t kw_number_of_lot(const struct kw_reader *r, int64_t id);
/** kw_int_or - a column, or @otherwise where it is NULL. */
static inline int64_t kw_int_or(struct kw_query *q, int column, int64_t otherwise)
{
        return kw_is_null(q, column) ? otherwise : kw_int(q, column);
}

/** kw_read_uses - every feed taken from a lot, in order of from. */
int kw_read_uses(struct kw_reader *r, int64_t lot, const struct kw_use **uses, size_t *n);

/** kw_read_left - what is left of a lot, appended in order. */
int kw_read_left(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_spans *out);

/** kw_machine_hits - packages and treated lots by the time at which they were in the machine. */
int kw_machine_hits(struct kw_reader *r, const struct kw_origin *origin, struct kw_hits *out, struct kw_error *err);
/** kw_failed_test_hits - what lies between the good samples around a failed test. */
int kw_failed_test_hits(struct kw_reader *r, int64_t test, const struct kw_lot_row *lot, int64_t at_mm,
                        struct kw_hits *out);
/** kw_run_hits - every package of a run, whole. */
int kw_run_hits(struct kw_reader *r, int64_t run, enum kw_which which, struct kw_hits *out);
/** kw_lot_hits - a lot, whole. */
int kw_lot_hits(struct kw_reader *r, int64_t lot, enum kw_which which, struct kw_hits *out);
/** kw_treated_hits - the lengths of lots that a batch treated. */
int kw_treated_hits(struct kw_reader *r, int64_t batch, enum kw_which which, struct kw_hits *out);

/*
 * What entry @seq made, as a table (type, code, id) in SQL: lots, runs and joints by their ids, the others by an index
 * that leaves those out.
 */
#define KW_THINGS_OF(seq)                                                                                              \
        "(SELECT type, code, id FROM thing WHERE seq = " seq " AND type <> 'lot' AND type <> 'run' AND type <> 'weld'" \
        " UNION ALL SELECT 'lot', code, id FROM lot WHERE id BETWEEN " seq " * 4096 AND " seq                          \
        " * 4096 + 4095 UNION ALL SELECT 'run', code, id FROM run WHERE id = " seq                                     \
        " * 4096 UNION ALL SELECT 'weld', code, id FROM weld WHERE id BETWEEN " seq " * 4096 AND " seq                 \
        " * 4096 + 4095)"

#endif
