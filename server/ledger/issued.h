#ifndef KW_LEDGER_ISSUED_H
#define KW_LEDGER_ISSUED_H
/* The document that goes into a certificate's entry when it is recorded, and never after. */
#include "store.h"

#include "kinwire/certify.h"

/** kw_issued_set - body.document becomes a copy of @document, or goes when that is NULL. Return: 0; -ENOMEM. */
int kw_issued_set(cJSON *certify_body, const cJSON *document);
/**
 * kw_issued_say - write into a certificate's body what it says
 * A body that names no reel that is there gets no document: the entry is refused for it. Return: 0; KW_TOO_LARGE; a
 * negative errno.
 */
int kw_issued_say(struct kw_ledger *l, cJSON *certify_body, const struct kw_issue *issue, struct kw_error *err);

#endif
