/*
 * A request's target, taken apart: the path as it was sent, segment by segment, against the table of routes, and the
 * query.
 *
 * The library decodes a path before anyone sees it, so that a code's own "/" (sent as %2F) would look like two
 * segments. Here a path is split first and decoded afterwards, and only where a route takes a segment's text.
 */
#include "server.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

struct kw_request *kw_request_new(struct kw_http *http, struct MHD_Connection *connection, const char *target)
{
        struct kw_request *r = calloc(1, sizeof *r);

        if (!r)
                return NULL;
        r->http = http;
        r->connection = connection;
        r->begun = kw_now_us();
        r->target = strdup(target);
        if (!r->target) {
                free(r);
                return NULL;
        }
        r->path_len = strcspn(target, "?");
        return r;
}

void kw_request_free(struct kw_request *r)
{
        if (!r)
                return;
        kw_limits_leave(r);
        kw_intake_free(r->http, r->intake);
        kw_form_free(r->form);
        kw_check_free(r->check);
        kw_exporting_free(r->exporting);
        kw_tracing_free(r->tracing);
        free(r->target);
        free(r);
}

/* --- the path --------------------------------------------------------------------------------- */

static int hex(char c)
{
        return isdigit((unsigned char)c) ? c - '0' : isxdigit((unsigned char)c) ? (c | 0x20) - 'a' + 10 : -1;
}

/* A segment decoded. Return: whether it fits, every % is followed by two digits, and no NUL came out. */
static bool decode(const char *from, size_t n, char out[KW_PART_MAX])
{
        size_t used = 0;

        for (size_t i = 0; i < n; i++) {
                char c = from[i];
                if (c == '%') {
                        if (n - i < 3 || hex(from[i + 1]) < 0 || hex(from[i + 2]) < 0)
                                return false;
                        c = (char)(hex(from[i + 1]) * 16 + hex(from[i + 2]));
                        i += 2;
                }
                if (c == '\0' || used + 1 >= KW_PART_MAX)
                        return false;
                out[used++] = c;
        }
        out[used] = '\0';
        return true;
}

/* The segments of "/api/lots/X" one after another; false when there are no more. */
static bool next_segment(const char **at, const char *end, const char **segment, size_t *n)
{
        if (*at >= end || **at != '/')
                return false;
        *segment = *at + 1;
        *at = memchr(*segment, '/', (size_t)(end - *segment));
        if (!*at)
                *at = end;
        *n = (size_t)(*at - *segment);
        return true;
}

/* No page lies below /api/, so what isn't in the table there is not found, whatever the method. */
static bool matches(struct kw_request *r, const char *pattern)
{
        const char *path = r->target, *path_end = path + r->path_len, *pattern_end = pattern + strlen(pattern);
        const char *is, *want;
        size_t is_n, want_n;

        r->n_parts = 0;
        while (next_segment(&pattern, pattern_end, &want, &want_n)) {
                if (want_n == 2 && memcmp(want, "**", 2) == 0)
                        return strncmp(r->target, "/api/", 5) != 0;
                if (!next_segment(&path, path_end, &is, &is_n))
                        return false;
                if (want_n == 1 && *want == '*') {
                        if (is_n == 0 || !decode(is, is_n, r->part[r->n_parts++]))
                                return false;
                } else if (is_n != want_n || memcmp(is, want, is_n) != 0) {
                        return false;
                }
        }
        return path == path_end;
}

/* --- the query -------------------------------------------------------------------------------- */

/* Well-formed UTF-8 without control characters: what can be handed back inside an answer. */
static bool is_text(const char *value, size_t n)
{
        for (size_t i = 0; i < n;) {
                unsigned char c = (unsigned char)value[i++];
                uint32_t min = c < 0x80 ? 0 : c < 0xe0 ? 0x80 : c < 0xf0 ? 0x800 : 0x10000, code = c;
                size_t more = c < 0x80 ? 0 : c < 0xe0 ? 1 : c < 0xf0 ? 2 : 3;

                if (c < 0x20 || c == 0x7f || (c >= 0x80 && c < 0xc2) || c > 0xf4 || more > n - i)
                        return false;
                if (more)
                        code = c & (0x3fu >> more);
                for (; more; more--) {
                        unsigned char next = (unsigned char)value[i++];
                        if ((next & 0xc0) != 0x80)
                                return false;
                        code = code << 6 | (next & 0x3f);
                }
                if (code < min || code > 0x10ffff || (code >= 0xd800 && code < 0xe000))
                        return false;
        }
        return true;
}

struct reading {
        struct kw_request *r;
        struct kw_error *err;
        int rc;
};

static bool is_allowed(const struct kw_route *route, const char *name)
{
        for (size_t i = 0; i < KW_QUERY_MAX && route->query[i]; i++) {
                if (strcmp(route->query[i], name) == 0)
                        return true;
        }
        return false;
}

static enum MHD_Result read_parameter(void *cls, enum MHD_ValueKind kind, const char *name, size_t name_n,
                                      const char *value, size_t value_n)
{
        struct reading *in = cls;
        struct kw_request *r = in->r;

        (void)kind;
        if (!is_text(name, name_n) || (value && !is_text(value, value_n)))
                in->rc = kw_refuse_with(in->err, KW_BAD_REQUEST, NULL, "utf8", NULL,
                                        "the query is not well-formed UTF-8 text");
        else if (!is_allowed(r->route, name))
                in->rc = kw_refuse_with(in->err, KW_BAD_REQUEST, NULL, "no-parameter",
                                        KW_VALUES(KW_WORD("parameter", name)), "there is no parameter \"%.40s\" here",
                                        name);
        else if (kw_request_query(r, name))
                in->rc = kw_refuse_with(in->err, KW_BAD_REQUEST, NULL, "given-twice",
                                        KW_VALUES(KW_WORD("parameter", name)), "\"%s\" is given twice", name);
        else if (!value)
                in->rc = kw_refuse_with(in->err, KW_BAD_REQUEST, NULL, "no-value",
                                        KW_VALUES(KW_WORD("parameter", name)), "\"%s\" has no value", name);
        else {
                r->query[r->n_query].name = name;
                r->query[r->n_query].value = value;
                r->n_query++;
        }
        return in->rc ? MHD_NO : MHD_YES;
}

static int read_query(struct kw_request *r, struct kw_error *err)
{
        struct reading in = {.r = r, .err = err};

        if (r->route->query[0] && strcmp(r->route->query[0], "*") == 0)
                return 0;
        MHD_get_connection_values_n(r->connection, MHD_GET_ARGUMENT_KIND, read_parameter, &in);
        return in.rc;
}

/* --- the route -------------------------------------------------------------------------------- */

int kw_request_route(struct kw_request *r, const char *method, struct kw_error *err)
{
        const char *wanted = strcmp(method, MHD_HTTP_METHOD_HEAD) == 0 ? MHD_HTTP_METHOD_GET : method;
        const char *other = NULL;

        for (const struct kw_route *route = kw_routes; route->path; route++) {
                if (!matches(r, route->path))
                        continue;
                if (strcmp(route->method, wanted) == 0) {
                        r->route = route;
                        return read_query(r, err);
                }
                if (!other)
                        other = route->method;
        }
        if (!other)
                return kw_refuse_with(err, KW_NOT_FOUND, NULL, "address", NULL, "there is nothing under %.*s",
                                      (int)r->path_len, r->target);
        kw_reply_header(r, MHD_HTTP_HEADER_ALLOW, "%s%s", other,
                        strcmp(other, MHD_HTTP_METHOD_GET) == 0 ? ", HEAD" : "");
        return kw_refuse_with(err, KW_BAD_METHOD, NULL, "address", NULL, "%s can't be done on %.*s", method,
                              (int)r->path_len, r->target);
}

const char *kw_request_query(const struct kw_request *r, const char *name)
{
        for (size_t i = 0; i < r->n_query; i++) {
                if (strcmp(r->query[i].name, name) == 0)
                        return r->query[i].value;
        }
        return NULL;
}

int kw_request_int(const struct kw_request *r, const char *name, int64_t low, int64_t high, int64_t otherwise,
                   int64_t *out, struct kw_error *err)
{
        const char *text = kw_request_query(r, name);
        char *end;

        if (high > KW_JSON_INT_MAX)
                high = KW_JSON_INT_MAX; /* the refusal says it, and JSON says no larger one exactly */
        *out = otherwise;
        if (!text)
                return 0;
        errno = 0;
        *out = strtoll(text, &end, 10);
        if (!isdigit((unsigned char)*text) || *end || errno || *out < low || *out > high)
                return kw_refuse_with(
                        err, KW_BAD_REQUEST, NULL, "whole",
                        KW_VALUES(KW_WORD("parameter", name), KW_FIGURE("low", low), KW_FIGURE("high", high)),
                        "\"%s\" is a whole number from %" PRId64 " to %" PRId64, name, low, high);
        return 0;
}

int kw_request_code(const char *given, const char *what, char out[KW_CODE_MAX + 1], struct kw_error *err)
{
        size_t n = strlen(given);

        if (n <= KW_CODE_MAX) {
                for (size_t i = 0; i <= n; i++)
                        out[i] = (char)(given[i] >= 'a' && given[i] <= 'z' ? given[i] - 'a' + 'A' : given[i]);
                if (kw_code_ok(out))
                        return 0;
        }
        return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "code", NULL,
                              "the %s has to be a code: 1 to 40 of A-Z 0-9 . / -", what);
}

/* --- set aside -------------------------------------------------------------------------------- */

void kw_request_aside(struct kw_request *r, enum MHD_Result (*again)(struct kw_request *r))
{
        r->stage = KW_ASIDE;
        r->again = again;
        MHD_suspend_connection(r->connection);
}

void kw_request_resume(struct kw_request *r)
{
        MHD_resume_connection(r->connection);
}

int kw_request_time(const struct kw_request *r, const char *name, int64_t otherwise, int64_t *out, struct kw_error *err)
{
        const char *text = kw_request_query(r, name);

        *out = otherwise;
        if (!text || !*text || kw_stamp_read(text, out) == 0)
                return 0;
        return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "time", KW_VALUES(KW_WORD("parameter", name)),
                              "\"%s\" is a time as in 2026-03-04T09:12:00Z", name);
}

bool kw_request_wants_csv(const struct kw_request *r)
{
        const char *accept = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT);

        return accept && strcasestr(accept, "text/csv");
}
