#ifndef KW_EXPORT_PACK_H
#define KW_EXPORT_PACK_H
/*
 * The certificates in a pack: those whose entries it holds.
 *
 *      certificates.ndjson       how each stands at the pack's head, one a line, in order of their entries
 *      certificate-CODE-SEQ.pdf  each as it was issued, which never changes; a code's stroke is a dash, and two codes
 *                                that differ in that alone are told apart by the entry's number
 */
#include "inside.h"

struct kw_certificate_whole_row;

#define KW_PACK_NAME_MAX 96

/** A certificate on its way into a pack. */
struct kw_pack_certificate {
        int64_t seq; /* its entry; 0: before the first, and after the last */
        char code[KW_CODE_MAX + 1];
        char file[KW_PACK_NAME_MAX];
};

/** kw_pack_next_certificate - the next one that has a document; @at->seq is 0 when there is none. */
int kw_pack_next_certificate(struct kw_export *x, struct kw_pack_certificate *at, struct kw_error *err);
/** kw_pack_list_certificates - the next lines of certificates.ndjson, from x->at on; @n counts them. Return: as an
 * export's next(). */
int kw_pack_list_certificates(struct kw_export *x, struct kw_buf *out, int64_t *n, struct kw_error *err);

#endif
