#ifndef KW_READ_CERTIFY_INSIDE_H
#define KW_READ_CERTIFY_INSIDE_H
/* Certificates from inside: what complete.c, failures.c, document.c and document_reels.c share. */
#include "certify.h"
#include "reader.h"

/* A lot, and what it was cut from. */
#define CUT_FROM                                                                                            \
        "WITH RECURSIVE own (lot) AS (VALUES (?1) UNION SELECT f.lot FROM own JOIN lot l ON l.id = own.lot" \
        " JOIN run r ON r.id = l.run AND r.process = 'cut' JOIN feed f ON f.run = r.id)"

/** A document that is being written. */
struct kw_writing {
        struct kw_reader *r;
        const cJSON *body;
        const struct kw_lot_row **reels;
        size_t n_reels;
        const struct kw_within_row *within;
        size_t n_within;
        struct kw_list heats;       /* ids, in order */
        struct kw_list tests;       /* ids */
        struct kw_list concessions; /* struct conceded */
        struct kw_list rests;       /* numbers of entries */
        struct kw_buf *out;
};

/** kw_writing_keep - one more number in one of its lists. Return: 0; -ENOMEM. */
int kw_writing_keep(struct kw_writing *w, struct kw_list *list, int64_t value);
/** kw_put_document_reels - the reels, each with its order, makeup, joints and strength. */
int kw_put_document_reels(struct kw_writing *w);

/* What is not known is left out. */
static inline void kw_put_number_if(struct kw_buf *out, const char *name, int64_t value)
{
        if (value != KW_NONE)
                kw_put_int(out, name, value);
}

static inline void kw_put_text_if(struct kw_buf *out, const char *name, const char *value)
{
        if (value)
                kw_put_string(out, name, value);
}

#endif
