/*
 * kinwire serve: the daemon.
 */
#include "cli.h"

#include "kinwire/http.h"

#include <pthread.h>
#include <signal.h>
#include <time.h>

static void say(void *ctx, const char *sentence)
{
        kw_complain(ctx, "%s", sentence);
}

/* Until a signal asks to stop, or the disk fails. Return: whether it was the disk. */
static bool serve_until(const sigset_t *stops, struct kw_http *http)
{
        const struct timespec tick = {.tv_nsec = 200000000};

        for (;;) {
                if (sigtimedwait(stops, NULL, &tick) > 0)
                        return kw_http_failed(http);
                if (kw_http_failed(http))
                        return true;
        }
}

static int serve(const struct kw_command *self, const struct kw_http_options *how)
{
        struct kw_error err = {0};
        struct kw_http *http;
        sigset_t stops;
        bool failed;
        int rc;

        signal(SIGPIPE, SIG_IGN);
        sigemptyset(&stops);
        sigaddset(&stops, SIGTERM);
        sigaddset(&stops, SIGINT);
        pthread_sigmask(SIG_BLOCK, &stops, NULL); /* before any thread: they all leave them to this one */
        rc = kw_http_start(how, &http, &err);
        if (rc == KW_BAD_REQUEST)
                return kw_misused(self, "%s", err.text);
        if (rc)
                return kw_failed(self, how->ledger, rc, &err);
        printf("kinwire: %s\n", kw_http_url(http));
        fflush(stdout);
        failed = serve_until(&stops, http);
        kw_http_stop(http);
        if (failed)
                kw_complain(self, "the disk did not confirm what was written; look after it, then start kinwire again");
        return failed ? KW_EXIT_DISK : KW_EXIT_DONE;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct kw_http_options how = {.listen = "127.0.0.1:8420", .say = say, .ctx = (void *)(uintptr_t)self};
        const struct kw_option options[] = {
                {"ledger", &how.ledger, NULL},
                {"listen", &how.listen, NULL},
                {"web", &how.web, NULL},
                {"open", NULL, &how.open},
                {0},
        };
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        return rc == KW_GO_ON ? serve(self, &how) : rc;
}

const struct kw_command kw_serve = {
        .name = "serve",
        .does = "answer on this machine, with pages for people and an API for everything else",
        .usage = "--ledger FILE [--listen ADDR:PORT] [--open]",
        .help = "  --ledger FILE       the ledger; made when it isn't there\n"
                "  --listen ADDR:PORT  where to answer: a loopback address; port 0 takes any free one\n"
                "                      (default 127.0.0.1:8420)\n"
                "  --open              no sign-in: every request acts as the person \"open\" with all roles;\n"
                "                      for the demo, training and tests; every page says so\n"
                "  --web FOLDER        take the pages from this folder instead of from the program, to work\n"
                "                      on them\n"
                "\n"
                "One line with the address is printed once it answers. SIGTERM or Ctrl-C stops it: what was\n"
                "sent to be recorded is recorded and answered first.\n"
                "\n"
                "Exit status: 0 stopped as asked, 2 wrong usage or the port is in use, 4 the ledger can't be\n"
                "used, 70 the disk failed while writing.\n",
        .run = run,
};
