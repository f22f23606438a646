#ifndef KINWIRE_SOLD_H
#define KINWIRE_SOLD_H
/*
 * What was sold, and how much of it lies under something: the scale on which the weak places of a record are weighed.
 *
 * A gap in the record matters by the metres of sold rope that it reaches: the spans of sent lots in its forward trace,
 * possible ones included. Of all gaps of one kind the metres are counted once, so that a kind's share of what was sold
 * in a month is a share, and what is under no gap of any kind is the month's completeness.
 */
#include "kinwire/spans.h"

#define KW_SOLD_KINDS 16 /* at most */

/** A lot that was sent out. */
struct kw_sold {
        int64_t lot;
        int32_t month;        /* 12 * year + month - 1, UTC, of the dispatch */
        struct kw_spans sent; /* of the lot, in order */
        struct kw_spans touched[KW_SOLD_KINDS];
};
void kw_sold_free(struct kw_sold *sold);

/** kw_sold_month - of a time, seconds since 1970, UTC. */
int32_t kw_sold_month(int64_t at);
/** kw_sold_month_begins - the first second of a month. */
int64_t kw_sold_month_begins(int32_t month);

/**
 * kw_sold_reach - how much of what was sent lies in @spans (in order)
 * Return: mm; -ENOMEM.
 */
int64_t kw_sold_reach(const struct kw_sold *sold, const struct kw_spans *spans);
/** kw_sold_touch - the same, and remember it as under a gap of kind @kind. Return: 0; -ENOMEM with @sold unchanged. */
int kw_sold_touch(struct kw_sold *sold, size_t kind, const struct kw_spans *spans);

/** A month's completeness. */
struct kw_sold_month {
        int32_t month;
        int64_t sold_mm;
        int64_t under_mm[KW_SOLD_KINDS]; /* under a gap of the kind */
        int64_t under_any_mm;            /* under a gap of any kind */
        int64_t under_broken_mm;         /* under a gap of one of the graver kinds */
};
/**
 * kw_sold_months - sums by month, in order of month
 * @sold:  changed in order only
 * @kinds: of which sums are made
 * @broken: the graver ones, a bit each
 * @out:   at least @n rows
 * Return: how many months there are; -ENOMEM.
 */
int64_t kw_sold_months(struct kw_sold *sold, size_t n, size_t kinds, uint32_t broken, struct kw_sold_month *out);

#endif
