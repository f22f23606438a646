/*
 * Joints on small mills worked by hand: where each lies, and where it may.
 */
#include "mill.h"
#include "suite.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- mills ------------------------------------------------------------------------------------ */

/* Of the strand with the split bobbin, the first half goes into two ropes. */
static void split(struct mill *m)
{
        mill_split_bobbin(m, 0);
        mill_package(m, "S", 1000);
        mill_close(m);
        mill_run(m, "CL", 0);
        mill_line(m, "strand 1");
        mill_feed(m, "S", 0, 500, KW_OFF_OUTER, 0);
        mill_package(m, "R1", 300);
        mill_package(m, "R2", 200);
        mill_close(m);
}

/*
 * A weld at the boundary of two bobbins, 900..1100 of the run, which go into one wire with so much of another bobbin
 * between them; 0: they are welded together the same way round.
 */
static void wound(struct mill *m, int64_t between, int32_t tolerance_ppm)
{
        if (between)
                mill_receive(m, "X", between);
        mill_draw_two(m, 1000, 1000, 100000, 0);
        mill_package(m, "P", 1000);
        mill_package(m, "Q", 1000);
        mill_close(m);
        mill_run(m, "WD", tolerance_ppm);
        mill_line(m, "1");
        mill_feed(m, "P", 0, 1000, KW_OFF_INNER, 0);
        if (between)
                mill_feed(m, "X", 0, between, KW_OFF_INNER, 0);
        mill_feed(m, "Q", 0, 1000, KW_OFF_INNER, 0);
        mill_package(m, "W", 2000 + between);
        mill_close(m);
}

static void interrupted(struct mill *m)
{
        wound(m, 500, 0);
}

static void together(struct mill *m)
{
        wound(m, 0, 0);
}

/* With a tolerance that lets the two pieces run into each other. */
static void nearly_interrupted(struct mill *m)
{
        wound(m, 50, 100000);
}

/* A weld at 50 +- 5 and bobbins cut at 48 and 53, the two later of which are welded together again. */
static void short_bobbin(struct mill *m)
{
        mill_draw_two(m, 50, 950, 100000, 0);
        mill_package(m, "A", 48);
        mill_package(m, "P", 5);
        mill_package(m, "Q", 947);
        mill_close(m);
        mill_run(m, "WD", 0);
        mill_line(m, "1");
        mill_feed(m, "P", 0, 5, KW_OFF_INNER, 0);
        mill_feed(m, "Q", 0, 947, KW_OFF_INNER, 0);
        mill_package(m, "W", 952);
        mill_close(m);
}

/* --- joints ----------------------------------------------------------------------------------- */

static const struct {
        const char *name;
        void (*mill)(struct mill *m);
        const char *lot;
        const char *joints;
} joints[] = {
        {"a lot as received", mill_weld_unseen, "C", ""},
        {"a lot that no joint reaches", mill_weld_unseen, "P", ""},
        /* s = 2000 belongs to what begins there */
        {"before the cut only possible", mill_weld_unseen, "Q", "DR/0 feed 1: - in 800-1000\n"},
        {"after the cut", mill_weld_unseen, "R", "DR/0 feed 1: 0 in 0-200\n"},
        {"seen at the cut, before it", mill_weld_at_boundary, "Q", "DR/0 feed 1: - in 1000-1000\n"},
        {"seen at the cut, after it", mill_weld_at_boundary, "R", "DR/0 feed 1: 0 in 0-0\n"},
        {"on the bobbin, 500 +- 50", split, "B", "DR/0 feed 1: 500 in 450-550\n"},
        /*
         * On wire 1 the bobbin pays off from 1000 down to 480: the weld's 550..480 comes at 450..520, nominal 500. On
         * wire 2 480..450 comes after 520 of X: 520..550. The braze on wire 1 was seen at 520, that on wire 2 lies
         * there too.
         */
        {"split between two wires", split, "S",
         "ST/0 DR/0 feed 1: 500 in 450-520\nST/0 feed 1: 520 in 520-520\nST/1 feed 1: 520 in 520-520\n"
         "ST/1 DR/0 feed 1: - in 520-550\n"},
        /* the first half of the strand, outer end first: s' = 500 - s; the rest lies on no rope yet */
        {"two runs on", split, "R1", "CL/0 ST/0 DR/0 feed 1: - in 0-50\n"},
        {"on the rope's other piece", split, "R2", ""},
        {"interrupted", interrupted, "W",
         "WD/0 DR/0 feed 1: - in 900-1000\nWD/0 feed 1: 1000 in 1000-1000\nWD/0 feed 2: 1500 in 1500-1500\n"
         "WD/0 DR/0 feed 1: 1500 in 1500-1600\n"},
        {"pieces that run into each other", nearly_interrupted, "W",
         "WD/0 DR/0 feed 1: 1050 in 810-1240\nWD/0 feed 1: 1000 in 900-1100\nWD/0 feed 2: 1050 in 950-1150\n"},
        {"before the short bobbin", short_bobbin, "A", "DR/0 feed 1: - in 45-48\n"},
        {"on the short bobbin", short_bobbin, "P", "DR/0 feed 1: 2 in 0-5\n"},
        {"after the short bobbin", short_bobbin, "Q", "DR/0 feed 1: - in 0-2\n"},
        {"from the short bobbin on", short_bobbin, "W", "WD/0 DR/0 feed 1: 2 in 0-7\nWD/0 feed 1: 5 in 5-5\n"},
        {"together again", together, "W", "WD/0 DR/0 feed 1: 1000 in 900-1100\nWD/0 feed 1: 1000 in 1000-1000\n"},
};

static void tell_joints(const struct mill *m, const struct kw_joints *list, char text[MILL_TEXT])
{
        size_t n = 0;

        text[0] = '\0';
        for (size_t i = 0; i < list->n; i++) {
                const struct kw_joint *j = &list->at[i];

                for (size_t k = 0; k < j->n_steps; k++)
                        for (size_t r = 0; r < m->n_runs; r++)
                                if (m->runs[r].run.id == j->steps[k].run)
                                        n += (size_t)snprintf(text + n, MILL_TEXT - n, "%s/%zu ", m->runs[r].name,
                                                              j->steps[k].line);
                n += (size_t)snprintf(text + n, MILL_TEXT - n, "feed %zu: ", j->place.feed);
                if (j->nominal)
                        n += (size_t)snprintf(text + n, MILL_TEXT - n, "%" PRId64, j->at_mm);
                else
                        n += (size_t)snprintf(text + n, MILL_TEXT - n, "-");
                n += (size_t)snprintf(text + n, MILL_TEXT - n, " in %" PRId64 "-%" PRId64 "\n", j->possible.from,
                                      j->possible.to);
        }
}

START_TEST(joints_by_hand)
{
        struct mill *m = mill_new();
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *family = kw_hits_new();
        struct kw_joints list = {0};
        char text[MILL_TEXT];

        joints[_i].mill(m);
        int64_t lot = mill_lot_id(m, joints[_i].lot);
        ck_assert_int_eq(kw_ancestry(&g, lot, family), 0);
        ck_assert_int_eq(kw_joints_on(&g, family, lot, &list), 0);
        tell_joints(m, &list, text);
        ck_assert_msg(strcmp(text, joints[_i].joints) == 0, "%s:\n%s", joints[_i].name, text);
        kw_joints_free(&list);
        kw_hits_free(family);
        mill_free(m);
}
END_TEST

/* --- a store that fails ----------------------------------------------------------------------- */

static int all_of_it(struct mill *m)
{
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *there = kw_hits_new(), *back = kw_hits_new(), *family = kw_hits_new();
        struct kw_joints list = {0};
        struct kw_reach reach = {0};
        int64_t lot = mill_lot_id(m, "R1"), source = mill_lot_id(m, "C");

        mill_start(m, there, "C");
        mill_start(m, back, "R1");
        int r = kw_trace_forward(&g, there, NULL);
        if (r == 0)
                r = kw_trace_back(&g, back, NULL);
        if (r == 0)
                r = kw_ancestry(&g, lot, family);
        if (r == 0)
                r = kw_makeup(&g, family, lot, &source, 1, &reach);
        if (r == 0)
                r = kw_joints_on(&g, family, lot, &list);
        kw_joints_free(&list);
        kw_reach_free(&reach);
        kw_hits_free(there);
        kw_hits_free(back);
        kw_hits_free(family);
        return r;
}

START_TEST(a_failing_store_is_passed_on)
{
        struct mill *m = mill_new();
        int r;

        split(m);
        do {
                m->asked = 0;
                m->fail_at++;
                r = all_of_it(m);
                ck_assert(r == 0 || r == -EIO);
        } while (r != 0);
        ck_assert_int_gt(m->fail_at, 30);
        mill_free(m);
}
END_TEST

#define COUNT(table) ((int)(sizeof(table) / sizeof *(table)))

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, joints_by_hand, 0, COUNT(joints));
        tcase_add_test(tests, a_failing_store_is_passed_on);
}

int main(void)
{
        return run_suite("joints", add);
}
