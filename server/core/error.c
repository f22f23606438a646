/*
 * Refusals: one row each, and the writing of the sentence that goes to the sender.
 *
 * The slug is the last part of the problem type (RFC 9457) and part of the interface: it never changes.
 */
#include "kinwire/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const struct kw_refusal_row rows[KW_REFUSALS] = {
        [KW_FINE] = {"fine", "Nothing is wrong", 200},

        [KW_NOT_JSON] = {"not-json", "This is not JSON as the ledger takes it", 400},
        [KW_NOT_ENTRY] = {"not-entry", "This is not an entry", 400},
        [KW_BAD_REQUEST] = {"bad-request", "The request can't be read", 400},

        [KW_NO_SESSION] = {"no-session", "Sign in first", 401},
        [KW_NOT_KNOWN] = {"not-known", "That is not the name or the secret", 401},
        [KW_PASSWORD_AGAIN] = {"password-again", "Give your password again", 403},
        [KW_NOT_ALLOWED] = {"not-allowed", "Your role does not allow this", 403},
        [KW_NOT_FOUND] = {"not-found", "There is no such thing here", 404},
        [KW_BAD_METHOD] = {"bad-method", "This can't be done here", 405},

        [KW_KEY_REUSED] = {"key-reused", "The key belongs to another entry", 409},
        [KW_CODE_TAKEN] = {"code-taken", "The code is taken", 409},
        [KW_ALREADY_CONSUMED] = {"already-consumed", "That length is already consumed", 409},
        [KW_ON_HOLD] = {"on-hold", "It is on hold", 409},
        [KW_WOULD_LOOP] = {"would-loop", "A lot would become its own ancestor", 409},
        [KW_NOT_COMPLETE] = {"not-complete", "The chain is not complete", 409},
        [KW_LAST_ADMINISTRATOR] = {"last-administrator", "Somebody has to be the administrator", 409},
        [KW_NOT_OPEN] = {"not-open", "It is no longer open", 409},
        [KW_TO_REWORK] = {"to-rework", "It is to be worked again first", 409},
        [KW_NOT_AGREED] = {"not-agreed", "A second person has to agree first", 409},

        [KW_TOO_LARGE] = {"too-large", "That is too much at once", 413},
        [KW_WRONG_MEDIA] = {"wrong-media", "That kind of content is not taken here", 415},

        [KW_MISSING] = {"missing", "Something is missing", 422},
        [KW_UNKNOWN_MEMBER] = {"unknown-member", "There is no such field", 422},
        [KW_BAD_TYPE] = {"bad-type", "The field holds another type of value", 422},
        [KW_BAD_CODE] = {"bad-code", "This can't be a code", 422},
        [KW_BAD_TIME] = {"bad-time", "This can't be a time", 422},
        [KW_BAD_VALUE] = {"bad-value", "The value can't be right", 422},
        [KW_OUT_OF_RANGE] = {"out-of-range", "The value is out of range", 422},
        [KW_BAD_ORDER] = {"bad-order", "The order can't be right", 422},
        [KW_UNKNOWN_LOT] = {"unknown-lot", "There is no such lot", 422},
        [KW_UNKNOWN_HEAT] = {"unknown-heat", "There is no such heat", 422},
        [KW_UNKNOWN_SUPPLY] = {"unknown-supply", "There is no such supply", 422},
        [KW_UNKNOWN_BATCH] = {"unknown-batch", "There is no such batch", 422},
        [KW_UNKNOWN_RUN] = {"unknown-run", "There is no such run", 422},
        [KW_UNKNOWN_WELD] = {"unknown-weld", "There is no such weld", 422},
        [KW_UNKNOWN_TEST] = {"unknown-test", "There is no such test", 422},
        [KW_UNKNOWN_HOLD] = {"unknown-hold", "There is no such hold", 422},
        [KW_UNKNOWN_CERTIFICATE] = {"unknown-certificate", "There is no such certificate", 422},
        [KW_UNKNOWN_CONSIGNMENT] = {"unknown-consignment", "There is no such consignment", 422},
        [KW_UNKNOWN_ORDER] = {"unknown-order", "There is no such order", 422},
        [KW_UNKNOWN_PERSON] = {"unknown-person", "There is no such person", 422},
        [KW_UNKNOWN_TERMINAL] = {"unknown-terminal", "There is no such terminal", 422},
        [KW_UNKNOWN_TOKEN] = {"unknown-token", "There is no such token", 422},
        [KW_UNKNOWN_ENTRY] = {"unknown-entry", "There is no such entry", 422},

        [KW_LOCKED] = {"locked", "Too many wrong tries", 429},
        [KW_TOO_MANY] = {"too-many", "Too many requests", 429},
        [KW_INTERNAL] = {"internal", "Something went wrong here", 500},
        [KW_BUSY] = {"busy", "The ledger is in use", 503},
        [KW_DISK_FULL] = {"disk-full", "There is no room left on the disk", 507},
};

const struct kw_refusal_row *kw_refusal_row(enum kw_refusal what)
{
        if ((unsigned)what >= KW_REFUSALS)
                what = KW_INTERNAL;
        return &rows[what];
}

static void write(struct kw_error *err, enum kw_refusal what, const char *pointer, const char *fmt, va_list args)
{
        err->what = what;
        err->line = 0;
        snprintf(err->pointer, sizeof err->pointer, "%s", pointer ? pointer : "");
        kw_text_trim(err->pointer);
        vsnprintf(err->text, sizeof err->text, fmt, args);
        kw_text_trim(err->text);
        kw_said_set(&err->said, NULL, NULL);
}

int kw_refuse(struct kw_error *err, enum kw_refusal what, const char *pointer, const char *fmt, ...)
{
        va_list args;

        if (!err)
                return (int)what;
        va_start(args, fmt);
        write(err, what, pointer, fmt, args);
        va_end(args);
        return (int)what;
}

int kw_refuse_with(struct kw_error *err, enum kw_refusal what, const char *pointer, const char *as,
                   const struct kw_value *values, const char *fmt, ...)
{
        va_list args;

        if (!err)
                return (int)what;
        va_start(args, fmt);
        write(err, what, pointer, fmt, args);
        va_end(args);
        kw_said_set(&err->said, as, values);
        return (int)what;
}

void kw_error_at(struct kw_error *err, const char *prefix)
{
        char own[sizeof err->pointer];

        if (!err)
                return;
        memcpy(own, err->pointer, sizeof own);
        int n = snprintf(err->pointer, sizeof err->pointer, "%s", prefix);
        if ((size_t)n < sizeof err->pointer)
                snprintf(err->pointer + n, sizeof err->pointer - (size_t)n, "%s", own);
        kw_text_trim(err->pointer);
}
