/*
 * The wires in a rope: example 4's strander, worked by hand, and a rope closed of its strands.
 *
 * Line 1 is bobbin BB-1, 10 km. Line 2 is 6 km of BB-2, then 4 km of BB-3; the join was seen at 5 830 m of 9 700 m. The
 * core is 9.9 km of BB-2 from its inner end. SS-1 is the first 4 km, SS-2 the rest.
 */
#include "mill.h"
#include "suite.h"

#include "kinwire/quality.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

static struct mill *m;

static void set_up(void)
{
        m = mill_new();
        mill_receive(m, "BB-1", 20000000);
        mill_receive(m, "BB-2", 20000000);
        mill_receive(m, "BB-3", 20000000);
        mill_receive(m, "FC", 5000000);
        mill_run(m, "ST-1", 5000);
        mill_line(m, "1");
        mill_feed(m, "BB-1", 10000000, 20000000, KW_OFF_OUTER, 0);
        mill_line(m, "2");
        mill_feed(m, "BB-2", 14000000, 20000000, KW_OFF_OUTER, 0);
        mill_feed(m, "BB-3", 16000000, 20000000, KW_OFF_OUTER, 5830000);
        mill_line(m, "core");
        mill_feed(m, "BB-2", 0, 9900000, KW_OFF_INNER, 0);
        mill_package(m, "SS-1", 4000000);
        mill_package(m, "SS-2", 5700000);
        mill_close(m);
        mill_run(m, "CL-1", 5000);
        mill_line(m, "1");
        mill_feed(m, "SS-1", 0, 4000000, KW_OFF_OUTER, 0);
        mill_line(m, "2");
        mill_feed(m, "SS-2", 0, 4000000, KW_OFF_INNER, 0);
        mill_line(m, "core");
        mill_feed(m, "FC", 0, 4000000, KW_OFF_OUTER, 0);
        mill_package(m, "R-1", 4000000);
        mill_close(m);
}

static void tear_down(void)
{
        mill_free(m);
}

static int is_bobbin(void *ctx, int64_t lot, bool *wire)
{
        *wire = strncmp(mill_lot_of(ctx, lot)->name, "BB-", 3) == 0;
        return 0;
}

static const struct {
        const char *lot, *bobbin;
        int64_t share_ppb, length_mm;
} rows[] = {
        /* 4 000 000 x 10/9.7 = 4 123 711.3, outwards; x 6/5.83 = 4 116 638.1; x 9.9/9.7 = 4 082 474.2 */
        {"SS-1", "BB-1", 1000000000, 4123712},
        {"SS-1", "BB-2", 2000000000, 4116639 + 4082475},
        /* of line 2's 5 883 362 mm the first 1 883 362 are BB-2 */
        {"SS-2", "BB-1", 1000000000, 5876289},
        {"SS-2", "BB-2", 1320116627, 1883362 + 5817526},
        {"SS-2", "BB-3", 679883373, 4000000},
        {"BB-1", "BB-1", 1000000000, 20000000},
};

START_TEST(in_strands)
{
        const struct kw_genealogy g = mill_genealogy(m);

        for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
                int64_t lot = mill_lot_id(m, rows[i].lot), bobbin = mill_lot_id(m, rows[i].bobbin);
                struct kw_wires wires = {0};
                bool met = false;

                ck_assert_int_eq(kw_wires_in(&g, lot, mill_lot_of(m, lot)->length, is_bobbin, m, &wires), 0);
                for (size_t k = 0; k < wires.n; k++) {
                        if (wires.at[k].lot != bobbin)
                                continue;
                        met = true;
                        ck_assert_msg(llabs(wires.at[k].share_ppb - rows[i].share_ppb) <= 1, "%s in %s: %" PRId64,
                                      rows[i].bobbin, rows[i].lot, wires.at[k].share_ppb);
                        ck_assert_msg(wires.at[k].length_mm == rows[i].length_mm, "%s in %s: %" PRId64, rows[i].bobbin,
                                      rows[i].lot, wires.at[k].length_mm);
                }
                ck_assert_msg(met, "%s in %s", rows[i].bobbin, rows[i].lot);
                kw_wires_free(&wires);
        }
}
END_TEST

/* Two strands of three wires are six wires; the fibre core has none. */
START_TEST(in_a_rope)
{
        const struct kw_genealogy g = mill_genealogy(m);
        struct kw_wires wires = {0};
        int64_t all = 0;

        ck_assert_int_eq(kw_wires_in(&g, mill_lot_id(m, "R-1"), 4000000, is_bobbin, m, &wires), 0);
        ck_assert_uint_eq(wires.n, 3);
        for (size_t i = 0; i < wires.n; i++)
                all += wires.at[i].share_ppb;
        ck_assert_int_le(llabs(all - 6000000000), 4);
        kw_wires_free(&wires);
        ck_assert_int_eq(kw_wires_in(&g, mill_lot_id(m, "FC"), 4000000, is_bobbin, m, &wires), 0);
        ck_assert_uint_eq(wires.n, 0);
}
END_TEST

START_TEST(a_question_that_fails_is_passed_on)
{
        const struct kw_genealogy g = mill_genealogy(m);

        for (int n = 1;; n++) {
                struct kw_wires wires = {0};
                int rc;

                m->asked = 0;
                m->fail_at = n;
                rc = kw_wires_in(&g, mill_lot_id(m, "R-1"), 4000000, is_bobbin, m, &wires);
                kw_wires_free(&wires);
                if (m->asked < n) {
                        ck_assert_int_eq(rc, 0);
                        ck_assert_int_gt(n, 5);
                        return;
                }
                ck_assert_int_eq(rc, -EIO);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_test(tests, in_strands);
        tcase_add_test(tests, in_a_rope);
        tcase_add_test(tests, a_question_that_fails_is_passed_on);
}

int main(void)
{
        return run_suite("wires", add);
}
