#ifndef KW_REPORT_LABEL_FORM_H
#define KW_REPORT_LABEL_FORM_H
/*
 * The forms: how each size of label divides its room. All lengths in um; fonts by their em.
 */
#include "kinwire/label.h"

/* Fields in the order of kw_field_of(). */
enum kw_field {
        KW_FIELD_ROPE,
        KW_FIELD_HEAT,
        KW_FIELD_SIZE,
        KW_FIELD_GRADE,
        KW_FIELD_LENGTH,
        KW_FIELD_DATE,
        KW_FIELD_WHO
};

#define KW_FORM_ROWS  8
#define KW_FORM_CELLS 3

/** A field's place in its row, and how much of the row it gets */
struct kw_form_cell {
        enum kw_field field;
        int span;
};

struct kw_form_row {
        int cells;
        struct kw_form_cell cell[KW_FORM_CELLS];
};

/**
 * struct kw_form
 * @margin:   clear at each side
 * @edge:     least distance of Code 128's quiet zone from the label's edge
 * @stand:    room for Code 128 when it stands along the label, 0: it can't
 * @bars:     how high its bars are
 * @matrix:   side of the Data Matrix at most, with its quiet zone
 * @head, @code, @caption, @value, @caution: sizes of letters at most; *_least: at least
 * @split:    below this size the code is set in two lines
 * @row:      height of a row of fields at most (a roll's rows are as high as they need)
 * @caution_room: height of the caution at most
 * @warning:  lines of a warning at most
 * @above:    so many rows stand above the Data Matrix, the others beside it
 */
struct kw_form {
        int margin, edge, gap;
        int stand, bars, matrix;
        int head, code, split, caption, value, value_least, row;
        int caution, caution_least, caution_room;
        int warning;
        int rows, above;
        struct kw_form_row row_of[KW_FORM_ROWS];
};

const struct kw_form *kw_form_of(enum kw_label_size size);

/** kw_field_of - a field's text, NULL when it is left off; and its caption */
const char *kw_field_of(const struct kw_label *label, enum kw_field field);
const char *kw_caption_of(const struct kw_label *label, enum kw_field field);
/** kw_heading_of - the kind, or the word for what the label is stuck on */
const char *kw_heading_of(const struct kw_label *label);

#endif
