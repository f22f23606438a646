/*
 * Tables: rows that break into lines, and go on on the next page below the table's head.
 */
#include "paper_inside.h"

#define PAD 4.0 /* between columns */
#define AIR 6.0 /* more of it between numbers and the text after them */

static bool is_after_numbers(const struct kw_paper *p, size_t i)
{
        return i > 0 && p->columns[i - 1].right && !p->columns[i].right;
}

static double width_of(const struct kw_paper *p, size_t i)
{
        return p->columns[i].share * KW_INNER - PAD - (is_after_numbers(p, i) ? AIR : 0);
}

static void rule(struct kw_paper *p, double y, double grey)
{
        cairo_set_source_rgb(p->cr, grey, grey, grey);
        cairo_rectangle(p->cr, KW_MARGIN, y, KW_INNER, 0.4);
        cairo_fill(p->cr);
        cairo_set_source_rgb(p->cr, 0, 0, 0);
}

static void put_head(struct kw_paper *p)
{
        double x = KW_MARGIN;
        int lines = 1;

        for (size_t i = 0; i < p->n_columns; i++) {
                int n = kw_paper_set(p, i, KW_HAND_HEAD, p->columns[i].title, width_of(p, i), p->columns[i].right);

                lines = n > lines ? n : lines;
        }
        for (size_t i = 0; i < p->n_columns; i++) {
                x += is_after_numbers(p, i) ? AIR : 0;
                for (int k = 0; k < lines && k < pango_layout_get_line_count(p->layout[i]); k++)
                        kw_paper_show(p, i, k, x, p->y + k * kw_hand_pitch(KW_HAND_HEAD), KW_HAND_HEAD, width_of(p, i),
                                      p->columns[i].right);
                x += width_of(p, i) + PAD;
        }
        p->y += lines * kw_hand_pitch(KW_HAND_HEAD) + 2;
        p->clean = false;
        rule(p, p->y, 0);
        p->y += 2;
}

void kw_paper_table(struct kw_paper *p, const struct kw_paper_column *columns, size_t n)
{
        p->columns = columns;
        p->n_columns = n;
        p->headless = true;
}

static void put_line(struct kw_paper *p, const struct kw_paper_cell *cells, const int *lines, int line)
{
        double x = KW_MARGIN;

        for (size_t i = 0; i < p->n_columns; i++) {
                x += is_after_numbers(p, i) ? AIR : 0;
                if (cells[i].ribbon && line == 0)
                        kw_paper_draw_ribbon(p, cells[i].ribbon, x, p->y + 1.5, width_of(p, i),
                                             kw_hand_size(KW_HAND_TABLE) - 2);
                else if (!cells[i].ribbon && line < lines[i]) {
                        kw_paper_link(p, p->links ? p->links[i] : NULL);
                        kw_paper_show(p, i, line, x, p->y, KW_HAND_TABLE, width_of(p, i), p->columns[i].right);
                        kw_paper_unlink(p, p->links ? p->links[i] : NULL);
                }
                x += width_of(p, i) + PAD;
        }
}

void kw_paper_row(struct kw_paper *p, const struct kw_paper_cell *cells)
{
        const double pitch = kw_hand_pitch(KW_HAND_TABLE);
        int lines[KW_PAPER_COLUMNS], most = 1;

        if (p->headless) {
                kw_paper_room(p, 4 * pitch);
                put_head(p);
                p->headless = false;
        }
        for (size_t i = 0; i < p->n_columns; i++) {
                lines[i] = kw_paper_set(p, i, KW_HAND_TABLE, cells[i].text, width_of(p, i), p->columns[i].right);
                most = !cells[i].ribbon && lines[i] > most ? lines[i] : most;
        }
        /* a short row is not torn */
        if (most <= 12 && kw_paper_room(p, most * pitch + 2)) {
                put_head(p);
                for (size_t i = 0; i < p->n_columns; i++)
                        kw_paper_set(p, i, KW_HAND_TABLE, cells[i].text, width_of(p, i), p->columns[i].right);
        }
        for (int line = 0; line < most; line++) {
                if (kw_paper_room(p, pitch)) {
                        put_head(p);
                        for (size_t i = 0; i < p->n_columns; i++)
                                kw_paper_set(p, i, KW_HAND_TABLE, cells[i].text, width_of(p, i), p->columns[i].right);
                }
                put_line(p, cells, lines, line);
                p->y += pitch;
        }
        rule(p, p->y + 0.4, 0.82);
        p->y += 2;
}

void kw_paper_row_linked(struct kw_paper *p, const struct kw_paper_cell *cells, const char *const *links)
{
        p->links = links;
        kw_paper_row(p, cells);
        p->links = NULL;
}

void kw_paper_table_end(struct kw_paper *p)
{
        if (!p->headless)
                kw_paper_space(p, 4);
        p->headless = false;
}

void kw_paper_fact(struct kw_paper *p, const char *name, const char *value)
{
        kw_paper_fact_linked(p, name, value, NULL);
}

void kw_paper_fact_linked(struct kw_paper *p, const char *name, const char *value, const char *link)
{
        const double pitch = kw_hand_pitch(KW_HAND_TEXT);
        int n;

        if (!value || !*value)
                return;
        n = kw_paper_set(p, 0, KW_HAND_TEXT, value, kw_paper_width(p, 110), false);
        kw_paper_room(p, pitch);
        kw_paper_set(p, 1, KW_HAND_TEXT, name, 106, false);
        cairo_set_source_rgb(p->cr, 0.35, 0.35, 0.35);
        kw_paper_show(p, 1, 0, KW_MARGIN, p->y, KW_HAND_TEXT, 0, false);
        cairo_set_source_rgb(p->cr, 0, 0, 0);
        for (int i = 0; i < n; i++) {
                kw_paper_room(p, pitch);
                kw_paper_link(p, link);
                kw_paper_show(p, 0, i, KW_MARGIN + 110, p->y, KW_HAND_TEXT, 0, false);
                kw_paper_unlink(p, link);
                p->y += pitch;
                p->clean = false;
        }
}
