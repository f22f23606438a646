#ifndef KW_CORE_HITS_H
#define KW_CORE_HITS_H
/* What the engine does with a set of hits beyond its public face. */
#include "kinwire/trace.h"

/**
 * kw_hits_unite - unite @certain and @possible (both in order) into the lot's spans
 * @out: receives the hit; may be NULL
 *
 * Return: 0; -ENOMEM with @hits unchanged.
 */
int kw_hits_unite(struct kw_hits *hits, int64_t lot, const struct kw_spans *certain, const struct kw_spans *possible,
                  struct kw_hit **out);

#endif
