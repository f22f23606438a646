#ifndef KW_ACCESS_INSIDE_H
#define KW_ACCESS_INSIDE_H
/*
 * The secrets from inside: a connection of its own, with the statements of the store, and the pepper.
 */
#include "kinwire/access.h"

#include "../store.h"

#include <pthread.h>

#define KW_PEPPER 32

struct kw_access {
        pthread_mutex_t lock;   /* over the store */
        struct kw_ledger store; /* only for its statements: this is no ledger */
        unsigned char pepper[KW_PEPPER];
};

/** kw_access_failed - turn a negative errno of the store into a refusal. */
int kw_access_failed(struct kw_access *a, int rc, struct kw_error *err);

/** kw_pepper_read - the pepper of @path, made when @make. Return: 0; a refusal. */
int kw_pepper_read(const char *path, bool make, unsigned char out[KW_PEPPER], struct kw_error *err);

#endif
