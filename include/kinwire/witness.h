#ifndef KINWIRE_WITNESS_H
#define KINWIRE_WITNESS_H
/*
 * Witness: the ledger's head as a note that is kept outside the mill, printed, mailed or saved.
 *
 *      kinwire head
 *      size 4611
 *      root e384c0f3...
 *      time 2026-11-25T10:03:05Z
 *      key 7a0c...             Ed25519, RFC 8032; these two are there when the note is signed
 *      signature 51be...       of all bytes above its line
 *
 * A note may be of a file that the mill sends, a pack for example, with its name and sum in place of size and root:
 *
 *      kinwire file
 *      name lot-RL-0001.zip
 *      sha256 99aa8492...
 *      time 2026-11-25T10:03:05Z
 *      key 7a0c...
 *      signature 51be...
 *
 * Whoever has two notes of heads can be shown that the later ledger holds everything that the earlier one did,
 * unchanged.
 */
#include "kinwire/buf.h"
#include "kinwire/entry.h"
#include "kinwire/ledger.h"

#define KW_KEY_BYTES 32

struct kw_note {
        struct kw_head head;
        char time[KW_STAMP_LEN + 1];
        bool is_signed;
        unsigned char key[KW_KEY_BYTES]; /* public */
};

/** kw_key_make - a new secret key (an Ed25519 seed) and its public key. Return: 0; -EIO. */
int kw_key_make(unsigned char secret[KW_KEY_BYTES], unsigned char public_key[KW_KEY_BYTES]);

/** kw_note_write - append the note of a head, signed when @secret is not NULL. Return: 0; -ENOMEM; -EIO. */
int kw_note_write(const struct kw_head *head, int64_t at, const unsigned char *secret, struct kw_buf *out);

/**
 * kw_note_of_file - append the signed note of a file
 * @name: without its folder; @sum: SHA-256 of its bytes
 * Return: 0; KW_BAD_VALUE, the name can't stand in a line; -ENOMEM; -EIO.
 */
int kw_note_of_file(const char *name, const struct kw_hash *sum, int64_t at, const unsigned char secret[KW_KEY_BYTES],
                    struct kw_buf *out, struct kw_error *err);

/** kw_note_read - read a note and check its signature. Return: 0; KW_BAD_VALUE with the sentence. */
int kw_note_read(const char *text, size_t n, struct kw_note *out, struct kw_error *err);

/**
 * kw_notes_grew - whether the ledger of @later only grew from that of @earlier
 * @proof: between their sizes, as kw_ledger_consistency() gives it; anyone can keep it beside the two notes
 *
 * Return: 0; KW_BAD_VALUE with the sentence.
 */
int kw_notes_grew(const struct kw_note *earlier, const struct kw_note *later, const struct kw_proof *proof,
                  struct kw_error *err);

#endif
