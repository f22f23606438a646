#ifndef KINWIRE_HTTP_H
#define KINWIRE_HTTP_H
/*
 * The server: the ledger's API, its pages and its figures over HTTP.
 *
 * A struct kw_http owns the listening socket, a few threads that never wait for the disk, the one writer, and a reader
 * for each thread. It prints nothing and handles no signals; the program does.
 */
#include "kinwire/error.h"

#include <stdbool.h>
#include <stdint.h>

/** How much an event matters; each is said together with those above it. */
enum kw_level {
        KW_LOG_ERROR,   /* something failed inside, or nothing can be recorded */
        KW_LOG_WARNING, /* someone should look */
        KW_LOG_NOTICE,  /* as it should be, and worth knowing: starts, stops, renewals */
        KW_LOG_INFO,    /* each sign-in and the like */
        KW_LOG_REQUEST, /* each request */
};

struct kw_http_options {
        const char *ledger; /* the file; made when absent */
        const char
                *listen; /* "127.0.0.1:8420", "localhost:0", "[::1]:8420"; beyond loopback with one of the next three */
        const char *cert, *key; /* PEM, both or none: TLS 1.2 and 1.3 */
        const char *proxy;      /* the name under which a proxy before this server is asked by TLS, or NULL */
        bool insecure_lan;      /* plain HTTP on any address; every page says so */
        const char *hosts;      /* further names under which it is asked, with commas between them, or NULL */
        const char *names;      /* what things are named by in open formats: kw_names_read(); or NULL */
        const char *web;        /* a folder to serve pages from instead of the built-in ones, or NULL */
        bool open;              /* every request acts as the person "open" with all roles */
        int64_t rate;           /* requests a second of one caller, twice as many at once; 0: no limit */
        int64_t floor_bytes;    /* free space below which nothing is recorded; 0: none */
        enum kw_level told;     /* the least of what is said */
        /* told, in a sentence on one line, what happened; called from any thread; may be NULL */
        void (*say)(void *ctx, enum kw_level level, const char *sentence);
        void *ctx;
};

struct kw_http;

/**
 * kw_http_start - open the ledger, listen, and answer
 * @options: strings are copied
 * @out:     for the caller to kw_http_stop()
 *
 * Return: 0; KW_BAD_REQUEST when @options can't be served (an address beyond loopback with nothing to keep it private,
 * a certificate that can't be used, a port in use, no such folder); what kw_ledger_open() returns; -ENOMEM.
 */
int kw_http_start(const struct kw_http_options *options, struct kw_http **out, struct kw_error *err);

/** kw_http_url - where it answers, with the port that it got: "http://127.0.0.1:8420/". */
const char *kw_http_url(const struct kw_http *http);

/** kw_http_known_as - where people find it, which may be a proxy's name: "https://ledger.mill.example/". */
const char *kw_http_known_as(const struct kw_http *http);

/** kw_http_renew - read the certificate and its key again, for the connections to come. What was there stays when they
 * can't be used. Return: 0; KW_BAD_REQUEST with a sentence; -ENOMEM. */
int kw_http_renew(struct kw_http *http, struct kw_error *err);

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
