#ifndef KW_LEDGER_REDO_H
#define KW_LEDGER_REDO_H
/*
 * Doing entries again: a set of entries is undone, something is changed, and they are done again in the order of the
 * ledger.
 *
 * An entry that names something which is itself still to be done waits for it; when nothing moves any more, the ones
 * that wait are each other's ancestors, or name what is gone.
 */
#include "leaning.h"
#include "work.h"

/** A body that stands in the ledger from now on, though the entry that says so is not in the store yet. */
struct kw_fresh {
        int64_t seq, body_seq;
        const cJSON *body; /* NULL: void */
        int64_t at;        /* of a step on its way in; 0: as stored */
};

struct kw_redo {
        struct kw_work *w;    /* that makes it necessary */
        struct kw_again *set; /* freed by kw_redo_free() */
        int64_t target;       /* the entry that is put right; 0: none */
        const struct kw_fresh *fresh;
        struct kw_exempt *exempt; /* what the target had taken */
        size_t n_exempt;
        cJSON *codes;               /* of lots that the set had made: {"RC-1":true} */
        struct kw_error target_err; /* why the target could not be done again */
        struct kw_error other_err;  /* why the first other entry could not */
};

/** kw_redo_undo - remove the rows of the whole set. Return: 0; negative errno. */
int kw_redo_undo(struct kw_redo *r);
/**
 * kw_redo_do - do the set again
 * Return: 0; a refusal with @r's errors filled (KW_UNKNOWN_LOT stands for entries that wait in vain); negative errno.
 */
int kw_redo_do(struct kw_redo *r);
/**
 * kw_redo_refuse - refuse with why the first other entry could not be done again
 * @waits: the refusal when it waits for something that is gone
 */
int kw_redo_refuse(const struct kw_redo *r, enum kw_refusal waits, const char *pointer, struct kw_error *err);
/** kw_redo_done - whether the entry was done again. */
bool kw_redo_done(const struct kw_redo *r, int64_t seq);
void kw_redo_free(struct kw_redo *r);
/** kw_can_wait - whether a refusal may be only for want of an entry that is still to be done. */
bool kw_can_wait(int rc);

#endif
