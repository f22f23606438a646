#ifndef KINWIRE_ERROR_H
#define KINWIRE_ERROR_H
/*
 * Errors as values.
 *
 * A function returns 0, a negative errno for what no caller can mend (pass it on unchanged), or
 * a positive enum kw_refusal that goes to the sender. The sentence for a person is written once,
 * where the fact is known, into the struct kw_error that the caller passes down.
 */
#include "kinwire/said.h"

#include <stddef.h>

enum kw_refusal {
        KW_FINE = 0,
        /* 400: not JSON, or not an entry */
        KW_NOT_JSON,
        KW_NOT_ENTRY,
        KW_BAD_REQUEST,
        /* 401, 403, 404, 405 */
        KW_NO_SESSION,
        KW_NOT_KNOWN,
        KW_PASSWORD_AGAIN,
        KW_NOT_ALLOWED,
        KW_NOT_FOUND,
        KW_BAD_METHOD,
        /* 409: clashes with the ledger */
        KW_KEY_REUSED,
        KW_CODE_TAKEN,
        KW_ALREADY_CONSUMED,
        KW_ON_HOLD,
        KW_WOULD_LOOP,
        KW_NOT_COMPLETE,
        KW_LAST_ADMINISTRATOR,
        KW_NOT_OPEN,
        KW_TO_REWORK,
        KW_NOT_AGREED,
        /* 413, 415 */
        KW_TOO_LARGE,
        KW_WRONG_MEDIA,
        /* 422: a body that can't be right */
        KW_MISSING,
        KW_UNKNOWN_MEMBER,
        KW_BAD_TYPE,
        KW_BAD_CODE,
        KW_BAD_TIME,
        KW_BAD_VALUE,
        KW_OUT_OF_RANGE,
        KW_BAD_ORDER,
        KW_UNKNOWN_LOT,
        KW_UNKNOWN_HEAT,
        KW_UNKNOWN_SUPPLY,
        KW_UNKNOWN_BATCH,
        KW_UNKNOWN_RUN,
        KW_UNKNOWN_WELD,
        KW_UNKNOWN_TEST,
        KW_UNKNOWN_HOLD,
        KW_UNKNOWN_CERTIFICATE,
        KW_UNKNOWN_CONSIGNMENT,
        KW_UNKNOWN_ORDER,
        KW_UNKNOWN_PERSON,
        KW_UNKNOWN_TERMINAL,
        KW_UNKNOWN_TOKEN,
        KW_UNKNOWN_ENTRY,
        /* 429, 500, 503, 507 */
        KW_LOCKED,
        KW_TOO_MANY,
        KW_INTERNAL,
        KW_BUSY,
        KW_DISK_FULL,
        KW_REFUSALS
};

/** One row a refusal: the last part of its problem type, its title and its HTTP status. */
struct kw_refusal_row {
        const char *slug;
        const char *title;
        int status;
};

/**
 * struct kw_error - why something was refused
 * @what:    the problem type
 * @line:    for NDJSON and files: the line, from 1; otherwise 0
 * @pointer: RFC 6901 pointer into the entry ("/body/lines/0/feeds/1/lot"), "" for the whole
 * @text:    a sentence that a person can act on
 * @said:    the values in it, for whoever says it in other words
 */
struct kw_error {
        enum kw_refusal what;
        size_t line;
        char pointer[256];
        char text[640];
        struct kw_said said;
};

/** kw_refusal_row - the row of @what; never NULL (an unknown number gives the row of KW_INTERNAL). */
const struct kw_refusal_row *kw_refusal_row(enum kw_refusal what);

/**
 * kw_refuse - fill @err and return @what, so that a check is one statement
 * @err:     may be NULL
 * @what:    a refusal other than KW_FINE
 * @pointer: RFC 6901; NULL means ""
 * @fmt:     the sentence
 *
 * Return: @what, as a positive int.
 */
int kw_refuse(struct kw_error *err, enum kw_refusal what, const char *pointer, const char *fmt, ...)
        __attribute__((format(printf, 4, 5)));

/**
 * kw_refuse_with - the same, with the values that are in the sentence
 * @as:     which of the sentences that this refusal has: web/words/ has words for each ("bar.SLUG.AS")
 * @values: KW_VALUES(...)
 */
int kw_refuse_with(struct kw_error *err, enum kw_refusal what, const char *pointer, const char *as,
                   const struct kw_value *values, const char *fmt, ...) __attribute__((format(printf, 6, 7)));

/**
 * kw_error_at - put @prefix before the pointer of @err (for a check that knows only its own part)
 */
void kw_error_at(struct kw_error *err, const char *prefix);

#endif
