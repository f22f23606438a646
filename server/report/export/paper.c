/*
 * Pages, headings and paragraphs of a PDF.
 */
#include "paper_inside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
        double size;
        const char *family;
        bool bold;
} hands[KW_HANDS] = {
        [KW_HAND_TITLE] = {22, "Liberation Sans,Arial,Helvetica,sans-serif", true},
        [KW_HAND_SECTION] = {15, "Liberation Sans,Arial,Helvetica,sans-serif", true},
        [KW_HAND_HEADING] = {10.5, "Liberation Sans,Arial,Helvetica,sans-serif", true},
        [KW_HAND_TEXT] = {9.5, "Liberation Sans,Arial,Helvetica,sans-serif", false},
        [KW_HAND_TABLE] = {7.5, "Liberation Sans,Arial,Helvetica,sans-serif", false},
        [KW_HAND_HEAD] = {7.5, "Liberation Sans,Arial,Helvetica,sans-serif", true},
        [KW_HAND_CODE] = {9, "Liberation Mono,Courier New,DejaVu Sans Mono,monospace", false},
};

double kw_hand_size(enum kw_hand hand)
{
        return hands[hand].size;
}

double kw_hand_pitch(enum kw_hand hand)
{
        return hands[hand].size * 1.28;
}

#define CONTENTS_MOST 14 /* sections */

/* --- text ---------------------------------------------------------------------------------------- */

int kw_paper_set(struct kw_paper *p, size_t i, enum kw_hand hand, const char *text, double width, bool right)
{
        pango_layout_set_font_description(p->layout[i], p->hand[hand]);
        pango_layout_set_wrap(p->layout[i], hand == KW_HAND_CODE ? PANGO_WRAP_CHAR : PANGO_WRAP_WORD_CHAR);
        pango_layout_set_width(p->layout[i], (int)(width * PANGO_SCALE));
        pango_layout_set_alignment(p->layout[i], right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
        pango_layout_set_text(p->layout[i], text ? text : "", -1);
        return pango_layout_get_line_count(p->layout[i]);
}

void kw_paper_show(struct kw_paper *p, size_t i, int line, double x, double y, enum kw_hand hand, double width,
                   bool right)
{
        PangoLayoutLine *shown = pango_layout_get_line_readonly(p->layout[i], line);
        PangoRectangle extent;

        if (!shown)
                return;
        if (right) {
                pango_layout_line_get_extents(shown, NULL, &extent);
                x += width - (double)extent.width / PANGO_SCALE;
        }
        cairo_move_to(p->cr, x, y + kw_hand_size(hand) * 0.95);
        pango_cairo_show_layout_line(p->cr, shown);
}

double kw_paper_width(const struct kw_paper *p, double indent)
{
        return KW_INNER - indent - (p->y < p->aside_to ? p->aside : 0);
}

/* Within a tag of the structure, as in the contents. */
void kw_paper_link(struct kw_paper *p, const char *uri)
{
        char attributes[512];

        if (!uri)
                return;
        snprintf(attributes, sizeof(attributes), "uri='%s'", uri);
        cairo_tag_begin(p->cr, "P", NULL);
        cairo_tag_begin(p->cr, CAIRO_TAG_LINK, attributes);
}

void kw_paper_unlink(struct kw_paper *p, const char *uri)
{
        if (!uri)
                return;
        cairo_tag_end(p->cr, CAIRO_TAG_LINK);
        cairo_tag_end(p->cr, "P");
}

static void put_lines(struct kw_paper *p, enum kw_hand hand, const char *text, double indent)
{
        int n = kw_paper_set(p, 0, hand, text, kw_paper_width(p, indent), false);

        for (int i = 0; i < n; i++) {
                kw_paper_room(p, kw_hand_pitch(hand));
                kw_paper_show(p, 0, i, KW_MARGIN + indent, p->y, hand, 0, false);
                p->y += kw_hand_pitch(hand);
                p->clean = false;
        }
}

/* --- pages --------------------------------------------------------------------------------------- */

static void put_foot(struct kw_paper *p)
{
        char text[64];
        const double y = KW_HIGH - KW_FOOT + 6;

        if (p->before)
                snprintf(text, sizeof(text), "page %d of %d", p->page, p->before->page);
        else
                snprintf(text, sizeof(text), "page %d", p->page);
        cairo_set_source_rgb(p->cr, 0.35, 0.35, 0.35);
        cairo_rectangle(p->cr, KW_MARGIN, KW_HIGH - KW_FOOT, KW_INNER, 0.5);
        cairo_fill(p->cr);
        kw_paper_set(p, KW_PAPER_COLUMNS, KW_HAND_TABLE, p->foot, KW_INNER - 90, false);
        kw_paper_show(p, KW_PAPER_COLUMNS, 0, KW_MARGIN, y, KW_HAND_TABLE, 0, false);
        kw_paper_set(p, KW_PAPER_COLUMNS, KW_HAND_TABLE, text, 90, true);
        kw_paper_show(p, KW_PAPER_COLUMNS, 0, KW_MARGIN + KW_INNER - 90, y, KW_HAND_TABLE, 90, true);
        cairo_set_source_rgb(p->cr, 0, 0, 0);
}

static void begin_page(struct kw_paper *p)
{
        p->page++;
        p->y = KW_MARGIN;
        p->aside_to = 0;
        p->clean = true;
}

void kw_paper_page(struct kw_paper *p)
{
        if (p->clean)
                return;
        put_foot(p);
        cairo_show_page(p->cr);
        begin_page(p);
}

bool kw_paper_room(struct kw_paper *p, double height)
{
        if (p->clean || p->y + height <= KW_HIGH - KW_FOOT - 6)
                return false;
        kw_paper_page(p);
        return true;
}

void kw_paper_space(struct kw_paper *p, double height)
{
        if (!p->clean)
                p->y += height;
}

/* --- headings and paragraphs ----------------------------------------------------------------------- */

void kw_paper_title(struct kw_paper *p, const char *text)
{
        put_lines(p, KW_HAND_TITLE, text, 0);
}

void kw_paper_text(struct kw_paper *p, const char *text)
{
        put_lines(p, KW_HAND_TEXT, text, 0);
}

void kw_paper_code(struct kw_paper *p, const char *text)
{
        put_lines(p, KW_HAND_CODE, text, 0);
}

static int add_outline(struct kw_paper *p, int parent, const char *text)
{
        char where[64];

        snprintf(where, sizeof(where), "page=%d pos=[%d %d]", p->page, (int)KW_MARGIN, (int)p->y);
        return cairo_pdf_surface_add_outline(p->surface, parent, text, where,
                                             parent == CAIRO_PDF_OUTLINE_ROOT ? CAIRO_PDF_OUTLINE_FLAG_OPEN : 0);
}

void kw_paper_section(struct kw_paper *p, const char *text)
{
        struct kw_section *more = realloc(p->sections, (p->n_sections + 1) * sizeof(*more));
        char name[32];

        kw_paper_space(p, 16);
        kw_paper_room(p, 90);
        if (more) {
                p->sections = more;
                more[p->n_sections++] = (struct kw_section){strdup(text), p->page};
        } else {
                p->failed = true;
        }
        snprintf(name, sizeof(name), "name='s%zu'", p->n_sections);
        cairo_tag_begin(p->cr, CAIRO_TAG_DEST, name);
        p->outline = add_outline(p, CAIRO_PDF_OUTLINE_ROOT, text);
        put_lines(p, KW_HAND_SECTION, text, 0);
        cairo_tag_end(p->cr, CAIRO_TAG_DEST);
        kw_paper_space(p, 4);
}

void kw_paper_heading(struct kw_paper *p, const char *text)
{
        kw_paper_space(p, 8);
        kw_paper_room(p, 60);
        add_outline(p, p->outline, text);
        put_lines(p, KW_HAND_HEADING, text, 0);
        kw_paper_space(p, 2);
}

void kw_paper_contents(struct kw_paper *p)
{
        const size_t n = p->before ? p->before->n_sections : 0;

        kw_paper_room(p, CONTENTS_MOST * (kw_hand_pitch(KW_HAND_TEXT) + 1));
        /* within a tag of the structure: links alone leave it without a root, and the file with loose ends */
        cairo_tag_begin(p->cr, "TOC", NULL);
        for (size_t i = 0; i < n; i++) {
                const struct kw_section *s = &p->before->sections[i];
                char page[16], link[32];

                snprintf(page, sizeof(page), "%d", s->page);
                snprintf(link, sizeof(link), "dest='s%zu'", i + 1);
                cairo_tag_begin(p->cr, CAIRO_TAG_LINK, link);
                kw_paper_set(p, 0, KW_HAND_TEXT, s->text, KW_INNER - 40, false);
                kw_paper_show(p, 0, 0, KW_MARGIN, p->y, KW_HAND_TEXT, 0, false);
                kw_paper_set(p, 0, KW_HAND_TEXT, page, 40, true);
                kw_paper_show(p, 0, 0, KW_MARGIN + KW_INNER - 40, p->y, KW_HAND_TEXT, 40, true);
                cairo_tag_end(p->cr, CAIRO_TAG_LINK);
                p->y += kw_hand_pitch(KW_HAND_TEXT) + 1;
        }
        cairo_tag_end(p->cr, "TOC");
        kw_paper_page(p); /* however long the contents are, what follows begins on the same page */
}

/* --- beginning and end ---------------------------------------------------------------------------- */

static cairo_status_t take_bytes(void *ctx, const unsigned char *bytes, unsigned n)
{
        struct kw_paper *p = ctx;

        if (p->out)
                kw_buf_add(p->out, bytes, n);
        return p->out && p->out->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static void make_hands(struct kw_paper *p)
{
        cairo_font_options_t *options = cairo_font_options_create();

        cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
        cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
        for (size_t i = 0; i < KW_PAPER_LAYOUTS; i++) {
                p->layout[i] = pango_cairo_create_layout(p->cr);
                pango_cairo_context_set_font_options(pango_layout_get_context(p->layout[i]), options);
                pango_cairo_context_set_resolution(pango_layout_get_context(p->layout[i]), 72);
                pango_context_set_round_glyph_positions(pango_layout_get_context(p->layout[i]), FALSE);
        }
        cairo_font_options_destroy(options);
        for (int i = 0; i < KW_HANDS; i++) {
                p->hand[i] = pango_font_description_new();
                pango_font_description_set_family(p->hand[i], hands[i].family);
                pango_font_description_set_weight(p->hand[i], hands[i].bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
                pango_font_description_set_absolute_size(p->hand[i], hands[i].size * PANGO_SCALE);
        }
}

struct kw_paper *kw_paper_new(struct kw_buf *out, const struct kw_paper *before, const char *title, const char *foot,
                              const char *created)
{
        struct kw_paper *p = calloc(1, sizeof(*p));

        if (!p)
                return NULL;
        p->out = out;
        p->before = before;
        p->foot = strdup(foot);
        p->surface = cairo_pdf_surface_create_for_stream(take_bytes, p, KW_WIDE, KW_HIGH);
        p->cr = cairo_create(p->surface);
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_TITLE, title);
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATOR, "kinwire");
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATE_DATE, created);
        make_hands(p);
        begin_page(p);
        return p;
}

int kw_paper_end(struct kw_paper *p)
{
        cairo_status_t status;

        put_foot(p);
        cairo_show_page(p->cr);
        status = cairo_status(p->cr);
        cairo_surface_finish(p->surface);
        if (status == CAIRO_STATUS_SUCCESS)
                status = cairo_surface_status(p->surface);
        if (status == CAIRO_STATUS_NO_MEMORY || p->failed || !p->foot)
                return -ENOMEM;
        return status == CAIRO_STATUS_SUCCESS ? 0 : -EIO;
}

void kw_paper_free(struct kw_paper *p)
{
        if (!p)
                return;
        for (size_t i = 0; i < KW_PAPER_LAYOUTS; i++)
                g_object_unref(p->layout[i]);
        for (int i = 0; i < KW_HANDS; i++)
                pango_font_description_free(p->hand[i]);
        cairo_destroy(p->cr);
        cairo_surface_finish(p->surface);
        cairo_surface_destroy(p->surface);
        for (size_t i = 0; i < p->n_sections; i++)
                free(p->sections[i].text);
        free(p->sections);
        free(p->foot);
        free(p);
}
