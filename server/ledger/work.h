#ifndef KW_LEDGER_WORK_H
#define KW_LEDGER_WORK_H
/*
 * The work of one entry: check it against what stands, and write the rows that follow from it.
 *
 * A kind of entry is a row of kw_kinds and a function that does both. It runs when the entry is taken, when a
 * correction makes it necessary to do it again, and when everything is rebuilt; @judge is true only where a person
 * decides now, so that what was once allowed (a run before a hold, a certificate before a recall) stays done. The rows
 * it writes do not depend on
 * @judge.
 */
#include "store.h"

#include "kinwire/disposition.h"
#include "kinwire/plan.h"

#include <cjson/cJSON.h>

#define KW_IDS 4096 /* ids of an entry: seq * KW_IDS + a number within it */

/** Lengths that the earlier body of a corrected entry had claimed: a hold that came later does not bar them again. */
struct kw_exempt {
        int64_t lot, from, to;
};

struct kw_fresh;

struct kw_work {
        struct kw_ledger *l;
        int64_t seq;      /* the entry's place */
        int64_t body_seq; /* the entry whose body stands: seq, or that of the last correction */
        const char *key;  /* of the entry at seq */
        const char *kind;
        int64_t at;
        const cJSON *body;
        bool judge;
        bool may_override;
        bool second_person; /* one person alone may not release what failed or was recalled */
        const struct kw_exempt *exempt;
        size_t n_exempt;
        const struct kw_fresh *fresh; /* inside a correction: the body that it brings */
        int findings;                 /* written so far */
        struct kw_error *err;
};

struct kw_kind {
        const char *name;
        int (*apply)(struct kw_work *w);
};

/** Ended by a row without a name. correct and void are not among them: they do other entries again. */
extern const struct kw_kind kw_kinds[];
const struct kw_kind *kw_kind(const char *name);

int kw_apply_heat(struct kw_work *w);
int kw_apply_supply(struct kw_work *w);
int kw_apply_receive(struct kw_work *w);
int kw_apply_batch(struct kw_work *w);
int kw_apply_run(struct kw_work *w);
int kw_apply_test(struct kw_work *w);
int kw_apply_hold(struct kw_work *w);
int kw_apply_release(struct kw_work *w);
int kw_apply_scrap(struct kw_work *w);
int kw_apply_certify(struct kw_work *w);
int kw_apply_withdraw(struct kw_work *w);
int kw_apply_clear(struct kw_work *w);
int kw_apply_dispatch(struct kw_work *w);
int kw_apply_order(struct kw_work *w);
int kw_apply_open(struct kw_work *w);
int kw_apply_load(struct kw_work *w);
int kw_apply_doff(struct kw_work *w);
int kw_apply_close(struct kw_work *w);
int kw_apply_move(struct kw_work *w);
int kw_apply_note(struct kw_work *w);
int kw_apply_instrument(struct kw_work *w);
int kw_apply_spec(struct kw_work *w);
int kw_apply_person(struct kw_work *w);
int kw_apply_terminal(struct kw_work *w);
int kw_apply_token(struct kw_work *w);
int kw_apply_access(struct kw_work *w);
int kw_apply_agree(struct kw_work *w);
int kw_apply_drill(struct kw_work *w);

/* --- helpers ---------------------------------------------------------------------------------- */

/** kw_need - the id of a code that has to be in use, or the refusal for its type. */
int kw_need(struct kw_work *w, const char *type, const char *code, const char *pointer, int64_t *id);
/** kw_define - put a new code into use. Return: 0; KW_CODE_TAKEN. */
int kw_define(struct kw_work *w, const char *type, const char *code, const char *pointer, int64_t id);
/** kw_finding - what is odd about the entry, though it is taken, in a sentence that has no values. */
int kw_finding(struct kw_work *w, const char *code, const char *text);
/**
 * kw_finding_with - the same with the values that are in the sentence
 * @as:     which of the sentences that this finding has; the words of the pages are those of "finding.CODE.AS",
 *          "finding.CODE.says" where it is NULL
 * @values: KW_VALUES(...)
 */
int kw_finding_with(struct kw_work *w, const char *code, const char *as, const struct kw_value *values, const char *fmt,
                    ...) __attribute__((format(printf, 5, 6)));
/** kw_finding_odd - the same of what a plan finds odd. */
int kw_finding_odd(struct kw_work *w, const char *code, const struct kw_odd *odd);
/** kw_seconds - a time member of an object that has passed the check of shape; NULL when absent, else @room. */
const int64_t *kw_seconds(const cJSON *object, const char *name, int64_t *room);
/** kw_maybe - an integer member; NULL when absent, else @room. */
const int64_t *kw_maybe(const cJSON *object, const char *name, int64_t *room);

struct kw_lot_here {
        int64_t id, seq;
        char code[KW_CODE_MAX + 1];
        char kind[16];
        int64_t length_mm;
        int64_t mass_g;      /* -1: not known */
        int64_t diameter_um; /* 0: not known */
        int64_t run, s0;     /* 0: received */
        uint32_t depth;
};

/** kw_need_lot - the lot of a code, or KW_UNKNOWN_LOT. */
int kw_need_lot(struct kw_work *w, const char *code, const char *pointer, struct kw_lot_here *out);
int kw_lot_by_id(struct kw_ledger *l, int64_t id, struct kw_lot_here *out);

/** kw_stock_load - every claim on the lot. @stock->code points to @lot's. Free with kw_stock_free(). */
int kw_stock_load(struct kw_ledger *l, const struct kw_lot_here *lot, struct kw_stock *stock);

/** kw_take_rows - write claims other than feeds. */
int kw_take_rows(struct kw_work *w, int64_t lot, const struct kw_spans *pieces, const char *what, const char *code);

/**
 * kw_item_span - the interval of {lot,[from_mm,to_mm]}, checked against the lot's length; the whole lot when it has
 * none
 * @whole: receives whether it had none; may be NULL
 */
int kw_item_span(struct kw_work *w, const cJSON *item, const char *pointer, const struct kw_lot_here *lot,
                 struct kw_span *out, bool *whole);

/** kw_each_open_hold - @fn for each hold that bars some of the lot, with its open spans, in order of hold. */
int kw_each_open_hold(struct kw_ledger *l, int64_t lot, int (*fn)(void *ctx, int64_t hold, const struct kw_spans *open),
                      void *ctx);
/** What metal is wanted for. */
struct kw_wish {
        enum kw_purpose purpose;
        const char *process; /* that it is to be fed into; NULL for another purpose */
};

/**
 * kw_check_wish - refuse what touches a hold, or metal that was released for less
 * @wanted: intervals of the lot, in order
 * Return: 0 when nothing bars it, or the work is not to judge; KW_ON_HOLD; KW_TO_REWORK.
 */
int kw_check_wish(struct kw_work *w, const struct kw_lot_here *lot, const struct kw_spans *wanted,
                  const struct kw_wish *wish, const char *pointer);

#define KW_GRADE 201 /* room for a grade */
/**
 * kw_grade_here - the grade of a lot before this entry: what the last regrade that touches it gave, else its heats'
 * @part:  of the lot; NULL: all of it
 * @grade: receives it, "" where it has none
 */
int kw_grade_here(struct kw_work *w, int64_t lot, const struct kw_span *part, char grade[KW_GRADE]);
#define KW_ITEM_POINTER 96

#endif
