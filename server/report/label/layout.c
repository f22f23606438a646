/*
 * Laying out one label, from the top: heading, code, Code 128, fields beside the Data Matrix, caution at the foot.
 *
 *      +--------------------------+        +------------------+--+
 *      | Bobbin                   |        | Rope             |==|
 *      | BB-2026-0117             |        | CODE             |--|
 *      | |||||||||||||||||||||||| |        | Heat             |==|   a long code stands along the side
 *      | Heat             +-----+ |        | Size      +----+ |--|
 *      | Size  Grade      |  #  | |        | Grade     | #  | |==|
 *      | Date  By         +-----+ |        | By        +----+ |--|
 *      +--------------------------+        +------------------+--+
 *
 * A label of fixed height shares what is left between the rows; on a roll each row takes what it needs.
 */
#include "form.h"
#include "scene.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define RULE_UM      200
#define FRAME_PAD_UM 700

/* Widths of a module that a printer of 203, 300 or 600 dpi draws evenly enough, widest first; below the last, what
 * fits. */
static const int modules[] = {508, 381, 254};
#define MODULE_GOOD 250
#define MATRIX_STEP 127  /* 1 dot at 203 dpi, 3 at 600 */
#define MATRIX_MOST 1524 /* wider helps no reader */

/* The label at hand, and how far it has been laid out. */
struct pen {
        const struct kw_label *label;
        const struct kw_form *form;
        struct kw_letters *letters;
        struct kw_scene *scene;
        int left, right, y;
        int foot; /* fixed height: where the caution, or the margin, begins; 0 on a roll */
};

/* --- marks ------------------------------------------------------------------------------------ */

static int put_text(struct pen *pen, enum kw_face face, int size, int x, int y, const char *text, int width)
{
        struct kw_mark mark = {.what = KW_MARK_TEXT,
                               .x = x,
                               .y = y,
                               .w = width,
                               .h = kw_pitch(size),
                               .face = face,
                               .size = size,
                               .text = (char *)text};

        return kw_scene_add(pen->scene, &mark);
}

static int put_rule(struct pen *pen, int x, int y, int w, int h)
{
        struct kw_mark mark = {.what = KW_MARK_RULE, .x = x, .y = y, .w = w, .h = h};

        return kw_scene_add(pen->scene, &mark);
}

static int put_block(struct pen *pen, enum kw_face face, int x, int y, const struct kw_block *block)
{
        int r = 0;

        for (int i = 0; !r && i < block->n; i++)
                r = put_text(pen, face, block->size, x, y + i * kw_pitch(block->size), block->lines[i].text,
                             block->lines[i].width);
        return r;
}

/* One line, made smaller down to two thirds and then cut. */
static int put_line(struct pen *pen, enum kw_face face, int size, int x, int y, int width, const char *text)
{
        struct kw_block block;
        int r = kw_letters_block(pen->letters, face, text, size, size * 2 / 3, width, kw_pitch(size * 2 / 3), KW_CUT,
                                 &block);

        if (r < 0)
                return r;
        if (block.size < size && kw_letters_width(pen->letters, face, size, text, strlen(text)) <= width)
                block.size = size;
        r = put_block(pen, face, x, y, &block);
        kw_block_free(&block);
        return r;
}

/* --- heading and code ------------------------------------------------------------------------- */

/* Where a code that is too long for one line is broken: after the mark nearest to its middle, else in the middle. */
static size_t break_of(const char *code)
{
        size_t n = strlen(code), middle = (n + 1) / 2;

        for (size_t d = 0; d < n / 4; d++) {
                if (strchr("-./", code[middle - d - 1]))
                        return middle - d;
                if (middle + d < n && strchr("-./", code[middle + d - 1]))
                        return middle + d;
        }
        return middle;
}

static int put_code_line(struct pen *pen, int size, const char *code, size_t bytes)
{
        char line[64];
        int r;

        memcpy(line, code, bytes);
        line[bytes] = '\0';
        r = put_text(pen, KW_FACE_CODE, size, pen->left, pen->y, line,
                     kw_letters_width(pen->letters, KW_FACE_CODE, size, line, bytes));
        pen->y += kw_pitch(size);
        return r;
}

static int put_code(struct pen *pen)
{
        const char *code = pen->label->code;
        size_t n = strlen(code), first = n;
        int width = pen->right - pen->left;
        int size = kw_letters_fit(pen->letters, KW_FACE_CODE, pen->form->code, code, n, width);
        int r;

        if (size < pen->form->split && n > 1) {
                size_t longer;

                first = break_of(code);
                longer = first > n - first ? first : n - first;
                size = kw_letters_fit(pen->letters, KW_FACE_CODE, pen->form->code * 2 / 3,
                                      first >= n - first ? code : code + first, longer, width);
        }
        r = put_code_line(pen, size, code, first);
        if (!r && first < n)
                r = put_code_line(pen, size, code + first, n - first);
        return r;
}

static int put_heading(struct pen *pen)
{
        int r = put_line(pen, KW_FACE_BOLD, pen->form->head, pen->left, pen->y, pen->right - pen->left,
                         kw_heading_of(pen->label));

        pen->y += kw_pitch(pen->form->head);
        return r ? r : put_code(pen);
}

/* --- Code 128 --------------------------------------------------------------------------------- */

static int module_in(int room, int wide)
{
        int um = room / wide;

        for (size_t i = 0; i < sizeof modules / sizeof *modules; i++) {
                if (um >= modules[i])
                        return modules[i];
        }
        return um;
}

/* Whether Code 128 stands along the label: only where it would be too fine across it. It then takes the right side. */
static int place_bars(struct pen *pen, struct kw_mark *mark)
{
        const struct kw_form *form = pen->form;
        int wide = pen->scene->bars.wide + 2 * KW_BARS_QUIET;
        int module = module_in(pen->scene->width - 2 * form->edge, wide);

        *mark = (struct kw_mark){.what = KW_MARK_SYMBOL, .symbol = &pen->scene->bars};
        if (module < MODULE_GOOD && form->stand > 0) {
                int standing = form->stand / wide, least = modules[sizeof modules / sizeof *modules - 1];

                mark->turned = true;
                mark->module = standing < least ? standing : least;
                mark->w = form->bars;
                mark->h = pen->scene->bars.wide * mark->module;
                mark->x = pen->scene->width - form->margin - form->bars;
                pen->right = mark->x - form->gap;
        } else {
                mark->module = module;
                mark->w = pen->scene->bars.wide * module;
                mark->h = form->bars;
                mark->x = (pen->scene->width - mark->w) / 2;
        }
        return mark->module;
}

static int put_bars(struct pen *pen, struct kw_mark *mark)
{
        if (mark->turned) {
                int middle = (pen->scene->height - mark->h) / 2;

                mark->y = pen->form->edge + KW_BARS_QUIET * mark->module;
                if (pen->scene->height > 0)
                        mark->y = middle;
        } else {
                mark->y = pen->y;
                pen->y += mark->h + pen->form->gap;
        }
        return kw_scene_add(pen->scene, mark);
}

/* --- fields and Data Matrix ------------------------------------------------------------------- */

static int filled(const struct pen *pen, const struct kw_form_row *row)
{
        int n = 0;

        for (int i = 0; i < row->cells; i++)
                n += kw_field_of(pen->label, row->field[i]) != NULL;
        return n;
}

/* One field: caption over value. @height 0: as high as it needs. Sets @height to what was taken. */
static int put_field(struct pen *pen, enum kw_field field, int x, int width, int *height)
{
        const struct kw_form *form = pen->form;
        int top = kw_pitch(form->caption), room = *height - top - 500, most = form->value;
        struct kw_block block;
        int r = put_line(pen, KW_FACE_PLAIN, form->caption, x, pen->y, width, kw_caption_of(pen->label, field));

        if (r)
                return r;
        if (*height == 0)
                room = 4 * kw_pitch(form->value);
        else if (kw_pitch(most) > room)
                most = room * 5 / 6;
        r = kw_letters_block(pen->letters, KW_FACE_BOLD, kw_field_of(pen->label, field), most,
                             form->value_least < most ? form->value_least : most, width, room, KW_CUT, &block);
        if (r < 0)
                return r;
        if (*height == 0)
                *height = top + block.n * kw_pitch(block.size) + 500;
        r = put_block(pen, KW_FACE_BOLD, x, pen->y + top, &block);
        kw_block_free(&block);
        return r;
}

static int put_row(struct pen *pen, const struct kw_form_row *row, int right, int height)
{
        int n = filled(pen, row), gap = 2 * pen->form->gap, x = pen->left, taken = height;
        int width = n ? (right - pen->left - (n - 1) * gap) / n : 0;

        for (int i = 0; i < row->cells; i++) {
                int high = height, r;

                if (!kw_field_of(pen->label, row->field[i]))
                        continue;
                r = put_field(pen, row->field[i], x, width, &high);
                if (r)
                        return r;
                x += width + gap;
                taken = high > taken ? high : taken;
        }
        pen->y += taken;
        return 0;
}

static int matrix_module(const struct pen *pen, int side)
{
        int module = side / (pen->scene->matrix.wide + 2 * KW_MATRIX_QUIET);

        if (module > MATRIX_MOST)
                module = MATRIX_MOST;
        return module >= 4 * MATRIX_STEP ? module / MATRIX_STEP * MATRIX_STEP : module;
}

/* The Data Matrix with the corner of its quiet zone at the right and at @y. */
static int put_matrix(struct pen *pen, int module, int y)
{
        const struct kw_symbol *matrix = &pen->scene->matrix;
        int wide = matrix->wide * module, quiet = KW_MATRIX_QUIET * module;
        struct kw_mark mark = {.what = KW_MARK_SYMBOL,
                               .symbol = matrix,
                               .module = module,
                               .w = wide,
                               .h = wide,
                               .x = pen->right - quiet - wide,
                               .y = y + quiet};

        return kw_scene_add(pen->scene, &mark);
}

/* The rows of @form that have something, before or beside the Data Matrix: how many. */
static int rows_of(const struct pen *pen, bool beside)
{
        int n = 0;

        for (int i = 0; i < pen->form->rows; i++)
                n += pen->form->row_of[i].beside == beside && filled(pen, &pen->form->row_of[i]) > 0;
        return n;
}

/* Fixed height: the rows share what is left above the foot; the Data Matrix stands in the corner above it. */
static int put_fields_fixed(struct pen *pen)
{
        const struct kw_form *form = pen->form;
        int above = rows_of(pen, false), n = above + rows_of(pen, true), room = pen->foot - pen->y;
        int height = n && room / n < form->row ? room / n : form->row;
        int side = room - above * height, module, taken, r = 0;

        if (side > form->matrix)
                side = form->matrix;
        if (side > (pen->right - pen->left) / 2)
                side = (pen->right - pen->left) / 2;
        module = matrix_module(pen, side);
        taken = module * (pen->scene->matrix.wide + 2 * KW_MATRIX_QUIET);
        for (int i = 0; !r && i < form->rows; i++) {
                const struct kw_form_row *row = &form->row_of[i];

                if (filled(pen, row))
                        r = put_row(pen, row, row->beside ? pen->right - taken - form->gap : pen->right, height);
        }
        return r ? r : put_matrix(pen, module, pen->foot - taken);
}

/* A roll: each row as high as it needs, the Data Matrix beside those that leave room for it. */
static int put_fields_roll(struct pen *pen)
{
        const struct kw_form *form = pen->form;
        int module = matrix_module(pen, form->matrix), top = -1, r = 0;
        int taken = module * (pen->scene->matrix.wide + 2 * KW_MATRIX_QUIET);

        for (int i = 0; !r && i < form->rows; i++) {
                const struct kw_form_row *row = &form->row_of[i];
                bool last = i + 1 == form->rows || !form->row_of[i + 1].beside;

                if (row->beside && top < 0)
                        top = pen->y;
                if (filled(pen, row))
                        r = put_row(pen, row, row->beside ? pen->right - taken - form->gap : pen->right, 0);
                if (r || !row->beside || !last)
                        continue;
                r = put_matrix(pen, module, top);
                if (pen->y < top + taken + 500)
                        pen->y = top + taken + 500;
        }
        return r;
}

/* --- caution ---------------------------------------------------------------------------------- */

static const char *const *caution_of(const struct kw_label *label)
{
        bool given = label->caution && label->caution[0];

        if (given)
                return label->caution;
        return label->what == KW_LABEL_REEL ? kw_label_caution : NULL;
}

/* The caution's lines as one text, each a paragraph. */
static char *caution_text(const char *const *lines)
{
        size_t n = 1;
        char *text, *end;

        for (size_t i = 0; lines[i]; i++)
                n += strlen(lines[i]) + 1;
        text = end = malloc(n);
        if (!text)
                return NULL;
        *text = '\0';
        for (size_t i = 0; lines[i]; i++) {
                if (i)
                        end = stpcpy(end, "\n");
                end = stpcpy(end, lines[i]);
        }
        return text;
}

static int put_frame(struct pen *pen, int y, int height)
{
        int wide = pen->right - pen->left;
        int r = put_rule(pen, pen->left, y, wide, RULE_UM);

        if (!r)
                r = put_rule(pen, pen->left, y + height - RULE_UM, wide, RULE_UM);
        if (!r)
                r = put_rule(pen, pen->left, y + RULE_UM, RULE_UM, height - 2 * RULE_UM);
        if (!r)
                r = put_rule(pen, pen->right - RULE_UM, y + RULE_UM, RULE_UM, height - 2 * RULE_UM);
        return r;
}

/* Broken into lines and, on a label of fixed height, given its place at the foot. */
static int measure_caution(struct pen *pen, size_t at, struct kw_block *block, struct kw_error *err)
{
        const struct kw_form *form = pen->form;
        const char *const *lines = caution_of(pen->label);
        int inside = pen->right - pen->left - 2 * (FRAME_PAD_UM + RULE_UM), r;
        char pointer[64];
        char *text;

        *block = (struct kw_block){0};
        if (!lines)
                return 0;
        text = caution_text(lines);
        if (!text)
                return -ENOMEM;
        r = kw_letters_block(pen->letters, KW_FACE_PLAIN, text, form->caution, form->caution_least, inside,
                             form->caution_room - 2 * (FRAME_PAD_UM + RULE_UM), KW_KEEP, block);
        free(text);
        if (r < 0)
                return r;
        if (r > 0) {
                kw_block_free(block);
                snprintf(pointer, sizeof pointer, "/%zu/caution", at);
                return kw_refuse(err, KW_OUT_OF_RANGE, pointer, "the caution is too long for a label of this size");
        }
        return 0;
}

static int caution_height(const struct kw_block *block)
{
        return block->n ? block->n * kw_pitch(block->size) + 2 * (FRAME_PAD_UM + RULE_UM) : 0;
}

static int put_caution(struct pen *pen, const struct kw_block *block)
{
        int inset = FRAME_PAD_UM + RULE_UM;
        int r;

        if (block->n == 0)
                return 0;
        r = put_frame(pen, pen->y, caution_height(block));
        if (!r)
                r = put_block(pen, KW_FACE_PLAIN, pen->left + inset, pen->y + inset, block);
        pen->y += caution_height(block);
        return r;
}

/* --- the whole -------------------------------------------------------------------------------- */

static int lay_out(struct pen *pen, const struct kw_block *caution)
{
        const struct kw_form *form = pen->form;
        int fixed = pen->scene->height, foot = fixed - form->margin - caution_height(caution), r;
        struct kw_mark bars;

        place_bars(pen, &bars);
        r = put_heading(pen);
        if (!r)
                r = put_bars(pen, &bars);
        if (!r)
                r = put_rule(pen, pen->left, pen->y, pen->right - pen->left, RULE_UM);
        pen->y += RULE_UM + form->gap;
        if (!r && fixed) {
                pen->foot = caution->n ? foot - form->gap : foot;
                r = put_fields_fixed(pen);
                pen->y = foot;
        } else if (!r) {
                r = put_fields_roll(pen);
                pen->y += form->gap;
        }
        if (!r)
                r = put_caution(pen, caution);
        if (!r && !fixed) {
                int bars_end = bars.turned ? bars.y + bars.h + KW_BARS_QUIET * bars.module + form->edge : 0;

                pen->scene->height = pen->y + form->margin > bars_end ? pen->y + form->margin : bars_end;
        }
        return r;
}

int kw_scene_make(const struct kw_label *label, enum kw_label_size size, size_t at, struct kw_letters *letters,
                  struct kw_scene *out, struct kw_error *err)
{
        const struct kw_label_size_row *row = kw_label_size_row(size);
        const struct kw_form *form = kw_form_of(size);
        struct pen pen = {.label = label,
                          .form = form,
                          .letters = letters,
                          .scene = out,
                          .left = form->margin,
                          .right = row->width_um - form->margin,
                          .y = form->margin};
        struct kw_block caution = {0};
        struct kw_mark bars;
        int r;

        *out = (struct kw_scene){.width = row->width_um, .height = row->height_um};
        r = kw_symbol_bars(label->code, &out->bars);
        if (!r)
                r = kw_symbol_matrix(label->code, &out->matrix);
        if (!r) {
                place_bars(&pen, &bars); /* a standing code narrows the column that the caution is broken to */
                r = measure_caution(&pen, at, &caution, err);
        }
        if (!r)
                r = lay_out(&pen, &caution);
        kw_block_free(&caution);
        if (r)
                kw_scene_free(out);
        return r;
}
