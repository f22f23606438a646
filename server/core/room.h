#ifndef KW_CORE_ROOM_H
#define KW_CORE_ROOM_H
/* Room made beforehand, so that what follows can't fail half way. */
#include "kinwire/spans.h"

/** kw_spans_reserve - room for @more spans after those that are there. Return: 0; -ENOMEM with @s unchanged. */
int kw_spans_reserve(struct kw_spans *s, size_t more);

#endif
