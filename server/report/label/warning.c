/*
 * The warning: what stands against using, sending or relying on the thing when its label is printed. It stands right
 * below the code, where nobody who reads the label passes it by; on the smallest form, which has no room for more
 * lines, at the right of the heading.
 */
#include "pen.h"

int kw_put_warning(struct pen *pen)
{
        const struct kw_form *form = pen->form;
        const char *text = pen->label->warning;
        int inset = FRAME_PAD_UM + RULE_UM, left = pen->left, height, r;
        struct kw_block block;

        if (!text || !*text)
                return 0;
        if (form->warning == 1)
                pen->left += kw_heading_width(pen) + form->gap;
        r = kw_letters_block(pen->letters, KW_FACE_BOLD, text, form->head, form->head * 2 / 3,
                             pen->right - pen->left - 2 * inset, form->warning * kw_pitch(form->head), KW_CUT, &block);
        if (r < 0)
                return r;
        height = block.n * kw_pitch(block.size) + 2 * inset;
        r = kw_pen_frame(pen, pen->y, height);
        if (!r)
                r = kw_pen_block(pen, KW_FACE_BOLD, pen->left + inset, pen->y + inset, &block);
        kw_block_free(&block);
        pen->left = left;
        pen->y += height + form->gap / 2;
        return r;
}
