/*
 * The address to listen on, and the names under which the server may be asked.
 *
 * Only this machine's own addresses: without sign-in and without TLS nothing else would be safe. The names matter
 * because a page of any site can make a browser ask a local address under that site's name; such a request is refused.
 */
#include "server.h"

#include <arpa/inet.h>
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

int kw_address_listen(const char *listen, struct kw_address *out, struct kw_error *err)
{
        const struct addrinfo hints = {.ai_flags = AI_NUMERICHOST | AI_NUMERICSERV, .ai_socktype = SOCK_STREAM};
        struct addrinfo *at;
        char host[64], port[8];
        int rc;

        if (!split(listen, host, port) || getaddrinfo(host, port, &hints, &at) != 0)
                return kw_refuse(
                        err, KW_BAD_REQUEST, NULL,
                        "%s is not an address to listen on: give one as in 127.0.0.1:8420 (port 0: any free one)",
                        listen);
        if (!is_loopback(at->ai_addr)) {
                freeaddrinfo(at);
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "%s is not a loopback address: only 127.0.0.1, localhost or [::1] can be served",
                                 listen);
        }
        rc = bind_to(at, out);
        freeaddrinfo(at);
        if (rc == -EADDRINUSE)
                return kw_refuse(err, KW_BAD_REQUEST, NULL,
                                 "%s is in use already: stop what listens there, or give another port", listen);
        return rc ? kw_refuse(err, KW_BAD_REQUEST, NULL, "can't listen on %s: %s", listen, strerror(-rc)) : 0;
}

bool kw_address_is_host(const struct kw_address *address, const char *host)
{
        static const char *const names[] = {"127.0.0.1", "localhost", "[::1]"};
        char with_port[32];

        if (strcasecmp(host, address->name) == 0)
                return true;
        for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
                snprintf(with_port, sizeof with_port, "%s:%u", names[i], (unsigned)address->port);
                if (strcasecmp(host, names[i]) == 0 || strcasecmp(host, with_port) == 0)
                        return true;
        }
        return false;
}
