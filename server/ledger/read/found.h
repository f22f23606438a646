#ifndef KW_READ_FOUND_H
#define KW_READ_FOUND_H
/*
 * What a recall finds: where all the metal is that a lot became, and how much of it somebody could put a hand on.
 *
 * A length of an affected lot that went into another run is found in what came out of that run; what counts is where
 * metal ends: it is left, it was sent, or it was scrapped or cut as a sample. That is what was made. Of it, what is
 * left in no known place is not found.
 */
#include "read.h"

#define KW_FOUND_LISTED 100

/** Lengths, and masses of those lots whose mass is known. */
struct kw_found_sum {
        int64_t mm, g;
};

struct kw_found {
        int64_t lots, certain; /* affected; surely */
        int64_t unweighed;     /* lots with an end of metal whose mass is not known */
        struct kw_found_sum left, sent, lost;
        struct kw_found_sum unplaced; /* of what is left */
        int64_t unplaced_lots;
        const char *unplaced_named[KW_FOUND_LISTED]; /* codes, in order; the first of them */
        const char *const *consignments;             /* codes, in order */
        size_t n_consignments;
        const char *const *consignees; /* in order */
        size_t n_consignees;
};

/** kw_read_found - of a recall of a whole lot. Return: 0; a negative errno. */
int kw_read_found(struct kw_reader *r, int64_t lot, struct kw_found *out);

/** A certificate walked back: its reels and all they are made of. */
struct kw_walked {
        int64_t seq;
        const char *code;
        int64_t reels, heats;
        const char *no_heat; /* a lot that reaches none, or NULL */
        int64_t tests;       /* on its reels and what they were cut from */
        const char *failed;  /* a test of those that failed and was neither passed since nor conceded, or NULL */
        const char *held;    /* a hold that is open on a reel or on what is left of what it is made of, or NULL */
        bool withdrawn;
};
/** kw_read_walked - of the certificate that entry @seq issued. Return: 0, with code NULL when there is none. */
int kw_read_walked(struct kw_reader *r, int64_t seq, struct kw_walked *out);

#endif
