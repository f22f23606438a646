#ifndef KW_LEDGER_OVERRIDDEN_H
#define KW_LEDGER_OVERRIDDEN_H
/* Which holds a run with an override was recorded in spite of. */
#include "store.h"

#include <cjson/cJSON.h>

/** kw_overridden_set - override.holds becomes a copy of @holds, or goes when that is NULL. Return: 0; -ENOMEM. */
int kw_overridden_set(cJSON *run_body, const cJSON *holds);
/** kw_overridden_say - write into a run's override which open holds lie on the lots it takes from. No override: nothing. */
int kw_overridden_say(struct kw_ledger *l, cJSON *run_body);

#endif
