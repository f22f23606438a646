/*
 * Ribbons: a lot drawn along its length. Pale: possibly concerned; dark: certainly. It reads in grey as well.
 */
#include "paper_inside.h"

#include <inttypes.h>
#include <stdio.h>

#define LABEL 96.0 /* width of what stands before a ribbon */
#define HIGH  9.0

static void put_spans(struct kw_paper *p, const struct kw_spans *spans, int64_t length, double x, double y,
                      double width, double height)
{
        for (size_t i = 0; i < spans->n; i++) {
                double from = (double)spans->at[i].from / (double)length * width;
                double to = (double)spans->at[i].to / (double)length * width;

                /* what is there is seen, however short */
                cairo_rectangle(p->cr, x + from, y, to - from < 0.4 ? 0.4 : to - from, height);
        }
        cairo_fill(p->cr);
}

void kw_paper_draw_ribbon(struct kw_paper *p, const struct kw_paper_ribbon *ribbon, double x, double y, double width,
                          double height)
{
        if (ribbon->length <= 0)
                return;
        cairo_set_source_rgb(p->cr, 0.66, 0.76, 0.90);
        put_spans(p, ribbon->possible, ribbon->length, x, y, width, height);
        cairo_set_source_rgb(p->cr, 0.10, 0.25, 0.50);
        put_spans(p, ribbon->certain, ribbon->length, x, y, width, height);
        cairo_set_source_rgb(p->cr, 0.45, 0.45, 0.45);
        cairo_set_line_width(p->cr, 0.4);
        cairo_rectangle(p->cr, x, y, width, height);
        cairo_stroke(p->cr);
        cairo_set_source_rgb(p->cr, 0, 0, 0);
}

static void put_label(struct kw_paper *p, const char *label)
{
        kw_paper_set(p, 0, KW_HAND_TABLE, label, LABEL - 4, false);
        kw_paper_show(p, 0, 0, KW_MARGIN, p->y, KW_HAND_TABLE, 0, false);
        p->clean = false;
}

void kw_paper_ribbon(struct kw_paper *p, const char *label, const struct kw_paper_ribbon *ribbon)
{
        kw_paper_room(p, HIGH + 4);
        put_label(p, label);
        kw_paper_draw_ribbon(p, ribbon, KW_MARGIN + LABEL, p->y, KW_INNER - LABEL, HIGH);
        p->y += HIGH + 4;
}

void kw_paper_marks(struct kw_paper *p, const char *label, int64_t length, const int64_t *at, size_t n)
{
        const double width = KW_INNER - LABEL;

        kw_paper_room(p, HIGH + 4);
        put_label(p, label);
        for (size_t i = 0; length > 0 && i < n; i++)
                cairo_rectangle(p->cr, KW_MARGIN + LABEL + (double)at[i] / (double)length * width - 0.25, p->y, 0.5,
                                HIGH);
        cairo_fill(p->cr);
        p->y += HIGH + 4;
}

/* The longest of 1, 2, 5, 10, ... m that goes at most ten times into the length. */
static int64_t step_of(int64_t length_mm)
{
        int64_t step = 1000;

        for (int i = 0; length_mm / step > 10; i++)
                step = i % 3 == 1 ? step / 2 * 5 : step * 2;
        return step;
}

void kw_paper_scale(struct kw_paper *p, int64_t length_mm)
{
        const double width = KW_INNER - LABEL, pitch = kw_hand_pitch(KW_HAND_TABLE);
        const int64_t step = step_of(length_mm);
        char text[32];

        kw_paper_room(p, pitch + 6);
        for (int64_t at = 0; length_mm > 0 && at <= length_mm; at += step) {
                double x = KW_MARGIN + LABEL + (double)at / (double)length_mm * width;

                cairo_rectangle(p->cr, x - 0.2, p->y - 3, 0.4, 4);
                cairo_fill(p->cr);
                snprintf(text, sizeof(text), "%" PRId64 "%s", at / 1000, at ? "" : " m");
                kw_paper_set(p, 0, KW_HAND_TABLE, text, 60, false);
                kw_paper_show(p, 0, 0, x + 1, p->y + 1, KW_HAND_TABLE, 0, false);
        }
        p->clean = false;
        p->y += pitch + 6;
}
