#ifndef KINWIRE_HTTP_H
#define KINWIRE_HTTP_H
/*
 * The server: the ledger's API, its pages and its figures over HTTP, on this machine's own addresses.
 *
 * A struct kw_http owns the listening socket, a few threads that never wait for the disk, the one writer, and a reader
 * for each thread. It prints nothing and handles no signals; the program does.
 */
#include "kinwire/error.h"

#include <stdbool.h>

struct kw_http_options {
        const char *ledger; /* the file; made when absent */
        const char *listen; /* "127.0.0.1:8420", "localhost:0", "[::1]:8420"; loopback only */
        const char *web;    /* a folder to serve pages from instead of the built-in ones, or NULL */
        bool open;          /* every request acts as the person "open" with all roles */
        /* told, in a sentence, what went wrong inside; called from any thread; may be NULL */
        void (*say)(void *ctx, const char *sentence);
        void *ctx;
};

struct kw_http;

/**
 * kw_http_start - open the ledger, listen, and answer
 * @options: strings are copied
 * @out:     for the caller to kw_http_stop()
 *
 * Return: 0; KW_BAD_REQUEST when @options can't be served (an address that isn't loopback, a port in use, no such
 * folder); what kw_ledger_open() returns; -ENOMEM.
 */
int kw_http_start(const struct kw_http_options *options, struct kw_http **out, struct kw_error *err);

/** kw_http_url - where it answers, with the port that it got: "http://127.0.0.1:8420/". */
const char *kw_http_url(const struct kw_http *http);

/** kw_http_failed - true once the writer could not keep what it was asked to: stop, and start again on the ledger as it
 * is. */
bool kw_http_failed(struct kw_http *http);

/**
 * kw_http_stop - take no more connections, finish and answer what was taken, and free everything
 *
 * Entries that were submitted are committed and acknowledged; a reply that its reader doesn't take is given up after a
 * few seconds.
 */
void kw_http_stop(struct kw_http *http);

#endif
