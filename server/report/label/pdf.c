/*
 * Labels as PDF, a page each.
 *
 * The writer states the creation date it is given and puts no other clock, no identifier and no path into the file, so
 * that the same labels give the same bytes.
 */
#include "kinwire/entry.h"
#include "scene.h"

#include <cairo/cairo-pdf.h>
#include <errno.h>

static double pt(int um)
{
        return um * 72.0 / 25400.0;
}

static cairo_status_t take_bytes(void *out, const unsigned char *bytes, unsigned n)
{
        kw_buf_add(out, bytes, n);
        return ((struct kw_buf *)out)->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static void draw_text(cairo_t *page, struct kw_letters *letters, const struct kw_mark *mark)
{
        cairo_move_to(page, pt(mark->x), pt(mark->y + kw_baseline(mark->size)));
        pango_cairo_show_layout_line(page, kw_letters_line(letters, mark->face, mark->size, mark->text));
}

static void draw_rect(cairo_t *page, const struct kw_symbol_rect *r, const struct kw_mark *mark)
{
        const double shy = mark->symbol->high == 1 ? KW_BARS_SHY / 100.0 : 0;

        if (mark->turned)
                cairo_rectangle(page, r->y, r->x + shy, r->h, r->w - 2 * shy);
        else
                cairo_rectangle(page, r->x + shy, r->y, r->w - 2 * shy, r->h);
}

/* One path, filled once: neighbouring rectangles leave no seam. */
static void draw_symbol(cairo_t *page, const struct kw_mark *mark)
{
        const struct kw_symbol *symbol = mark->symbol;
        int across = mark->turned ? symbol->high : symbol->wide, down = mark->turned ? symbol->wide : symbol->high;

        cairo_save(page);
        cairo_translate(page, pt(mark->x), pt(mark->y));
        cairo_scale(page, pt(mark->w) / across, pt(mark->h) / down);
        for (size_t i = 0; i < symbol->n; i++)
                draw_rect(page, &symbol->rects[i], mark);
        cairo_restore(page);
        cairo_fill(page);
}

static void draw_scene(cairo_t *page, struct kw_letters *letters, const struct kw_scene *scene)
{
        for (size_t i = 0; i < scene->n; i++) {
                const struct kw_mark *mark = &scene->marks[i];

                switch (mark->what) {
                case KW_MARK_TEXT:
                        draw_text(page, letters, mark);
                        break;
                case KW_MARK_SYMBOL:
                        draw_symbol(page, mark);
                        break;
                case KW_MARK_RULE:
                        cairo_rectangle(page, pt(mark->x), pt(mark->y), pt(mark->w), pt(mark->h));
                        cairo_fill(page);
                        break;
                }
        }
}

static int draw_page(cairo_surface_t *surface, cairo_t *page, struct kw_letters *letters, const struct kw_label *label,
                     enum kw_label_size size, size_t at, struct kw_error *err)
{
        struct kw_scene scene;
        int r = kw_scene_make(label, size, at, letters, &scene, err);

        if (r)
                return r;
        cairo_pdf_surface_set_size(surface, pt(scene.width), pt(scene.height));
        draw_scene(page, letters, &scene);
        cairo_show_page(page);
        kw_scene_free(&scene);
        return 0;
}

static void set_properties(cairo_surface_t *surface, const char *title, int64_t created)
{
        char stamp[KW_STAMP_LEN + 1];

        kw_stamp_write(created, stamp);
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title);
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "kinwire");
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, stamp);
}

static int status_of(cairo_status_t status)
{
        if (status == CAIRO_STATUS_SUCCESS)
                return 0;
        return status == CAIRO_STATUS_NO_MEMORY ? -ENOMEM : -EIO;
}

static int draw_document(const struct kw_label *labels, size_t n, enum kw_label_size size, const char *title,
                         int64_t created, struct kw_letters *letters, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_label_size_row *row = kw_label_size_row(size);
        cairo_surface_t *surface =
                cairo_pdf_surface_create_for_stream(take_bytes, out, pt(row->width_um), pt(row->width_um));
        cairo_t *page = cairo_create(surface);
        int r = 0;

        set_properties(surface, title, created);
        for (size_t i = 0; !r && i < n; i++)
                r = draw_page(surface, page, letters, &labels[i], size, i, err);
        if (!r)
                r = status_of(cairo_status(page));
        cairo_destroy(page);
        cairo_surface_finish(surface);
        if (!r)
                r = status_of(cairo_surface_status(surface));
        cairo_surface_destroy(surface);
        return r;
}

int kw_labels_pdf(const struct kw_label *labels, size_t n, enum kw_label_size size, const char *title, int64_t created,
                  struct kw_buf *out, struct kw_error *err)
{
        struct kw_letters *letters;
        struct kw_buf body = {0};
        int r = kw_labels_check(labels, n, err);

        if (r)
                return r;
        letters = kw_letters_new();
        if (!letters)
                return -ENOMEM;
        r = draw_document(labels, n, size, title ? title : labels[0].code, created, letters, &body, err);
        if (!r) {
                kw_buf_add(out, kw_buf_text(&body), body.n);
                r = out->failed || body.failed ? -ENOMEM : 0;
        }
        kw_buf_free(&body);
        kw_letters_free(letters);
        return r;
}
