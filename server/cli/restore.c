/*
 * kinwire restore: a ledger made of a backup, once that has been found to be what its manifest says.
 */
#include "cli.h"

#include "kinwire/access.h"
#include "kinwire/ledger.h"

#include <inttypes.h>

static int not_restored(const struct kw_command *self, const char *from, const char *to, int rc,
                        const struct kw_error *err)
{
        if (rc != KW_NOT_FOUND && rc != KW_BAD_VALUE)
                return kw_failed(self, to, rc, err);
        kw_complain(self, "%s: %s", from, err->text);
        return KW_EXIT_INPUT;
}

static int say_head(const struct kw_command *self, const char *from, const char *to)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        struct kw_head head;
        char root[KW_HASH_HEX];
        int rc = kw_ledger_open(to, KW_OPEN_READ, &ledger, &err);

        if (rc)
                return kw_failed(self, to, rc, &err);
        rc = kw_ledger_head(ledger, &head, &err);
        kw_ledger_close(ledger);
        if (rc)
                return kw_failed(self, to, rc, &err);
        kw_hash_hex(&head.root, root);
        printf("%s is what %s was; head %" PRId64 " %s\n", to, from, head.size, root);
        return kw_flush(self);
}

static int restore(const struct kw_command *self, const char *from, const char *to, bool bare)
{
        struct kw_error err = {0};
        struct kw_meter meter;
        bool secrets = false;
        int rc;

        kw_meter_start(&meter, self);
        rc = kw_ledger_restore(from, to, bare, kw_meter_show, &meter, &err);
        kw_meter_end(&meter);
        if (rc == KW_CODE_TAKEN)
                return kw_misused(self, "%s", err.text);
        if (!rc)
                rc = kw_access_copy(from, to, &secrets, &err);
        if (secrets)
                fprintf(stderr, "kinwire restore: %s.access is there too; put %s.pepper back by hand\n", to, to);
        return rc ? not_restored(self, from, to, rc, &err) : say_head(self, from, to);
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        const char *ledger = NULL, *from = NULL;
        bool bare = false;
        const struct kw_option options[] = {
                {"ledger", &ledger, NULL},
                {"from", &from, NULL},
                {"without-manifest", NULL, &bare},
                {0},
        };
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        if (rc != KW_GO_ON)
                return rc;
        if (!from)
                return kw_misused(self, "--from BACKUP is missing");
        return restore(self, from, ledger, bare);
}

const struct kw_command kw_restore = {
        .name = "restore",
        .does = "a ledger made of a backup, once that is found whole",
        .usage = "--from BACKUP --ledger FILE [--without-manifest]",
        .help = "  --from BACKUP       a copy that kinwire backup made, with BACKUP.manifest.json beside it; it is\n"
                "                      only read\n"
                "  --ledger FILE       the ledger to make, which must not be there yet; it takes its name once the\n"
                "                      copy was held against its manifest and verified throughout\n"
                "  --without-manifest  the copy has none: it is verified, but nothing says that it is all there\n"
                "                      was\n"
                "\n"
                "BACKUP.access is taken back too where there is one; FILE.pepper comes back by hand. Passwords\n"
                "and tokens are then those of the time of the backup.\n"
                "\n"
                "Entries recorded after the backup are not in it: senders that were answered later than the\n"
                "manifest says send theirs again, with the same keys.\n"
                "\n"
                "Exit status: 0 done, 2 wrong usage or FILE is there already, 3 the backup is not what it should\n"
                "be, 4 the ledger can't be written.\n",
        .run = run,
};
