/*
 * kinwire serve: the daemon.
 */
#include "cli.h"
#include "confine.h"
#include "log.h"
#include "notify.h"

#include "kinwire/http.h"
#include "kinwire/sandbox.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define RATE      20 /* requests a second of one caller */
#define RATE_MAX  100000
#define FLOOR     256 /* MiB that stay free */
#define FLOOR_MAX (1 << 24)

/* A sanitizer's own work at the end, and the counts of a coverage build, need what the sandbox takes away. */
#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__ || defined KW_COVERAGE
#define SANDBOX "off"
#else
#define SANDBOX "on"
#endif

struct serving {
        const struct kw_command *self;
        struct kw_http_options how;
        struct kw_log log;
        struct kw_notify notify;
        const char *rate, *floor, *level, *sandbox; /* as given, or what they are otherwise */
        bool as_root;
};

static void note(struct serving *s, enum kw_level level, const char *fmt, ...) __attribute__((format(printf, 3, 4)));

static void note(struct serving *s, enum kw_level level, const char *fmt, ...)
{
        char sentence[1024];
        va_list ap;

        va_start(ap, fmt);
        vsnprintf(sentence, sizeof sentence, fmt, ap);
        va_end(ap);
        kw_log_say(&s->log, level, sentence);
}

/* --- the sandbox ------------------------------------------------------------------------------ */

/* What came of restricting the process. Return: KW_GO_ON; KW_EXIT_LEDGER when it has to be restricted and isn't. */
static int restricted(struct serving *s, int rc, const struct kw_error *err)
{
        if (!rc)
                return KW_GO_ON;
        if (strcmp(s->sandbox, "must") != 0) {
                note(s, KW_LOG_WARNING, "%s; kinwire goes on without", rc < 0 ? strerror(-rc) : err->text);
                return KW_GO_ON;
        }
        kw_complain(s->self, "%s", rc < 0 ? strerror(-rc) : err->text);
        return KW_EXIT_LEDGER;
}

static int restrict_files(struct serving *s)
{
        struct kw_error err = {0};

        return strcmp(s->sandbox, "off") == 0 ? KW_GO_ON : restricted(s, kw_confine_files(&s->how, &err), &err);
}

static int restrict_calls(struct serving *s)
{
        struct kw_error err = {0};

        return strcmp(s->sandbox, "off") == 0 ? KW_GO_ON : restricted(s, kw_sandbox_calls(&err), &err);
}

/* --- until it is to stop ---------------------------------------------------------------------- */

static void renew(struct serving *s, struct kw_http *http)
{
        struct kw_error err = {0};
        int rc = kw_http_renew(http, &err);

        if (rc)
                note(s, KW_LOG_WARNING, "%s; what was shown before is shown on", rc < 0 ? strerror(-rc) : err.text);
        else
                note(s, KW_LOG_NOTICE, "the certificate was read again");
}

/* Until a signal asks to stop, or the disk fails. Return: whether it was the disk. */
static bool serve_until(struct serving *s, const sigset_t *signals, struct kw_http *http)
{
        const struct timespec tick = {.tv_nsec = 200000000};

        for (;;) {
                int which = sigtimedwait(signals, NULL, &tick);

                if (which == SIGHUP)
                        renew(s, http);
                else if (which > 0)
                        return kw_http_failed(http);
                if (kw_http_failed(http))
                        return true;
                kw_notify_alive(&s->notify);
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

static void block(sigset_t *signals)
{
        signal(SIGPIPE, SIG_IGN);
        sigemptyset(signals);
        sigaddset(signals, SIGTERM);
        sigaddset(signals, SIGINT);
        sigaddset(signals, SIGHUP);
        pthread_sigmask(SIG_BLOCK, signals, NULL); /* before any thread: they all leave them to this one */
}

/* Serve until it is to stop. Return: an exit status. */
static int serve_on(struct serving *s, struct kw_http *http, const sigset_t *signals)
{
        int status = restrict_calls(s);

        if (status == KW_GO_ON) {
                print_address(http);
                note(s, KW_LOG_INFO, "serving %s as %s", s->how.ledger, kw_http_known_as(http));
                kw_notify_say(&s->notify, "READY=1");
                status = serve_until(s, signals, http) ? KW_EXIT_DISK : KW_EXIT_DONE;
                kw_notify_say(&s->notify, "STOPPING=1");
        }
        kw_http_stop(http);
        if (status == KW_EXIT_DISK)
                note(s, KW_LOG_ERROR,
                     "the disk did not confirm what was written; look after it, then start kinwire again");
        else
                note(s, KW_LOG_INFO, "stopped");
        return status;
}

static int serve(struct serving *s)
{
        struct kw_error err = {0};
        struct kw_http *http;
        sigset_t signals;
        int rc;

        block(&signals);
        kw_notify_open(&s->notify);
        rc = restrict_files(s);
        if (rc != KW_GO_ON)
                return rc;
        rc = kw_http_start(&s->how, &http, &err);
        if (rc == KW_BAD_REQUEST)
                return kw_misused(s->self, "%s", err.text);
        if (rc)
                return kw_failed(s->self, s->how.ledger, rc, &err);
        rc = serve_on(s, http, &signals);
        kw_notify_close(&s->notify);
        return rc;
}

/* --- the options ------------------------------------------------------------------------------ */

/* A whole number from 0 to @most; @otherwise when none was given. */
static bool read_number(const char *text, int64_t most, int64_t otherwise, int64_t *out)
{
        char *end;

        *out = otherwise;
        if (!text)
                return true;
        errno = 0;
        *out = strtoll(text, &end, 10);
        return *text >= '0' && *text <= '9' && !*end && !errno && *out <= most;
}

static int read_limits(struct serving *s)
{
        int64_t mib;

        /* in a demo and in tests everyone is the same caller, and in a hurry */
        if (!read_number(s->rate, RATE_MAX, s->how.open ? 0 : RATE, &s->how.rate))
                return kw_misused(s->self, "--rate is a number of requests a second, 0 to %d", RATE_MAX);
        if (!read_number(s->floor, FLOOR_MAX, FLOOR, &mib))
                return kw_misused(s->self, "--free-space is a number of MiB, 0 to %d", FLOOR_MAX);
        s->how.floor_bytes = mib << 20;
        if (!kw_log_level(s->level, &s->how.told))
                return kw_misused(s->self, "--log is error, warning, notice, info or request");
        kw_log_open(&s->log, s->self, s->how.told);
        return KW_GO_ON;
}

/* What can be had by the one who runs it should not be the whole machine. A demo as root is a fresh machine's. */
static int check_user(struct serving *s)
{
        if (strcmp(s->sandbox, "on") != 0 && strcmp(s->sandbox, "off") != 0 && strcmp(s->sandbox, "must") != 0)
                return kw_misused(s->self, "--sandbox is on, off or must");
        if (geteuid() != 0 || s->as_root)
                return KW_GO_ON;
        if (!s->how.open)
                return kw_misused(s->self, "root is not the user to serve as: take one of its own, or say --as-root");
        note(s, KW_LOG_WARNING, "this runs as root, which is well enough for a demo");
        return KW_GO_ON;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct serving s = {.self = self,
                            .how = {.listen = "127.0.0.1:8420", .say = kw_log_say},
                            .level = "notice",
                            .sandbox = SANDBOX};
        const struct kw_option options[] = {
                {"ledger", &s.how.ledger, NULL},
                {"listen", &s.how.listen, NULL},
                {"cert", &s.how.cert, NULL},
                {"key", &s.how.key, NULL},
                {"behind-proxy", &s.how.proxy, NULL},
                {"insecure-lan", NULL, &s.how.insecure_lan},
                {"host", &s.how.hosts, NULL},
                {"names", &s.how.names, NULL},
                {"open", NULL, &s.how.open},
                {"rate", &s.rate, NULL},
                {"free-space", &s.floor, NULL},
                {"log", &s.level, NULL},
                {"sandbox", &s.sandbox, NULL},
                {"as-root", NULL, &s.as_root},
                {"web", &s.how.web, NULL},
                {0},
        };
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        if (rc == KW_GO_ON)
                rc = read_limits(&s);
        if (rc == KW_GO_ON)
                rc = check_user(&s);
        s.how.ctx = &s.log;
        return rc == KW_GO_ON ? serve(&s) : rc;
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
                "  --behind-proxy NAME\n"
                "                      a proxy on the way does TLS, and is asked under NAME\n"
                "  --insecure-lan      neither: whoever is on the network can read and change what is sent, and\n"
                "                      every page says so\n"
                "  --host NAME,...     further names under which it is asked\n"
                "  --names URL         what things are named by in the open formats that leave the mill: an address\n"
                "                      that it owns and keeps, as in https://ropes.example/id/; nothing needs to be\n"
                "                      there\n"
                "  --open              no sign-in: every request acts as the person \"open\" with all roles;\n"
                "                      for the demo, training and tests; every page says so\n"
                "  --rate N            requests a second of one person, token or address, twice as many at once;\n"
                "                      0: any number (default 20, with --open 0)\n"
                "  --free-space MIB    with less free on the ledger's disk nothing is recorded (default 256)\n"
                "  --log LEVEL         say this much on standard error: error, warning, notice (default), info,\n"
                "                      request\n"
                "  --sandbox WHAT      on (default): give up what serving does not need, where the kernel can; must:\n"
                "                      don't serve where it can't; off\n"
                "  --as-root           serve as root although that is unwise\n"
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
