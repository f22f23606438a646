/*
 * The caution at the foot, in a frame. It is never cut: a label that has no room for it is refused.
 */
#include "pen.h"

#include "kinwire/certify.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const *caution_of(const struct kw_label *label)
{
        bool given = label->caution && label->caution[0];

        if (given)
                return label->caution;
        return label->what == KW_LABEL_REEL ? kw_rope_caution : NULL;
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

/* Broken into lines and, on a label of fixed height, given its place at the foot. */
int kw_measure_caution(struct pen *pen, size_t at, struct kw_block *block, struct kw_error *err)
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

int kw_caution_height(const struct kw_block *block)
{
        return block->n ? block->n * kw_pitch(block->size) + 2 * (FRAME_PAD_UM + RULE_UM) : 0;
}

int kw_put_caution(struct pen *pen, const struct kw_block *block)
{
        int inset = FRAME_PAD_UM + RULE_UM;
        int r;

        if (block->n == 0)
                return 0;
        r = kw_pen_frame(pen, pen->y, kw_caution_height(block));
        if (!r)
                r = kw_pen_block(pen, KW_FACE_PLAIN, pen->left + inset, pen->y + inset, block);
        pen->y += kw_caution_height(block);
        return r;
}
