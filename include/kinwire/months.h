#ifndef KINWIRE_MONTHS_H
#define KINWIRE_MONTHS_H
/*
 * Months summed up: what each month adds to a balance of mass, kept from one question to the next.
 *
 * A balance of all time would read every run that there ever was. A month that is over hardly ever changes, so its sums
 * are kept, by machine and kind; which entries count in which month is noted as well, so that what is recorded, put
 * right or done again since makes just its own months stale: those they counted in and those they count in now. A
 * stale month is summed up again from the tables before it is used, and a question at a month's edge counts what lies
 * within it one by one, so an answer is to the gram what summing up everything gives.
 *
 * Held in memory, some 35 bytes a run, and in a file beside the ledger from which a restart goes on. It is never a
 * second truth: it can be thrown away at any time.
 */
#include "kinwire/error.h"
#include "kinwire/undone.h"

struct kw_ledger;
struct kw_months;

/**
 * kw_months_new - nothing summed up yet
 * @undone: what the ledger's writer tells, of which this is the follower
 * @file:   to begin from, when they are first held, and to be kept in; NULL: in memory alone
 */
int kw_months_new(struct kw_undone *undone, const char *file, struct kw_months **out);
void kw_months_free(struct kw_months *m);

/**
 * kw_months_hold - bring what is noted to the size that @ledger looks at, and keep it there until kw_months_give()
 * The ledger is made to look anew where that was overtaken.
 * Return: 0; -EAGAIN: not to be had for this view, sum up everything; a refusal; another negative errno.
 */
int kw_months_hold(struct kw_months *m, struct kw_ledger *ledger, struct kw_error *err);
void kw_months_give(struct kw_months *m);

/** How much is summed up, in entries that count. */
struct kw_months_figures {
        int64_t size, entries, fresh;
};
void kw_months_figures(struct kw_months *m, struct kw_months_figures *out);

/**
 * kw_months_step - sum up one stale month, the latest; others may hold them meanwhile. @ledger: with no view
 * Return: 1, there may be more; 0, none is stale; a refusal; a negative errno.
 */
int kw_months_step(struct kw_months *m, struct kw_ledger *ledger, struct kw_error *err);

/**
 * kw_months_save - write the file, where it is worth it: there is none, something was put right since it was written,
 * or the ledger, or what is summed up of it, has grown by @grown entries. Others may hold them while it is being
 * written. @ledger: with no view Return: 0; -EBUSY, another program is writing it; a refusal; another negative errno,
 * with the file as it was.
 */
int kw_months_save(struct kw_months *m, struct kw_ledger *ledger, int64_t grown, struct kw_error *err);
/** kw_months_fault - what was wrong with the file that was there, once; NULL: nothing. */
const char *kw_months_fault(struct kw_months *m);

#endif
