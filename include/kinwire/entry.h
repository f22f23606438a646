#ifndef KINWIRE_ENTRY_H
#define KINWIRE_ENTRY_H
/*
 * An entry as it is sent: its envelope and its body, checked for shape and brought into its normal form.
 *
 * Shape is what schema/entry.schema.json says: which members there are, their types and ranges. Whether a lot exists or
 * a length is still there is not shape; the ledger says that.
 */
#include "kinwire/error.h"
#include "kinwire/json.h"

#include <stdbool.h>

#define KW_CODE_MAX  40
#define KW_TEXT_MAX  2000 /* characters (Unicode code points) of free text */
#define KW_KEY_LEN   36
#define KW_STAMP_LEN 20 /* 2026-03-04T09:12:00Z */

/** A draft: what a sender asks to have recorded. */
struct kw_draft {
        char key[KW_KEY_LEN + 1]; /* lower case */
        char kind[16];
        char at[KW_STAMP_LEN + 1]; /* "" when the sender left it out */
        cJSON *body; /* owned, in its normal form: codes in upper case, times in UTC, lists of lots of one kind */
};

/**
 * kw_draft_read - read one entry from bytes
 * Return: 0; a refusal with its pointer; -ENOMEM. On success free with kw_draft_free().
 */
int kw_draft_read(const char *text, size_t n, struct kw_draft *out, struct kw_error *err);
void kw_draft_free(struct kw_draft *draft);

/**
 * kw_body_check - check a body of @kind for shape and bring it into its normal form, in place
 * @kind:    "run", ...
 * @body:    changed: codes upper-cased, times rewritten in UTC; in the lots of batch, hold and release a plain code
 * becomes
 *           {"lot": code}, in those of dispatch, move and the reels of certify {"lot": code} becomes a plain code
 * @pointer: where the body stands in the entry ("/body")
 *
 * A member that is missing is pointed to as if it were there, so that a form can find its field.
 *
 * Return: 0; a refusal (KW_NOT_ENTRY for an unknown kind), with @body partly in its normal form; -ENOMEM, the same.
 */
int kw_body_check(const char *kind, cJSON *body, const char *pointer, struct kw_error *err);

/**
 * kw_body_name_welds - give every join of a run's body that has no weld code one made from the entry's key
 * @run_body: checked by kw_body_check()
 *
 * The code is "J-" and the first 12 hex digits, upper case, of the SHA-256 of the key, "-" and the join's number in the
 * run (from 1, line by line, named or not): the same key gives the same codes, wherever the entry is read. Return: 0;
 * -ENOMEM.
 */
int kw_body_name_welds(cJSON *run_body, const char *key);

/** kw_weld_name - the code that join number @number of the entry with @key gets when nobody names it. */
void kw_weld_name(const char *key, size_t number, char code[16]);

/** The members of a feed or a load that tell of the joint before it; ended by NULL. */
extern const char *const kw_joint_members[];

/** kw_code_ok - 1 to 40 characters out of A-Z 0-9 . / - */
bool kw_code_ok(const char *code);

/**
 * kw_seq_read - the number of an entry, as it stands in an address or on a command line
 * @tail: what has to follow its digits, as ".pdf"; "" for nothing
 *
 * Return: the number; 0 when @text is none, which no entry has.
 */
int64_t kw_seq_read(const char *text, const char *tail);

/** kw_key_new - a key that nobody has made before: a version 4 UUID (RFC 9562, section 5.4). */
void kw_key_new(char out[KW_KEY_LEN + 1]);

/* --- times ------------------------------------------------------------------------------------ */

/**
 * kw_stamp_read - RFC 3339 with any offset, to seconds since 1970
 * A fraction is dropped; a leap second (23:59:60 UTC at a month's end) is read as the second after it.
 * Return: 0; KW_BAD_TIME.
 */
int kw_stamp_read(const char *text, int64_t *seconds);
/** kw_stamp_write - seconds since 1970 as 2026-03-04T09:12:00Z; years 0001 to 9999. */
void kw_stamp_write(int64_t seconds, char out[KW_STAMP_LEN + 1]);

/* --- the tables of shape, for whoever lists kinds ----------------------------------------------- */

/** kw_kind_name - the name of kind number @i in the order of the interface, NULL past the last. */
const char *kw_kind_name(size_t i);

#endif
