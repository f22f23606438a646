#ifndef KW_REPORT_GAPS_H
#define KW_REPORT_GAPS_H
/* Gaps from inside: found and weighed by gaps.c, written by gaps_write.c. */
#include "put.h"

#include "kinwire/gaps.h"
#include "kinwire/sold.h"
#include "ledger/read/gaps.h"

/** How much a gap weighs. */
struct kw_gap_weight {
        int64_t sold_mm;
        int64_t metal_mm; /* that it is about, before anything was made of it */
        int64_t lots;     /* sold, that it reaches */
};

struct kw_gap_total {
        int64_t gaps, under_mm;
};

struct kw_gaps {
        struct kw_gaps_asked asked;
        struct kw_head head;
        struct kw_reader *reader; /* keeps the texts */
        struct kw_gap_list list;
        struct kw_gap_weight *weights; /* of each */
        size_t *order;                 /* worst first */
        struct kw_gap_total totals[KW_SOLD_KINDS];
        size_t kinds;
        struct kw_sold_month *months;
        size_t n_months;
        int64_t sold_mm, under_any_mm, under_broken_mm;
};

#endif
