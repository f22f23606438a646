#ifndef KW_EXPORT_CERTIFICATE_H
#define KW_EXPORT_CERTIFICATE_H
/*
 * A certificate, a drill or a sample on its way onto paper: its document, the proof of its entry, and the paper. A
 * sheet is made of its entry and of nothing that comes after it, so that it is the same to the byte whenever it is
 * made.
 */
#include "paper.h"

#include "kinwire/answer.h"
#include "ledger/read/certify.h"

struct kw_sheet {
        struct kw_reader *r;                      /* texts live as long as it */
        const struct kw_certificate_whole_row *c; /* NULL: it is none */
        const cJSON *document;                    /* of a drill or a sample the body of its entry */
        const char *address;                      /* where figures are looked up; NULL: nowhere is known */
        struct kw_hash leaf, root;
        struct kw_proof proof;
        char digest[KW_HASH_HEX]; /* of a certificate: SHA-256 of the document */
        struct kw_paper *p;
        bool failed; /* no memory for a text */
};

/** kw_sheet_words - a text that lives as long as the sheet; "" when there is no memory. */
const char *kw_sheet_words(struct kw_sheet *s, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
/** kw_sheet_entry - "#1528"; kw_sheet_link - where that is looked up, NULL when no address is known. 0: NULL. */
const char *kw_sheet_entry(struct kw_sheet *s, int64_t entry);
const char *kw_sheet_link(struct kw_sheet *s, int64_t entry);

/** kw_sheet_prove - leaf, root and proof of an entry under the head that it made. Return: 0; a refusal; -errno. */
int kw_sheet_prove(struct kw_ledger *ledger, struct kw_sheet *s, int64_t seq, struct kw_error *err);
void kw_sheet_hash(struct kw_sheet *s, const char *name, const struct kw_hash *hash);
/** kw_sheet_proof - the hashes of the proof, one a line. */
void kw_sheet_proof(struct kw_sheet *s);
/** kw_sheet_write - write it twice, as paper.h wants it; @created: RFC 3339. Return: 0; -ENOMEM; what @write returned.
 */
int kw_sheet_write(struct kw_sheet *s, int (*write)(struct kw_sheet *s), const char *title, const char *foot,
                   const char *created, struct kw_buf *out);

/* certificate_figures.c: the tables of figures, each below its heading; what there is none of is left out */
void kw_sheet_reels(struct kw_sheet *s);
void kw_sheet_strength(struct kw_sheet *s);
void kw_sheet_tests(struct kw_sheet *s);
void kw_sheet_heats(struct kw_sheet *s);
void kw_sheet_makeup(struct kw_sheet *s);
void kw_sheet_concessions(struct kw_sheet *s);

#endif
