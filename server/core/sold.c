/*
 * Completeness of what was sold: spans of sent lots, and what of them lies under gaps.
 */
#include "kinwire/sold.h"

#include <errno.h>
#include <stdlib.h>

void kw_sold_free(struct kw_sold *sold)
{
        kw_spans_free(&sold->sent);
        for (size_t i = 0; i < KW_SOLD_KINDS; i++)
                kw_spans_free(&sold->touched[i]);
}

/* Days since 1970 to year and month, in the proleptic Gregorian calendar: an era has 400 years or 146097 days, and a
 * year counted from March ends with the leap day. */
int32_t kw_sold_month(int64_t at)
{
        int64_t days = (at >= 0 ? at : at - 86399) / 86400 + 719468;
        int64_t era = (days >= 0 ? days : days - 146096) / 146097;
        int64_t of_era = days - era * 146097;
        int64_t year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
        int64_t of_year = of_era - (365 * year + year / 4 - year / 100);
        int64_t from_march = (5 * of_year + 2) / 153;
        int64_t month = from_march < 10 ? from_march + 2 : from_march - 10;

        return (int32_t)(12 * (year + era * 400 + (month < 2)) + month);
}

/* The same backwards. */
int64_t kw_sold_month_begins(int32_t month)
{
        int64_t year = month >= 0 ? month / 12 : -((11 - month) / 12);
        int64_t from_march = (month - 12 * year + 10) % 12;
        int64_t of_era, era;

        year -= from_march >= 10; /* January and February end the year before */
        era = (year >= 0 ? year : year - 399) / 400;
        of_era = year - era * 400;
        return (era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + (153 * from_march + 2) / 5 - 719468) * 86400;
}

int64_t kw_sold_reach(const struct kw_sold *sold, const struct kw_spans *spans)
{
        struct kw_spans both = {0};
        int rc = kw_spans_both(&sold->sent, spans, &both);
        int64_t mm = kw_spans_total(&both);

        kw_spans_free(&both);
        return rc ? rc : mm;
}

int kw_sold_touch(struct kw_sold *sold, size_t kind, const struct kw_spans *spans)
{
        struct kw_spans both = {0};
        int rc = kw_spans_both(&sold->sent, spans, &both);

        if (rc == 0)
                rc = kw_spans_merge(&sold->touched[kind], &both);
        kw_spans_free(&both);
        return rc;
}

static int by_month(const void *a, const void *b)
{
        const struct kw_sold *x = a, *y = b;

        if (x->month != y->month)
                return x->month < y->month ? -1 : 1;
        return x->lot < y->lot ? -1 : x->lot > y->lot;
}

static int add_sold(const struct kw_sold *sold, size_t kinds, uint32_t broken, struct kw_sold_month *m)
{
        struct kw_spans any = {0}, grave = {0};
        int rc = 0;

        m->sold_mm += kw_spans_total(&sold->sent);
        for (size_t k = 0; rc == 0 && k < kinds; k++) {
                m->under_mm[k] += kw_spans_total(&sold->touched[k]);
                rc = kw_spans_merge(&any, &sold->touched[k]);
                if (rc == 0 && (broken >> k & 1))
                        rc = kw_spans_merge(&grave, &sold->touched[k]);
        }
        m->under_any_mm += kw_spans_total(&any);
        m->under_broken_mm += kw_spans_total(&grave);
        kw_spans_free(&any);
        kw_spans_free(&grave);
        return rc;
}

int64_t kw_sold_months(struct kw_sold *sold, size_t n, size_t kinds, uint32_t broken, struct kw_sold_month *out)
{
        int64_t months = 0;

        if (n)
                qsort(sold, n, sizeof(*sold), by_month);
        for (size_t i = 0; i < n; i++) {
                int rc;

                if (!months || out[months - 1].month != sold[i].month)
                        out[months++] = (struct kw_sold_month){.month = sold[i].month};
                rc = add_sold(&sold[i], kinds, broken, &out[months - 1]);
                if (rc)
                        return rc;
        }
        return months;
}
