/*
 * Marks on paper: a code to scan beside the text, a frame round the caution, lines to sign on.
 */
#include "paper_inside.h"

#include "report/label/symbol.h"

#define PAD 6.0

int kw_paper_symbol(struct kw_paper *p, const char *text, double side)
{
        struct kw_symbol symbol;
        int rc = kw_symbol_matrix(text, &symbol);
        double module;

        if (rc)
                return rc;
        module = side / (symbol.wide + 2 * KW_MATRIX_QUIET);
        cairo_save(p->cr);
        cairo_translate(p->cr, KW_MARGIN + KW_INNER - side + module * KW_MATRIX_QUIET, p->y + module * KW_MATRIX_QUIET);
        cairo_scale(p->cr, module, module);
        for (size_t i = 0; i < symbol.n; i++)
                cairo_rectangle(p->cr, symbol.rects[i].x, symbol.rects[i].y, symbol.rects[i].w, symbol.rects[i].h);
        cairo_restore(p->cr);
        cairo_fill(p->cr);
        p->aside = side + 12;
        p->aside_to = p->y + side;
        kw_symbol_free(&symbol);
        return 0;
}

static double height_of(struct kw_paper *p, const char *const *lines, size_t n)
{
        double height = 2 * PAD;

        for (size_t i = 0; i < n; i++)
                height += kw_paper_set(p, 0, KW_HAND_TEXT, lines[i], KW_INNER - 2 * PAD, false) *
                          kw_hand_pitch(KW_HAND_TEXT);
        return height;
}

void kw_paper_framed(struct kw_paper *p, const char *const *lines, size_t n)
{
        const double height = height_of(p, lines, n);

        kw_paper_room(p, height);
        cairo_set_line_width(p->cr, 1);
        cairo_rectangle(p->cr, KW_MARGIN + 0.5, p->y + 0.5, KW_INNER - 1, height - 1);
        cairo_stroke(p->cr);
        p->y += PAD;
        for (size_t i = 0; i < n; i++) {
                int k = kw_paper_set(p, 0, KW_HAND_TEXT, lines[i], KW_INNER - 2 * PAD, false);

                for (int line = 0; line < k; line++, p->y += kw_hand_pitch(KW_HAND_TEXT))
                        kw_paper_show(p, 0, line, KW_MARGIN + PAD, p->y, KW_HAND_TEXT, 0, false);
        }
        p->y += PAD;
        p->clean = false;
}

void kw_paper_signature(struct kw_paper *p, bool second, const char *name, const char *what)
{
        const double width = KW_INNER / 2 - 16, x = second ? KW_MARGIN + KW_INNER - width : KW_MARGIN;
        const double pitch = kw_hand_pitch(KW_HAND_TEXT), height = 30 + 4 * pitch;
        const char *const texts[] = {name, what};
        double y;

        if (second)
                p->y -= height;
        else
                kw_paper_room(p, height);
        y = p->y + 30;
        cairo_rectangle(p->cr, x, y, width, 0.6);
        cairo_fill(p->cr);
        y += 2;
        for (int i = 0; i < 2; i++) {
                int n = kw_paper_set(p, 0, KW_HAND_TEXT, texts[i], width, false);

                for (int k = 0; k < n && k < 2; k++, y += pitch)
                        kw_paper_show(p, 0, k, x, y, KW_HAND_TEXT, 0, false);
        }
        p->y += height;
        p->clean = false;
}
