#ifndef KW_CLI_H
#define KW_CLI_H
/*
 * The program's commands. Each is one file and one row of the table in main.c; what they share is in say.c and
 * options.c.
 *
 * Answers go to standard output, everything else to standard error as "kinwire COMMAND: sentence".
 */
#include "kinwire/error.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

/** What the program leaves with. */
enum {
        KW_EXIT_DONE = 0,
        KW_EXIT_NO = 1,     /* the answer is no */
        KW_EXIT_USAGE = 2,  /* wrong usage */
        KW_EXIT_INPUT = 3,  /* the input is bad */
        KW_EXIT_LEDGER = 4, /* the ledger can't be used */
        KW_EXIT_DISK = 70,  /* the disk did not confirm what was written: start again */
};

struct kw_command {
        const char *name;
        const char *does;  /* one line */
        const char *usage; /* what follows "kinwire NAME " */
        const char *help;  /* options, exit status */
        int (*run)(const struct kw_command *self, int argc, char **argv);
};

extern const struct kw_command kw_serve, kw_load, kw_trace, kw_export_command, kw_certificate_command, kw_drill_command,
        kw_verify, kw_witness, kw_backup, kw_restore, kw_follow_command, kw_admin_init, kw_token_command;

/** An option: exactly one of @value (which it must have) and @given (it has none). */
struct kw_option {
        const char *name;
        const char **value;
        bool *given;
};

/** kw_verify_pack - check an evidence pack and say what came of it. Return: an exit status. */
int kw_verify_pack(const struct kw_command *self, const char *path);

#define KW_GO_ON (-1)

/**
 * kw_options - read a command's options, --help among them
 * @options: ended by one without a name; "ledger" has to be given
 * @what:    what the one word besides the options is, for the complaint when it is missing
 * @word:    receives it; NULL when there is to be none
 *
 * Return: KW_GO_ON; an exit status to leave with.
 */
int kw_options(const struct kw_command *self, int argc, char **argv, const struct kw_option *options, const char *what,
               const char **word);

/** kw_complain - "kinwire load: ..." on standard error. */
void kw_complain(const struct kw_command *self, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/** kw_misused - complain, and point to --help. Return: KW_EXIT_USAGE. */
int kw_misused(const struct kw_command *self, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/** kw_failed - complain of what a function of the ledger returned. Return: KW_EXIT_LEDGER. */
int kw_failed(const struct kw_command *self, const char *ledger, int rc, const struct kw_error *err);

/** kw_help - print what the command does. Return: KW_EXIT_DONE. */
int kw_help(const struct kw_command *self);

/** kw_flush - that standard output took everything. Return: KW_EXIT_DONE; KW_EXIT_LEDGER after complaining. */
int kw_flush(const struct kw_command *self);

struct kw_ledger;

/** What is done on the console to who may come in: the ledger, and the secrets beside it. */
struct kw_console {
        const struct kw_command *self;
        const char *name;
        struct kw_ledger *ledger;
        struct kw_access *access;
};

/** kw_console_begin - open both, in one transaction of the ledger. Return: KW_EXIT_DONE; an exit status to leave with.
 */
int kw_console_begin(struct kw_console *c);
/** kw_console_add - add an entry whose body is @body, JSON. Return: KW_EXIT_DONE; after complaining, another status. */
int kw_console_add(struct kw_console *c, const char *kind, const char *body);
/** kw_console_end - commit when @status is KW_EXIT_DONE, else take back; and close. Return: an exit status. */
int kw_console_end(struct kw_console *c, int status);

/**
 * kw_open_as_was - open a ledger for a question, as it was when it had @at_size entries; NULL: as it is
 * Return: KW_EXIT_DONE; after complaining, an exit status to leave with.
 */
int kw_open_as_was(const struct kw_command *self, const char *name, const char *at_size, struct kw_ledger **out);

/* --- progress --------------------------------------------------------------------------------- */

/** kw_say_brought_up - from now on, a line every few seconds while a ledger of an older version is brought up. */
void kw_say_brought_up(void);

/** One line on a terminal that says how far a long job is; nothing on anything else, nor in the first second. */
struct kw_meter {
        const struct kw_command *command;
        int64_t started, shown; /* ms; shown 0: not yet */
        bool terminal;
};

void kw_meter_start(struct kw_meter *meter, const struct kw_command *self);
/** kw_meter_show - @what is under way, @done of @of (0: it isn't known of how many). Fits kw_progress. */
void kw_meter_show(void *meter, const char *what, int64_t done, int64_t of);
/** kw_meter_end - clear the line, so that what is said next stands alone. */
void kw_meter_end(struct kw_meter *meter);

#endif
