/*
 * The queue of runs: a binary heap (Williams 1964) of one entry for each use of a lot by a run. The entries of one run
 * come to the top together, so that what goes into it is at hand, and need not be looked for among all that was hit.
 */
#include "queue.h"

#include <errno.h>
#include <stdlib.h>

void kw_queue_free(struct kw_queue *q)
{
        free(q->heap);
        free(q->hits);
        *q = (struct kw_queue){0};
}

static bool before(const struct kw_turn *a, const struct kw_turn *b)
{
        if (a->rank != b->rank)
                return a->rank < b->rank;
        return a->run != b->run ? a->run < b->run : a->hit->lot < b->hit->lot;
}

/* Room for one more; the list of hits grows with the heap, so that taking never fails. */
static int grow(struct kw_queue *q)
{
        size_t cap = q->cap ? 2 * q->cap : 64;
        struct kw_turn *heap = reallocarray(q->heap, cap, sizeof *heap);
        if (!heap)
                return -ENOMEM;
        q->heap = heap;

        struct kw_hit **hits = reallocarray(q->hits, cap, sizeof *hits);
        if (!hits)
                return -ENOMEM;
        q->hits = hits;
        q->cap = cap;
        return 0;
}

int kw_queue_put(struct kw_queue *q, struct kw_turn turn)
{
        int r = q->n == q->cap ? grow(q) : 0;

        if (r < 0)
                return r;
        size_t at = q->n++;
        for (; at > 0 && before(&turn, &q->heap[(at - 1) / 2]); at = (at - 1) / 2)
                q->heap[at] = q->heap[(at - 1) / 2];
        q->heap[at] = turn;
        return 0;
}

static struct kw_turn take_top(struct kw_queue *q)
{
        struct kw_turn top = q->heap[0], last = q->heap[--q->n];
        size_t at = 0;

        for (size_t child = 1; child < q->n; child = 2 * at + 1) {
                if (child + 1 < q->n && before(&q->heap[child + 1], &q->heap[child]))
                        child++;
                if (!before(&q->heap[child], &last))
                        break;
                q->heap[at] = q->heap[child];
                at = child;
        }
        q->heap[at] = last;
        return top;
}

bool kw_queue_take(struct kw_queue *q)
{
        if (q->n == 0)
                return false;

        q->rank = q->heap[0].rank;
        q->run = q->heap[0].run;
        q->n_hits = 0;
        while (q->n && q->heap[0].run == q->run && q->heap[0].rank == q->rank) {
                struct kw_hit *hit = take_top(q).hit;

                /* a run may take several pieces of one lot */
                if (q->n_hits == 0 || q->hits[q->n_hits - 1] != hit)
                        q->hits[q->n_hits++] = hit;
        }
        return true;
}

const struct kw_hit *kw_queue_hit(const struct kw_queue *q, int64_t lot)
{
        size_t lo = 0, hi = q->n_hits;

        while (lo < hi) {
                size_t mid = lo + (hi - lo) / 2;

                if (q->hits[mid]->lot < lot)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        return lo < q->n_hits && q->hits[lo]->lot == lot ? q->hits[lo] : NULL;
}
