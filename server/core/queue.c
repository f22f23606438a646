/*
 * The queue of runs: a binary heap (Williams 1964), whose repetitions fall out when they come to the top together.
 */
#include "queue.h"

#include <errno.h>
#include <stdlib.h>

void kw_queue_free(struct kw_queue *q)
{
        free(q->heap);
        *q = (struct kw_queue){0};
}

static bool before(struct kw_turn a, struct kw_turn b)
{
        return a.rank != b.rank ? a.rank < b.rank : a.run < b.run;
}

int kw_queue_put(struct kw_queue *q, struct kw_turn turn)
{
        if (q->n == q->cap) {
                size_t cap = q->cap ? 2 * q->cap : 64;
                struct kw_turn *heap = reallocarray(q->heap, cap, sizeof *heap);

                if (!heap)
                        return -ENOMEM;
                q->heap = heap;
                q->cap = cap;
        }

        size_t at = q->n++;
        for (; at > 0 && before(turn, q->heap[(at - 1) / 2]); at = (at - 1) / 2)
                q->heap[at] = q->heap[(at - 1) / 2];
        q->heap[at] = turn;
        return 0;
}

static struct kw_turn take_top(struct kw_queue *q)
{
        struct kw_turn top = q->heap[0], last = q->heap[--q->n];
        size_t at = 0;

        for (size_t child = 1; child < q->n; child = 2 * at + 1) {
                if (child + 1 < q->n && before(q->heap[child + 1], q->heap[child]))
                        child++;
                if (!before(q->heap[child], last))
                        break;
                q->heap[at] = q->heap[child];
                at = child;
        }
        q->heap[at] = last;
        return top;
}

bool kw_queue_take(struct kw_queue *q, struct kw_turn *out)
{
        if (q->n == 0)
                return false;
        *out = take_top(q);
        while (q->n && !before(*out, q->heap[0]))
                take_top(q);
        return true;
}
