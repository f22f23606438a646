#ifndef KINWIRE_JSON_H
#define KINWIRE_JSON_H
/*
 * JSON from outside: a strict scanner before the library, and the canonical form that is hashed.
 *
 * Accepted is RFC 8259 without what a ledger cannot keep exactly: UTF-8 only and well-formed, no BOM, no U+0000, no
 * lone surrogate escapes, no duplicate names in an object, integers only with |n| <= 2^53 - 1 (no fraction, exponent,
 * leading zero or minus zero), nothing but white space after the value, bounded depth and number of values.
 */
#include "kinwire/buf.h"
#include "kinwire/error.h"

#include <cjson/cJSON.h>

#define KW_JSON_DEPTH   16
#define KW_JSON_INT_MAX INT64_C(9007199254740991)

struct kw_json_limits {
        size_t bytes; /* of the whole text */
        size_t nodes; /* values of any type */
};

/** What one entry may be: 2 MiB and 100,000 values, room for a hold on 20,000 spans, each with its ends. */
extern const struct kw_json_limits kw_json_entry_limits;

/**
 * kw_json_read - parse strictly
 * @text, @n: the bytes; need not end in NUL
 * @out:      the tree, for the caller to cJSON_Delete(); untouched on failure
 *
 * Return: 0; KW_NOT_JSON (syntax, encoding, depth, duplicate names; the pointer says where as far as it is known),
 * KW_BAD_TYPE (well-formed, but a number that is not an integer within range, with the pointer to it), KW_TOO_LARGE;
 * -ENOMEM.
 */
int kw_json_read(const char *text, size_t n, const struct kw_json_limits *limits, cJSON **out, struct kw_error *err);

/**
 * kw_json_canonical - append RFC 8785 text: members by UTF-16 code units, no white space, integers plain
 * @json: a tree from kw_json_read(), or built with integers, strings, objects, arrays, booleans and null only
 */
void kw_json_canonical(const cJSON *json, struct kw_buf *out);

/* Reading what has been checked already; names are matched with case. */
const cJSON *kw_json_get(const cJSON *object, const char *name);
/** kw_json_int - the member, or @otherwise when it is absent. */
int64_t kw_json_int(const cJSON *object, const char *name, int64_t otherwise);
/** kw_json_text - the member, or NULL when it is absent. */
const char *kw_json_text(const cJSON *object, const char *name);

#endif
