/*
 * A recall as it is answered: over HTTP, from the request to the last byte of its JSON, with all that is said of each
 * lot.
 */
#include "bench.h"
#include "history.h"

#include "kinwire/http.h"

#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define REPEATS 5

struct client {
        int port;
        char *buffer;
        size_t cap;
};

static int dial(int port)
{
        struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
        int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

        to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        if (fd < 0 || connect(fd, (struct sockaddr *)&to, sizeof(to)) < 0)
                bench_fail("HTTP", "the server does not answer");
        return fd;
}

static size_t get(struct client *c, const char *path)
{
        char request[512];
        int fd = dial(c->port),
            n = snprintf(request, sizeof(request), "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nConnection: close\r\n\r\n",
                         path, c->port);
        size_t got = 0;
        ssize_t part;

        if (write(fd, request, (size_t)n) != n)
                bench_fail("HTTP", "the request can't be sent");
        while ((part = read(fd, c->buffer + got, c->cap - got - 1)) > 0) {
                got += (size_t)part;
                if (got + 1 == c->cap)
                        bench_fail("HTTP", "an answer that is longer than was thought of");
        }
        close(fd);
        c->buffer[got] = '\0';
        if (strncmp(c->buffer, "HTTP/1.1 200", 12) != 0)
                bench_fail(path, c->buffer);
        return got;
}

static double recall(struct client *c, uint32_t heat, double *bytes)
{
        char code[16], path[64];
        double ms[REPEATS];

        history_heat_code(heat - 1, code);
        snprintf(path, sizeof(path), "/api/trace?origin=heat:%s", code);
        get(c, path);
        for (int i = 0; i < REPEATS; i++) {
                ms[i] = bench_now();
                *bytes = (double)get(c, path);
                ms[i] = bench_now() - ms[i];
        }
        return bench_median(ms, REPEATS);
}

void answer_rows(const char *ledger, const struct graph *g)
{
        const struct kw_http_options options = {.ledger = ledger, .listen = "127.0.0.1:0", .open = true};
        struct client c = {.cap = (size_t)64 << 20};
        double ms[ASKED], bytes[ASKED];
        struct kw_error err = {0};
        struct kw_http *http;
        size_t n = 0;

        c.buffer = malloc(c.cap);
        if (!c.buffer || kw_http_start(&options, &http, &err))
                bench_fail("HTTP", err.text);
        c.port = atoi(strrchr(kw_http_url(http), ':') + 1);
        sleep(2); /* the index is there by then */
        for (size_t i = 0; i < g->n_starts; i++)
                if (g->starts[i].what == ASK_HEAT) {
                        ms[n] = recall(&c, (uint32_t)g->starts[i].a, &bytes[n]);
                        n++;
                }
        kw_http_stop(http);
        free(c.buffer);
        bench_figure("recall of a heat over HTTP with its JSON", "ms", bench_median(ms, n), AT_MOST, 15);
        bench_figure("its JSON", "kB", bench_median(bytes, n) / 1e3, NO_TARGET, 0);
}
