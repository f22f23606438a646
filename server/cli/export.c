/*
 * kinwire export: what leaves the mill, to a file or to standard output.
 */
#include "cli.h"

#include "kinwire/export.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct exporting {
        const struct kw_command *self;
        const char *ledger, *as, *to, *at_size;
        struct kw_scope_words words;
        const struct kw_export_form *form;
        struct kw_scope scope;
        FILE *file;
};

/* The question was not answered: is it the question, or the ledger? */
static int not_answered(const struct exporting *e, int rc, const struct kw_error *err)
{
        if (rc < 0 || rc == KW_INTERNAL || rc == KW_BUSY)
                return kw_failed(e->self, e->ledger, rc, err);
        if (rc == KW_BAD_REQUEST)
                return kw_misused(e->self, "%s", err->text);
        kw_complain(e->self, "%s", err->text);
        return KW_EXIT_NO;
}

static int write_pieces(struct exporting *e, struct kw_export *x)
{
        struct kw_error err = {0};
        struct kw_buf piece = {0};
        struct kw_meter meter;
        int64_t done, of;
        int rc, failed = 0;

        kw_meter_start(&meter, e->self);
        do {
                kw_buf_clear(&piece);
                rc = kw_export_next(x, &piece, &err);
                if (kw_export_gathers(x, &done, &of))
                        kw_meter_show(&meter, "gathering what it needs", done, of);
                else
                        kw_meter_end(&meter);
                if (rc == 0 || rc == 1)
                        failed = fwrite(kw_buf_text(&piece), 1, piece.n, e->file) != piece.n;
        } while (rc == 1 && !failed);
        kw_meter_end(&meter);
        kw_buf_free(&piece);
        if (rc != 0 && rc != 1)
                return not_answered(e, rc, &err);
        if (!failed && fflush(e->file) == 0 && (e->file == stdout || fsync(fileno(e->file)) == 0))
                return KW_EXIT_DONE;
        kw_complain(e->self, "%s: %s", e->to ? e->to : "standard output", strerror(errno));
        return KW_EXIT_LEDGER;
}

/* The file is made once it is known that there is something to put into it. */
static int write_file(struct exporting *e, struct kw_export *x)
{
        int rc;

        e->file = e->to ? fopen(e->to, "we") : stdout;
        if (!e->file) {
                kw_complain(e->self, "%s: %s", e->to, strerror(errno));
                return KW_EXIT_LEDGER;
        }
        rc = write_pieces(e, x);
        if (e->to && fclose(e->file) != 0 && rc == KW_EXIT_DONE) {
                kw_complain(e->self, "%s: %s", e->to, strerror(errno));
                rc = KW_EXIT_LEDGER;
        }
        return rc;
}

static int look_and_write(struct exporting *e, struct kw_ledger *ledger)
{
        struct kw_export *x = NULL;
        struct kw_error err = {0};
        int rc = kw_ledger_look(ledger, &err);

        if (rc)
                return kw_failed(e->self, e->ledger, rc, &err);
        rc = kw_export_start(ledger, &e->scope, e->form, &x, &err);
        rc = rc ? not_answered(e, rc, &err) : write_file(e, x);
        kw_export_end(x);
        kw_ledger_done(ledger);
        return rc;
}

static int export(struct exporting *e)
{
        struct kw_ledger *ledger;
        int rc = kw_open_as_was(e->self, e->ledger, e->at_size, &ledger);

        if (rc)
                return rc;
        rc = look_and_write(e, ledger);
        kw_ledger_close(ledger);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct exporting e = {.self = self};
        const struct kw_option options[] = {
                {"ledger", &e.ledger, NULL},
                {"as", &e.as, NULL},
                {"output", &e.to, NULL},
                {"at-size", &e.at_size, NULL},
                {"direction", &e.words.direction, NULL},
                {"since", &e.words.since, NULL},
                {"until", &e.words.until, NULL},
                {"from-mm", &e.words.from_mm, NULL},
                {"to-mm", &e.words.to_mm, NULL},
                {"names", &e.words.names, NULL},
                {0},
        };
        struct kw_error err = {0};
        int rc;

        for (int i = 1; i < argc; i++) {
                if (strcmp(argv[i], "-o") == 0)
                        argv[i] = "--output";
        }
        rc = kw_options(self, argc, argv, options, "what to export, as in lot:RL-0001 or all,", &e.words.origin);
        if (rc != KW_GO_ON)
                return rc;
        if (!e.as)
                return kw_misused(self, "--as entries, csv, epcis, prov, report, genealogy or pack is missing");
        e.form = kw_export_form_named(e.as);
        if (!e.form)
                return kw_misused(self, "nothing is exported as \"%s\"", e.as);
        if (kw_scope_read(&e.words, &e.scope, &err))
                return kw_misused(self, "%s", err.text);
        if (!e.to && isatty(STDOUT_FILENO) && (strcmp(e.as, "report") == 0 || strcmp(e.as, "pack") == 0))
                return kw_misused(self, "a %s is not for a terminal: say -o FILE", e.as);
        return export(&e);
}

const struct kw_command kw_export_command = {
        .name = "export",
        .does = "what leaves the mill: entries, tables, open formats, reports, evidence packs",
        .usage = "--ledger FILE (ORIGIN|month:2026-09|all)\n"
                 "              --as entries|csv|epcis|prov|report|genealogy|pack\n"
                 "              [--direction forward|back|kin] [--since TIME] [--until TIME]\n"
                 "              [--from-mm N --to-mm N] [--names URL] [--at-size N] [-o FILE]",
        .help = "  ORIGIN         as for kinwire trace: heat:H1, lot:RL-0001, certificate:IC-0001, ...\n"
                "  all            everything, or with --since and --until what happened between two times\n"
                "  month:2026-09  what happened in a month, in UTC; this and what happened between two times\n"
                "                 comes, as entries, with all that is needed to load it\n"
                "  --ledger FILE  the ledger; a daemon may be running on it\n"
                "  --as           entries: the stored entries, one a line, for kinwire load\n"
                "                 csv: the lots with their places, for a spreadsheet\n"
                "                 epcis: EPCIS 2.0 JSON-LD; prov: W3C PROV-JSON\n"
                "                 report: a genealogy report, PDF, of an origin; genealogy: the same as JSON\n"
                "                 pack: a zip with report, entries, proofs and how to check them, of an origin\n"
                "  --direction    of an origin: forward (the default), back or kin; a report and a pack of a\n"
                "                 lot, a certificate or a consignment go back unless told\n"
                "  --since TIME   of all, of a machine or of an instrument: from this time, as in\n"
                "                 2026-03-04T09:12:00Z\n"
                "  --until TIME   and up to this one, which is no longer in it\n"
                "  --from-mm N    of a lot, only from here\n"
                "  --to-mm N      and up to there\n"
                "  --names URL    what things are named by in epcis and prov: an address that the mill owns, always\n"
                "                 the same, as in https://ropes.example/id/; as kinwire serve --names has it\n"
                "  --at-size N    as the ledger was when it had N entries\n"
                "  -o FILE        where to; standard output when it isn't said\n"
                "\n"
                "Exit status: 0 done, 1 there is no such origin, 2 wrong usage, 4 the ledger can't be used or\n"
                "the file can't be written.\n",
        .run = run,
};
