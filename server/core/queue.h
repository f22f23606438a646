#ifndef KW_CORE_QUEUE_H
#define KW_CORE_QUEUE_H
/*
 * The runs that a trace has still to take, each with the lots for which it was put in: the run of the least rank first,
 * among equals that of the least id.
 *
 * A run comes out once, as long as nothing of its rank or less is put in after it.
 */
#include "kinwire/trace.h"

struct kw_turn {
        uint32_t rank;
        int64_t run;
        struct kw_hit *hit;
};

/** All zero is empty; free with kw_queue_free(). */
struct kw_queue {
        struct kw_turn *heap;
        size_t n, cap;
        /* the run that was taken last, and the hits for which it was put in: in order of lot, each once */
        uint32_t rank;
        int64_t run;
        struct kw_hit **hits;
        size_t n_hits;
};

void kw_queue_free(struct kw_queue *q);
/** kw_queue_put - Return: 0; -ENOMEM with what is in the queue unchanged. */
int kw_queue_put(struct kw_queue *q, struct kw_turn turn);
/** kw_queue_take - the next run into @q->run. Return: false when none is left. */
bool kw_queue_take(struct kw_queue *q);
/** kw_queue_hit - the hit of @lot among those of the run that was taken last; NULL when it is not one of them. */
const struct kw_hit *kw_queue_hit(const struct kw_queue *q, int64_t lot);

#endif
