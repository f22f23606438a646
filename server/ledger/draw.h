#ifndef KW_LEDGER_DRAW_H
#define KW_LEDGER_DRAW_H
/*
 * Drawing an entry by a seed, so that anyone who has the entries can draw it again.
 *
 * The seed is the ledger's root at a size, and a text. Whoever wants to show that the choice is fair states the size
 * and its root first, and takes the text from somebody else afterwards: then nobody could choose.
 *
 *      candidates   entries of one kind with seq <= size, in order of seq: n of them
 *      draw k       SHA-256 of: the root as 64 digits 0-9 a-f, a line feed, the text in UTF-8, a line feed, k in
 * decimal chosen       the candidate number (digest as one number, most significant byte first) modulo n, from 0
 *
 * Draws are k = 0, 1, 2, ...; one that gives nothing to look at (the entry was taken back), or what was drawn before,
 * is passed over.
 */
#include "store.h"

#include "kinwire/merkle.h"

struct kw_seed {
        const char *text;
        int64_t size;
        char root[KW_HASH_HEX];
};

/** kw_draw_number - the number that draw @k gives among @n > 0; @digest receives the hash. Pure. */
int64_t kw_draw_number(const struct kw_seed *seed, int64_t k, int64_t n, struct kw_hash *digest);
/** kw_draw_count - how many candidates there are. */
int kw_draw_count(struct kw_ledger *l, const char *kind, int64_t size, int64_t *n);
/** kw_draw_entry - the entry that is candidate @number. */
int kw_draw_entry(struct kw_ledger *l, const char *kind, int64_t size, int64_t number, int64_t *seq);
/**
 * kw_draw_code - what stands of an entry that was drawn
 * @member: of its body, a code; @code: receives it, "" where the entry was taken back
 */
int kw_draw_code(struct kw_ledger *l, int64_t seq, const char *member, char code[KW_CODE_MAX + 1]);

#endif
