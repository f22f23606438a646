/*
 * Labels as SVG.
 *
 * A user unit is 10 um: fonts then have sizes of some hundred units, which every viewer sets well (some keep to whole
 * units, some cap a font at 10 000). A symbol is one path inside an <svg> whose unit is the module, so its figures are
 * the encoder's own and neighbouring rectangles leave no seam.
 */
#include "scene.h"

#include <errno.h>
#include <string.h>

#define BETWEEN_UM 4000 /* from one label to the next */

static void put_escaped(struct kw_buf *out, const char *text)
{
        for (const char *c = text; *c; c++) {
                switch (*c) {
                case '&':
                        kw_buf_text_add(out, "&amp;");
                        break;
                case '<':
                        kw_buf_text_add(out, "&lt;");
                        break;
                case '>':
                        kw_buf_text_add(out, "&gt;");
                        break;
                case '"':
                        kw_buf_text_add(out, "&quot;");
                        break;
                case '\'':
                        kw_buf_text_add(out, "&#39;");
                        break;
                default:
                        kw_buf_add(out, c, 1);
                }
        }
}

/* @um in user units, exactly: one digit after the point where there is one. */
static void put_length(struct kw_buf *out, const char *name, int um)
{
        if (um % 10)
                kw_buf_printf(out, " %s=\"%d.%d\"", name, um / 10, um % 10);
        else
                kw_buf_printf(out, " %s=\"%d\"", name, um / 10);
}

static void put_text(struct kw_buf *out, const struct kw_mark *mark)
{
        static const char *const class_of[KW_FACES] = {"p", "b", "c"};

        kw_buf_printf(out, "<text class=\"%s\"", class_of[mark->face]);
        put_length(out, "x", mark->x);
        put_length(out, "y", mark->y + kw_baseline(mark->size));
        put_length(out, "font-size", mark->size);
        put_length(out, "textLength", mark->w);
        kw_buf_text_add(out, " lengthAdjust=\"spacingAndGlyphs\">");
        put_escaped(out, mark->text);
        kw_buf_text_add(out, "</text>\n");
}

/* Code 128 is one module high and stretched to its box; standing, its modules run downwards. */
static void put_symbol(struct kw_buf *out, const struct kw_mark *mark)
{
        const struct kw_symbol *symbol = mark->symbol;

        kw_buf_text_add(out, "<svg");
        put_length(out, "x", mark->x);
        put_length(out, "y", mark->y);
        put_length(out, "width", mark->w);
        put_length(out, "height", mark->h);
        kw_buf_printf(out, " viewBox=\"0 0 %d %d\" preserveAspectRatio=\"none\"><path d=\"",
                      mark->turned ? symbol->high : symbol->wide, mark->turned ? symbol->wide : symbol->high);
        for (size_t i = 0; i < symbol->n; i++) {
                const struct kw_symbol_rect *r = &symbol->rects[i];

                if (mark->turned)
                        kw_buf_printf(out, "M%d %dh%dv%dh%dz", r->y, r->x, r->h, r->w, -r->h);
                else
                        kw_buf_printf(out, "M%d %dh%dv%dh%dz", r->x, r->y, r->w, r->h, -r->w);
        }
        kw_buf_text_add(out, "\"/></svg>\n");
}

static void put_rule(struct kw_buf *out, const struct kw_mark *mark)
{
        kw_buf_text_add(out, "<rect");
        put_length(out, "x", mark->x);
        put_length(out, "y", mark->y);
        put_length(out, "width", mark->w);
        put_length(out, "height", mark->h);
        kw_buf_text_add(out, "/>\n");
}

static void put_scene(struct kw_buf *out, const struct kw_scene *scene)
{
        kw_buf_text_add(out, "<rect fill=\"#fff\"");
        put_length(out, "width", scene->width);
        put_length(out, "height", scene->height);
        kw_buf_text_add(out, "/>\n");
        for (size_t i = 0; i < scene->n; i++) {
                const struct kw_mark *mark = &scene->marks[i];

                switch (mark->what) {
                case KW_MARK_TEXT:
                        put_text(out, mark);
                        break;
                case KW_MARK_SYMBOL:
                        put_symbol(out, mark);
                        break;
                case KW_MARK_RULE:
                        put_rule(out, mark);
                        break;
                }
        }
}

/* Attributes rather than a style sheet: a page that forbids inline styles shows the label all the same. */
static void put_root(struct kw_buf *out, int width, int height)
{
        kw_buf_text_add(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" xml:space=\"preserve\"");
        kw_buf_printf(out, " width=\"%d.%03dmm\" height=\"%d.%03dmm\"", width / 1000, width % 1000, height / 1000,
                      height % 1000);
        kw_buf_printf(out, " viewBox=\"0 0 %d.%d %d.%d\">\n", width / 10, width % 10, height / 10, height % 10);
}
