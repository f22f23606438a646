/*
 * kinwire verify: recompute every hash and every derived table of a ledger.
 */
#include "cli.h"

#include "kinwire/ledger.h"

#include <inttypes.h>

static int say_no(const struct kw_command *self, const char *name, int64_t wrong, const struct kw_error *err)
{
        if (wrong)
                kw_complain(self, "%s: entry %" PRId64 " is the first that is wrong: %s", name, wrong, err->text);
        else
                kw_complain(self, "%s: %s", name, err->text);
        return KW_EXIT_NO;
}

static int verify(const struct kw_command *self, const char *name, struct kw_ledger *ledger)
{
        struct kw_error err = {0};
        struct kw_meter meter;
        struct kw_head head;
        char root[KW_HASH_HEX];
        int64_t wrong = 0;
        int rc = kw_ledger_head(ledger, &head, &err);

        if (!rc) {
                kw_meter_start(&meter, self);
                rc = kw_ledger_verify(ledger, kw_meter_show, &meter, &wrong, &err);
                kw_meter_end(&meter);
        }
        if (rc == KW_BAD_VALUE)
                return say_no(self, name, wrong, &err);
        if (rc)
                return kw_failed(self, name, rc, &err);
        kw_hash_hex(&head.root, root);
        printf("%s: all as it should be; head %" PRId64 " %s\n", name, head.size, root);
        return kw_flush(self);
}

static int open_and_verify(const struct kw_command *self, const char *name)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = kw_ledger_open(name, KW_OPEN_READ, &ledger, &err);

        if (rc)
                return kw_failed(self, name, rc, &err);
        rc = kw_ledger_look(ledger, &err);
        if (rc) {
                rc = kw_failed(self, name, rc, &err);
        } else {
                rc = verify(self, name, ledger);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        const char *ledger = NULL;
        const struct kw_option options[] = {{"ledger", &ledger, NULL}, {0}};
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        return rc == KW_GO_ON ? open_and_verify(self, ledger) : rc;
}

const struct kw_command kw_verify = {
        .name = "verify",
        .does = "recompute every hash and every derived table of a ledger",
        .usage = "--ledger FILE",
        .help = "  --ledger FILE  the ledger; a daemon may be running on it\n"
                "\n"
                "Exit status: 0 all is as it should be, 1 something is wrong (the first entry that is, is\n"
                "said), 2 wrong usage, 4 the ledger can't be read at all.\n",
        .run = run,
};
