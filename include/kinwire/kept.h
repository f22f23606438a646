#ifndef KINWIRE_KEPT_H
#define KINWIRE_KEPT_H
/*
 * Kept: what took long to compute from a ledger, in a file beside it, so that a restart need not compute it again.
 *
 * The file says at which size of the ledger it was made and under which root, by which version of the program and in
 * which form, and a sum of its content; where anything of that does not fit it is not used, and made again. It is never
 * a second truth, and can be thrown away at any time. It is written aside and takes its name when it is whole and on
 * disk: a disk that is full and a program that is killed leave the one before.
 *
 *      head | content: 64-bit integers, texts with their length before them, arrays as they lie in memory
 *
 * It fits the byte order of the machine that made it alone.
 */
#include "kinwire/buf.h"
#include "kinwire/ledger.h"

/* --- writing -------------------------------------------------------------------------------------- */

void kw_kept_put_int(struct kw_buf *out, int64_t value);
/** kw_kept_put_text - NULL is kept as well. */
void kw_kept_put_text(struct kw_buf *out, const char *text);
/** kw_kept_put_array - @n bytes; whoever reads them knows how many. */
void kw_kept_put_array(struct kw_buf *out, const void *at, size_t n);

/**
 * kw_kept_save - put @content in the place of @file
 * @form: what is in it and how, as in "months 1"; another number whenever it is written, or computed, otherwise
 * @ledger: of which it is, for the root at @size; with a view
 * Return: 0; -EBUSY, another program is writing it; a refusal; a negative errno, with the file as it was.
 */
int kw_kept_save(const char *file, const char *form, struct kw_ledger *ledger, int64_t size,
                 const struct kw_buf *content);

/* --- reading -------------------------------------------------------------------------------------- */

/** A file while it is read. */
struct kw_kept {
        int64_t size; /* of the ledger when it was made */
        const char *at, *end;
        bool failed; /* something did not fit */
        char *held;
        size_t bytes;
};

/**
 * kw_kept_open - a file that fits what @ledger looks at; end with kw_kept_close()
 * @why: receives what is wrong with one that does not, for a person; NULL: there is none
 * Return: 0; -ENOENT, there is none to use; another negative errno, with @why as well.
 */
int kw_kept_open(const char *file, const char *form, struct kw_ledger *ledger, struct kw_kept *out, const char **why);
void kw_kept_close(struct kw_kept *k);

/* Each gives nothing, and sets @failed, where there is not enough left. */
int64_t kw_kept_int(struct kw_kept *k);
/** kw_kept_count - of things that take at least @each bytes, so that more can't be there than there is room for. */
size_t kw_kept_count(struct kw_kept *k, size_t each);
/** kw_kept_text - valid until the file is closed; NULL: there was none. */
const char *kw_kept_text(struct kw_kept *k);
/** kw_kept_array - copies @n bytes. */
void kw_kept_array(struct kw_kept *k, void *to, size_t n);
/** kw_kept_whole - all was read, and fitted. */
bool kw_kept_whole(const struct kw_kept *k);

#endif
