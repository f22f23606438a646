#ifndef KW_LEDGER_TAKES_H
#define KW_LEDGER_TAKES_H
/* Which lots an entry takes from, by what its body says. */
#include "kinwire/spans.h"

#include "stored.h"

/** kw_takes_meet - whether the entry takes from a lot whose code is a member of @codes. Return: 0, 1; negative errno.
 */
int kw_takes_meet(struct kw_ledger *l, const struct kw_standing *s, const cJSON *codes);
/** kw_takes_add - make the codes of all lots that the entry takes from members of @codes. Return: 0; negative errno. */
int kw_takes_add(struct kw_ledger *l, const struct kw_standing *s, cJSON *codes);

#endif
