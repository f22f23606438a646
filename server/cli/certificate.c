/*
 * kinwire certificate, kinwire drill: papers that stand for one entry, PDF.
 */
#include "cli.h"

#include "kinwire/export.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

static int not_made(const struct kw_command *self, const char *ledger, int rc, const struct kw_error *err)
{
        if (rc < 0 || rc == KW_INTERNAL || rc == KW_BUSY)
                return kw_failed(self, ledger, rc, err);
        kw_complain(self, "%s", err->text);
        return KW_EXIT_NO;
}

typedef int make_pdf(struct kw_ledger *ledger, const char *word, struct kw_buf *pdf, struct kw_error *err);

static int make(const struct kw_command *self, const char *name, make_pdf *of, const char *word, struct kw_buf *pdf)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = kw_ledger_open(name, KW_OPEN_READ, &ledger, &err);

        if (rc)
                return kw_failed(self, name, rc, &err);
        rc = kw_ledger_look(ledger, &err);
        if (rc == 0) {
                rc = of(ledger, word, pdf, &err);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        return rc ? not_made(self, name, rc, &err) : KW_EXIT_DONE;
}

static int write_to(const struct kw_command *self, const char *to, struct kw_buf *pdf)
{
        FILE *file = to ? fopen(to, "we") : stdout;
        bool bad;

        if (!file) {
                kw_complain(self, "%s: %s", to, strerror(errno));
                return KW_EXIT_LEDGER;
        }
        bad = fwrite(kw_buf_text(pdf), 1, pdf->n, file) != pdf->n || fflush(file) != 0 ||
              (to && fsync(fileno(file)) != 0);
        if (to)
                bad = fclose(file) != 0 || bad;
        if (!bad)
                return KW_EXIT_DONE;
        kw_complain(self, "%s: %s", to ? to : "standard output", strerror(errno));
        return KW_EXIT_LEDGER;
}

static int paper(const struct kw_command *self, int argc, char **argv, const char *what, make_pdf *of)
{
        const char *ledger = NULL, *to = NULL, *word = NULL;
        const struct kw_option options[] = {{"ledger", &ledger, NULL}, {"output", &to, NULL}, {0}};
        struct kw_buf pdf = {0};
        int rc;

        for (int i = 1; i < argc; i++) {
                if (strcmp(argv[i], "-o") == 0)
                        argv[i] = "--output";
        }
        rc = kw_options(self, argc, argv, options, what, &word);
        if (rc != KW_GO_ON)
                return rc;
        if (strlen(word) > KW_CODE_MAX)
                return kw_misused(self, "a certificate's number has at most %d characters", KW_CODE_MAX);
        if (!to && isatty(STDOUT_FILENO))
                return kw_misused(self, "a PDF is not for a terminal: say -o FILE");
        rc = make(self, ledger, of, word, &pdf);
        if (rc == KW_EXIT_DONE)
                rc = write_to(self, to, &pdf);
        kw_buf_free(&pdf);
        return rc;
}

/* --- a certificate ------------------------------------------------------------------------------------ */

static int certificate(struct kw_ledger *ledger, const char *word, struct kw_buf *pdf, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];

        for (size_t i = 0; i <= strlen(word); i++)
                code[i] = (char)(word[i] >= 'a' && word[i] <= 'z' ? word[i] - 'a' + 'A' : word[i]);
        return kw_certificate_pdf(ledger, code, pdf, err);
}

static int run_certificate(const struct kw_command *self, int argc, char **argv)
{
        return paper(self, argc, argv, "which certificate, as in IC-0001,", certificate);
}

const struct kw_command kw_certificate_command = {
        .name = "certificate",
        .does = "a certificate as it was issued, the same to the byte whenever it is made",
        .usage = "--ledger FILE CODE [-o FILE]",
        .help = "  CODE           the certificate's number\n"
                "  --ledger FILE  the ledger; a daemon may be running on it\n"
                "  -o FILE        where to; standard output when it isn't said\n"
                "\n"
                "With another version of the libraries that draw it, or without its fonts (Liberation Sans and\n"
                "Liberation Mono), the file is another one; its figures, and the SHA-256 of the document that\n"
                "it says, are the same. It does not say whether the certificate still stands.\n"
                "\n"
                "Exit status: 0 done, 1 there is no such certificate, 2 wrong usage, 4 the ledger can't be\n"
                "used or the file can't be written.\n",
        .run = run_certificate,
};

/* --- a drill ------------------------------------------------------------------------------------------- */

static int drill(struct kw_ledger *ledger, const char *word, struct kw_buf *pdf, struct kw_error *err)
{
        const int64_t seq = kw_seq_read(word, "");

        if (!seq)
                return kw_refuse(err, KW_NOT_FOUND, NULL, "%s is not the number of an entry", word);
        return kw_trial_pdf(ledger, seq, pdf, err);
}

static int run_drill(const struct kw_command *self, int argc, char **argv)
{
        return paper(self, argc, argv, "the number of the entry of a drill or a sample", drill);
}

const struct kw_command kw_drill_command = {
        .name = "drill",
        .does = "the report of a drill or a sample, the same to the byte whenever it is made",
        .usage = "--ledger FILE ENTRY [-o FILE]",
        .help = "  ENTRY          the number of its entry: drills and samples are recorded on their pages, or as\n"
                "                 entries of these kinds\n"
                "  --ledger FILE  the ledger; a daemon may be running on it\n"
                "  -o FILE        where to; standard output when it isn't said\n"
                "\n"
                "Exit status: 0 done, 1 there is no such entry, or it is neither, 2 wrong usage, 4 the ledger can't\n"
                "be used or the file can't be written.\n",
        .run = run_drill,
};
