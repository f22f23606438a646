/*
 * Letters, measured by Pango.
 *
 * The families named first are metric-compatible with Arial and Courier New, so a viewer with those sets the same
 * widths. The code's face has equal widths and tells 0 from O.
 */
#include "letters.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define ELLIPSIS "\xe2\x80\xa6"

/* Pango counts in 1/1024 pt. */
#define UNITS_PER_UM (1024.0 * 72.0 / 25400.0)

static const struct {
        const char *family;
        bool bold;
} faces[KW_FACES] = {
        [KW_FACE_PLAIN] = {"Liberation Sans,Arial,Helvetica,sans-serif", false},
        [KW_FACE_BOLD] = {"Liberation Sans,Arial,Helvetica,sans-serif", true},
        [KW_FACE_CODE] = {"Liberation Mono,Courier New,DejaVu Sans Mono,monospace", true},
};

struct kw_letters {
        PangoContext *context;
        PangoLayout *layout;
        PangoFontDescription *face[KW_FACES];
};

struct kw_letters *kw_letters_new(void)
{
        struct kw_letters *letters = calloc(1, sizeof *letters);
        cairo_font_options_t *options = cairo_font_options_create();

        if (!letters) {
                cairo_font_options_destroy(options);
                return NULL;
        }
        cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
        cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
        cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
        letters->context = pango_font_map_create_context(pango_cairo_font_map_get_default());
        pango_cairo_context_set_resolution(letters->context, 72);
        pango_cairo_context_set_font_options(letters->context, options);
        pango_context_set_round_glyph_positions(letters->context, FALSE);
        cairo_font_options_destroy(options);
        letters->layout = pango_layout_new(letters->context);
        for (int i = 0; i < KW_FACES; i++) {
                letters->face[i] = pango_font_description_new();
                pango_font_description_set_family(letters->face[i], faces[i].family);
                pango_font_description_set_weight(letters->face[i],
                                                  faces[i].bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
        }
        return letters;
}

void kw_letters_free(struct kw_letters *letters)
{
        if (!letters)
                return;
        for (int i = 0; i < KW_FACES; i++)
                pango_font_description_free(letters->face[i]);
        g_object_unref(letters->layout);
        g_object_unref(letters->context);
        free(letters);
}

int kw_pitch(int size)
{
        return size * 6 / 5;
}

int kw_baseline(int size)
{
        return size * 19 / 20;
}

const char *kw_face_family(enum kw_face face)
{
        return faces[face].family;
}

bool kw_face_bold(enum kw_face face)
{
        return faces[face].bold;
}

/* The layout with @text in it, not broken (@width -1) or broken at @width. */
static PangoLayout *set(struct kw_letters *letters, enum kw_face face, int size, const char *text, size_t bytes,
                        int width, PangoWrapMode wrap)
{
        pango_font_description_set_absolute_size(letters->face[face], size * UNITS_PER_UM);
        pango_layout_set_font_description(letters->layout, letters->face[face]);
        pango_layout_set_wrap(letters->layout, wrap);
        pango_layout_set_width(letters->layout, width < 0 ? -1 : (int)(width * UNITS_PER_UM));
        pango_layout_set_text(letters->layout, text, (int)bytes);
        return letters->layout;
}

static int in_um(int units)
{
        return (int)(units / UNITS_PER_UM) + 1;
}

int kw_letters_width(struct kw_letters *letters, enum kw_face face, int size, const char *text, size_t bytes)
{
        int units;

        pango_layout_get_size(set(letters, face, size, text, bytes, -1, PANGO_WRAP_WORD), &units, NULL);
        return in_um(units);
}

int kw_letters_fit(struct kw_letters *letters, enum kw_face face, int most, const char *text, size_t bytes, int width)
{
        int long_um = kw_letters_width(letters, face, most, text, bytes);
        int size = most;

        if (long_um > width)
                size = (int)((int64_t)most * width / long_um);
        while (size > 1 && kw_letters_width(letters, face, size, text, bytes) > width)
                size--;
        return size > 1 ? size : 1;
}

PangoLayoutLine *kw_letters_line(struct kw_letters *letters, enum kw_face face, int size, const char *text)
{
        return pango_layout_get_line_readonly(set(letters, face, size, text, strlen(text), -1, PANGO_WRAP_WORD), 0);
}

/* --- blocks ----------------------------------------------------------------------------------- */

void kw_block_free(struct kw_block *block)
{
        for (int i = 0; i < block->n; i++)
                free(block->lines[i].text);
        block->n = 0;
}

struct part {
        size_t from, bytes;
};

/* A text broken at one size; @too_wide: a word that is longer than the place. */
struct broken {
        struct part parts[KW_BLOCK_LINES + 1];
        int n;
        bool too_wide;
};

static void break_text(struct kw_letters *letters, enum kw_face face, int size, const char *text, int width,
                       PangoWrapMode wrap, struct broken *out)
{
        PangoLayout *layout = set(letters, face, size, text, strlen(text), width, wrap);
        int n = pango_layout_get_line_count(layout);

        out->n = 0;
        out->too_wide = false;
        for (int i = 0; i < n && i <= KW_BLOCK_LINES; i++) {
                PangoLayoutLine *line = pango_layout_get_line_readonly(layout, i);
                size_t from = (size_t)line->start_index, bytes = (size_t)line->length;
                PangoRectangle room;

                while (bytes > 0 && text[from + bytes - 1] == ' ')
                        bytes--;
                pango_layout_line_get_extents(line, NULL, &room);
                out->parts[out->n++] = (struct part){from, bytes};
                out->too_wide |= in_um(room.width) > width + 2;
        }
}

static int keep_line(struct kw_letters *letters, enum kw_face face, const char *text, size_t bytes,
                     struct kw_block *out)
{
        struct kw_line *line = &out->lines[out->n];

        line->text = strndup(text, bytes);
        if (!line->text)
                return -ENOMEM;
        line->width = kw_letters_width(letters, face, out->size, text, bytes);
        out->n++;
        return 0;
}

/* A list is cut after a comma: half a heat number could be taken for a whole one. */
static size_t end_of_whole(const char *text, size_t bytes)
{
        for (size_t i = bytes; i > 1; i--) {
                if (text[i - 1] == ' ' && text[i - 2] == ',')
                        return i;
        }
        return bytes;
}

/* The line that starts at @text and runs on past its place: as many characters as leave room for the ellipsis. */
static int keep_cut(struct kw_letters *letters, enum kw_face face, const char *text, int width, struct kw_block *out)
{
        size_t bytes = strlen(text);
        char *cut = malloc(bytes + sizeof ELLIPSIS);
        int r;

        if (!cut)
                return -ENOMEM;
        memcpy(cut, text, bytes);
        for (;;) {
                while (bytes > 0 && text[bytes - 1] == ' ')
                        bytes--;
                memcpy(cut + bytes, ELLIPSIS, sizeof ELLIPSIS);
                if (bytes == 0 || kw_letters_width(letters, face, out->size, cut, strlen(cut)) <= width)
                        break;
                bytes = (size_t)(g_utf8_prev_char(text + bytes) - text);
        }
        bytes = end_of_whole(text, bytes);
        memcpy(cut + bytes, ELLIPSIS, sizeof ELLIPSIS);
        r = keep_line(letters, face, cut, strlen(cut), out);
        free(cut);
        return r;
}

static int keep_block(struct kw_letters *letters, enum kw_face face, const char *text, const struct broken *broken,
                      int lines, int width, struct kw_block *out)
{
        bool cut = broken->n > lines;

        for (int i = 0; i < broken->n && i < lines; i++) {
                const struct part *part = &broken->parts[i];
                int r = cut && i == lines - 1 ? keep_cut(letters, face, text + part->from, width, out)
                                              : keep_line(letters, face, text + part->from, part->bytes, out);

                if (r < 0) {
                        kw_block_free(out);
                        return r;
                }
        }
        return 0;
}

static int lines_in(int height, int size)
{
        int n = height / kw_pitch(size);

        if (n > KW_BLOCK_LINES)
                return KW_BLOCK_LINES;
        return n > 0 ? n : 1;
}

/* Whether the last line ends with an ellipsis that stands behind anything but a comma: half of a code. */
static bool is_cut_within(const struct kw_block *block)
{
        const char *text = block->n ? block->lines[block->n - 1].text : "";
        size_t n = strlen(text), mark = strlen(ELLIPSIS);

        if (n < mark || strcmp(text + n - mark, ELLIPSIS) != 0)
                return false;
        return n < mark + 2 || strncmp(text + n - mark - 2, ", ", 2) != 0;
}

int kw_letters_block(struct kw_letters *letters, enum kw_face face, const char *text, int most, int least, int width,
                     int height, enum kw_overflow overflow, struct kw_block *out)
{
        struct broken broken;
        int size, step = most / 25 + 1, r;

        *out = (struct kw_block){0};
        for (size = most; size > least; size -= step) {
                break_text(letters, face, size, text, width, PANGO_WRAP_WORD, &broken);
                if (!broken.too_wide && broken.n <= lines_in(height, size))
                        break;
        }
        if (size <= least) {
                size = least;
                break_text(letters, face, size, text, width, PANGO_WRAP_WORD_CHAR, &broken);
        }
        for (int smallest = least / 2;; size -= step) {
                out->size = size;
                r = keep_block(letters, face, text, &broken,
                               overflow == KW_KEEP ? KW_BLOCK_LINES : lines_in(height, size), width, out);
                if (r < 0)
                        return r;
                if (overflow != KW_CUT_LIST || size - step < smallest || !is_cut_within(out))
                        break;
                kw_block_free(out);
                *out = (struct kw_block){0};
                break_text(letters, face, size - step, text, width, PANGO_WRAP_WORD_CHAR, &broken);
        }
        return broken.n > lines_in(height, size);
}
