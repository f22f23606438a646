#ifndef KW_LEDGER_TOLERANCE_H
#define KW_LEDGER_TOLERANCE_H
/*
 * How far the lengths of a run may be out, where the run does not say so itself.
 *
 * A specification may state the tolerance of each process (its tolerance_ppm). It counts for the runs that make what it
 * is for: for each package of a run, the specification that a test on it would be judged by, as it stood when the run
 * was recorded. Where packages have different ones, the greatest counts, since the positions are then as doubtful as
 * that. A run that begins has no packages yet; what its order says of grade, diameter and construction stands for them,
 * and its process for their kind. What no specification says is the process's own (kinwire/process.h).
 *
 * The server writes what it found into the body before it is recorded (tolerance_ppm, and tolerance_by with the
 * specification), so that doing the entry again, whatever has become of the specification, gives the same lengths.
 */
#include "store.h"

#include <cjson/cJSON.h>

/**
 * kw_tolerance_say - complete the body of a run, or of the beginning of one
 * @seq: the entry's place: specifications before it count
 *
 * A body that states its tolerance keeps it; its tolerance_by stays only where that specification says just this.
 * Return: 0; a negative errno.
 */
int kw_tolerance_say(struct kw_ledger *l, cJSON *body, int64_t seq);
/** kw_tolerance_adopt - take over what the server said in @stored, where @body states nothing itself. */
int kw_tolerance_adopt(cJSON *body, const cJSON *stored);

#endif
