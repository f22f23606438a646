#ifndef KINWIRE_FOLLOW_H
#define KINWIRE_FOLLOW_H
/*
 * Following: a second ledger that takes every entry of a kinwire elsewhere, and is the outside witness of its history.
 *
 * At each step the other's head is asked for. Before anything is taken, it has to be shown that the head grew from what
 * this copy holds (RFC 9162, consistency); after each page of entries the copy's own root has to be under that head.
 * Entries come as the text that was hashed, are held against the shapes, derived here, and kept with their numbers,
 * times and names. A copy so made is a ledger like any other: it can be traced, verified and served.
 *
 * An entry that was altered, left out or put in, a tail that was cut and a history that was written anew are therefore
 * refused, and the copy stays as it was: what it holds is what was there before.
 */
#include "kinwire/merkle.h"

#include <signal.h>
#include <stdint.h>

struct kw_follow_options {
        const char *url;                   /* "http://127.0.0.1:8420", "https://mill.example/" */
        const char *ledger;                /* the copy; made when absent */
        const char *token;                 /* for Authorization: Bearer; NULL: none */
        const char *ca;                    /* a PEM file with whom to trust, in place of the machine's own; NULL */
        const volatile sig_atomic_t *stop; /* once it is not 0, what is under way is given up; may be NULL */
};

/** What a step came to. */
struct kw_followed {
        int64_t size; /* entries of the copy, all of them under the head that was seen */
        struct kw_hash root;
        int64_t taken; /* entries that this step added */
};

struct kw_follow;

/**
 * kw_follow_open - open the copy and make ready to ask
 * @options: strings are copied
 * @out:     for the caller to kw_follow_close()
 *
 * Return: 0; KW_BAD_REQUEST, the URL can't be used; what kw_ledger_open() returns; -ENOMEM.
 */
int kw_follow_open(const struct kw_follow_options *options, struct kw_follow **out, struct kw_error *err);
void kw_follow_close(struct kw_follow *follow);

/**
 * kw_follow_step - take what is new, page by page, each page wholly or not at all
 * @progress: told of entries taken and to take; may be NULL
 *
 * Return: 0, the copy is at the head that was seen; KW_BUSY, nobody answered or it was told to come again, so that it
 * is worth trying again (pages that were shown to be right are kept); KW_NOT_ALLOWED, the other lets nobody in with
 * this token; KW_BAD_VALUE, what is there is not what was there, with the sentence that says how it shows; another
 * refusal or -ENOMEM when the copy can't be written.
 */
int kw_follow_step(struct kw_follow *follow, void (*progress)(void *ctx, const char *what, int64_t done, int64_t of),
                   void *ctx, struct kw_followed *out, struct kw_error *err);

#endif
