#ifndef KW_REPORT_MONTHS_H
#define KW_REPORT_MONTHS_H
/* Months that are kept, for the balance over a time. */
#include "tally.h"

/**
 * kw_months_into - add what lies in @in to a balance, as kw_tally_into() does; with the months held
 * Return: 0; -EINPROGRESS, more is stale than a question should sum up; another negative errno.
 */
int kw_months_into(struct kw_months *m, struct kw_ledger *ledger, const char *machine, const struct kw_period *in,
                   struct kw_mass_balance *b, int64_t *growth_g);

#endif
