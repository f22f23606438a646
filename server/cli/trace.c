/*
 * kinwire trace: which metres of which lots something touches, as a table or as the API's JSON.
 */
#include "cli.h"

#include "kinwire/answer.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct asked {
        const char *ledger, *direction, *from, *to, *since, *until, *at_size;
        bool json;
};

static bool read_mm(const char *text, int64_t *out)
{
        char *end;

        errno = 0;
        *out = strtoll(text, &end, 10);
        return isdigit((unsigned char)*text) && !*end && !errno;
}

static int read_question(const struct kw_command *self, const struct asked *asked, const char *origin,
                         struct kw_question *q)
{
        struct kw_error err = {0};

        if (kw_question_read(origin, asked->direction, q, &err))
                return kw_misused(self, "%s", err.text);
        q->part = asked->from || asked->to;
        if (q->part &&
            !(asked->from && asked->to && read_mm(asked->from, &q->from_mm) && read_mm(asked->to, &q->to_mm)))
                return kw_misused(self, "--from-mm and --to-mm go together and are whole millimetres");
        q->window = asked->since || asked->until;
        q->since = INT64_MIN;
        q->until = INT64_MAX;
        if ((asked->since && kw_stamp_read(asked->since, &q->since)) ||
            (asked->until && kw_stamp_read(asked->until, &q->until)))
                return kw_misused(self, "--since and --until are times as in 2026-03-04T09:12:00Z");
        return KW_EXIT_DONE;
}

static int print(const struct kw_command *self, const struct kw_trace_answer *answer, enum kw_trace_as as)
{
        struct kw_trace_writer writer = {.answer = answer, .as = as};
        struct kw_buf piece = {0};
        int rc;

        do {
                kw_buf_clear(&piece);
                rc = kw_trace_write(&writer, &piece);
                fwrite(kw_buf_text(&piece), 1, piece.n, stdout);
        } while (rc == 1 && !ferror(stdout));
        if (rc == 0 && as == KW_AS_JSON)
                putchar('\n');
        kw_buf_free(&piece);
        if (rc < 0) {
                kw_complain(self, "%s", strerror(-rc));
                return KW_EXIT_LEDGER;
        }
        return kw_flush(self);
}

/* The question was not answered: is it the question, or the ledger? */
static int not_answered(const struct kw_command *self, const char *ledger, int rc, const struct kw_error *err)
{
        if (rc < 0 || rc == KW_INTERNAL || rc == KW_BUSY)
                return kw_failed(self, ledger, rc, err);
        if (rc == KW_NOT_FOUND || (rc >= KW_UNKNOWN_LOT && rc <= KW_UNKNOWN_ENTRY)) {
                kw_complain(self, "%s", err->text);
                return KW_EXIT_NO;
        }
        return kw_misused(self, "%s", err->text);
}

static int trace(const struct kw_command *self, const struct asked *asked, const struct kw_question *q)
{
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = kw_open_as_was(self, asked->ledger, asked->at_size, &ledger);

        if (rc)
                return rc;
        rc = kw_ledger_look(ledger, &err);
        if (!rc) {
                rc = kw_trace_ask(ledger, q, &answer, &err);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        if (rc)
                return not_answered(self, asked->ledger, rc, &err);
        rc = print(self, answer, asked->json ? KW_AS_JSON : KW_AS_TABLE);
        kw_trace_answer_free(answer);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct asked asked = {0};
        struct kw_question q = {0};
        const char *origin = NULL;
        const struct kw_option options[] = {
                {"ledger", &asked.ledger, NULL}, {"direction", &asked.direction, NULL}, {"from-mm", &asked.from, NULL},
                {"to-mm", &asked.to, NULL},      {"since", &asked.since, NULL},         {"until", &asked.until, NULL},
                {"json", NULL, &asked.json},     {"at-size", &asked.at_size, NULL},     {0},
        };
        int rc = kw_options(self, argc, argv, options, "what to trace from, as in heat:H1,", &origin);

        if (rc != KW_GO_ON)
                return rc;
        rc = read_question(self, &asked, origin, &q);
        return rc ? rc : trace(self, &asked, &q);
}

const struct kw_command kw_trace = {
        .name = "trace",
        .does = "which metres of which lots something touches, and how surely",
        .usage = "--ledger FILE ORIGIN [--direction forward|back|kin] [--from-mm N --to-mm N]\n"
                 "              [--since TIME] [--until TIME] [--at-size N] [--json]",
        .help = "  ORIGIN              heat:H1, lot:BB-12, run:R7, batch:B3, weld:W9, test:T4, certificate:C2,\n"
                "                      consignment:D5, supply:S8, machine:DR-2 or instrument:TM-1\n"
                "  --ledger FILE       the ledger\n"
                "  --direction         forward: what was made of it (the default); back: what it was made of;\n"
                "                      kin: back to the heats and forward again from all of them\n"
                "  --from-mm, --to-mm  of a lot, only this part\n"
                "  --since, --until    of a machine or an instrument, only this time, as in\n"
                "                      2026-03-04T09:12:00Z\n"
                "  --at-size N         as it would have been answered when the ledger had N entries\n"
                "  --json              as the API answers it, instead of a table\n"
                "\n"
                "Exit status: 0 done, 1 there is no such thing to trace from, 2 wrong usage, 4 the ledger\n"
                "can't be used.\n",
        .run = run,
};
