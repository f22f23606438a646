/*
 * kinwire verify: recompute every hash and every derived table of a ledger; or check an evidence pack.
 */
#include "cli.h"

#include "kinwire/ledger.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

static int say_no(const struct kw_command *self, const char *name, int64_t wrong, const struct kw_error *err)
{
        if (wrong)
                kw_complain(self, "%s: entry %" PRId64 " is the first that is wrong: %s", name, wrong, err->text);
        else
                kw_complain(self, "%s: %s", name, err->text);
        return KW_EXIT_NO;
}

/** A head that was kept outside: on a report, a certificate, another machine. */
struct outside {
        const char *given; /* SIZE:ROOT; NULL: none */
        int64_t size;
        struct kw_hash root;
};

static bool read_outside(struct outside *o)
{
        char *end;

        if (!o->given)
                return true;
        errno = 0;
        o->size = strtoll(o->given, &end, 10);
        return isdigit((unsigned char)o->given[0]) && !errno && *end == ':' && kw_hash_unhex(end + 1, &o->root) == 0;
}

/* What is consistent in itself may still have been cut short, or written anew from an entry on. */
static int hold_against(const struct kw_command *self, const char *name, struct kw_ledger *ledger,
                        const struct outside *o, const struct kw_head *head)
{
        struct kw_error err = {0};
        struct kw_hash root;
        int rc;

        if (!o->given)
                return KW_EXIT_DONE;
        if (o->size > head->size) {
                kw_complain(self,
                            "%s: entry %" PRId64 " is the first that is missing: a head of %" PRId64
                            " entries was kept outside",
                            name, head->size + 1, o->size);
                return KW_EXIT_NO;
        }
        rc = kw_ledger_root(ledger, o->size, &root, &err);
        if (rc)
                return kw_failed(self, name, rc, &err);
        if (memcmp(root.bytes, o->root.bytes, KW_HASH) == 0)
                return KW_EXIT_DONE;
        kw_complain(self,
                    "%s: one of the first %" PRId64 " entries is not what it was: their head is another than that "
                    "kept outside",
                    name, o->size);
        return KW_EXIT_NO;
}

static int verify(const struct kw_command *self, const char *name, struct kw_ledger *ledger,
                  const struct outside *outside, struct kw_verifying *how)
{
        struct kw_error err = {0};
        struct kw_meter meter;
        struct kw_head head;
        char root[KW_HASH_HEX];
        int64_t wrong = 0;
        int rc;

        kw_meter_start(&meter, self);
        how->progress = kw_meter_show;
        how->ctx = &meter;
        rc = kw_ledger_verify_so(ledger, how, &wrong, &err);
        kw_meter_end(&meter);
        if (!rc)
                rc = kw_ledger_head(ledger, &head, &err);
        if (rc == KW_BAD_VALUE)
                return say_no(self, name, wrong, &err);
        if (rc)
                return kw_failed(self, name, rc, &err);
        rc = hold_against(self, name, ledger, outside, &head);
        if (rc)
                return rc;
        kw_hash_hex(&head.root, root);
        printf("%s: all as it should be; head %" PRId64 " %s\n", name, head.size, root);
        if (how->before)
                printf("%s: what entries 1 to %" PRId64 " make of the tables was taken from %s; --from-start derives it "
                       "again\n",
                       name, how->before, how->keep);
        return kw_flush(self);
}

static int open_and_verify(const struct kw_command *self, const char *name, const struct outside *outside,
                           struct kw_verifying *how)
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
                rc = verify(self, name, ledger, outside, how);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        const char *ledger = NULL;
        struct outside outside = {0};
        struct kw_verifying how = {0};
        const struct kw_option options[] = {{"ledger", &ledger, NULL},
                                            {"head", &outside.given, NULL},
                                            {"keep", &how.keep, NULL},
                                            {"from-start", NULL, &how.from_start},
                                            {0}};
        int rc;

        if (argc == 2 && argv[1][0] != '-')
                return kw_verify_pack(self, argv[1]);
        rc = kw_options(self, argc, argv, options, NULL, NULL);
        if (rc != KW_GO_ON)
                return rc;
        if (how.from_start && !how.keep)
                return kw_misused(self, "--from-start goes with --keep: without it everything is replayed");
        if (!read_outside(&outside))
                return kw_misused(self, "--head is a size, a colon and 64 hex digits, as in 412:5fdd...");
        return open_and_verify(self, ledger, &outside, &how);
}

const struct kw_command kw_verify = {
        .name = "verify",
        .does = "recompute every hash and every derived table of a ledger, or check an evidence pack",
        .usage = "(--ledger FILE [--head SIZE:ROOT] [--keep FILE.replay [--from-start]]|PACK)",
        .help = "  --ledger FILE     the ledger; a daemon may be running on it\n"
                "  --head SIZE:ROOT  a head that was kept outside, as it stands on reports and in the manifest of a\n"
                "                    backup: the ledger must still have that root at that size. Without one, a\n"
                "                    ledger that was cut short or written anew can't be told from a whole one\n"
                "  --keep FILE.replay  keep in FILE.replay how far the entries were replayed: interrupted, the next\n"
                "                    run goes on from there, and later runs replay what is new. Every entry is hashed\n"
                "                    again and every table compared each time; that the rows of old entries were\n"
                "                    derived rightly is what FILE.replay says, so keep it where only you can write\n"
                "  --from-start      replay everything, whatever was kept\n"
                "  PACK              a zip from kinwire export --as pack: its sums, its entries' proofs, the zip\n"
                "                    itself\n"
                "\n"
                "Exit status: 0 all is as it should be, 1 something is wrong (the first entry or the file that\n"
                "is, is said), 2 wrong usage, 3 the pack can't be read, 4 the ledger can't be read at all.\n",
        .run = run,
};
