#ifndef KINWIRE_ACCESS_H
#define KINWIRE_ACCESS_H
/*
 * Secrets: what lets somebody in. They are no facts about the mill, so they are in no entry, but in two files beside
 * the ledger that only its owner can read:
 *
 *      FILE.access     SQLite: argon2id hashes of passwords and PINs, hashes of one-time codes, tokens and devices,
 *                      wrong tries
 *      FILE.pepper     32 random bytes without which the PINs and codes of a stolen FILE.access can't be tried out
 *
 * Who the people, tokens and terminals are, and what they may do, the ledger says. With these two files lost, nothing
 * of the ledger is: everyone gets a new code.
 *
 * A struct kw_access is used by any number of threads; the daemon and the program's commands may have one open at a
 * time. Functions return 0, a refusal with a sentence (KW_BUSY, KW_INTERNAL), or -ENOMEM.
 */
#include "kinwire/entry.h"
#include "kinwire/lockout.h"

#define KW_SECRET_TEXT_MAX 64 /* of a token, a device's cookie or a one-time code, with its NUL */

struct kw_access;

/** kw_access_open - the secrets beside @ledger, made when there are none yet. */
int kw_access_open(const char *ledger, struct kw_access **out, struct kw_error *err);
void kw_access_close(struct kw_access *a);

/**
 * kw_access_copy - the secrets beside the ledger @from (or beside a copy of one), whole, beside @to; the pepper stays
 * @copied: receives whether there were any
 * Return: 0; KW_CODE_TAKEN, there are some beside @to; another refusal.
 */
int kw_access_copy(const char *from, const char *to, bool *copied, struct kw_error *err);

/* --- passwords and PINs: these take a tenth of a second and 64 MiB each ---------------------------- */

enum kw_secret { KW_PASSWORD, KW_PIN };

/** kw_access_set - hash and keep; what was there is gone. */
int kw_access_set(struct kw_access *a, enum kw_secret what, const char *person, const char *text, struct kw_error *err);
/**
 * kw_access_try - whether @text is the person's
 * It takes as long when the person has none. Hashes made with other parameters than today's are renewed.
 */
int kw_access_try(struct kw_access *a, enum kw_secret what, const char *person, const char *text, bool *right,
                  struct kw_error *err);
int kw_access_has(struct kw_access *a, enum kw_secret what, const char *person, bool *has, struct kw_error *err);

/* --- one-time codes ----------------------------------------------------------------------------- */

enum kw_code_for { KW_CODE_PASSWORD, KW_CODE_PIN, KW_CODE_TERMINAL };

/**
 * kw_code_give - make a code for a person (or a terminal), and forget an earlier one
 * @expires: seconds since 1970
 * @out:     "XXXX-XXXX-XXXX", 60 bits in an alphabet without letters that look alike
 */
int kw_code_give(struct kw_access *a, enum kw_code_for what, const char *of, int64_t expires,
                 char out[KW_SECRET_TEXT_MAX], struct kw_error *err);
/** kw_code_use - whether @text is the code, which is then used up; small letters, and none of the hyphens, do too. */
int kw_code_use(struct kw_access *a, enum kw_code_for what, const char *of, const char *text, int64_t now, bool *right,
                struct kw_error *err);

/* --- what a program or a device shows ----------------------------------------------------------- */

enum kw_bearer { KW_TOKEN, KW_DEVICE };

/** kw_bearer_give - a new secret for a token or an enrolled terminal; an earlier one is good no longer. */
int kw_bearer_give(struct kw_access *a, enum kw_bearer what, const char *of, char out[KW_SECRET_TEXT_MAX],
                   struct kw_error *err);
/** kw_bearer_find - whose secret @text is; "" when it is nobody's. */
int kw_bearer_find(struct kw_access *a, enum kw_bearer what, const char *text, char of[KW_CODE_MAX + 1],
                   struct kw_error *err);
int kw_bearer_has(struct kw_access *a, enum kw_bearer what, const char *of, bool *has, struct kw_error *err);

/* --- wrong tries -------------------------------------------------------------------------------- */

/** kw_access_keep_tries - keep how often it was tried wrongly, @times in seconds since 1970; all 0 forgets it. */
int kw_access_keep_tries(struct kw_access *a, const char *at, const struct kw_tries *times, struct kw_error *err);
/** kw_access_each_tries - what was kept, to @fn. */
int kw_access_each_tries(struct kw_access *a, int (*fn)(void *ctx, const char *at, const struct kw_tries *times),
                         void *ctx, struct kw_error *err);

#endif
