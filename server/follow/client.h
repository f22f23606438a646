#ifndef KW_FOLLOW_CLIENT_H
#define KW_FOLLOW_CLIENT_H
/* Asking another kinwire. */
#include "kinwire/buf.h"
#include "kinwire/follow.h"

struct kw_client;

/** kw_client_new - Return: 0; KW_BAD_REQUEST, no http or https URL; -ENOMEM. */
int kw_client_new(const struct kw_follow_options *options, struct kw_client **out, struct kw_error *err);
void kw_client_free(struct kw_client *client);

/**
 * kw_client_get - GET a path with its query, whole
 * @most: bytes that the answer may have
 * @out:  emptied first
 *
 * Return: 0; KW_BUSY, worth another try; KW_NOT_ALLOWED; KW_TOO_LARGE, more than @most; KW_BAD_VALUE, any other answer;
 * -ENOMEM.
 */
int kw_client_get(struct kw_client *client, const char *path, size_t most, struct kw_buf *out, struct kw_error *err);

#endif
