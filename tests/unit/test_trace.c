/*
 * The trace and makeup on small mills worked by hand.
 */
#include "mill.h"
#include "suite.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- mills ------------------------------------------------------------------------------------ */

/*
 * A coil of 100 is rewound onto A and B of 50 each, B again onto D, and all of A and D goes with a second coil into one
 * strand. Length for length, no tolerance. The strand's run takes lots of depth 0, 1 and 2.
 */
static void rewound(struct mill *m)
{
        mill_receive(m, "C", 100);
        mill_receive(m, "E", 50);
        mill_run(m, "W-1", 0);
        mill_line(m, "1");
        mill_feed(m, "C", 0, 100, KW_OFF_OUTER, 0);
        mill_package(m, "A", 50);
        mill_package(m, "B", 50);
        mill_close(m);
        mill_run(m, "W-2", 0);
        mill_line(m, "1");
        mill_feed(m, "B", 0, 50, KW_OFF_INNER, 0);
        mill_package(m, "D", 50);
        mill_close(m);
        mill_run(m, "ST", 0);
        mill_line(m, "1");
        mill_feed(m, "A", 0, 50, KW_OFF_OUTER, 0);
        mill_line(m, "2");
        mill_feed(m, "D", 0, 50, KW_OFF_OUTER, 0);
        mill_line(m, "core");
        mill_feed(m, "E", 0, 50, KW_OFF_OUTER, 0);
        mill_package(m, "S", 30);
        mill_package(m, NULL, 5);
        mill_package(m, "T", 15);
        mill_close(m);
}

/* A run under way: the join was seen at 60, and of what came out only the first 40 are on a bobbin. */
static void under_way(struct mill *m)
{
        mill_draw_two(m, 10, 10, 0, 60);
        mill_package(m, "P", 40);
        mill_close(m);
}

/* --- traces ----------------------------------------------------------------------------------- */

enum direction { FORWARD, BACK };

static const struct {
        const char *name;
        void (*mill)(struct mill *m);
        enum direction direction;
        const char *origin; /* "C 0-10, B 0-5" */
        const char *within; /* names of lots; NULL: all */
        const char *answer;
} traces[] = {
        {"nothing", rewound, FORWARD, "", NULL, ""},
        {"the outer end goes in first", rewound, FORWARD, "C 90-100", NULL,
         "A: 0-10 / 0-10\nC: 90-100 / 90-100\nT: 5-15 / 5-15\n"},
        {"the inner end comes out last", rewound, FORWARD, "C 0-10", NULL,
         "B: 40-50 / 40-50\nC: 0-10 / 0-10\nD: 40-50 / 40-50\nS: 0-10 / 0-10\n"},
        {"a lot of the origin is also made of it", rewound, FORWARD, "B 0-5, C 0-10", NULL,
         "B: 0-5+40-50 / 0-5+40-50\nC: 0-10 / 0-10\nD: 0-5+40-50 / 0-5+40-50\nS: 0-10 / 0-10\nT: 10-15 / 10-15\n"},
        {"lines of different depth meet in one run", rewound, FORWARD, "C 40-60, E 20-50", NULL,
         "A: 40-50 / 40-50\nB: 0-10 / 0-10\nC: 40-60 / 40-60\nD: 0-10 / 0-10\nE: 20-50 / 20-50\nS: 0-30 / 0-30\n"
         "T: 5-15 / 5-15\n"},
        {"what was scrapped is on no lot", rewound, FORWARD, "E 15-20", NULL, "E: 15-20 / 15-20\n"},
        {"a package that is only touched is not affected", rewound, FORWARD, "C 50-60", NULL,
         "A: 40-50 / 40-50\nC: 50-60 / 50-60\nS: 0-10 / 0-10\n"},
        {"kept to some lots", rewound, FORWARD, "C 0-100", "A S", "A: 0-50 / 0-50\nC: 0-100 / 0-100\nS: 0-30 / 0-30\n"},
        {"back on every line", rewound, BACK, "T 5-15", NULL,
         "A: 0-10 / 0-10\nB: 0-10 / 0-10\nC: 40-50+90-100 / 40-50+90-100\nD: 0-10 / 0-10\nE: 0-10 / 0-10\n"
         "T: 5-15 / 5-15\n"},
        {"back, kept to some lots", rewound, BACK, "T 5-15", "A C",
         "A: 0-10 / 0-10\nC: 90-100 / 90-100\nT: 5-15 / 5-15\n"},
        {"back from a lot that was received", rewound, BACK, "C 0-5", NULL, "C: 0-5 / 0-5\n"},
        {"back over scrap between two lots", rewound, BACK, "S 29-30, T 0-1", NULL,
         "A: 14-15+20-21 / 14-15+20-21\nB: 14-15+20-21 / 14-15+20-21\nC: 29-30+35-36+79-80+85-86 / "
         "29-30+35-36+79-80+85-86\n"
         "D: 14-15+20-21 / 14-15+20-21\nE: 14-15+20-21 / 14-15+20-21\nS: 29-30 / 29-30\nT: 0-1 / 0-1\n"},

        /* the weld is at s = 2000 +- 200 */
        {"one coil", mill_weld_unseen, FORWARD, "C 0-1000", NULL,
         "C: 0-1000 / 0-1000\nP: 0-1000 / 0-1000\nQ: 0-800 / 0-1000\nR: none / 0-200\n"},
        {"two affected coils leave no gap at their weld", mill_weld_unseen, FORWARD, "C 0-1000, D 900-1000", NULL,
         "C: 0-1000 / 0-1000\nD: 900-1000 / 900-1000\nP: 0-1000 / 0-1000\nQ: 0-1000 / 0-1000\nR: 0-20 / 0-380\n"},
        {"two affected bobbins leave no gap at their boundary", mill_weld_unseen, BACK, "P 0-1000, Q 0-500", NULL,
         "C: 325-1000 / 175-1000\nP: 0-1000 / 0-1000\nQ: 0-500 / 0-500\n"},
        {"a coil up to a weld that was seen", mill_weld_at_boundary, FORWARD, "C 0-1000", NULL,
         "C: 0-1000 / 0-1000\nP: 0-1000 / 0-1000\nQ: 0-1000 / 0-1000\n"},
        {"under way, before the join", under_way, FORWARD, "C 0-10", NULL, "C: 0-10 / 0-10\nP: 0-40 / 0-40\n"},
        {"under way, what is on no bobbin yet", under_way, FORWARD, "D 0-10, C 0-3", NULL,
         "C: 0-3 / 0-3\nD: 0-10 / 0-10\n"},
        {"under way, back", under_way, BACK, "P 20-40", NULL, "C: 4-6 / 3-7\nP: 20-40 / 20-40\n"},
        {"a short stretch is nowhere for sure", mill_weld_unseen, FORWARD, "C 500-510", NULL,
         "C: 500-510 / 500-510\nP: none / 882-1000\nQ: none / 0-100\n"},
};

static void start(const struct mill *m, struct kw_hits *hits, const char *origin)
{
        char lot[16];
        int64_t from, to;
        int used;

        while (sscanf(origin, "%15s %" SCNd64 "-%" SCNd64 "%n", lot, &from, &to, &used) == 3) {
                mill_start_part(m, hits, lot, from, to);
                origin += used;
                origin += strspn(origin, ", ");
        }
}

static struct kw_hits *lots(const struct mill *m, const char *names)
{
        struct kw_hits *hits = kw_hits_new();
        char lot[16];
        int used;

        while (sscanf(names, "%15s%n", lot, &used) == 1) {
                mill_start(m, hits, lot);
                names += used;
        }
        return hits;
}

START_TEST(traces_by_hand)
{
        struct mill *m = mill_new();
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *hits = kw_hits_new(), *within = NULL;
        char text[MILL_TEXT];

        traces[_i].mill(m);
        start(m, hits, traces[_i].origin);
        if (traces[_i].within)
                within = lots(m, traces[_i].within);
        ck_assert_int_eq((traces[_i].direction == FORWARD ? kw_trace_forward : kw_trace_back)(&g, hits, within), 0);
        mill_tell(m, hits, text);
        ck_assert_msg(strcmp(text, traces[_i].answer) == 0, "%s:\n%sshould be\n%s", traces[_i].name, text,
                      traces[_i].answer);
        kw_hits_free(hits);
        kw_hits_free(within);
        mill_free(m);
}
END_TEST

/* --- the metal beside a weld ------------------------------------------------------------------ */

static const struct {
        const char *name;
        void (*mill)(struct mill *m);
        int64_t v, half;
        const char *answer;
} welds[] = {
        {"5 mm on either side", mill_weld_unseen, 1000, 5, "Q: none / 791-1000\nR: none / 0-209\n"},
        {"the bare joint", mill_weld_unseen, 1000, 0, "Q: none / 800-1000\nR: none / 0-200\n"},
        {"seen, 5 mm on either side", mill_weld_at_boundary, 1000, 5, "Q: 991-1000 / 989-1000\nR: 0-9 / 0-11\n"},
        {"seen, the bare joint lies on both ends of the cut", mill_weld_at_boundary, 1000, 0,
         "Q: 1000-1000 / 1000-1000\nR: 0-0 / 0-0\n"},
        {"beside the line's start", mill_weld_unseen, 3, 5, "P: 0-14 / 0-18\n"},
        {"beside the line's end", mill_weld_unseen, 1997, 5, "S: 986-1000 / 982-1000\n"},
        {"more than the line", mill_weld_unseen, 1000, 5000,
         "P: 0-1000 / 0-1000\nQ: 0-1000 / 0-1000\nR: 0-1000 / 0-1000\nS: 0-1000 / 0-1000\n"},
};

START_TEST(metal_beside_a_weld)
{
        struct mill *m = mill_new();
        struct kw_hits *hits = kw_hits_new();
        char text[MILL_TEXT];

        welds[_i].mill(m);
        const struct kw_run *run = mill_run_of(m, mill_run_id(m, "DR"));
        ck_assert_int_eq(kw_weld_spans(run, 0, welds[_i].v, welds[_i].half, hits), 0);
        mill_tell(m, hits, text);
        ck_assert_msg(strcmp(text, welds[_i].answer) == 0, "%s:\n%s", welds[_i].name, text);
        ck_assert_uint_eq(kw_hits_find(hits, mill_lot_id(m, strtok(text, ":")))->depth, 1);
        kw_hits_free(hits);
        mill_free(m);
}
END_TEST

START_TEST(spans_of_the_output_go_to_its_packages)
{
        struct mill *m = mill_new();
        struct kw_hits *hits = kw_hits_new();
        struct kw_span at[] = {{10, 32}, {34, 36}};
        const struct kw_spans s = {at, 2, 2};
        char text[MILL_TEXT];

        rewound(m);
        const struct kw_run *run = mill_run_of(m, mill_run_id(m, "ST"));
        ck_assert_int_eq(kw_output_spans(run, &s, KW_POSSIBLE, hits), 0);
        mill_tell(m, hits, text);
        ck_assert_str_eq(text, "S: none / 10-30\nT: none / 0-1\n");
        ck_assert_int_eq(kw_output_spans(run, &(struct kw_spans){at, 1, 1}, KW_CERTAIN, hits), 0);
        mill_tell(m, hits, text);
        ck_assert_str_eq(text, "S: 10-30 / 10-30\nT: none / 0-1\n");
        kw_hits_free(hits);
        mill_free(m);
}
END_TEST

/* --- a set of hits ---------------------------------------------------------------------------- */

static int count_up_to_three(void *ctx, struct kw_hit *hit)
{
        int *n = ctx;

        return ++*n == 3 ? (int)hit->lot + 1000 : 0;
}

START_TEST(a_set_of_hits)
{
        struct kw_hits *set = kw_hits_new();
        int n = 0;

        ck_assert_uint_eq(kw_hits_count(set), 0);
        ck_assert_ptr_null(kw_hits_find(set, 1));
        for (int64_t lot = 1; lot <= 5000; lot++)
                ck_assert_int_eq(kw_hits_add(set, lot * 1000003, 0, lot, KW_POSSIBLE), 0);
        ck_assert_uint_eq(kw_hits_count(set), 5000);
        struct kw_hit *hit = kw_hits_find(set, 77 * 1000003);
        ck_assert_int_eq(hit->reach.possible.at[0].to, 77);
        ck_assert_int_eq(kw_verdict_of(&hit->reach), KW_VERDICT_POSSIBLE);

        ck_assert_int_eq(kw_hits_add(set, 77 * 1000003, 50, 100, KW_CERTAIN), 0);
        ck_assert_uint_eq(kw_hits_count(set), 5000);
        ck_assert_int_eq(hit->reach.possible.at[0].to, 100);
        ck_assert_int_eq(hit->reach.certain.at[0].from, 50);
        ck_assert_int_eq(kw_verdict_of(&hit->reach), KW_VERDICT_CERTAIN);
        ck_assert_int_eq(kw_verdict_of(&(struct kw_reach){0}), KW_VERDICT_NONE);

        ck_assert_int_gt(kw_hits_each(set, count_up_to_three, &n), 1000);
        ck_assert_int_eq(n, 3);
        n = -10000;
        ck_assert_int_eq(kw_hits_each(set, count_up_to_three, &n), 0);
        ck_assert_int_eq(n, -5000);
        kw_hits_free(set);
        kw_hits_free(NULL);
}
END_TEST

/* --- makeup ----------------------------------------------------------------------------------- */

static const struct {
        const char *name;
        const char *lot, *group;
        const char *makeup;
} makeups[] = {
        {"of a coil", "S", "C", "0-30 / 0-30"},    {"of one end of it", "T", "D", "0-15 / 0-15"},
        {"of bobbins", "D", "B A", "0-50 / 0-50"}, {"of what has no part in it", "A", "E B", "none / none"},
        {"of nothing", "A", "", "none / none"},    {"of itself", "A", "A", "0-1000000000000 / 0-1000000000000"},
};

START_TEST(makeup_by_hand)
{
        struct mill *m = mill_new();
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *family = kw_hits_new();
        struct kw_reach reach;
        int64_t group[4];
        size_t n = 0;
        char names[64], text[MILL_TEXT] = "";

        rewound(m);
        snprintf(names, sizeof names, "%s", makeups[_i].group);
        for (char *name = strtok(names, " "); name; name = strtok(NULL, " "))
                group[n++] = mill_lot_id(m, name);
        int64_t lot = mill_lot_id(m, makeups[_i].lot);
        ck_assert_int_eq(kw_ancestry(&g, lot, family), 0);
        ck_assert_int_eq(kw_makeup(&g, family, lot, group, n, &reach), 0);
        mill_tell_spans(&reach.certain, text);
        strcat(text, " / ");
        mill_tell_spans(&reach.possible, text);
        ck_assert_msg(strcmp(text, makeups[_i].makeup) == 0, "%s: %s", makeups[_i].name, text);
        kw_reach_free(&reach);
        kw_hits_free(family);
        mill_free(m);
}
END_TEST

static const struct {
        const char *name;
        void (*mill)(struct mill *m);
        const char *lot, *family;
} families[] = {
        {"received", rewound, "C", "C "},
        {"one run back", rewound, "B", "C B "},
        {"every line", rewound, "S", "C E A B D S "},
        {"the coil that may reach it", mill_weld_unseen, "R", "C D R "},
        {"the coil that can't", mill_weld_unseen, "S", "D S "},
        {"a weld seen at the cut", mill_weld_at_boundary, "R", "D R "},
        {"a run under way", under_way, "P", "C P "},
};

START_TEST(ancestry)
{
        struct mill *m = mill_new();
        struct kw_genealogy g = mill_genealogy(m);
        struct kw_hits *family = kw_hits_new();
        char text[MILL_TEXT] = "";

        families[_i].mill(m);
        ck_assert_int_eq(kw_ancestry(&g, mill_lot_id(m, families[_i].lot), family), 0);
        for (size_t i = 0; i < m->n_lots; i++)
                if (kw_hits_find(family, (int64_t)i + 1)) {
                        strcat(text, m->lots[i].name);
                        strcat(text, " ");
                }
        ck_assert_msg(strcmp(text, families[_i].family) == 0, "%s: %s", families[_i].name, text);
        kw_hits_free(family);
        mill_free(m);
}
END_TEST

/* --- a store that is damaged ------------------------------------------------------------------- */

START_TEST(depth_that_does_not_rise_is_refused)
{
        struct mill *m = mill_new();
        struct kw_genealogy g = mill_genealogy(m);

        rewound(m);
        /* W-2 would be no deeper than W-1, which made its bobbin */
        mill_lot_of(m, mill_lot_id(m, "B"))->uses[0].depth = 1;
        struct kw_hits *hits = kw_hits_new();
        mill_start(m, hits, "C");
        ck_assert_int_eq(kw_trace_forward(&g, hits, NULL), -EBADMSG);
        kw_hits_free(hits);

        mill_lot_of(m, mill_lot_id(m, "B"))->depth = 2;
        hits = kw_hits_new();
        mill_start(m, hits, "D");
        ck_assert_int_eq(kw_trace_back(&g, hits, NULL), -EBADMSG);
        kw_hits_free(hits);
        mill_free(m);
}
END_TEST

#define COUNT(table) ((int)(sizeof(table) / sizeof *(table)))

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, traces_by_hand, 0, COUNT(traces));
        tcase_add_loop_test(tests, metal_beside_a_weld, 0, COUNT(welds));
        tcase_add_test(tests, spans_of_the_output_go_to_its_packages);
        tcase_add_test(tests, a_set_of_hits);
        tcase_add_loop_test(tests, makeup_by_hand, 0, COUNT(makeups));
        tcase_add_loop_test(tests, ancestry, 0, COUNT(families));
        tcase_add_test(tests, depth_that_does_not_rise_is_refused);
}

int main(void)
{
        return run_suite("trace", add);
}
