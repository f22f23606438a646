/*
 * Laying out one label, from the top: heading, code, a warning where there is one, Code 128, fields beside the Data
 * Matrix, caution at the foot.
 *
 *      +--------------------------+        +------------------+--+
 *      | Bobbin                   |        | Reel             |==|
 *      | BB-2026-0117             |        | LONG-CODE-       |--|
 *      | |||||||||||||||||||||||| |        | IN-TWO-LINES     |==|   a long code stands along the side
 *      | Heat             +-----+ |        | Heat      +----+ |--|
 *      | Size  Grade      |  #  | |        | Size      | #  | |==|
 *      | Date  By         +-----+ |        | Date  By  +----+ |--|
 *      +--------------------------+        +------------------+--+
 *
 * A label of fixed height shares what is left between the rows; on a roll each row takes what it needs.
 */
#include "pen.h"

/* A roll is cut at whole millimetres. */
static int roll_height(const struct pen *pen, const struct kw_mark *bars)
{
        int end = pen->y + pen->form->margin;
        int bars_end = bars->y + bars->h + KW_BARS_QUIET * bars->module + pen->form->edge;

        if (bars->turned && bars_end > end)
                end = bars_end;
        return (end + 999) / 1000 * 1000;
}

static int lay_out(struct pen *pen, const struct kw_block *caution)
{
        const struct kw_form *form = pen->form;
        int fixed = pen->scene->height, foot = fixed - form->margin - kw_caution_height(caution), r;
        struct kw_mark bars;

        kw_place_bars(pen, &bars);
        r = kw_put_heading(pen);
        if (!r)
                r = kw_put_bars(pen, &bars);
        if (!r)
                r = kw_pen_rule(pen, pen->left, pen->y, pen->right - pen->left, RULE_UM);
        pen->y += RULE_UM + form->gap;
        if (fixed)
                pen->foot = caution->n ? foot - form->gap : foot;
        if (!r)
                r = kw_put_fields(pen);
        pen->y = fixed ? foot : pen->y + form->gap;
        if (!r)
                r = kw_put_caution(pen, caution);
        if (!fixed)
                pen->scene->height = roll_height(pen, &bars);
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
                kw_place_bars(&pen, &bars); /* a standing code narrows the column that the caution is broken to */
                r = kw_measure_caution(&pen, at, &caution, err);
        }
        if (!r)
                r = lay_out(&pen, &caution);
        kw_block_free(&caution);
        if (r)
                kw_scene_free(out);
        return r;
}
