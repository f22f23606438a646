/*
 * Spans: sets of length on a lot, a line or a run's output, as sorted lists of intervals.
 */
#include "kinwire/spans.h"

#include "room.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

void kw_spans_free(struct kw_spans *s)
{
        free(s->at);
        *s = (struct kw_spans){0};
}

void kw_spans_clear(struct kw_spans *s)
{
        s->n = 0;
}

int kw_spans_reserve(struct kw_spans *s, size_t more)
{
        if (more <= s->cap - s->n)
                return 0;

        size_t cap = s->cap * 2 > s->n + more ? s->cap * 2 : s->n + more;
        struct kw_span *at = reallocarray(s->at, cap, sizeof *at);
        if (!at)
                return -ENOMEM;
        s->at = at;
        s->cap = cap;
        return 0;
}

int kw_spans_add(struct kw_spans *s, int64_t from, int64_t to)
{
        assert(from <= to);
        int r = kw_spans_reserve(s, 1);
        if (r < 0)
                return r;
        s->at[s->n++] = (struct kw_span){from, to};
        return 0;
}

static int by_from(const void *a, const void *b)
{
        const struct kw_span *x = a, *y = b;

        return (x->from > y->from) - (x->from < y->from);
}

void kw_spans_unite(struct kw_spans *s)
{
        size_t kept = 0;

        /* nearly always it is sorted already: feeds and packages come in order */
        for (size_t i = 1; i < s->n; i++)
                if (s->at[i].from < s->at[i - 1].from) {
                        qsort(s->at, s->n, sizeof *s->at, by_from);
                        break;
                }

        for (size_t i = 0; i < s->n; i++) {
                struct kw_span *last = kept ? &s->at[kept - 1] : NULL;

                if (last && s->at[i].from <= last->to) {
                        if (s->at[i].to > last->to)
                                last->to = s->at[i].to;
                } else {
                        s->at[kept++] = s->at[i];
                }
        }
        s->n = kept;
}

void kw_spans_drop_points(struct kw_spans *s)
{
        size_t kept = 0;

        for (size_t i = 0; i < s->n; i++)
                if (s->at[i].from < s->at[i].to)
                        s->at[kept++] = s->at[i];
        s->n = kept;
}

int kw_spans_merge(struct kw_spans *into, const struct kw_spans *more)
{
        int r = kw_spans_reserve(into, more->n);

        if (r < 0)
                return r;
        if (more->n)
                memcpy(into->at + into->n, more->at, more->n * sizeof *more->at);
        into->n += more->n;
        kw_spans_unite(into);
        return 0;
}

/* The first span that reaches @from or lies beyond it. */
static size_t first_reaching(const struct kw_spans *s, int64_t from)
{
        size_t lo = 0, hi = s->n;

        while (lo < hi) {
                size_t mid = lo + (hi - lo) / 2;

                if (s->at[mid].to < from)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        return lo;
}

static bool is_point(const struct kw_span *s)
{
        return s->from == s->to;
}

int kw_spans_clip(const struct kw_spans *in, int64_t from, int64_t to, int64_t shift, struct kw_spans *out)
{
        size_t before = out->n;

        for (size_t i = first_reaching(in, from); i < in->n && in->at[i].from <= to; i++) {
                int64_t lo = in->at[i].from > from ? in->at[i].from : from;
                int64_t hi = in->at[i].to < to ? in->at[i].to : to;

                if (lo == hi && !is_point(&in->at[i]))
                        continue;
                if (kw_spans_add(out, lo - shift, hi - shift) < 0) {
                        out->n = before;
                        return -ENOMEM;
                }
        }
        return 0;
}

int kw_spans_minus(const struct kw_spans *a, const struct kw_spans *b, struct kw_spans *out)
{
        /* each span of @b cuts at most one of @a in two */
        int r = kw_spans_reserve(out, a->n + b->n);
        if (r < 0)
                return r;

        for (size_t i = 0; i < a->n; i++) {
                int64_t from = a->at[i].from, to = a->at[i].to;
                bool gone = false;

                for (size_t j = first_reaching(b, from); j < b->n && b->at[j].from <= to; j++) {
                        if (is_point(&a->at[i])) {
                                gone = true;
                        } else if (!is_point(&b->at[j])) {
                                if (b->at[j].from > from)
                                        out->at[out->n++] = (struct kw_span){from, b->at[j].from};
                                from = b->at[j].to;
                        }
                }
                if (!gone && (from < to || is_point(&a->at[i])))
                        out->at[out->n++] = (struct kw_span){from, to};
        }
        return 0;
}

int kw_spans_both(const struct kw_spans *a, const struct kw_spans *b, struct kw_spans *out)
{
        int r = kw_spans_reserve(out, a->n + b->n);
        if (r < 0)
                return r;

        for (size_t i = 0, j = 0; i < a->n && j < b->n;) {
                const struct kw_span *x = &a->at[i], *y = &b->at[j];
                int64_t lo = x->from > y->from ? x->from : y->from;
                int64_t hi = x->to < y->to ? x->to : y->to;

                if (lo < hi || (lo == hi && (is_point(x) || is_point(y))))
                        out->at[out->n++] = (struct kw_span){lo, hi};
                if (x->to < y->to)
                        i++;
                else
                        j++;
        }
        return 0;
}

int64_t kw_spans_total(const struct kw_spans *s)
{
        int64_t total = 0;

        for (size_t i = 0; i < s->n; i++)
                total += s->at[i].to - s->at[i].from;
        return total;
}

bool kw_spans_meets(const struct kw_spans *s, int64_t from, int64_t to)
{
        for (size_t i = first_reaching(s, from); i < s->n && s->at[i].from <= to; i++) {
                int64_t lo = s->at[i].from > from ? s->at[i].from : from;
                int64_t hi = s->at[i].to < to ? s->at[i].to : to;

                if (lo < hi || is_point(&s->at[i]))
                        return true;
        }
        return false;
}

void kw_reach_free(struct kw_reach *r)
{
        kw_spans_free(&r->certain);
        kw_spans_free(&r->possible);
}
