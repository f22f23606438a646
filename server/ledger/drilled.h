#ifndef KW_LEDGER_DRILLED_H
#define KW_LEDGER_DRILLED_H
/* What the server says in a drill and in a sample: what was chosen, and what was found. */
#include "work.h"

/**
 * kw_drill_say, kw_sample_say - choose, look, and write "chosen" and "found" into the body
 * Whatever the sender wrote there goes. Return: 0; KW_UNKNOWN_LOT, KW_OUT_OF_RANGE with their sentence; a negative
 * errno.
 */
int kw_drill_say(struct kw_ledger *l, cJSON *body, struct kw_error *err);
int kw_sample_say(struct kw_ledger *l, cJSON *body, struct kw_error *err);

/** kw_drilled_adopt - what the server said when it was recorded, for comparing. Return: 0; -ENOMEM. */
int kw_drilled_adopt(cJSON *body, const cJSON *stored);

#endif
