#ifndef KW_EXPORT_PAPER_H
#define KW_EXPORT_PAPER_H
/*
 * Paper: A4 pages of a PDF that fill from top to bottom with headings, paragraphs, tables and ribbons.
 *
 * A document is written twice, the first time to nowhere: only then is it known on which page each heading comes to
 * stand, and how many pages there are. Both times must say the same. All measures are points.
 */
#include "kinwire/buf.h"
#include "kinwire/spans.h"

#define KW_PAPER_COLUMNS 10

struct kw_paper;

struct kw_paper_column {
        const char *title;
        double share; /* of the width */
        bool right;   /* flush right: numbers */
};

/** What a lot's ribbon shows: of its length, what is possibly and what is certainly concerned. */
struct kw_paper_ribbon {
        int64_t length;
        const struct kw_spans *possible, *certain;
};

struct kw_paper_cell {
        const char *text;                     /* NULL: nothing */
        const struct kw_paper_ribbon *ribbon; /* drawn instead of a text, where it is not NULL */
};

/**
 * kw_paper_new - begin a document
 * @out: receives the PDF, NULL for the first writing; @before: the first writing, NULL for itself
 * @title, @foot: of the document, and at the foot of every page; @created: RFC 3339, stated in the file
 * Return: NULL when there is no memory.
 */
struct kw_paper *kw_paper_new(struct kw_buf *out, const struct kw_paper *before, const char *title, const char *foot,
                              const char *created);
/** kw_paper_end - the last page is done. Return: 0; -ENOMEM; -EIO. */
int kw_paper_end(struct kw_paper *p);
void kw_paper_free(struct kw_paper *p);

void kw_paper_title(struct kw_paper *p, const char *text);
/** kw_paper_section - a heading that is in the contents; kw_paper_heading - one below it, in the outline only. */
void kw_paper_section(struct kw_paper *p, const char *text);
void kw_paper_heading(struct kw_paper *p, const char *text);
/** kw_paper_contents - the sections with their pages; it stands before them. */
void kw_paper_contents(struct kw_paper *p);
void kw_paper_text(struct kw_paper *p, const char *text);
/** kw_paper_code - a text that is to be compared letter by letter: equal widths, broken where the line ends. */
void kw_paper_code(struct kw_paper *p, const char *text);
void kw_paper_space(struct kw_paper *p, double height);
void kw_paper_page(struct kw_paper *p);

/** kw_paper_table - begin a table: its head is repeated on every page; kw_paper_row follows, kw_paper_table_end ends
 * it. */
void kw_paper_table(struct kw_paper *p, const struct kw_paper_column *columns, size_t n);
void kw_paper_row(struct kw_paper *p, const struct kw_paper_cell *cells);
void kw_paper_table_end(struct kw_paper *p);
/**
 * kw_paper_row_linked - a row whose cells lead somewhere
 * @links: by column, URIs of letters, digits and "-._~:/?=&[]%" only; NULL among them and for all: nowhere
 */
void kw_paper_row_linked(struct kw_paper *p, const struct kw_paper_cell *cells, const char *const *links);
/** kw_paper_fact - a name and what it is, side by side. */
void kw_paper_fact(struct kw_paper *p, const char *name, const char *value);
/** kw_paper_fact_linked - the same, with a value that leads somewhere. */
void kw_paper_fact_linked(struct kw_paper *p, const char *name, const char *value, const char *link);

/**
 * kw_paper_symbol - Data Matrix of a text at the right, beside what is written next on the page
 * Return: 0; -ENOMEM; -EIO when the encoder refuses.
 */
int kw_paper_symbol(struct kw_paper *p, const char *text, double side);
/** kw_paper_framed - lines in a frame: the caution. */
void kw_paper_framed(struct kw_paper *p, const char *const *lines, size_t n);
/** kw_paper_signature - a line to sign on, with the name and what they are below it; two of them stand side by side. */
void kw_paper_signature(struct kw_paper *p, bool second, const char *name, const char *what);

/** kw_paper_scale - metres below a ribbon that is as wide as the page from @left (a share of the width) on. */
void kw_paper_ribbon(struct kw_paper *p, const char *label, const struct kw_paper_ribbon *ribbon);
void kw_paper_scale(struct kw_paper *p, int64_t length_mm);
/** kw_paper_marks - ticks at places (mm) of a ribbon of @length, with @label before them. */
void kw_paper_marks(struct kw_paper *p, const char *label, int64_t length, const int64_t *at, size_t n);

#endif
