#ifndef KINWIRE_RIGHTS_H
#define KINWIRE_RIGHTS_H
/*
 * Rights: what each role may do, and the one place where that is looked up.
 *
 * A route asks for a right; an entry that is to be recorded asks for the right to its kind as well. Both are rows of
 * tables in server/core/rights.c, served as they are by GET /api/rights. What has no row is refused for everyone.
 */
#include "kinwire/error.h"

#include <stdbool.h>
#include <stddef.h>

/** One bit a role. */
enum {
        KW_OPERATOR = 1,
        KW_QUALITY = 2,
        KW_AUDITOR = 4,
        KW_ADMINISTRATOR = 8,
        KW_EVERY_ROLE = 15,
};

/** What a route asks of whoever comes. */
enum kw_right {
        KW_MAY_NOTHING,      /* a route without a right: nobody */
        KW_MAY_SEE,          /* pages, which hold nothing of the mill's, and whether the server lives: everyone */
        KW_MAY_ENTER,        /* signing in and what comes before it: everyone, known or not */
        KW_MAY_BE_KNOWN,     /* what concerns oneself alone: whoever is known */
        KW_MAY_READ,         /* what the ledger answers */
        KW_MAY_READ_LEDGER,  /* the entries as hashed, and proofs */
        KW_MAY_READ_FIGURES, /* of the running server */
        KW_MAY_READ_ACCESS,  /* who has a password, which terminals and tokens there are */
        KW_MAY_RECORD,       /* entries: their kinds decide further */
        KW_MAY_ADMIT,        /* codes for passwords, PINs and terminals; tokens' secrets */
        KW_RIGHTS
};

struct kw_right_row {
        const char *name;
        unsigned roles;
        bool anyone; /* known or not */
        bool fresh;  /* of a session: only while the password was given not long ago */
};

/** One row a kind of entry. */
struct kw_kind_right {
        const char *kind;
        unsigned roles;
        bool fresh;
};

/** kw_right_row - never NULL: a right that there isn't gives the row of KW_MAY_NOTHING. */
const struct kw_right_row *kw_right_row(enum kw_right right);
/** kw_kind_right - row @i, NULL past the last. */
const struct kw_kind_right *kw_kind_right(size_t i);

/** kw_role_name - the name of role number @i (bit 1 << i), NULL past the last. */
const char *kw_role_name(size_t i);
/** kw_role_bit - the bit of a role's name, 0 when there is no such role. */
unsigned kw_role_bit(const char *name);

/** The one purpose of a token; "" where it says nothing. Whoever has a purpose may do nothing beside it. */
struct kw_only {
        char kind[16];       /* entries of this kind */
        char machine[41];    /* entries that name this machine */
        char instrument[41]; /* entries that name this instrument */
        char read[16];       /* "ledger", "metrics" */
};

/** Somebody whose rights are asked about. */
struct kw_who {
        unsigned roles;
        const struct kw_only *only; /* NULL: no purpose beside the roles */
        bool fresh;                 /* gave the password not long ago, or has none to give */
        bool reading;               /* let in to read, while the sign-in can't be recorded */
};

/** kw_may - whether @who has a right. Return: 0; KW_NOT_ALLOWED; KW_PASSWORD_AGAIN; KW_DISK_FULL, who only reads. */
int kw_may(const struct kw_who *who, enum kw_right right, struct kw_error *err);

/**
 * kw_may_record - whether @who may record an entry of @kind
 * @machine, @instrument: what the entry names, NULL where it names none
 * Return: as kw_may().
 */
int kw_may_record(const struct kw_who *who, const char *kind, const char *machine, const char *instrument,
                  struct kw_error *err);

#endif
