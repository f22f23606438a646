#ifndef KINWIRE_SPANS_H
#define KINWIRE_SPANS_H
/*
 * Spans: intervals of length in whole millimetres, [from, to] with from <= to, on a lot, a line
 * or a run's output. A list is *in order* when it is sorted, and no two touch or overlap.
 * A span of no length (from == to) is a point: only the trace of a bare joint has any.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct kw_span {
        int64_t from, to;
};

/** A growing list. All zero is a valid empty list; free with kw_spans_free(). */
struct kw_spans {
        struct kw_span *at;
        size_t n, cap;
};

/** What is affected of one lot or line: certain lies within possible. Both in order. */
struct kw_reach {
        struct kw_spans certain, possible;
};

void kw_spans_free(struct kw_spans *s);
/** kw_spans_clear - forget the spans, keep the memory. */
void kw_spans_clear(struct kw_spans *s);
/** kw_spans_add - append [from, to], from <= to, without ordering. Return: 0; -ENOMEM with @s unchanged. */
int kw_spans_add(struct kw_spans *s, int64_t from, int64_t to);
/** kw_spans_unite - put @s in order: sort, and unite what touches or overlaps. Points are kept. */
void kw_spans_unite(struct kw_spans *s);
/** kw_spans_drop_points - take away spans of no length. */
void kw_spans_drop_points(struct kw_spans *s);
/** kw_spans_merge - @into becomes the union of both, in order. Return: 0; -ENOMEM with @into unchanged. */
int kw_spans_merge(struct kw_spans *into, const struct kw_spans *more);
/**
 * kw_spans_clip - the part of @in (in order) that lies within [from, to], shifted by -@shift, appended
 * to @out. What only touches the interval has no length there and is left out, unless it is a point.
 */
int kw_spans_clip(const struct kw_spans *in, int64_t from, int64_t to, int64_t shift, struct kw_spans *out);
/** kw_spans_minus - @out receives (appended, in order) what is in @a and not in @b; both in order. */
int kw_spans_minus(const struct kw_spans *a, const struct kw_spans *b, struct kw_spans *out);
/** kw_spans_both - @out receives (appended, in order) what is in @a and in @b; both in order. */
int kw_spans_both(const struct kw_spans *a, const struct kw_spans *b, struct kw_spans *out);
/** kw_spans_total - summed length, mm. */
int64_t kw_spans_total(const struct kw_spans *s);
/** kw_spans_meets - whether any span of @s (in order) shares length with [from, to]; a point counts when inside. */
bool kw_spans_meets(const struct kw_spans *s, int64_t from, int64_t to);

void kw_reach_free(struct kw_reach *r);

#endif
