#ifndef KW_LEDGER_STEPS_H
#define KW_LEDGER_STEPS_H
/* Runs as they happen: what the server says in the body of a load before it is recorded. */
#include "store.h"

#include <cjson/cJSON.h>

/**
 * kw_load_say - write into a load's body the intervals it takes, and its weld's name where it has none and is not first
 * @key:  of the entry, for the weld's name
 * @old:  the body that it puts right, whose intervals are free again; NULL for a new load
 * Return: 0; KW_UNKNOWN_RUN, KW_UNKNOWN_LOT, KW_ALREADY_CONSUMED, KW_OUT_OF_RANGE; negative errno.
 */
int kw_load_say(struct kw_ledger *l, cJSON *body, const char *key, const cJSON *old, struct kw_error *err);
/** kw_load_adopt - take over what the server had said in the stored body, so that the two can be compared. */
int kw_load_adopt(cJSON *body, const cJSON *stored);

#endif
