/*
 * Any bytes as a request to a server: the first line "METHOD target", a space before it to ask the one where people
 * sign in and none to ask the open one; then header lines; an empty line; the body. How long the body is, and that the
 * connection ends with the reply, the target adds itself.
 *
 * There is one reply, it is no failure of the server's own, and the connection ends; a refusal is well-formed. What is
 * recorded on the way stays, so one server sees many requests.
 */
#include "scratch.h"

#include "kinwire/http.h"
#include "kinwire/json.h"

#include <arpa/inet.h>
#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define MOST     (256 << 10) /* bytes of a reply that are looked at */
#define PATIENCE 60          /* s */

static const char seeds[] = "POST /api/entries\nContent-Type: application/x-ndjson\n\n"
                            "{\"key\":\"00000000-0000-4000-8000-000000000001\",\"kind\":\"heat\",\"body\":{\"heat\":"
                            "\"H1\",\"supplier\":\"A\","
                            "\"grade\":\"C82D\"}}\n"
                            "{\"key\":\"00000000-0000-4000-8000-000000000002\",\"kind\":\"receive\",\"body\":{\"lot\":"
                            "\"RC-1\",\"heat\":\"H1\","
                            "\"diameter_um\":5500,\"length_mm\":1000000}}\n"
                            "{\"key\":\"00000000-0000-4000-8000-000000000003\",\"kind\":\"run\",\"body\":{\"run\":"
                            "\"R1\",\"process\":\"wind\","
                            "\"machine\":\"M1\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"RC-1\"}]}],"
                            "\"packages\":[{\"lot\":\"BB-1\","
                            "\"kind\":\"bobbin\",\"length_mm\":1000000}]}}\n";

/* What fontconfig keeps of the fonts that it found is never given back; it is found again in no report of ours. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
        return "leak:libfontconfig\n";
}

struct request {
        char *text;
        size_t n;
        bool is_head, signs_in;
};

static struct kw_http *servers[2];
static struct sockaddr_in at[2];

static void start(int which, const char *name)
{
        char *ledger = scratch_path(name);
        struct kw_http_options how = {.ledger = ledger, .listen = "127.0.0.1:0", .open = which == 0};
        struct kw_error err = {0};
        const char *port;

        if (kw_http_start(&how, &servers[which], &err))
                fprintf(stderr, "%s\n", err.text);
        MUST(servers[which]);
        port = strrchr(kw_http_url(servers[which]), ':');
        at[which] = (struct sockaddr_in){.sin_family = AF_INET, .sin_port = htons((uint16_t)atoi(port + 1))};
        MUST(inet_pton(AF_INET, "127.0.0.1", &at[which].sin_addr) == 1);
        free(ledger);
}

static void stop(void)
{
        kw_http_stop(servers[0]);
        kw_http_stop(servers[1]);
}

/* --- a request ---------------------------------------------------------------------------------- */

static size_t line_end(const char *text, size_t n)
{
        const char *end = memchr(text, '\n', n);

        return end ? (size_t)(end - text) : n;
}

/* A line of its own each; a CR would end the headers, and what says that the connection is to end, before their end. */
static void put_line(FILE *out, const char *line, size_t n)
{
        for (size_t i = 0; i < n; i++) {
                if (line[i] != '\r')
                        fputc(line[i], out);
        }
        fputs("\r\n", out);
}

static bool only_returns(const char *line, size_t n)
{
        while (n && line[n - 1] == '\r')
                n--;
        return n == 0;
}

static void put_headers(FILE *out, const char **text, size_t *n)
{
        for (;;) {
                size_t line = line_end(*text, *n), used = line < *n ? line + 1 : line;

                if (line && !(only_returns(*text, line) && line < *n))
                        put_line(out, *text, line);
                *text += used;
                *n -= used;
                if (!line || !*n)
                        return;
        }
}

static void compose(const char *text, size_t n, struct request *r)
{
        FILE *out = open_memstream(&r->text, &r->n);
        size_t line;

        MUST(out);
        r->signs_in = n && text[0] == ' ';
        text += r->signs_in;
        n -= r->signs_in;
        line = line_end(text, n);
        r->is_head = line >= 5 && memcmp(text, "HEAD ", 5) == 0;
        for (size_t i = 0; i < line; i++)
                fputc(text[i] == '\r' ? '-' : text[i], out);
        fputs(" HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n", out);
        text += line < n ? line + 1 : line;
        n -= line < n ? line + 1 : line;
        put_headers(out, &text, &n);
        if (n)
                fprintf(out, "Content-Length: %zu\r\n", n);
        fputs("\r\n", out);
        fwrite(text, 1, n, out);
        MUST(fclose(out) == 0);
}

/* --- its reply ---------------------------------------------------------------------------------- */

static size_t talk(const struct request *r, char *reply)
{
        const struct timeval patience = {PATIENCE, 0};
        const struct linger now = {1, 0};
        int s = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
        size_t got = 0;
        ssize_t n;
        char rest[4096];

        MUST(s >= 0);
        setsockopt(s, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience));
        setsockopt(s, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof(patience));
        setsockopt(s, SOL_SOCKET, SO_LINGER, &now, sizeof(now)); /* no port waits for late packets */
        MUST(connect(s, (const struct sockaddr *)&at[r->signs_in], sizeof(at[0])) == 0);
        send(s, r->text, r->n, MSG_NOSIGNAL);
        while ((n = recv(s, got < MOST ? reply + got : rest, got < MOST ? MOST - got : sizeof(rest), 0)) > 0)
                got += got < MOST ? (size_t)n : 0;
        MUST(n == 0 || errno == ECONNRESET); /* and not that nothing came for so long */
        close(s);
        reply[got] = '\0';
        return got;
}

/* What only says that the body may come is no reply yet. */
static const char *past_continue(const char *reply, size_t *n)
{
        static const char go_on[] = "HTTP/1.1 100 Continue\r\n\r\n";
        size_t used = strlen(go_on);

        if (*n < used || memcmp(reply, go_on, used) != 0)
                return reply;
        *n -= used;
        return reply + used;
}

static void judge(const struct request *r, const char *reply, size_t n)
{
        const struct kw_json_limits limits = {MOST, 1000};
        const char *body = memmem(reply, n, "\r\n\r\n", 4);
        int status = n >= 12 && memcmp(reply, "HTTP/1.1 ", 9) == 0 ? atoi(reply + 9) : 0;
        cJSON *json = NULL;

        if (n == 0)
                return; /* the library hung up: it found no request in it */
        MUST(status >= 200 && status < 600 && body);
        if (status == 500)
                fprintf(stderr, "%.*s\n%s\n", (int)r->n, r->text, reply);
        MUST(status != 500);
        if (status < 400 || r->is_head || !strstr(reply, "application/problem+json"))
                return;
        MUST(kw_json_read(body + 4, n - (size_t)(body + 4 - reply), &limits, &json, NULL) == 0);
        MUST(kw_json_text(json, "type") && kw_json_text(json, "detail"));
        cJSON_Delete(json);
}

static void ask(const char *text, size_t n)
{
        static char whole[MOST + 1];
        struct request r = {0};
        const char *reply;

        compose(text, n, &r);
        n = talk(&r, whole);
        reply = past_continue(whole, &n);
        judge(&r, reply, n);
        free(r.text);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        if (!servers[0]) {
                signal(SIGPIPE, SIG_IGN);
                start(0, "open.kw");
                start(1, "people.kw");
                MUST(atexit(stop) == 0);
                ask(seeds, strlen(seeds));
        }
        ask((const char *)bytes, n);
        return 0;
}
