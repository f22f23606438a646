#ifndef KW_EXPORT_CERTIFICATE_H
#define KW_EXPORT_CERTIFICATE_H
/*
 * A certificate on its way onto paper: its document, the proof of its entry, and the paper.
 */
#include "paper.h"

#include "kinwire/answer.h"
#include "ledger/read/certify.h"

struct kw_sheet {
        struct kw_reader *r; /* texts live as long as it */
        const struct kw_certificate_whole_row *c;
        const cJSON *document;
        const char *address; /* where figures are looked up; NULL: nowhere is known */
        struct kw_hash leaf, root;
        struct kw_proof proof;
        char digest[KW_HASH_HEX]; /* SHA-256 of the document */
        struct kw_paper *p;
        bool failed; /* no memory for a text */
};

/** kw_sheet_words - a text that lives as long as the sheet; "" when there is no memory. */
const char *kw_sheet_words(struct kw_sheet *s, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
/** kw_sheet_entry - "#1528"; kw_sheet_link - where that is looked up, NULL when no address is known. 0: NULL. */
const char *kw_sheet_entry(struct kw_sheet *s, int64_t entry);
const char *kw_sheet_link(struct kw_sheet *s, int64_t entry);

/* certificate_figures.c: the tables of figures, each below its heading; what there is none of is left out */
void kw_sheet_reels(struct kw_sheet *s);
void kw_sheet_strength(struct kw_sheet *s);
void kw_sheet_tests(struct kw_sheet *s);
void kw_sheet_heats(struct kw_sheet *s);
void kw_sheet_makeup(struct kw_sheet *s);
void kw_sheet_concessions(struct kw_sheet *s);

#endif
