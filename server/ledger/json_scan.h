#ifndef KW_LEDGER_JSON_SCAN_H
#define KW_LEDGER_JSON_SCAN_H
/* The two halves of kw_json_read() that the rest of the folder does not need. */
#include "kinwire/json.h"

/**
 * kw_json_scan - whether the text is JSON as json.h accepts it, apart from duplicate names
 * Return: 0; KW_NOT_JSON, KW_BAD_TYPE, KW_TOO_LARGE; -ENOMEM, when there was no memory to say where.
 */
int kw_json_scan(const char *text, size_t n, const struct kw_json_limits *limits, struct kw_error *err);

/**
 * kw_json_sorted - the members of an object in RFC 8785 order
 * @out: receives the members' pointers, for the caller to free(); NULL when there are none
 * Return: 0; -ENOMEM.
 */
int kw_json_sorted(const cJSON *object, const cJSON ***out, size_t *n);

#endif
