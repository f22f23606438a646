#ifndef KINWIRE_PEOPLE_H
#define KINWIRE_PEOPLE_H
/*
 * People, terminals and tokens as their last entries have them. Asked within a view of the ledger; nothing is kept from
 * one question to the next, so that whoever was closed is so at once.
 *
 * Functions return 0, a refusal (KW_INTERNAL, KW_BUSY), or a negative errno.
 */
#include "kinwire/ledger.h"

#define KW_NAME_BYTES 801 /* 200 characters, and a NUL */

/** code "" : there is none. */
struct kw_person {
        char code[KW_CODE_MAX + 1], name[KW_NAME_BYTES], badge[KW_CODE_MAX + 1];
        unsigned roles;
        bool closed;
        int64_t seq, at;
};
struct kw_terminal {
        char code[KW_CODE_MAX + 1], where[KW_NAME_BYTES];
        bool closed;
        int64_t seq, at;
};
struct kw_token {
        char code[KW_CODE_MAX + 1];
        unsigned role;
        bool purpose; /* @only says what it is */
        struct kw_only only;
        int64_t expires; /* INT64_MAX: never */
        bool closed;
        int64_t seq, at;
};

int kw_find_person(struct kw_ledger *ledger, const char *code, struct kw_person *out, struct kw_error *err);
/** kw_find_badge - the person who has the badge now, and isn't closed. */
int kw_find_badge(struct kw_ledger *ledger, const char *badge, struct kw_person *out, struct kw_error *err);
int kw_find_terminal(struct kw_ledger *ledger, const char *code, struct kw_terminal *out, struct kw_error *err);
int kw_find_token(struct kw_ledger *ledger, const char *code, struct kw_token *out, struct kw_error *err);

/** kw_count_people - how many there are, and how many open administrators beside @but (NULL: beside nobody). */
int kw_count_people(struct kw_ledger *ledger, const char *but, int64_t *people, int64_t *administrators,
                    struct kw_error *err);

/** kw_each_... - in order of code, to @fn until it returns other than 0. */
int kw_each_person(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_person *p, const char *note),
                   void *ctx, struct kw_error *err);
int kw_each_terminal(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_terminal *t, const char *note),
                     void *ctx, struct kw_error *err);
int kw_each_token(struct kw_ledger *ledger, int (*fn)(void *ctx, const struct kw_token *t, const char *note), void *ctx,
                  struct kw_error *err);

#endif
