/*
 * kinwire follow: a second ledger that takes every entry of one elsewhere, and witnesses that its history only grew.
 */
#include "cli.h"

#include "kinwire/entry.h"
#include "kinwire/follow.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define TOKEN_MOST 512
#define WAIT_MOST  60 /* s between tries while nobody answers */

static volatile sig_atomic_t stop;

static void on_stop(int signal)
{
        (void)signal;
        stop = 1;
}

struct following {
        const struct kw_command *self;
        struct kw_follow_options how;
        const char *token_file, *heads, *every_text;
        int64_t every; /* s */
        bool once;
        bool away; /* the last try had no answer, which was said */
        char token[TOKEN_MOST + 1];
        struct kw_meter meter;
};

/* The first line of the file: a token is not for the command line, which others can read. */
static int read_token(struct following *f)
{
        FILE *file = fopen(f->token_file, "re");
        bool got = file && fgets(f->token, sizeof f->token, file);

        if (file)
                fclose(file);
        f->token[strcspn(f->token, "\r\n")] = '\0';
        if (!got || !f->token[0] || strspn(f->token, "\t ") || strpbrk(f->token, "\t ")) {
                kw_complain(f->self, "%s: there is no token in it", f->token_file);
                return KW_EXIT_INPUT;
        }
        f->how.token = f->token;
        return KW_GO_ON;
}

/* A line a head that was checked, on disk before it is said. */
static int keep_head(const struct following *f, const struct kw_followed *seen, const char *root)
{
        char now[KW_STAMP_LEN + 1], line[160];
        int n, fd;
        bool fine;

        if (!f->heads)
                return KW_EXIT_DONE;
        kw_stamp_write((int64_t)time(NULL), now);
        n = snprintf(line, sizeof line, "%s %" PRId64 " %s\n", now, seen->size, root);
        fd = open(f->heads, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
        fine = fd >= 0 && write(fd, line, (size_t)n) == n && fsync(fd) == 0;
        if (!fine)
                kw_complain(f->self, "%s: %s", f->heads, strerror(errno));
        if (fd >= 0)
                close(fd);
        return fine ? KW_EXIT_DONE : KW_EXIT_LEDGER;
}

static int say_head(struct following *f, const struct kw_followed *seen)
{
        char root[KW_HASH_HEX];
        int rc;

        kw_hash_hex(&seen->root, root);
        rc = keep_head(f, seen, root);
        if (rc)
                return rc;
        printf("%" PRId64 " entries, %" PRId64 " of them new; head %s\n", seen->size, seen->taken, root);
        return kw_flush(f->self);
}

static void rest(int64_t seconds)
{
        struct timespec left = {.tv_sec = (time_t)seconds};

        while (!stop && nanosleep(&left, &left) < 0 && errno == EINTR)
                ;
}

/* What a step that did not get to the end means. Return: KW_GO_ON, try again; an exit status. */
static int judge(struct following *f, int rc, const struct kw_error *err)
{
        if (rc == KW_BUSY && !f->once) {
                if (!f->away)
                        kw_complain(f->self, "%s; it is asked again until it does", err->text);
                f->away = true;
                return KW_GO_ON;
        }
        if (rc == KW_BAD_VALUE) {
                kw_complain(f->self, "%s", err->text);
                kw_complain(f->self,
                            "nothing more is taken from there; %s holds what was there before, to compare with",
                            f->how.ledger);
                return KW_EXIT_NO;
        }
        if (rc < 0)
                return kw_failed(f->self, f->how.ledger, rc, err);
        kw_complain(f->self, "%s", err->text);
        return KW_EXIT_LEDGER;
}

static int go_on(struct following *f, struct kw_follow *follow)
{
        int64_t wait = f->every;
        bool said = false;

        while (!stop) {
                struct kw_error err = {0};
                struct kw_followed seen = {0};
                int rc;

                kw_meter_start(&f->meter, f->self);
                rc = kw_follow_step(follow, kw_meter_show, &f->meter, &seen, &err);
                kw_meter_end(&f->meter);
                if (rc && stop)
                        break;
                rc = rc ? judge(f, rc, &err) : KW_EXIT_DONE;
                if (rc > KW_EXIT_DONE)
                        return rc;
                wait = rc == KW_EXIT_DONE ? f->every : wait < WAIT_MOST / 2 ? 2 * wait : WAIT_MOST;
                if (rc == KW_EXIT_DONE) {
                        f->away = false;
                        if ((seen.taken || !said) && say_head(f, &seen))
                                return KW_EXIT_LEDGER;
                        said = true;
                        if (f->once)
                                break;
                }
                rest(wait);
        }
        return KW_EXIT_DONE;
}

static int follow(struct following *f)
{
        const struct sigaction act = {.sa_handler = on_stop};
        struct kw_error err = {0};
        struct kw_follow *follow;
        int rc;

        sigaction(SIGTERM, &act, NULL);
        sigaction(SIGINT, &act, NULL);
        signal(SIGPIPE, SIG_IGN);
        f->how.stop = &stop;
        rc = kw_follow_open(&f->how, &follow, &err);
        if (rc == KW_BAD_REQUEST)
                return kw_misused(f->self, "%s", err.text);
        if (rc)
                return kw_failed(f->self, f->how.ledger, rc, &err);
        rc = go_on(f, follow);
        kw_follow_close(follow);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct following f = {.self = self, .every = 5};
        const struct kw_option options[] = {
                {"ledger", &f.how.ledger, NULL},
                {"token-file", &f.token_file, NULL},
                {"ca", &f.how.ca, NULL},
                {"every", &f.every_text, NULL},
                {"heads", &f.heads, NULL},
                {"once", NULL, &f.once},
                {0},
        };
        int rc = kw_options(self, argc, argv, options, "the URL of the kinwire to follow", &f.how.url);
        char *end = "";

        if (rc != KW_GO_ON)
                return rc;
        if (f.every_text)
                f.every = strtoll(f.every_text, &end, 10);
        if (*end || f.every < 1 || f.every > 3600)
                return kw_misused(self, "--every takes 1 to 3600 seconds");
        rc = f.token_file ? read_token(&f) : KW_GO_ON;
        if (rc == KW_GO_ON)
                rc = follow(&f);
        explicit_bzero(f.token, sizeof f.token);
        return rc;
}

const struct kw_command kw_follow_command = {
        .name = "follow",
        .does = "keep a second ledger that takes every entry of one elsewhere, and witness its history",
        .usage = "--ledger FILE [--token-file FILE] [--ca FILE] [--every SECONDS] [--heads FILE] [--once] URL",
        .help = "  --ledger FILE      the copy; made when it isn't there. It is a ledger like any other: trace, "
                "verify,\n"
                "                     export and, once the first is lost, serve work on it. Until then nothing else\n"
                "                     should be recorded in it\n"
                "  --token-file FILE  a file whose first line is a token that may read there\n"
                "  --ca FILE          whom to trust for https, in place of this machine's own list (PEM)\n"
                "  --every SECONDS    how often to ask (default 5): what is lost with the first ledger is at most\n"
                "                     what was recorded since\n"
                "  --heads FILE       keep each head that was checked: a line with time, size and root\n"
                "  --once             take what is there, and end\n"
                "  URL                the other's address, as in https://mill.example:8420\n"
                "\n"
                "Each step shows, by the proofs of RFC 9162, that the other ledger only grew from what this copy\n"
                "holds. Where it did not, nothing is taken and the command ends with 1: keep the copy, it holds\n"
                "what was there before.\n"
                "\n"
                "Exit status: 0 ended as asked, 1 the other ledger is not what it was, 2 wrong usage, 3 the token\n"
                "can't be read, 4 the copy can't be used, or (with --once) nobody answers.\n",
        .run = run,
};
