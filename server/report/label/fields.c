/*
 * Fields: a caption and a value each, in rows, with the Data Matrix at their right.
 */
#include "pen.h"

/* How many spans of a row are taken; 0: it is left off. */
static int filled(const struct pen *pen, const struct kw_form_row *row)
{
        int spans = 0;

        for (int i = 0; i < row->cells; i++)
                spans += kw_field_of(pen->label, row->cell[i].field) ? row->cell[i].span : 0;
        return spans;
}

/* One field: caption over value. @height 0: as high as it needs. Sets @height to what was taken. */
static int put_field(struct pen *pen, enum kw_field field, int x, int width, int *height)
{
        const struct kw_form *form = pen->form;
        int top = kw_pitch(form->caption), room = *height - top - 500, most = form->value;
        struct kw_block block;
        int r = kw_pen_line(pen, KW_FACE_PLAIN, form->caption, x, pen->y, width, kw_caption_of(pen->label, field));

        if (r)
                return r;
        if (*height == 0)
                room = (field == KW_FIELD_HEAT ? 4 : 2) * kw_pitch(form->value);
        else if (kw_pitch(most) > room)
                most = room * 5 / 6;
        r = kw_letters_block(pen->letters, KW_FACE_BOLD, kw_field_of(pen->label, field), most,
                             form->value_least < most ? form->value_least : most, width, room, KW_CUT_LIST, &block);
        if (r < 0)
                return r;
        if (*height == 0)
                *height = top + block.n * kw_pitch(block.size) + 500;
        r = kw_pen_block(pen, KW_FACE_BOLD, x, pen->y + top, &block);
        kw_block_free(&block);
        return r;
}

/* The cells share the row by their spans; one that is left off leaves its room to the others. */
static int put_row(struct pen *pen, const struct kw_form_row *row, int right, int height)
{
        int spans = filled(pen, row), gap = 2 * pen->form->gap, x = pen->left, taken = height;
        int unit = spans ? (right - pen->left - (spans - 1) * gap) / spans : 0;

        for (int i = 0; i < row->cells; i++) {
                const struct kw_form_cell *cell = &row->cell[i];
                int width = cell->span * unit + (cell->span - 1) * gap, high = height, r;

                if (!kw_field_of(pen->label, cell->field))
                        continue;
                r = put_field(pen, cell->field, x, width, &high);
                if (r)
                        return r;
                x += width + gap;
                taken = high > taken ? high : taken;
        }
        pen->y += taken;
        return 0;
}

/* How many of the first @rows rows have something. */
static int rows_filled(const struct pen *pen, int rows)
{
        int n = 0;

        for (int i = 0; i < rows; i++)
                n += filled(pen, &pen->form->row_of[i]) > 0;
        return n;
}

/* How rows and Data Matrix share the room; @height 0: each row takes what it needs, as on a roll. */
struct share {
        int height, module, side;
};

static struct share share_of(const struct pen *pen)
{
        const struct kw_form *form = pen->form;
        int n = rows_filled(pen, form->rows), half = (pen->right - pen->left) / 2;
        int most = form->matrix < half ? form->matrix : half;
        struct share share = {0};

        if (pen->foot > 0) {
                int room = pen->foot - pen->y, below;

                share.height = n && room / n < form->row ? room / n : form->row;
                below = room - rows_filled(pen, form->above) * share.height - GRID_UM;
                most = below < most ? below : most;
        }
        share.module = kw_matrix_module(pen, most);
        share.side = kw_matrix_side(pen, share.module);
        return share;
}

/* The first rows have the whole width; those that follow leave room for the Data Matrix as far as it reaches. */
int kw_put_fields(struct pen *pen)
{
        const struct kw_form *form = pen->form;
        struct share share = share_of(pen);
        int top = 0, end = 0, r = 0;

        for (int i = 0; !r && i < form->rows; i++) {
                if (i == form->above) {
                        top = (pen->y + GRID_UM - 1) / GRID_UM * GRID_UM;
                        end = top + share.side;
                }
                if (filled(pen, &form->row_of[i]))
                        r = put_row(pen, &form->row_of[i],
                                    pen->y < end ? pen->right - share.side - form->gap : pen->right, share.height);
        }
        if (!r)
                r = kw_put_matrix(pen, share.module, top);
        if (pen->y < end)
                pen->y = end;
        return r;
}
