#ifndef KW_CORE_QUEUE_H
#define KW_CORE_QUEUE_H
/*
 * The runs that a trace has still to take: the one of the least rank first, among equals that of the least id.
 *
 * A run may be put in any number of times; it comes out once, as long as nothing of a lesser rank is put in after it.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct kw_turn {
        uint32_t rank;
        int64_t run;
};

/** All zero is empty; free with kw_queue_free(). */
struct kw_queue {
        struct kw_turn *heap;
        size_t n, cap;
};

void kw_queue_free(struct kw_queue *q);
/** kw_queue_put - Return: 0; -ENOMEM with @q unchanged. */
int kw_queue_put(struct kw_queue *q, struct kw_turn turn);
/** kw_queue_take - the next run into @out. Return: false when none is left. */
bool kw_queue_take(struct kw_queue *q, struct kw_turn *out);

#endif
