#ifndef KW_EXPORT_PAPER_INSIDE_H
#define KW_EXPORT_PAPER_INSIDE_H
/* Paper from inside: what paper.c, paper_table.c and paper_ribbon.c share. */
#include "paper.h"

#include <cairo/cairo-pdf.h>
#include <pango/pangocairo.h>

#define KW_WIDE   595.0 /* A4 */
#define KW_HIGH   842.0
#define KW_MARGIN 48.0
#define KW_FOOT   40.0
#define KW_INNER  (KW_WIDE - 2 * KW_MARGIN)

#define KW_PAPER_LAYOUTS (KW_PAPER_COLUMNS + 1)

enum kw_hand {
        KW_HAND_TITLE,
        KW_HAND_SECTION,
        KW_HAND_HEADING,
        KW_HAND_TEXT,
        KW_HAND_TABLE,
        KW_HAND_HEAD,
        KW_HAND_CODE,
        KW_HANDS
};

/* A section's heading, and where it stands. */
struct kw_section {
        char *text;
        int page;
};

struct kw_paper {
        const struct kw_paper *before;
        struct kw_buf *out;
        char *foot;
        cairo_surface_t *surface;
        cairo_t *cr;
        PangoLayout *layout[KW_PAPER_LAYOUTS]; /* the last is the foot's, so that a page may end inside a table */
        PangoFontDescription *hand[KW_HANDS];
        double y;
        int page;
        bool clean; /* nothing on the page yet */
        bool failed;
        int outline; /* of the last section */
        struct kw_section *sections;
        size_t n_sections;
        const struct kw_paper_column *columns; /* of the table under way */
        size_t n_columns;
        const char *const *links; /* of the row under way, by column; NULL: none */
        double aside, aside_to;   /* what is beside the text takes so much of the width, down to here */
        bool headless;            /* no row yet: a table without any has no head either */
};

double kw_hand_size(enum kw_hand hand);
double kw_hand_pitch(enum kw_hand hand);
/** kw_paper_set - layout @i with a text in a hand, broken at @width. Return: its lines. */
int kw_paper_set(struct kw_paper *p, size_t i, enum kw_hand hand, const char *text, double width, bool right);
/** kw_paper_show - line @line of layout @i, its top at y. */
void kw_paper_show(struct kw_paper *p, size_t i, int line, double x, double y, enum kw_hand hand, double width,
                   bool right);
/** kw_paper_width - of a line of text from @indent on. */
double kw_paper_width(const struct kw_paper *p, double indent);
/** kw_paper_link - what is shown until kw_paper_unlink() leads to @uri; NULL: nowhere. */
void kw_paper_link(struct kw_paper *p, const char *uri);
void kw_paper_unlink(struct kw_paper *p, const char *uri);
/** kw_paper_room - a new page when there is not so much height left. Return: whether there was one. */
bool kw_paper_room(struct kw_paper *p, double height);
void kw_paper_draw_ribbon(struct kw_paper *p, const struct kw_paper_ribbon *ribbon, double x, double y, double width,
                          double height);

#endif
