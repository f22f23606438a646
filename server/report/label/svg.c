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
        kw_buf_printf(out, "<text font-family=\"%s\" font-weight=\"%s\"", kw_face_family(mark->face),
                      kw_face_bold(mark->face) ? "bold" : "normal");
        put_length(out, "x", mark->x);
        put_length(out, "y", mark->y + kw_baseline(mark->size));
        put_length(out, "font-size", mark->size);
        put_length(out, "textLength", mark->w);
        kw_buf_text_add(out, " lengthAdjust=\"spacingAndGlyphs\">");
        put_escaped(out, mark->text);
        kw_buf_text_add(out, "</text>\n");
}

/* Bars are a module high and stretched to the symbol's box; standing, they follow one another downwards. */
static void put_bar(struct kw_buf *out, const struct kw_symbol_rect *bar, bool turned)
{
        int rest = 100 - 2 * KW_BARS_SHY;

        if (turned)
                kw_buf_printf(out, "M0 %d.%02dv%d.%02dh1v-%d.%02dz", bar->x, KW_BARS_SHY, bar->w - 1, rest, bar->w - 1,
                              rest);
        else
                kw_buf_printf(out, "M%d.%02d 0h%d.%02dv1h-%d.%02dz", bar->x, KW_BARS_SHY, bar->w - 1, rest, bar->w - 1,
                              rest);
}

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

                if (symbol->high == 1)
                        put_bar(out, r, mark->turned);
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

/* One label inside a document of several, @top below its beginning. */
static void put_nested(struct kw_buf *out, const struct kw_scene *scene, size_t number, int top)
{
        kw_buf_printf(out, "<view id=\"page-%zu\" viewBox=\"0 %d.%d %d.%d %d.%d\"/>\n", number, top / 10, top % 10,
                      scene->width / 10, scene->width % 10, scene->height / 10, scene->height % 10);
        kw_buf_printf(out, "<svg id=\"label-%zu\"", number);
        put_length(out, "y", top);
        put_length(out, "width", scene->width);
        put_length(out, "height", scene->height);
        kw_buf_text_add(out, ">\n");
        put_scene(out, scene);
        kw_buf_text_add(out, "</svg>\n");
}

/* Titles are read out by a screen reader; a code needs no escaping. */
static void put_title(struct kw_buf *out, const struct kw_label *labels, size_t n)
{
        kw_buf_text_add(out, "<title>");
        for (size_t i = 0; i < n; i++)
                kw_buf_printf(out, "%s%s", i ? ", " : "", labels[i].code);
        kw_buf_text_add(out, "</title>\n");
}

/* All labels are drawn into @body first: the document's height is known only then. */
static int draw_all(const struct kw_label *labels, size_t n, enum kw_label_size size, struct kw_letters *letters,
                    struct kw_buf *body, int *height, struct kw_error *err)
{
        for (size_t i = 0; i < n; i++) {
                struct kw_scene scene;
                int r = kw_scene_make(&labels[i], size, i, letters, &scene, err);

                if (r)
                        return r;
                if (n == 1)
                        put_scene(body, &scene);
                else
                        put_nested(body, &scene, i + 1, *height ? *height + BETWEEN_UM : 0);
                *height += scene.height + (*height ? BETWEEN_UM : 0);
                kw_scene_free(&scene);
        }
        return body->failed ? -ENOMEM : 0;
}

int kw_labels_svg(const struct kw_label *labels, size_t n, enum kw_label_size size, struct kw_buf *out,
                  struct kw_error *err)
{
        struct kw_letters *letters;
        struct kw_buf body = {0};
        int height = 0, r = kw_labels_check(labels, n, err);

        if (r)
                return r;
        letters = kw_letters_new();
        if (!letters)
                return -ENOMEM;
        r = draw_all(labels, n, size, letters, &body, &height, err);
        if (!r) {
                put_root(out, kw_label_size_row(size)->width_um, height);
                put_title(out, labels, n);
                kw_buf_add(out, kw_buf_text(&body), body.n);
                kw_buf_text_add(out, "</svg>\n");
                r = out->failed ? -ENOMEM : 0;
        }
        kw_buf_free(&body);
        kw_letters_free(letters);
        return r;
}
