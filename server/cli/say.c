/*
 * What the commands say to a person: complaints, help, and how far a long job is.
 */
#include "cli.h"

#include "kinwire/ledger.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static void complain(const struct kw_command *self, const char *fmt, va_list ap)
{
        fflush(stdout);
        fprintf(stderr, "kinwire %s: ", self->name);
        vfprintf(stderr, fmt, ap);
        fputc('\n', stderr);
}

void kw_complain(const struct kw_command *self, const char *fmt, ...)
{
        va_list ap;

        va_start(ap, fmt);
        complain(self, fmt, ap);
        va_end(ap);
}

int kw_misused(const struct kw_command *self, const char *fmt, ...)
{
        va_list ap;

        va_start(ap, fmt);
        complain(self, fmt, ap);
        va_end(ap);
        fprintf(stderr, "`kinwire %s --help` says how it is used.\n", self->name);
        return KW_EXIT_USAGE;
}

int kw_failed(const struct kw_command *self, const char *ledger, int rc, const struct kw_error *err)
{
        kw_complain(self, "%s: %s", ledger, rc < 0 ? strerror(-rc) : err->text);
        return KW_EXIT_LEDGER;
}

int kw_help(const struct kw_command *self)
{
        printf("kinwire %s - %s\n\nusage: kinwire %s %s\n\n%s", self->name, self->does, self->name, self->usage,
               self->help);
        return kw_flush(self);
}

int kw_flush(const struct kw_command *self)
{
        if (fflush(stdout) == 0 && !ferror(stdout))
                return KW_EXIT_DONE;
        kw_complain(self, "standard output: %s", strerror(errno));
        return KW_EXIT_LEDGER;
}

/* --- progress --------------------------------------------------------------------------------- */

#define FIRST_MS     1000
#define EVERY_MS     200
#define BRINGS_UP_MS 5000

static int64_t now_ms(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void say_brought_up(void *ctx, const char *what, int64_t done, int64_t of)
{
        static int64_t said;
        int64_t now = now_ms();

        (void)ctx;
        if (!said)
                said = now;
        if (now - said < BRINGS_UP_MS)
                return;
        said = now;
        fprintf(stderr,
                "kinwire: the ledger is of an older version and is being brought up: %" PRId64 " of %" PRId64 " %s\n",
                done, of, what);
}

void kw_say_brought_up(void)
{
        kw_ledger_tell_of_bringing_up(say_brought_up, NULL);
}

void kw_meter_start(struct kw_meter *meter, const struct kw_command *self)
{
        *meter = (struct kw_meter){.command = self, .started = now_ms(), .terminal = isatty(STDERR_FILENO)};
}

void kw_meter_show(void *ctx, const char *what, int64_t done, int64_t of)
{
        struct kw_meter *meter = ctx;
        int64_t now;

        if (!meter->terminal)
                return;
        now = now_ms();
        if (now - meter->started < FIRST_MS || now - meter->shown < EVERY_MS)
                return;
        meter->shown = now;
        fprintf(stderr, "\r\033[Kkinwire %s: %s %" PRId64, meter->command->name, what, done);
        if (of > 0)
                fprintf(stderr, " of %" PRId64 " (%d %%)", of, (int)(100.0 * (double)done / (double)of));
        fflush(stderr);
}

void kw_meter_end(struct kw_meter *meter)
{
        if (meter->shown)
                fprintf(stderr, "\r\033[K");
        meter->shown = 0;
}
