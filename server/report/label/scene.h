#ifndef KW_REPORT_LABEL_SCENE_H
#define KW_REPORT_LABEL_SCENE_H
/*
 * A label laid out: every mark with its place, the same for SVG and PDF. Lengths are um, from the top left corner.
 */
#include "kinwire/label.h"
#include "letters.h"
#include "symbol.h"

enum kw_mark_what { KW_MARK_TEXT, KW_MARK_SYMBOL, KW_MARK_RULE };

/**
 * struct kw_mark - one mark
 * @x, @y, @w, @h: its box; a text's is its line, as long as it was measured
 * text:   @face, @size, @text (the scene's own); its baseline is kw_baseline(size) below @y
 * symbol: @symbol (the scene's own), @module; @turned: its first bar is at the top, not at the left
 * rule:   a dark box
 */
struct kw_mark {
        enum kw_mark_what what;
        int x, y, w, h;
        enum kw_face face;
        int size;
        char *text;
        const struct kw_symbol *symbol;
        int module;
        bool turned;
};

struct kw_scene {
        int width, height;
        size_t n, cap;
        struct kw_mark *marks;
        struct kw_symbol bars, matrix;
};

/**
 * kw_label_check - whether a label's texts can be printed
 * @at: its number in the list, for the pointer
 *
 * Return: 0; KW_BAD_CODE, KW_BAD_VALUE, KW_MISSING.
 */
int kw_label_check(const struct kw_label *label, size_t at, struct kw_error *err);
/** kw_labels_check - the list as a whole, and each label in it */
int kw_labels_check(const struct kw_label *labels, size_t n, struct kw_error *err);

/**
 * kw_scene_make - lay out a label that has passed kw_label_check()
 * @out: for the caller to kw_scene_free(), when 0 is returned
 *
 * Return: 0; KW_OUT_OF_RANGE when the caution does not fit; -ENOMEM; -EIO.
 */
int kw_scene_make(const struct kw_label *label, enum kw_label_size size, size_t at, struct kw_letters *letters,
                  struct kw_scene *out, struct kw_error *err);
void kw_scene_free(struct kw_scene *scene);

/** kw_scene_add - one more mark; @text is copied. Return: 0; -ENOMEM. */
int kw_scene_add(struct kw_scene *scene, const struct kw_mark *mark);

#endif
