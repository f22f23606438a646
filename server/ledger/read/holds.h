#ifndef KW_READ_HOLDS_H
#define KW_READ_HOLDS_H
/*
 * Holds as they stand, whole: for the board and for whoever decides.
 */
#include "read.h"

#define KW_HOLD_IDS 4096 /* an entry's ids: seq * 4096 and what follows */

/** A lot under a hold. */
struct kw_held_row {
        const struct kw_lot_row *lot;
        struct kw_spans open;
        int64_t open_mm;
        int64_t left_mm; /* of the open spans: what is still there */
};

struct kw_part_row {
        const char *lot;
        struct kw_span span;
};

/** What somebody decided, or agreed to. */
struct kw_disposed_row {
        int64_t seq, at;
        const char *disposition, *reason, *by;
        const char *grade, *works;       /* works: processes with commas between them */
        int64_t other;                   /* of a release: the agreement, of an agreement: the release; 0: none */
        const struct kw_part_row *parts; /* of an agreement: what it is for; none: all of the hold */
        size_t n_parts;
};

struct kw_hold_whole_row {
        int64_t id, seq, at;
        const char *code, *reason, *by;
        const char *decides, *question;
        const char *trace; /* JSON, or NULL */
        bool open;
        const char *failed;             /* a test that failed on a lot under it, or NULL */
        const struct kw_held_row *lots; /* in order of code */
        size_t n_lots;
        const struct kw_disposed_row *releases, *agreements;
        size_t n_releases, n_agreements;
};

enum kw_hold_state { KW_HOLD_ANY, KW_HOLD_OPEN, KW_HOLD_CLOSED };

/**
 * kw_read_holds - holds of a state, newest first
 * @before: only those that were recorded before this entry; 0: all
 * @next:   receives the @before of the next page, 0 where there is none
 */
int kw_read_holds(struct kw_reader *r, enum kw_hold_state state, int64_t before, size_t limit,
                  const struct kw_hold_whole_row **out, size_t *n, int64_t *next);
/** kw_read_hold - *@out is NULL when there is no such hold. */
int kw_read_hold(struct kw_reader *r, const char *code, const struct kw_hold_whole_row **out);

#endif
