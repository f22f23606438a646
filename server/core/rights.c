/*
 * The tables of rights, and looking things up in them.
 *
 * Operators record what happens on the floor and may bar anything from use; what frees, certifies or judges metal is
 * quality's; an auditor reads everything and records nothing; an administrator says who there is, and decides nothing
 * about metal. What the server says of itself nobody records.
 */
#include "kinwire/rights.h"

#include <string.h>

#define FLOOR   (KW_OPERATOR | KW_QUALITY)
#define QUALITY KW_QUALITY
#define ADMIN   KW_ADMINISTRATOR

static const struct kw_right_row rights[KW_RIGHTS] = {
        [KW_MAY_NOTHING] = {"nothing", 0, false, false},
        [KW_MAY_SEE] = {"see", KW_EVERY_ROLE, true, false},
        [KW_MAY_ENTER] = {"enter", KW_EVERY_ROLE, true, false},
        [KW_MAY_BE_KNOWN] = {"be-known", KW_EVERY_ROLE, false, false},
        [KW_MAY_READ] = {"read", KW_EVERY_ROLE, false, false},
        [KW_MAY_READ_LEDGER] = {"read-ledger", KW_EVERY_ROLE, false, false},
        [KW_MAY_READ_FIGURES] = {"read-figures", KW_EVERY_ROLE, false, false},
        [KW_MAY_READ_ACCESS] = {"read-access", KW_AUDITOR | ADMIN, false, false},
        [KW_MAY_RECORD] = {"record", FLOOR | ADMIN, false, false},
        [KW_MAY_ADMIT] = {"admit", ADMIN, false, true},
};

static const struct kw_kind_right kinds[] = {
        {"heat", FLOOR, false},
        {"supply", FLOOR, false},
        {"receive", FLOOR, false},
        {"batch", FLOOR, false},
        {"run", FLOOR, false},
        {"test", FLOOR, false},
        {"hold", FLOOR, false},
        {"release", QUALITY, true},
        {"agree", QUALITY, true},
        {"drill", QUALITY, false},
        {"sample", QUALITY, false},
        {"scrap", FLOOR, false},
        {"certify", QUALITY, true},
        {"withdraw", QUALITY, true},
        {"dispatch", FLOOR, false},
        {"move", FLOOR, false},
        /* of what one may record oneself */
        {"correct", FLOOR | ADMIN, false},
        {"void", FLOOR | ADMIN, false},
        {"note", FLOOR | ADMIN, false},
        {"order", FLOOR, false},
        {"open", FLOOR, false},
        {"load", FLOOR, false},
        {"doff", FLOOR, false},
        {"close", FLOOR, false},
        {"instrument", QUALITY, false},
        {"spec", QUALITY, true},
        {"person", ADMIN, true},
        {"terminal", ADMIN, true},
        {"token", ADMIN, true},
        {"access", 0, false},
        {"clear", QUALITY, true},
};

static const char *const roles[] = {"operator", "quality", "auditor", "administrator"};

#define KINDS (sizeof(kinds) / sizeof(kinds[0]))
#define ROLES (sizeof(roles) / sizeof(roles[0]))

const struct kw_right_row *kw_right_row(enum kw_right right)
{
        return &rights[(unsigned)right < KW_RIGHTS ? right : KW_MAY_NOTHING];
}

const struct kw_kind_right *kw_kind_right(size_t i)
{
        return i < KINDS ? &kinds[i] : NULL;
}

const char *kw_role_name(size_t i)
{
        return i < ROLES ? roles[i] : NULL;
}

unsigned kw_role_bit(const char *name)
{
        for (unsigned i = 0; i < ROLES; i++)
                if (strcmp(roles[i], name) == 0)
                        return 1u << i;
        return 0;
}

/* --- looking up ------------------------------------------------------------------------------- */

static int password_again(struct kw_error *err)
{
        return kw_refuse_with(err, KW_PASSWORD_AGAIN, NULL, "says", NULL,
                              "this is decided with the password given again just before");
}

static int only_reads(struct kw_error *err)
{
        return kw_refuse_with(
                err, KW_DISK_FULL, NULL, "reading", NULL,
                "there was no room on the disk to record that you signed in, so that you can read and nothing "
                "else until there is; it goes on by itself then");
}

/* What a token with a purpose may do at all, before its role is looked at. */
static bool is_its_purpose(const struct kw_only *only, enum kw_right right)
{
        switch (right) {
        case KW_MAY_SEE:
        case KW_MAY_ENTER:
        case KW_MAY_BE_KNOWN:
                return true;
        case KW_MAY_READ_LEDGER:
                return strcmp(only->read, "ledger") == 0;
        case KW_MAY_READ_FIGURES:
                return strcmp(only->read, "metrics") == 0;
        case KW_MAY_RECORD:
                return only->kind[0] || only->machine[0] || only->instrument[0];
        default:
                return false;
        }
}

int kw_may(const struct kw_who *who, enum kw_right right, struct kw_error *err)
{
        const struct kw_right_row *row = kw_right_row(right);

        if (row->anyone)
                return 0;
        if (who->reading && (right == KW_MAY_RECORD || right == KW_MAY_ADMIT))
                return only_reads(err);
        if (!(row->roles & who->roles))
                return kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "role", NULL, "the role does not allow this");
        if (who->only && !is_its_purpose(who->only, right))
                return kw_refuse_with(err, KW_NOT_ALLOWED, NULL, "token", NULL, "the token is not for this purpose");
        return row->fresh && !who->fresh ? password_again(err) : 0;
}

static bool is_only(const char *wanted, const char *named)
{
        return !wanted[0] || (named && strcmp(wanted, named) == 0);
}

static bool is_within(const struct kw_only *only, const char *kind, const char *machine, const char *instrument)
{
        return (only->kind[0] || only->machine[0] || only->instrument[0]) && is_only(only->kind, kind) &&
               is_only(only->machine, machine) && is_only(only->instrument, instrument);
}

int kw_may_record(const struct kw_who *who, const char *kind, const char *machine, const char *instrument,
                  struct kw_error *err)
{
        const struct kw_kind_right *row = NULL;

        if (who->reading)
                return only_reads(err);
        for (size_t i = 0; i < KINDS && !row; i++)
                if (strcmp(kinds[i].kind, kind) == 0)
                        row = &kinds[i];
        if (row && !row->roles)
                return kw_refuse_with(err, KW_NOT_ALLOWED, "/kind", "server-alone", KW_VALUES(KW_WORD("kind", kind)),
                                      "an entry of kind \"%s\" is made by the server alone", kind);
        if (!row || !(row->roles & who->roles))
                return kw_refuse_with(err, KW_NOT_ALLOWED, "/kind", "role-kind", KW_VALUES(KW_WORD("kind", kind)),
                                      "the role does not allow an entry of kind \"%s\"", kind);
        if (who->only && !is_within(who->only, kind, machine, instrument))
                return kw_refuse_with(err, KW_NOT_ALLOWED, "/kind", "token", NULL,
                                      "the token is not for such an entry");
        return row->fresh && !who->fresh ? password_again(err) : 0;
}
