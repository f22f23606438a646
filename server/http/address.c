/*
 * The address to listen on, and the names under which the server may be asked.
 *
 * This machine's own addresses, unless what is sent is kept from others' eyes: by a certificate of the server's own, by
 * a proxy that was stated, or by whoever says that the network is theirs alone. The names matter because a page of any
 * site can make a browser ask a local address under that site's name; such a request is refused.
 */
#include "server.h"

#include <arpa/inet.h>
#include <ctype.h>
#include <errno.h>
#include <netdb.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define BACKLOG 256

/* "127.0.0.1:8420" or "[::1]:8420" into its two halves, the brackets taken off. */
static bool split(const char *listen, char host[64], char port[8])
{
        const char *colon = strrchr(listen, ':');
        size_t n = colon ? (size_t)(colon - listen) : 0;

        if (!colon || n == 0 || n > 63 || strlen(colon + 1) == 0 || strlen(colon + 1) > 5 ||
            strspn(colon + 1, "0123456789") != strlen(colon + 1) || atoi(colon + 1) > 65535)
                return false;
        strcpy(port, colon + 1);
        if (listen[0] == '[' && colon[-1] == ']') {
                listen++;
                n -= 2;
        } else if (memchr(listen, ':', n)) {
                return false;
        }
        memcpy(host, listen, n);
        host[n] = '\0';
        if (strcmp(host, "localhost") == 0)
                strcpy(host, "127.0.0.1");
        return true;
}

static bool is_loopback(const struct sockaddr *at)
{
        if (at->sa_family == AF_INET) {
                struct sockaddr_in in;
                memcpy(&in, at, sizeof in);
                return ntohl(in.sin_addr.s_addr) >> 24 == 127;
        }
        if (at->sa_family == AF_INET6) {
                struct sockaddr_in6 in6;
                memcpy(&in6, at, sizeof in6);
                return IN6_IS_ADDR_LOOPBACK(&in6.sin6_addr);
        }
        return false;
}

/* What it got: the port may have been any free one. */
static bool read_back(struct kw_address *out)
{
        struct sockaddr_storage got;
        socklen_t n = sizeof got;
        char host[INET6_ADDRSTRLEN], port[8];

        if (getsockname(out->fd, (struct sockaddr *)&got, &n) < 0 ||
            getnameinfo((struct sockaddr *)&got, n, host, sizeof host, port, sizeof port,
                        NI_NUMERICHOST | NI_NUMERICSERV) != 0)
                return false;
        out->port = (uint16_t)atoi(port);
        snprintf(out->name, sizeof out->name, got.ss_family == AF_INET6 ? "[%s]:%s" : "%s:%s", host, port);
        return true;
}

static int bind_to(const struct addrinfo *at, struct kw_address *out)
{
        int yes = 1;

        out->fd = socket(at->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
        if (out->fd < 0)
                return -errno;
        /* a server started anew takes its port although connections of the last one linger; two at once don't get it */
        setsockopt(out->fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
        if (bind(out->fd, at->ai_addr, at->ai_addrlen) == 0 && listen(out->fd, BACKLOG) == 0 && read_back(out))
                return 0;
        yes = errno;
        close(out->fd);
        out->fd = -1;
        return -yes;
}

static bool is_any(const struct sockaddr *at)
{
        if (at->sa_family == AF_INET) {
                struct sockaddr_in in;
                memcpy(&in, at, sizeof in);
                return in.sin_addr.s_addr == htonl(INADDR_ANY);
        }
        if (at->sa_family == AF_INET6) {
                struct sockaddr_in6 in6;
                memcpy(&in6, at, sizeof in6);
                return IN6_IS_ADDR_UNSPECIFIED(&in6.sin6_addr);
        }
        return false;
}

/* --- names ------------------------------------------------------------------------------------ */

/* "ledger.mill.example", with or without a port; an address in brackets. */
static bool is_name(const char *name, size_t n)
{
        if (n == 0 || n > 253)
                return false;
        for (size_t i = 0; i < n; i++) {
                if (!isalnum((unsigned char)name[i]) && !strchr(".-:[]", name[i]))
                        return false;
        }
        return true;
}

static int add_name(struct kw_address *out, const char *name, size_t n, struct kw_error *err)
{
        if (!is_name(name, n))
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "\"%.*s\" is not a name to be asked under: give one as in ledger.mill.example", (int)n,
                                 name);
        if (out->n_hosts == KW_HOSTS_MAX)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "at most %d names", KW_HOSTS_MAX);
        memcpy(out->hosts[out->n_hosts], name, n);
        out->hosts[out->n_hosts++][n] = '\0';
        return 0;
}

/* Names with commas between them; NULL: none. */
static int add_names(struct kw_address *out, const char *names, struct kw_error *err)
{
        int rc = 0;

        while (names && rc == 0) {
                size_t n = strcspn(names, ",");
                rc = add_name(out, names, n, err);
                names = names[n] ? names + n + 1 : NULL;
        }
        return rc;
}

/* --- what may be listened on ------------------------------------------------------------------ */

static int check_reach(const struct kw_wanted *wanted, const struct sockaddr *at, struct kw_address *out,
                       struct kw_error *err)
{
        out->loopback = is_loopback(at);
        out->tls = wanted->tls;
        out->proxied = wanted->proxy != NULL;
        out->in_the_clear = !out->loopback && !out->tls && !out->proxied;
        if (wanted->open && (!out->loopback || out->proxied))
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "--open asks nobody who they are: it is served on a loopback address alone, without "
                                 "a proxy");
        if (out->in_the_clear && !wanted->insecure_lan)
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "%s is not a loopback address: others on the network could read and change what is "
                                 "sent. Give --cert and --key, or --behind-proxy NAME where a proxy does TLS, or "
                                 "--insecure-lan where the network is yours alone",
                                 wanted->listen);
        if (is_any(at) && !out->n_hosts)
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "%s is every address of this machine: --host NAME says under which name it is asked",
                                 wanted->listen);
        return 0;
}

int kw_address_listen(const struct kw_wanted *wanted, struct kw_address *out, struct kw_error *err)
{
        const struct addrinfo hints = {.ai_flags = AI_NUMERICHOST | AI_NUMERICSERV, .ai_socktype = SOCK_STREAM};
        const char *listen = wanted->listen;
        struct addrinfo *at;
        char host[64], port[8];
        int rc;

        if (!split(listen, host, port) || getaddrinfo(host, port, &hints, &at) != 0)
                return kw_refuse(
                        err, KW_BAD_REQUEST, NULL,
                        "%s is not an address to listen on: give one as in 127.0.0.1:8420 (port 0: any free one)",
                        listen);
        rc = add_names(out, wanted->proxy, err);
        if (!rc)
                rc = add_names(out, wanted->hosts, err);
        if (!rc)
                rc = check_reach(wanted, at->ai_addr, out, err);
        if (!rc)
                rc = bind_to(at, out);
        freeaddrinfo(at);
        if (rc > 0)
                return rc;
        if (rc == -EADDRINUSE)
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "%s is in use already: stop what listens there, or give another port", listen);
        return rc ? kw_refuse(err, KW_BAD_REQUEST, NULL, "can't listen on %s: %s", listen, strerror(-rc)) : 0;
}

/* @host is @name, or @name with @port. */
static bool is_named(const char *host, const char *name, uint16_t port)
{
        size_t n = strlen(name);
        char digits[8];

        if (strncasecmp(host, name, n) != 0)
                return false;
        snprintf(digits, sizeof digits, ":%u", (unsigned)port);
        return host[n] == '\0' || strcmp(host + n, digits) == 0;
}

static bool is_loopback_name(const struct kw_address *address, const char *host)
{
        static const char *const names[] = {"127.0.0.1", "localhost", "[::1]"};

        for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
                if (is_named(host, names[i], address->port))
                        return true;
        }
        return false;
}

bool kw_address_is_host(const struct kw_address *address, const char *host)
{
        if (strcasecmp(host, address->name) == 0 || is_loopback_name(address, host))
                return true;
        for (size_t i = 0; i < address->n_hosts; i++) {
                if (is_named(host, address->hosts[i], address->port))
                        return true;
        }
        return false;
}

/* Behind a proxy a browser speaks TLS to the proxy; what asks this machine directly does not. */
bool kw_address_is_https(const struct kw_address *address, const char *host)
{
        return address->tls ||
               (address->proxied && strcasecmp(host, address->name) != 0 && !is_loopback_name(address, host));
}

bool kw_address_is_origin(const struct kw_address *address, const char *host, const char *origin)
{
        const char *scheme = kw_address_is_https(address, host) ? "https://" : "http://";
        size_t n = strlen(scheme);

        return strncasecmp(origin, scheme, n) == 0 && strcasecmp(origin + n, host) == 0;
}

void kw_address_url(const struct kw_address *address, char out[KW_URL_MAX])
{
        const char *scheme = address->tls || address->proxied ? "https" : "http";

        if (address->n_hosts && (address->proxied || strchr(address->hosts[0], ':')))
                snprintf(out, KW_URL_MAX, "%s://%s/", scheme, address->hosts[0]);
        else if (address->n_hosts)
                snprintf(out, KW_URL_MAX, "%s://%s:%u/", scheme, address->hosts[0], (unsigned)address->port);
        else
                snprintf(out, KW_URL_MAX, "%s://%s/", scheme, address->name);
}
