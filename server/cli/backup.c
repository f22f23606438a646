/*
 * kinwire backup: a consistent copy of a ledger, while a daemon writes to it.
 */
#include "cli.h"

#include "kinwire/access.h"
#include "kinwire/ledger.h"

#include <unistd.h>

static int backup(const struct kw_command *self, const char *name, const char *to)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        struct kw_meter meter;
        bool secrets = false;
        int rc = kw_ledger_open(name, KW_OPEN_READ, &ledger, &err);

        if (rc)
                return kw_failed(self, name, rc, &err);
        kw_meter_start(&meter, self);
        rc = kw_ledger_backup(ledger, to, kw_meter_show, &meter, &err);
        kw_meter_end(&meter);
        kw_ledger_close(ledger);
        if (!rc)
                rc = kw_access_copy(name, to, &secrets, &err);
        if (rc)
                return kw_failed(self, name, rc, &err);
        printf("%s is a copy of %s\n", to, name);
        if (secrets)
                fprintf(stderr,
                        "kinwire backup: %s.access has the hashes of passwords; %s.pepper is not copied: keep it "
                        "elsewhere, apart from the backups\n",
                        to, name);
        return kw_flush(self);
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        const char *ledger = NULL, *to = NULL;
        const struct kw_option options[] = {{"ledger", &ledger, NULL}, {0}};
        int rc = kw_options(self, argc, argv, options, "the file to copy to", &to);

        if (rc != KW_GO_ON)
                return rc;
        if (access(to, F_OK) == 0)
                return kw_misused(self, "%s is there already, and a backup never replaces a file", to);
        return backup(self, ledger, to);
}

const struct kw_command kw_backup = {
        .name = "backup",
        .does = "a consistent copy of a ledger, while a daemon writes to it",
        .usage = "--ledger FILE TO",
        .help = "  --ledger FILE  the ledger\n"
                "  TO             the copy, which must not be there yet; it takes its name once it is whole\n"
                "                 and checked. TO.manifest.json beside it says which head it has, and the SHA-256\n"
                "                 of the file; keep the two together. kinwire restore makes a ledger of them.\n"
                "                 TO.access, where FILE.access is, lets people in with the passwords they have.\n"
                "                 FILE.pepper is not copied: keep it by hand, apart from the backups\n"
                "\n"
                "Exit status: 0 done, 2 wrong usage, 4 the ledger can't be used or the copy can't be written.\n",
        .run = run,
};
