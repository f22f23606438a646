#ifndef KW_REPORT_LABEL_LETTERS_H
#define KW_REPORT_LABEL_LETTERS_H
/*
 * How much room letters take: the size at which a text fits its place, and where it breaks into lines.
 *
 * Everything is measured without hinting, so that widths grow in proportion to the size and paper and screen agree.
 * Sizes and lengths are um; a font's size is that of its em.
 */
#include <pango/pangocairo.h>
#include <stdbool.h>
#include <stddef.h>

enum kw_face { KW_FACE_PLAIN, KW_FACE_BOLD, KW_FACE_CODE, KW_FACES };

#define KW_BLOCK_LINES 24

struct kw_letters;

/** One line of a block: @text is NUL-terminated and the block's own. */
struct kw_line {
        char *text;
        int width;
};

/** A text in its place: @n lines of @size, each kw_pitch(size) below the other */
struct kw_block {
        int size, n;
        struct kw_line lines[KW_BLOCK_LINES];
};

/** What happens to a text that does not fit at its least size. */
enum kw_overflow { KW_CUT, KW_CUT_LIST, KW_KEEP };

/** kw_letters_new - a measure, used by one thread. Return: NULL when there is no memory. */
struct kw_letters *kw_letters_new(void);
void kw_letters_free(struct kw_letters *letters);

/** kw_pitch - from one line to the next; kw_baseline - from a line's top to its baseline */
int kw_pitch(int size);
int kw_baseline(int size);

/** kw_face_family - the family names of @face, for a stylesheet and for the measure alike */
const char *kw_face_family(enum kw_face face);
bool kw_face_bold(enum kw_face face);

/** kw_letters_width - how long the first @bytes of @text are */
int kw_letters_width(struct kw_letters *letters, enum kw_face face, int size, const char *text, size_t bytes);

/** kw_letters_fit - the largest size up to @most at which @text is no longer than @width; at least 1 */
int kw_letters_fit(struct kw_letters *letters, enum kw_face face, int most, const char *text, size_t bytes, int width);

/**
 * kw_letters_block - break a text into lines that fit @width and @height
 * @most, @least: the largest size that does is taken; at @least, words that are too long are broken as well
 * @overflow:     KW_CUT: the last line that fits ends with an ellipsis; KW_CUT_LIST: only behind a comma, and where
 * there is none it is set smaller than @least, down to the half of it, so that a code is whole; KW_KEEP: the block has
 * all its lines, and is higher than @height
 * @out:          for the caller to kw_block_free(); a text that needs more than KW_BLOCK_LINES is cut there
 *
 * Return: 0; 1 when it did not fit; -ENOMEM.
 */
int kw_letters_block(struct kw_letters *letters, enum kw_face face, const char *text, int most, int least, int width,
                     int height, enum kw_overflow overflow, struct kw_block *out);
void kw_block_free(struct kw_block *block);

/** kw_letters_line - @text in @face and @size, for drawing; it lives until the next call */
PangoLayoutLine *kw_letters_line(struct kw_letters *letters, enum kw_face face, int size, const char *text);

#endif
