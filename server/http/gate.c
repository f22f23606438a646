/*
 * The gate: what is refused before anything else is looked at.
 *
 * Refused is whatever two readers of HTTP (a proxy and this server) could take for two different things, what isn't
 * meant for this server's name, and what another site's page sends. The connection is closed after each refusal, so
 * that nothing that follows on it is taken for a request.
 */
#include "server.h"

#include <ctype.h>
#include <string.h>

/* What the headers say that matters here. */
struct head {
        size_t hosts, lengths, types, sources, codings, credentials, cookies, fetches;
        const char *host, *length, *source, *coding, *fetch;
        size_t bytes; /* that the headers take as written, with their line ends */
        bool broken;  /* a name or a value has what it may not */
        bool fits;    /* every value follows its name as one would write it */
};

static bool is_name(const char *name, size_t n)
{
        for (size_t i = 0; i < n; i++) {
                if (!isalnum((unsigned char)name[i]) && !memchr("!#$%&'*+-.^_`|~", name[i], 15))
                        return false;
        }
        return n > 0;
}

static bool is_value(const char *value, size_t n)
{
        for (size_t i = 0; i < n; i++) {
                unsigned char c = (unsigned char)value[i];
                if ((c < 0x20 && c != '\t') || c == 0x7f)
                        return false;
        }
        return true;
}

static void count(struct head *h, const char *name, const char *value)
{
        const struct {
                const char *name;
                size_t *times;
                const char **value;
        } once[] = {
                {MHD_HTTP_HEADER_HOST, &h->hosts, &h->host},
                {MHD_HTTP_HEADER_CONTENT_LENGTH, &h->lengths, &h->length},
                {MHD_HTTP_HEADER_CONTENT_TYPE, &h->types, NULL},
                {MHD_HTTP_HEADER_ORIGIN, &h->sources, &h->source},
                {MHD_HTTP_HEADER_TRANSFER_ENCODING, &h->codings, &h->coding},
                {MHD_HTTP_HEADER_AUTHORIZATION, &h->credentials, NULL},
                {MHD_HTTP_HEADER_COOKIE, &h->cookies, NULL},
                {"Sec-Fetch-Site", &h->fetches, &h->fetch},
        };

        for (size_t i = 0; i < sizeof once / sizeof once[0]; i++) {
                if (strcasecmp(once[i].name, name) != 0)
                        continue;
                if (++*once[i].times > 1)
                        h->broken = true;
                if (once[i].value)
                        *once[i].value = value;
        }
}

static enum MHD_Result read_header(void *cls, enum MHD_ValueKind kind, const char *name, size_t name_n,
                                   const char *value, size_t value_n)
{
        struct head *h = cls;

        (void)kind;
        if (!is_name(name, name_n) || !value || !is_value(value, value_n)) {
                h->broken = true;
                return MHD_NO;
        }
        count(h, name, value);
        h->fits &= value > name;
        h->bytes += (size_t)(value - name) + value_n + 2;
        return MHD_YES;
}

/*
 * Versions 0.9 of the library hand out a name or value that holds a NUL cut short, take a bare LF for a line's end and
 * join folded lines. All of it shows in the size: the parts no longer make up the whole. Later versions refuse these
 * themselves.
 */
static bool is_whole(struct kw_request *r, const struct head *h, const char *method, const char *version)
{
        const union MHD_ConnectionInfo *info;

        if (strncmp(MHD_get_version(), "0.9.", 4) != 0)
                return true;
        info = MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_REQUEST_HEADER_SIZE);
        return info && h->fits &&
               info->header_size == strlen(method) + 1 + strlen(r->target) + 1 + strlen(version) + 2 + h->bytes + 2;
}

/* Whether a part of the path is "." or "..", however it is written. */
static bool climbs(const char *path, size_t n)
{
        size_t dots = 0;
        bool other = false;

        for (size_t i = 0; i <= n; i++) {
                char c = i < n ? path[i] : '/';
                if (n - i >= 3 && (strncasecmp(path + i, "%2e", 3) == 0 || strncasecmp(path + i, "%2f", 3) == 0)) {
                        c = path[i + 2] == 'e' || path[i + 2] == 'E' ? '.' : '/';
                        i += 2;
                }
                if (c == '/') {
                        if (!other && (dots == 1 || dots == 2))
                                return true;
                        dots = 0;
                        other = false;
                } else if (c == '.') {
                        dots++;
                } else {
                        other = true;
                }
        }
        return false;
}

static int check_target(const struct kw_request *r, struct kw_error *err)
{
        const char *target = r->target, *twice = strstr(target, "//");

        if (target[0] != '/')
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "the request's target has to begin with /");
        for (const char *c = target; *c; c++) {
                if (*c <= ' ' || *c >= 0x7f)
                        return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                         "the request's target has a character that isn't encoded");
        }
        if (strstr(target, "%00"))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "the request's target has a NUL");
        if ((twice && twice < target + r->path_len) || climbs(target, r->path_len))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "the path has an empty part, or one that is . or ..");
        return 0;
}

/* How long the body is has to be said once, in one way. */
static int check_body(const struct head *h, const char *method, const char *version, struct kw_error *err)
{
        if (h->coding && (h->length || strcasecmp(h->coding, "chunked") != 0 || strcmp(version, "HTTP/1.1") != 0))
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "a body has either a Content-Length or the Transfer-Encoding \"chunked\"");
        if (h->length && (!*h->length || h->length[strspn(h->length, "0123456789")] || strlen(h->length) > 18))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "the Content-Length is not a number");
        if (strcmp(method, MHD_HTTP_METHOD_POST) != 0 &&
            (h->coding || (h->length && strspn(h->length, "0") != strlen(h->length))))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "a %s has no body", method);
        return 0;
}

/* A browser says where a page came from that sends something: it has to be here. */
static int check_source(const struct kw_address *address, const struct head *h, struct kw_error *err)
{
        if (h->source && !kw_address_is_origin(address, h->host, h->source))
                return kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "other-site", NULL,
                                      "a page of another site may not send anything here");
        if (h->fetch && strcasecmp(h->fetch, "same-origin") != 0 && strcasecmp(h->fetch, "none") != 0)
                return kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "other-site", NULL,
                                      "a page of another site may not send anything here");
        return 0;
}

static bool is_method(const char *method)
{
        return strcmp(method, MHD_HTTP_METHOD_GET) == 0 || strcmp(method, MHD_HTTP_METHOD_HEAD) == 0 ||
               strcmp(method, MHD_HTTP_METHOD_POST) == 0;
}

int kw_gate(struct kw_request *r, const char *method, const char *version, struct kw_error *err)
{
        struct head h = {.fits = true};
        int rc;

        MHD_get_connection_values_n(r->connection, MHD_HEADER_KIND, read_header, &h);
        if (h.broken || !is_whole(r, &h, method, version))
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "the request's headers are not well-formed, or one that may stand "
                                 "once stands twice");
        if (strcmp(version, "HTTP/1.1") != 0 && strcmp(version, "HTTP/1.0") != 0)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "HTTP/1.1 is spoken here");
        rc = check_target(r, err);
        if (rc)
                return rc;
        if (!is_method(method)) {
                kw_reply_header(r, MHD_HTTP_HEADER_ALLOW, "GET, HEAD, POST");
                return kw_refuse(err, KW_BAD_METHOD, NULL, "only GET, HEAD and POST are done here");
        }
        rc = check_body(&h, method, version, err);
        if (rc)
                return rc;
        if (!h.host || !kw_address_is_host(&r->http->address, h.host))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "this server does not go by that name: ask for %s",
                                 r->http->known_as);
        return strcmp(method, MHD_HTTP_METHOD_POST) == 0 ? check_source(&r->http->address, &h, err) : 0;
}
