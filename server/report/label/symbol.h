#ifndef KW_REPORT_LABEL_SYMBOL_H
#define KW_REPORT_LABEL_SYMBOL_H
/*
 * A bar code as dark rectangles, measured in modules.
 */
#include <stddef.h>

#define KW_BARS_QUIET   10 /* modules at each end of Code 128, ISO/IEC 15417 */
#define KW_MATRIX_QUIET 1  /* modules all round Data Matrix, ISO/IEC 16022 */

/*
 * Bars are drawn so much narrower at each edge, in hundredths of a module: a renderer that knows no grey darkens every
 * dot that a bar touches, and a bar that ends where a dot ends must not touch the next one.
 */
#define KW_BARS_SHY 2

struct kw_symbol_rect {
        int x, y, w, h;
};

/** @wide and @high in modules, without the quiet zone; Code 128 is 1 high and is drawn as high as one likes */
struct kw_symbol {
        int wide, high;
        size_t n;
        struct kw_symbol_rect *rects;
};

/**
 * kw_symbol_bars, kw_symbol_matrix - encode a code as Code 128; as square Data Matrix ECC 200
 * @code: kw_code_ok()
 * @out:  for the caller to kw_symbol_free()
 *
 * Return: 0; -ENOMEM; -EIO when the encoder refuses.
 */
int kw_symbol_bars(const char *code, struct kw_symbol *out);
int kw_symbol_matrix(const char *code, struct kw_symbol *out);
void kw_symbol_free(struct kw_symbol *symbol);

#endif
