/*
 * Bar codes from the encoder's drawing: rectangles in modules.
 *
 * The encoder draws in units of half a module by default; at scale 0.5 its unit is the module, and all its figures are
 * whole numbers.
 */
#include "symbol.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <zint.h>

static int whole(float modules)
{
        return (int)lrintf(modules);
}

static int take(const struct zint_vector *drawn, struct kw_symbol *out)
{
        size_t n = 0;

        for (const struct zint_vector_rect *r = drawn->rectangles; r; r = r->next)
                n++;
        out->rects = calloc(n ? n : 1, sizeof *out->rects);
        if (!out->rects)
                return -ENOMEM;
        out->wide = whole(drawn->width);
        out->high = whole(drawn->height);
        for (const struct zint_vector_rect *r = drawn->rectangles; r; r = r->next)
                out->rects[out->n++] =
                        (struct kw_symbol_rect){whole(r->x), whole(r->y), whole(r->width), whole(r->height)};
        return 0;
}

static int encode(const char *code, struct zint_symbol *asked, struct kw_symbol *out)
{
        int r;

        *out = (struct kw_symbol){0};
        asked->show_hrt = 0;
        asked->scale = 0.5f;
        r = ZBarcode_Encode_and_Buffer_Vector(asked, (const unsigned char *)code, 0, 0);
        if (r == ZINT_ERROR_MEMORY)
                return -ENOMEM;
        if (r != 0 || !asked->vector)
                return -EIO;
        return take(asked->vector, out);
}

int kw_symbol_bars(const char *code, struct kw_symbol *out)
{
        struct zint_symbol *asked = ZBarcode_Create();
        int r;

        if (!asked)
                return -ENOMEM;
        asked->symbology = BARCODE_CODE128;
        asked->height = 1;
        r = encode(code, asked, out);
        ZBarcode_Delete(asked);
        return r;
}

int kw_symbol_matrix(const char *code, struct kw_symbol *out)
{
        struct zint_symbol *asked = ZBarcode_Create();
        int r;

        if (!asked)
                return -ENOMEM;
        asked->symbology = BARCODE_DATAMATRIX;
        asked->option_3 = DM_SQUARE;
        r = encode(code, asked, out);
        ZBarcode_Delete(asked);
        return r;
}

void kw_symbol_free(struct kw_symbol *symbol)
{
        free(symbol->rects);
        *symbol = (struct kw_symbol){0};
}
