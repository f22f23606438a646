/*
 * The index of an invented mill's first weeks, which has what a mill's two months of a demonstration have not: furnace
 * runs of twenty coils, bobbins by the hundred, strands of thirty wires, joints that were seen and that were not.
 */
#include "history.h"
#include "index_beside.h"
#include "suite.h"

#include "kinwire/error.h"

#include <string.h>

#define YEARS         .05
#define EVERY         150
#define BYTES_A_ROW   40 /* for each feed and package: what twenty years may take of memory follows from it */
#define ROWS_AT_LEAST 30000

static void make(struct beside *b)
{
        struct history_figures figures;
        struct kw_error err = {0};
        struct history h;

        beside_place(b);
        ck_assert_int_eq(history_make(&h, YEARS, 1), 0);
        ck_assert_msg(history_write(&h, b->path, &figures, &err) == 0, "%s", err.text);
        history_free(&h);
        beside_open(b);
}

START_TEST(is_small_and_exact)
{
        struct kw_index_figures figures;
        struct beside b = {0};

        make(&b);
        kw_index_figures(b.index, &figures);
        ck_assert_uint_ge(figures.feeds + figures.packages, ROWS_AT_LEAST);
        ck_assert_msg(figures.bytes <= BYTES_A_ROW * (figures.feeds + figures.packages), "%.1f bytes a row",
                      (double)figures.bytes / (double)(figures.feeds + figures.packages));
        beside_traces(&b, EVERY);
        beside_free(&b);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, is_small_and_exact);
}

int main(void)
{
        return run_suite("index_history", add);
}
