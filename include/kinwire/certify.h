#ifndef KINWIRE_CERTIFY_H
#define KINWIRE_CERTIFY_H
/*
 * Certificates: which inspection documents there are, what stands in the way of one, and what only has to be known by
 * whoever signs it.
 *
 * The rules are pure. What they are asked about is read from the ledger by ledger/read/complete.c, for the question
 * ("may these reels be certified?") and for the entry that certifies them alike.
 */
#include "kinwire/spans.h"

/* --- the documents ------------------------------------------------------------------------------------ */

/**
 * One type of inspection document (EN 10204:2004). A 2.2 states results of non-specific inspection: of products made to
 * the same specification by the same process, which need not be those delivered. A 3.1 and a 3.2 state results of
 * specific inspection, of the delivery itself or of the test unit it is of. A 3.1 is validated by the manufacturer's
 * authorised inspection representative, who is independent of the manufacturing department; a 3.2 also by the
 * purchaser's, or by an inspector designated by official regulations.
 */
struct kw_document_row {
        const char *name; /* "3.1" */
        const char *title;
        const char *declares; /* what its signature declares */
        bool specific;
        bool countersigned;
};

/** kw_document - the type called @name; NULL when there is none. */
const struct kw_document_row *kw_document(const char *name);
/** kw_document_at - number @i, NULL past the last. */
const struct kw_document_row *kw_document_at(size_t i);

/** Who issues a certificate, and where its entry comes to stand. */
struct kw_issue {
        int64_t seq;      /* of the certificate */
        int64_t body_seq; /* of the entry that brings the document: seq, or that which puts it right */
        const char *at;   /* when it is issued */
        const char *by;
};
/** The caution that goes with a rope, in lines, ended by NULL; and what a certificate adds to it. */
extern const char *const kw_rope_caution[];
extern const char *const kw_certificate_caution;

/* --- what is missing ------------------------------------------------------------------------------------ */

enum kw_lack {
        /* these bar a certificate */
        KW_LACK_HEAT,      /* metal in it that came in without a heat */
        KW_LACK_RUN_OPEN,  /* a run that made it, or what went into it, is under way */
        KW_LACK_HOLD,      /* a hold lies on it */
        KW_LACK_REWORK,    /* it was released to be worked again, or condemned */
        KW_LACK_TEST,      /* a test that its specification needs */
        KW_LACK_FAILED,    /* a failed test with neither passes after it nor a concession */
        KW_LACK_ONE_HEAT,  /* it is of several heats, and its specification asks for one */
        KW_LACK_JOINTS,    /* joints surely too near to each other */
        KW_LACK_CERTIFIED, /* a certificate of the type stands for it */
        KW_LACK_OVERTAKEN, /* the same, and it is overtaken: to be withdrawn or replaced */
        /* these whoever signs has to know */
        KW_KNOW_JOINTS,    /* joints possibly too near */
        KW_KNOW_FAILED,    /* metal in it failed a test before it came in */
        KW_KNOW_HELD,      /* a hold lies on metal that went into it */
        KW_KNOW_NO_SPEC,   /* no specification is for it, so that it needs no test */
        KW_KNOW_SHORT,     /* some of it is gone, and not sent */
        KW_LACKS
};

struct kw_lack_row {
        const char *code;
        bool bars;
};
/** kw_lack_row - the row of @lack, which is below KW_LACKS */
const struct kw_lack_row *kw_lack_row(enum kw_lack lack);

/** What a specification asks for of one property, and what there is. */
struct kw_needed {
        int64_t n;
        int64_t passed;   /* on the lot and what it was cut from, or where it is per run on the runs' packages */
        int64_t conceded; /* failed there, and a concession stands over it */
        int64_t alike;    /* passed on any lot that the same specification was for */
};
/**
 * kw_tests_lacking - how many tests are still to be passed
 *
 * A document on specific inspection counts the lot's own, with those that a concession stands over; one on non-specific
 * inspection counts those of lots alike too, and asks for one of them at least however many the specification wants.
 */
int64_t kw_tests_lacking(const struct kw_document_row *document, const struct kw_needed *needed);

/** A failed test of a property, and what was done about it. */
struct kw_failure {
        struct kw_span place;            /* of the sample on its lot; the lot whole where nobody wrote it down */
        int64_t passed_since;            /* later tests of the property on the lot that passed */
        int64_t passes_needed;           /* how many of them put a failure right; at least 1 */
        const struct kw_spans *conceded; /* of its lot, by concessions after it; in order */
        bool reel_conceded;              /* a concession after it covers the whole reel */
};
/**
 * kw_failure_excused - whether a failure no longer stands in the way
 *
 * Passes since do, and a concession over the sample's place or over the whole reel. A sample without length is covered
 * by a span that its place lies in.
 */
bool kw_failure_excused(const struct kw_failure *failure);

#endif
