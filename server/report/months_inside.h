#ifndef KW_REPORT_MONTHS_INSIDE_H
#define KW_REPORT_MONTHS_INSIDE_H
/*
 * Months summed up, from inside: months.c notes which entry counts in which month and follows the ledger, months_sum.c
 * sums months up and gives them, months_kept.c has the file beside the ledger.
 *
 *      counts:  entry -> the month and the sort of what it adds          months: month -> tally, fresh or stale
 *
 * What changes counts makes the month before and the month after stale. A month is summed up from a list of its
 * entries, so that nothing is looked for; one step does that with the lock released, and what it made is thrown away
 * when the month became stale again meanwhile.
 */
#include "months.h"

#include <pthread.h>

#define KW_SORTS 3 /* of what counts: a run, a receipt, what was taken */

struct kw_month {
        int32_t month;
        bool fresh;
        int64_t entries; /* that count in it */
        uint64_t staled; /* how often it became stale */
        struct kw_tally *tally;
};

struct kw_months {
        pthread_mutex_t lock;
        struct kw_undone *undone;
        bool begun;
        int64_t size;
        /* of entry i + 1: month * KW_SORTS + sort, or KW_COUNTS_NOT */
        int32_t *counts;
        size_t cap;
        struct kw_month *months; /* in order */
        size_t n, cap_months;
        /* the file */
        char *file;                 /* NULL: none */
        bool looked;                /* for it */
        bool untold;                /* what stands came out of it: nobody here told what happened since */
        const char *fault;          /* what was wrong with it, not told yet */
        int64_t saved, saved_fresh; /* the size at which it was written last, -1: it was not; entries summed up in it */
};

#define KW_COUNTS_NOT INT32_MIN

static inline int32_t kw_month_of(int32_t count)
{
        return count >= 0 ? count / KW_SORTS : -((-count + KW_SORTS - 1) / KW_SORTS);
}

static inline enum kw_counts kw_sort_of(int32_t count)
{
        return (enum kw_counts)(count - kw_month_of(count) * KW_SORTS);
}

/** kw_months_find - NULL when nothing counts in it. */
struct kw_month *kw_months_find(struct kw_months *m, int32_t month);
/** kw_months_add - find it, or put it there. Return: 0; -ENOMEM. */
int kw_months_add(struct kw_months *m, int32_t month, struct kw_month **out);
/** kw_months_room - counts up to @size, those from m->size on KW_COUNTS_NOT. Return: 0; -ENOMEM. */
int kw_months_room(struct kw_months *m, int64_t size);
/** kw_months_drop - nothing is noted any more. */
void kw_months_drop(struct kw_months *m);
/** kw_month_drop - free a tally; NULL is fine. */
void kw_month_drop(struct kw_tally *t);
/** kw_months_load - what the file has, where it fits; with the lock held. Return: 0, it may have had nothing; -ENOMEM.
 */
int kw_months_load(struct kw_months *m, struct kw_ledger *ledger);

#endif
