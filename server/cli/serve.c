/*
 * kinwire serve: the daemon.
 */
#include "cli.h"

#include "kinwire/http.h"

#include <pthread.h>
#include <signal.h>
#include <string.h>
#include <time.h>

static void say(void *ctx, const char *sentence)
{
        kw_complain(ctx, "%s", sentence);
}

static void renew(const struct kw_command *self, struct kw_http *http)
{
        struct kw_error err = {0};
        int rc = kw_http_renew(http, &err);

        if (rc)
                kw_complain(self, "%s; what was shown before is shown on", rc < 0 ? strerror(-rc) : err.text);
        else
                kw_complain(self, "the certificate was read again");
}

/* Until a signal asks to stop, or the disk fails. Return: whether it was the disk. */
static bool serve_until(const struct kw_command *self, const sigset_t *signals, struct kw_http *http)
{
        const struct timespec tick = {.tv_nsec = 200000000};

        for (;;) {
                int which = sigtimedwait(signals, NULL, &tick);

                if (which == SIGHUP)
                        renew(self, http);
                else if (which > 0)
                        return kw_http_failed(http);
                if (kw_http_failed(http))
                        return true;
        }
}

static void print_address(const struct kw_http *http)
{
        const char *url = kw_http_url(http), *known_as = kw_http_known_as(http);

        if (strcmp(url, known_as) == 0)
                printf("kinwire: %s\n", url);
        else
                printf("kinwire: %s, asked for as %s\n", url, known_as);
        fflush(stdout);
}

static int serve(const struct kw_command *self, const struct kw_http_options *how)
{
        struct kw_error err = {0};
        struct kw_http *http;
        sigset_t signals;
        bool failed;
        int rc;

        signal(SIGPIPE, SIG_IGN);
        sigemptyset(&signals);
        sigaddset(&signals, SIGTERM);
        sigaddset(&signals, SIGINT);
        sigaddset(&signals, SIGHUP);
        pthread_sigmask(SIG_BLOCK, &signals, NULL); /* before any thread: they all leave them to this one */
        rc = kw_http_start(how, &http, &err);
        if (rc == KW_BAD_REQUEST)
                return kw_misused(self, "%s", err.text);
        if (rc)
                return kw_failed(self, how->ledger, rc, &err);
        print_address(http);
        failed = serve_until(self, &signals, http);
        kw_http_stop(http);
        if (failed)
                kw_complain(self, "the disk did not confirm what was written; look after it, then start kinwire again");
        return failed ? KW_EXIT_DISK : KW_EXIT_DONE;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct kw_http_options how = {.listen = "127.0.0.1:8420", .say = say, .ctx = (void *)(uintptr_t)self};
        const struct kw_option options[] = {
                {"ledger", &how.ledger, NULL},      {"listen", &how.listen, NULL},
                {"cert", &how.cert, NULL},          {"key", &how.key, NULL},
                {"behind-proxy", &how.proxy, NULL}, {"insecure-lan", NULL, &how.insecure_lan},
                {"host", &how.hosts, NULL},         {"web", &how.web, NULL},
                {"open", NULL, &how.open},          {0},
        };
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        return rc == KW_GO_ON ? serve(self, &how) : rc;
}

const struct kw_command kw_serve = {
        .name = "serve",
        .does = "the daemon: pages for people and an API for everything else",
        .usage = "--ledger FILE [--listen ADDR:PORT] [--cert FILE --key FILE] [--host NAME,...] [--open] ...",
        .help = "  --ledger FILE       the ledger; made when it isn't there\n"
                "  --listen ADDR:PORT  where to answer; port 0 takes any free one (default 127.0.0.1:8420).\n"
                "                      Beyond this machine only with one of the next three\n"
                "  --cert FILE --key FILE\n"
                "                      speak TLS 1.2 and 1.3, with this certificate (its chain after it) and its\n"
                "                      key, both PEM. SIGHUP reads them again\n"
                "  --behind-proxy NAME a proxy on the way does TLS, and is asked under NAME\n"
                "  --insecure-lan      neither: whoever is on the network can read and change what is sent, and\n"
                "                      every page says so\n"
                "  --host NAME,...     further names under which it is asked\n"
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
