/*
 * Where the two symbols stand, and how wide their modules are.
 */
#include "pen.h"

/* Widths of a module of Code 128, widest first; below the last, what fits. */
static const int modules[] = {500, 375, 250};
#define MODULE_GOOD 250
#define MATRIX_STEP 125  /* 1 dot of 8 dots/mm */
#define MATRIX_MOST 2000 /* wider helps no reader */

static int module_in(int room, int wide)
{
        int um = room / wide;

        for (size_t i = 0; i < sizeof modules / sizeof *modules; i++) {
                if (um >= modules[i])
                        return modules[i];
        }
        return um;
}

/* Code 128 stands along the label only where it would be too fine across it. It then takes the right side. */
void kw_place_bars(struct pen *pen, struct kw_mark *mark)
{
        const struct kw_form *form = pen->form;
        const struct kw_symbol *bars = &pen->scene->bars;
        int wide = bars->wide + 2 * KW_BARS_QUIET, along = form->stand / wide;
        int module = module_in(pen->scene->width - 2 * form->edge, wide);

        *mark = (struct kw_mark){.what = KW_MARK_SYMBOL, .symbol = bars};
        if (module < MODULE_GOOD && along > module) {
                mark->turned = true;
                mark->module = along < MODULE_GOOD ? along : MODULE_GOOD;
                mark->w = form->bars;
                mark->h = bars->wide * mark->module;
                mark->x = pen->scene->width - form->margin - form->bars;
                pen->right = mark->x - form->gap;
        } else {
                mark->module = module;
                mark->w = bars->wide * module;
                mark->h = form->bars;
                mark->x = (pen->scene->width - mark->w) / 2 / GRID_UM * GRID_UM;
        }
}

/* A standing code is in the middle of a fixed height, and begins a roll's label. */
int kw_put_bars(struct pen *pen, struct kw_mark *mark)
{
        if (!mark->turned) {
                mark->y = pen->y;
                pen->y += mark->h + pen->form->gap;
        } else if (pen->scene->height > 0) {
                mark->y = (pen->scene->height - mark->h) / 2 / GRID_UM * GRID_UM;
        } else {
                mark->y = pen->form->edge + KW_BARS_QUIET * mark->module;
        }
        return kw_scene_add(pen->scene, mark);
}

int kw_matrix_module(const struct pen *pen, int side)
{
        int module = side / (pen->scene->matrix.wide + 2 * KW_MATRIX_QUIET);

        if (module > MATRIX_MOST)
                return MATRIX_MOST;
        return module > MATRIX_STEP ? module / MATRIX_STEP * MATRIX_STEP : module;
}

int kw_matrix_side(const struct pen *pen, int module)
{
        return module * (pen->scene->matrix.wide + 2 * KW_MATRIX_QUIET);
}

int kw_put_matrix(struct pen *pen, int module, int y)
{
        const struct kw_symbol *matrix = &pen->scene->matrix;
        int quiet = KW_MATRIX_QUIET * module;
        struct kw_mark mark = {.what = KW_MARK_SYMBOL, .symbol = matrix, .module = module};

        mark.w = mark.h = matrix->wide * module;
        mark.x = pen->right - quiet - mark.w;
        mark.y = y + quiet;
        return kw_scene_add(pen->scene, &mark);
}
