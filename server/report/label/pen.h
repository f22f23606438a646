#ifndef KW_REPORT_LABEL_PEN_H
#define KW_REPORT_LABEL_PEN_H
/*
 * The pen: the label at hand and how far down it has been laid out. Each part of a label is put by a file of its own,
 * which moves the pen below what it has put. All of them return 0, -ENOMEM or -EIO.
 */
#include "form.h"
#include "scene.h"

#define RULE_UM      200 /* thickness of a line */
#define FRAME_PAD_UM 700 /* between a frame's line and what is in it */

/*
 * Widths of a module that come out even on printers of 8, 12 and 24 dots/mm ("203", "300" and "600 dpi") are multiples
 * of this; a symbol begins on the same grid, or its edges would fall between two dots.
 */
#define GRID_UM 250

/** @foot: on a label of fixed height, where the fields end */
struct pen {
        const struct kw_label *label;
        const struct kw_form *form;
        struct kw_letters *letters;
        struct kw_scene *scene;
        int left, right, y, foot;
};

/* pen.c: single marks; they leave the pen where it is */
int kw_pen_text(struct pen *pen, enum kw_face face, int size, int x, int y, const char *text, int width);
int kw_pen_rule(struct pen *pen, int x, int y, int w, int h);
int kw_pen_block(struct pen *pen, enum kw_face face, int x, int y, const struct kw_block *block);
/** kw_pen_line - one line, made smaller down to two thirds and then cut */
int kw_pen_line(struct pen *pen, enum kw_face face, int size, int x, int y, int width, const char *text);

/** kw_pen_frame - a frame over the column's width */
int kw_pen_frame(struct pen *pen, int y, int height);

/* warning.c: why the thing may not be used, framed; nothing where there is no reason. kw_put_heading() puts it. */
int kw_put_warning(struct pen *pen);

/* heading.c: the kind, and the code in large letters */
int kw_put_heading(struct pen *pen);
/** kw_heading_width - how wide the kind is: the column, or at most half of it where a warning stands beside it */
int kw_heading_width(const struct pen *pen);

/* bars.c */
/** kw_place_bars - how Code 128 lies; where it stands along the label, the pen's column becomes narrower */
void kw_place_bars(struct pen *pen, struct kw_mark *mark);
int kw_put_bars(struct pen *pen, struct kw_mark *mark);
/** kw_matrix_module - the module of a Data Matrix no wider than @side with its quiet zone; kw_matrix_side - that width
 */
int kw_matrix_module(const struct pen *pen, int side);
int kw_matrix_side(const struct pen *pen, int module);
/** kw_put_matrix - the Data Matrix at the right of the column, its quiet zone beginning at @y */
int kw_put_matrix(struct pen *pen, int module, int y);

/* fields.c: captions and values, and the Data Matrix beside them */
int kw_put_fields(struct pen *pen);

/* caution.c */
/** kw_measure_caution - break it into lines; KW_OUT_OF_RANGE when it has no room. @block is empty when there is none.
 */
int kw_measure_caution(struct pen *pen, size_t at, struct kw_block *block, struct kw_error *err);
int kw_caution_height(const struct kw_block *block);
int kw_put_caution(struct pen *pen, const struct kw_block *block);

#endif
