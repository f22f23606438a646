/*
 * Single marks: a text, a block of lines, a rule.
 */
#include "pen.h"

#include <string.h>

int kw_pen_text(struct pen *pen, enum kw_face face, int size, int x, int y, const char *text, int width)
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

int kw_pen_rule(struct pen *pen, int x, int y, int w, int h)
{
        struct kw_mark mark = {.what = KW_MARK_RULE, .x = x, .y = y, .w = w, .h = h};

        return kw_scene_add(pen->scene, &mark);
}

int kw_pen_block(struct pen *pen, enum kw_face face, int x, int y, const struct kw_block *block)
{
        int r = 0;

        for (int i = 0; !r && i < block->n; i++)
                r = kw_pen_text(pen, face, block->size, x, y + i * kw_pitch(block->size), block->lines[i].text,
                                block->lines[i].width);
        return r;
}

/* One line, made smaller down to two thirds and then cut. */
int kw_pen_line(struct pen *pen, enum kw_face face, int size, int x, int y, int width, const char *text)
{
        struct kw_block block;
        int r = kw_letters_block(pen->letters, face, text, size, size * 2 / 3, width, kw_pitch(size), KW_CUT, &block);

        if (r < 0)
                return r;
        r = kw_pen_block(pen, face, x, y, &block);
        kw_block_free(&block);
        return r;
}

int kw_pen_frame(struct pen *pen, int y, int height)
{
        int wide = pen->right - pen->left;
        int r = kw_pen_rule(pen, pen->left, y, wide, RULE_UM);

        if (!r)
                r = kw_pen_rule(pen, pen->left, y + height - RULE_UM, wide, RULE_UM);
        if (!r)
                r = kw_pen_rule(pen, pen->left, y + RULE_UM, RULE_UM, height - 2 * RULE_UM);
        if (!r)
                r = kw_pen_rule(pen, pen->right - RULE_UM, y + RULE_UM, RULE_UM, height - 2 * RULE_UM);
        return r;
}
