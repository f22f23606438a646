#ifndef KW_READ_CERTIFY_H
#define KW_READ_CERTIFY_H
/* What is read about certificates: what is missing for one, what its document says, and what has overtaken it. */
#include "kinwire/certify.h"
#include "kinwire/json.h"
#include "quality.h"

/* --- what is missing (complete.c) ------------------------------------------------------------------------ */

/** What a certificate is wanted for. */
struct kw_certify_wanted {
        const struct kw_document_row *document;
        const char *replaces; /* code of the certificate that it stands in for; NULL: none */
};

/** Something that stands in the way of a certificate, or that whoever signs it has to know. */
struct kw_lacking_row {
        enum kw_lack what;
        const char *text;              /* a sentence */
        const char *as;                /* which of those that its code has; NULL: it has but one */
        const struct kw_value *values; /* what it says */
        const char *type, *code;       /* of the thing to look at */
        struct kw_spans spans;         /* of that lot, where it is about metres of one */
};

/** kw_read_lacking - all that is missing for a certificate of a lot, and what has to be known, in that order. */
int kw_read_lacking(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_certify_wanted *wanted,
                    const struct kw_lacking_row **out, size_t *n);

/* --- the lots that a lot is of (complete.c) --------------------------------------------------------------- */

/** A lot that lies in another, surely or possibly, and which length of it. */
struct kw_within_row {
        const struct kw_lot_row *lot;
        struct kw_spans possible;
};
/** kw_read_within - of whole lots, themselves among them, in order of id. */
int kw_read_within(struct kw_reader *r, const struct kw_lot_row *const *lots, size_t n_lots,
                   const struct kw_within_row **out, size_t *n);

/* --- failed tests (failures.c) ------------------------------------------------------------------------------ */

/** A failed test, and whether it is excused. */
struct kw_failure_row {
        int64_t id, seq;
        const char *test, *lot, *property;
        bool excused;
        bool conceded;      /* by a concession, not by passes since */
        int64_t concession; /* entry of the concession, 0: none */
};
/**
 * kw_read_failures - failed tests and their properties, on a lot and on what it was cut from, or on the lot alone
 * @reel: the lot a concession over which excuses all of them
 */
enum kw_whose { KW_AND_CUT_FROM, KW_ALONE };
int kw_read_failures(struct kw_reader *r, const struct kw_lot_row *lot, enum kw_whose whose,
                     const struct kw_lot_row *reel, const struct kw_failure_row **out, size_t *n);

/** An entry out of the store is of any size. */
extern const struct kw_json_limits kw_any_size;

/* --- the document (document.c) ------------------------------------------------------------------------------ */

#define KW_DOCUMENT_MAX (512 * 1024) /* bytes; more reels than that takes go on several certificates */

/**
 * kw_read_document - what a certificate says, as canonical JSON
 * @body: of a certify entry, checked for shape
 *
 * It quotes every figure with the number of the entry it comes from, and lists the entries that it rests on. Reels and
 * tests that are not there are left out: the entry is refused for them.
 *
 * Return: 0; KW_TOO_LARGE; a negative errno.
 */
int kw_read_document(struct kw_reader *r, const cJSON *body, const struct kw_issue *issue, struct kw_buf *out,
                     struct kw_error *err);

/* --- certificates and what has overtaken them (certificates.c) ------------------------------------------------ */

enum kw_mark { KW_MARK_RECALLED, KW_MARK_CORRECTED, KW_MARK_FAILED };
/** kw_mark_text - "recalled", "corrected", "failed" */
const char *kw_mark_text(enum kw_mark mark);

/** Something that came after a certificate and speaks against it. */
struct kw_mark_row {
        enum kw_mark what;
        int64_t seq, at; /* of the entry that brought it */
        const char *by;
        const char *type, *code; /* of the thing to look at */
        const char *text;
        int64_t cleared; /* entry that cleared it, 0: none */
};
/** An entry by which marks were cleared. */
struct kw_clearing_row {
        int64_t seq, at;
        const char *by, *reason;
        const char *holds; /* JSON: only these; NULL: all before it */
};
enum kw_certificate_is {
        KW_CERTIFICATE_STANDS,
        KW_CERTIFICATE_MARKED,
        KW_CERTIFICATE_WITHDRAWN,
        KW_CERTIFICATE_REPLACED
};
/** kw_certificate_is_text - "stands", "marked", "withdrawn", "replaced" */
const char *kw_certificate_is_text(enum kw_certificate_is is);

struct kw_certificate_whole_row {
        int64_t id, seq, body_seq, at;
        const char *code, *type, *statement, *by;
        enum kw_certificate_is is;
        int64_t withdrawn, withdrawn_seq; /* time KW_NONE and 0: it was not */
        const char *withdrawn_by, *withdrawn_reason;
        const char *replaces, *replaced_by; /* codes */
        const struct kw_lot_row *const *reels;
        size_t n_reels;
        const struct kw_mark_row *marks;
        size_t n_marks;
        const struct kw_clearing_row *clearings;
        size_t n_clearings;
        const char *document; /* JSON; NULL: it was recorded without one */
};
/**
 * kw_read_asked_metal - the metal that the question of a hold starts from, added to @hits
 * @trace: the question, JSON. What it names may be gone by now: then it starts from nothing.
 * Return: 0; a negative errno.
 */
int kw_read_asked_metal(struct kw_reader *r, const char *trace, struct kw_hits *hits);
/** kw_read_certificate - Return: 0; KW_NOT_FOUND; a negative errno. */
int kw_read_certificate(struct kw_reader *r, const char *code, const struct kw_certificate_whole_row **out,
                        struct kw_error *err);
/**
 * kw_read_certificates - newest first, those with id < @before where that is not 0, @limit at most
 * @marked: only those that are marked and neither withdrawn nor replaced; the page may then hold fewer than there are
 * @next:   the `before` of the next page, 0 when this is the last
 */
int kw_read_certificates(struct kw_reader *r, int64_t before, size_t limit, bool marked,
                         const struct kw_certificate_whole_row *const **out, size_t *n, int64_t *next);

#endif
