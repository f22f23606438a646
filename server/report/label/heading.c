/*
 * The head of a label: what it is stuck on, and its code in large letters, whole whatever its length.
 */
#include "pen.h"

#include <string.h>

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
        r = kw_pen_text(pen, KW_FACE_CODE, size, pen->left, pen->y, line,
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
        pen->y += pen->form->gap / 2;
        return r;
}

static bool beside(const struct pen *pen)
{
        return pen->form->warning == 1 && pen->label->warning && *pen->label->warning;
}

int kw_heading_width(const struct pen *pen)
{
        const char *text = kw_heading_of(pen->label);
        int column = pen->right - pen->left, width;

        if (!beside(pen))
                return column;
        width = kw_letters_width(pen->letters, KW_FACE_BOLD, pen->form->head, text, strlen(text)) + pen->form->gap;
        return width < column / 2 ? width : column / 2;
}

int kw_put_heading(struct pen *pen)
{
        int top = pen->y, r;

        r = kw_pen_line(pen, KW_FACE_BOLD, pen->form->head, pen->left, top, kw_heading_width(pen),
                        kw_heading_of(pen->label));
        if (!r && beside(pen))
                r = kw_put_warning(pen);
        if (pen->y < top + kw_pitch(pen->form->head))
                pen->y = top + kw_pitch(pen->form->head);
        if (!r)
                r = put_code(pen);
        return !r && !beside(pen) ? kw_put_warning(pen) : r;
}
