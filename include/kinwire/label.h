#ifndef KINWIRE_LABEL_H
#define KINWIRE_LABEL_H
/*
 * Labels: what is stuck on a bobbin, hung on a coil or nailed to a reel, so that a hand scanner and a person read the
 * same code.
 *
 * A label shows its code in large letters, as Code 128 and as Data Matrix, and beside them what the mill wants to see
 * without a terminal. Both symbols encode the code and nothing else. Code 128 has 10 modules of quiet zone at each end,
 * Data Matrix 1 module all round (ISO/IEC 15417, ISO/IEC 16022).
 *
 * How wide a module of Code 128 is: 500, 375 or 250 um where one of these fits (4, 3 and 2 dots of a printer with
 * 8 dots/mm; 6, 4.5 and 3 with 12), else what just fits. The longest code, 40 letters, is 495 modules with its quiet
 * zones: 124 mm at 250 um. So a long code stands along the side of a 100x150 mm label or along the roll, where its
 * module is 250 um. On 100x60 mm there is no such side: up to 31 letters have 250 um, 40 letters come down to 200 um.
 * That is read off a print of 12 dots/mm, and not off one of 8: there the Data Matrix, whose module is never below 500
 * um, is the one to scan (tests/standards/label asks for exactly this).
 *
 * No words are fixed here but the English defaults: captions, kinds and the caution can be passed in any language. A
 * text that is too long for its place is made smaller and then cut with an ellipsis; the code and the caution are never
 * cut. Lengths are in um, the unit in which a label is laid out.
 */
#include "kinwire/buf.h"
#include "kinwire/error.h"

#include <stddef.h>
#include <stdint.h>

#define KW_LABELS_MAX      500  /* labels in one document */
#define KW_LABEL_TEXT_MAX  2000 /* bytes of one text */
#define KW_LABEL_BARS_UM   200  /* no module of Code 128 is narrower */
#define KW_LABEL_MATRIX_UM 500  /* no module of Data Matrix is narrower */

enum kw_label_what { KW_LABEL_LOT, KW_LABEL_WELD, KW_LABEL_BATCH, KW_LABEL_REEL, KW_LABEL_WHATS };

enum kw_label_size { KW_LABEL_100X60, KW_LABEL_100X150, KW_LABEL_ROLL62, KW_LABEL_SIZES };

/** What a label of a size is called and measures; @height_um 0: continuous roll, as long as the label needs. */
struct kw_label_size_row {
        const char *name; /* "100x60", "100x150", "62" */
        int width_um, height_um;
};

/** kw_label_size_row - the row of @size, which is below KW_LABEL_SIZES */
const struct kw_label_size_row *kw_label_size_row(enum kw_label_size size);

/** kw_label_size_read - the size called @name. Return: 0; KW_BAD_VALUE. */
int kw_label_size_read(const char *name, enum kw_label_size *out, struct kw_error *err);

/** The words that stand on a label; a NULL among them takes the English one. */
struct kw_label_words {
        const char *what[KW_LABEL_WHATS]; /* heading of a label that has no kind */
        const char *rope, *heat, *size, *grade, *length, *date, *who;
};

extern const struct kw_label_words kw_label_english;

/**
 * struct kw_label - one label, as texts
 * @what:    what it is stuck on
 * @code:    the identifier, kw_code_ok(); the only text that must be there (a reel needs @rope too)
 * @kind:    heading in the reader's language ("Bobbin"); NULL: the word for @what
 * @rope:    the unique rope number of a finished reel
 * @heat:    the heats, as one text ("H48211, H48212")
 * @size, @length: with their units ("3.175 mm", "4 200 m"); @grade; @date; @who
 * @warning: why it may not be used, sent or relied on now ("On hold HD-0007"), framed below the code; a text that is
 * too long for its lines is made smaller and then cut
 * @caution: lines, ended by NULL; NULL: kw_rope_caution (kinwire/certify.h) on a reel, none on the others. A reel's
 * label always has one: an empty list counts as NULL
 * @words:   captions; NULL: English
 *
 * Texts are UTF-8. NULL and "" leave the field off. Nothing is copied; all must live until the call returns.
 */
struct kw_label {
        enum kw_label_what what;
        const char *code, *kind, *rope, *heat, *size, *grade, *length, *date, *who, *warning;
        const char *const *caution;
        const struct kw_label_words *words;
};

/**
 * kw_labels_svg - labels as one SVG document
 * @out: appended to
 *
 * One label gives a document of exactly the label's size. Several stand below one another, 4 mm apart, each an <svg>
 * with id "label-1", "label-2"...; and for each there is a <view> "page-1", "page-2"..., so that FILE.svg#page-2 shows
 * one alone. Texts stay texts; textLength holds them to the width they were laid out for, whatever font the viewer has.
 *
 * Return: 0; a refusal with @out unchanged and a pointer into @labels ("/2/heat"): KW_BAD_REQUEST (none), KW_TOO_LARGE
 * (over KW_LABELS_MAX), KW_BAD_CODE, KW_BAD_VALUE (a text that is too long, not UTF-8, or has control characters or
 * ones that turn the direction of writing), KW_MISSING (a reel without rope number), KW_OUT_OF_RANGE (a caution that
 * does not fit); -ENOMEM; -EIO when a drawing library fails.
 */
int kw_labels_svg(const struct kw_label *labels, size_t n, enum kw_label_size size, struct kw_buf *out,
                  struct kw_error *err);

/**
 * kw_labels_pdf - labels as one PDF, a page each, of the label's size
 * @title:   in the document's properties; NULL: the first label's code
 * @created: the creation date that the file states, seconds since 1970
 *
 * The same labels, title and date give the same bytes with the same fonts and libraries installed. Text can be searched
 * and copied. Return: as kw_labels_svg().
 */
int kw_labels_pdf(const struct kw_label *labels, size_t n, enum kw_label_size size, const char *title, int64_t created,
                  struct kw_buf *out, struct kw_error *err);

#endif
