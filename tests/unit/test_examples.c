/*
 * The design's worked examples: every trace of them, to the millimetre.
 *
 *   1  two coils butt-welded and drawn onto three bobbins
 *   2  the same, the weld seen at the counter
 *   3  a bobbin rewound: wire leaves a spool in the reverse of the order in which it was wound
 *   4  three wires of one strand, one of them brazed
 */
#include "mill.h"
#include "suite.h"

#include <string.h>

static void draw(struct mill *m, int64_t seen)
{
        mill_receive(m, "RC-1", 10000000);
        mill_receive(m, "RC-2", 10000000);
        mill_run(m, "DR-1", 10000);
        mill_line(m, "1");
        mill_feed(m, "RC-1", 0, 10000000, KW_OFF_OUTER, 0);
        mill_feed(m, "RC-2", 0, 10000000, KW_OFF_OUTER, seen);
        mill_package(m, "BB-1", 20000000);
        mill_package(m, "BB-2", 20000000);
        mill_package(m, "BB-3", 20000000);
        mill_close(m);
}

static void one_weld(struct mill *m)
{
        draw(m, 0);
}

static void weld_seen(struct mill *m)
{
        draw(m, 30100000);
}

static void order_on_the_spool(struct mill *m)
{
        draw(m, 0);
        mill_run(m, "WD-1", 5000);
        mill_line(m, "1");
        mill_feed(m, "BB-2", 0, 20000000, KW_OFF_OUTER, 0);
        mill_package(m, "BW-1", 5000000);
        mill_package(m, NULL, 200000);
        mill_package(m, "BW-2", 14800000);
        mill_close(m);
}

static void three_wires(struct mill *m)
{
        draw(m, 0);
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
}

enum how { FORWARD, BACK, WELD };

static const struct {
        const char *name;
        void (*mill)(struct mill *m);
        enum how how;
        const char *origin; /* the lot; for a weld the run */
        int64_t from, to;   /* to 0: the whole lot; for a weld the line and the feed that it stands before */
        const char *answer;
} traces[] = {
        {"1: heat:H-A forward", one_weld, FORWARD, "RC-1", 0, 0,
         "BB-1: 0-20000000 / 0-20000000\n"
         "BB-2: 0-9700000 / 0-10300000\n"
         "RC-1: 0-10000000 / 0-10000000\n"},
        {"1: heat:H-B forward", one_weld, FORWARD, "RC-2", 0, 0,
         "BB-2: 10300000-20000000 / 9700000-20000000\n"
         "BB-3: 0-20000000 / 0-20000000\n"
         "RC-2: 0-10000000 / 0-10000000\n"},
        {"1: lot:BB-2 back", one_weld, BACK, "BB-2", 0, 0,
         "BB-2: 0-20000000 / 0-20000000\n"
         "RC-1: 0-3266666 / 0-3400000\n"
         "RC-2: 6733334-10000000 / 6600000-10000000\n"},
        {"1: lot:BB-2 back, 0 to 9000000", one_weld, BACK, "BB-2", 0, 9000000,
         "BB-2: 0-9000000 / 0-9000000\n"
         "RC-1: 430000-3266666 / 236666-3400000\n"},
        {"1: weld:W-1 forward", one_weld, WELD, "DR-1", 0, 1, "BB-2: none / 9699851-10300149\n"},
        {"1: lot:RC-1 forward, 0 to 1000000", one_weld, FORWARD, "RC-1", 0, 1000000,
         "BB-2: 7270000-9700000 / 6730000-10300000\n"
         "RC-1: 0-1000000 / 0-1000000\n"},
        {"1: lot:RC-1 forward, 9000000 to 10000000", one_weld, FORWARD, "RC-1", 9000000, 10000000,
         "BB-1: 0-2970000 / 0-3030000\n"
         "RC-1: 9000000-10000000 / 9000000-10000000\n"},
        {"2: heat:H-A forward", weld_seen, FORWARD, "RC-1", 0, 0,
         "BB-1: 0-20000000 / 0-20000000\n"
         "BB-2: 0-10100000 / 0-10100000\n"
         "RC-1: 0-10000000 / 0-10000000\n"},
        {"2: heat:H-B forward", weld_seen, FORWARD, "RC-2", 0, 0,
         "BB-2: 10100000-20000000 / 10100000-20000000\n"
         "BB-3: 0-20000000 / 0-20000000\n"
         "RC-2: 0-10000000 / 0-10000000\n"},
        {"2: lot:BB-2 back", weld_seen, BACK, "BB-2", 0, 0,
         "BB-2: 0-20000000 / 0-20000000\n"
         "RC-1: 0-3321926 / 0-3389037\n"
         "RC-2: 6722074-10000000 / 6655852-10000000\n"},
        {"2: weld:W-1 forward", weld_seen, WELD, "DR-1", 0, 1, "BB-2: 10099852-10100147 / 10099847-10100152\n"},
        {"2: lot:RC-1 forward, 4000000 to 5000000", weld_seen, FORWARD, "RC-1", 4000000, 5000000,
         "BB-1: 15200500-17939600 / 14899500-18180400\n"
         "RC-1: 4000000-5000000 / 4000000-5000000\n"},
        {"3: heat:H-A forward", order_on_the_spool, FORWARD, "RC-1", 0, 0,
         "BB-1: 0-20000000 / 0-20000000\n"
         "BB-2: 0-9700000 / 0-10300000\n"
         "BW-2: 5148500-14800000 / 4451500-14800000\n"
         "RC-1: 0-10000000 / 0-10000000\n"},
        {"3: heat:H-B forward", order_on_the_spool, FORWARD, "RC-2", 0, 0,
         "BB-2: 10300000-20000000 / 9700000-20000000\n"
         "BB-3: 0-20000000 / 0-20000000\n"
         "BW-1: 0-5000000 / 0-5000000\n"
         "BW-2: 0-4451500 / 0-5148500\n"
         "RC-2: 0-10000000 / 0-10000000\n"},
        {"3: lot:BW-1 back", order_on_the_spool, BACK, "BW-1", 0, 0,
         "BB-2: 15025000-20000000 / 14975000-20000000\n"
         "BW-1: 0-5000000 / 0-5000000\n"
         "RC-2: 6733334-8241750 / 6600000-8425084\n"},
        {"3: lot:BW-2 back", order_on_the_spool, BACK, "BW-2", 0, 0,
         "BB-2: 0-14774000 / 0-14826000\n"
         "BW-2: 0-14800000 / 0-14800000\n"
         "RC-1: 0-3266666 / 0-3400000\n"
         "RC-2: 8492754-10000000 / 8307420-10000000\n"},
        {"4: heat:H-A forward", three_wires, FORWARD, "RC-1", 0, 0,
         "BB-1: 0-20000000 / 0-20000000\n"
         "BB-2: 0-9700000 / 0-10300000\n"
         "RC-1: 0-10000000 / 0-10000000\n"
         "SS-1: 0-4000000 / 0-4000000\n"
         "SS-2: 0-5700000 / 0-5700000\n"},
        {"4: heat:H-B forward", three_wires, FORWARD, "RC-2", 0, 0,
         "BB-2: 10300000-20000000 / 9700000-20000000\n"
         "BB-3: 0-20000000 / 0-20000000\n"
         "RC-2: 0-10000000 / 0-10000000\n"
         "SS-1: 0-4000000 / 0-4000000\n"
         "SS-2: 0-5700000 / 0-5700000\n"},
        {"4: lot:SS-1 back", three_wires, BACK, "SS-1", 0, 0,
         "BB-1: 15896908-20000000 / 15855670-20000000\n"
         "BB-2: 0-4062061+15892779-20000000 / 0-4102887+15873945-20000000\n"
         "RC-1: 2059520-4648040 / 1885361-4767629\n"
         "RC-2: 6733334-7955382 / 6600000-8122439\n"
         "SS-1: 0-4000000 / 0-4000000\n"},
        {"4: lot:SS-2 back, 0 to 1", three_wires, BACK, "SS-2", 0, 1,
         "BB-1: none / 15855668-15896908\n"
         "BB-2: none / 4062061-4102889+15873944-15892779\n"
         "RC-1: none / 1885360-2059520+4648040-4767630\n"
         "RC-2: none / 7955382-8122439\n"
         "SS-2: 0-1 / 0-1\n"},
        {"4: weld:W-1 forward", three_wires, WELD, "DR-1", 0, 1,
         "BB-2: none / 9699851-10300149\n"
         "SS-2: none / 5502913-5700000\n"},
        {"4: weld:W-2 forward", three_wires, WELD, "ST-1", 1, 1, "SS-2: 1829953-1830047 / 1829950-1830050\n"},
        {"4: lot:RC-2 forward, 0 to 10000", three_wires, FORWARD, "RC-2", 0, 10000,
         "BB-3: 19970300-20000000 / 19969700-20000000\n"
         "RC-2: 0-10000 / 0-10000\n"
         "SS-2: 1830000-1858590 / 1830000-1859463\n"},
};

static int trace(struct mill *m, size_t i, struct kw_hits *hits)
{
        struct kw_genealogy g = mill_genealogy(m);

        if (traces[i].how == WELD) {
                const struct kw_run *run = mill_run_of(m, mill_run_id(m, traces[i].origin));
                const struct kw_feed *feed = &run->lines[traces[i].from].feeds[traces[i].to];

                ck_assert_int_eq(kw_weld_spans(run, (size_t)traces[i].from, feed->v0, 50, hits), 0);
        } else if (traces[i].to) {
                mill_start_part(m, hits, traces[i].origin, traces[i].from, traces[i].to);
        } else {
                mill_start(m, hits, traces[i].origin);
        }
        return traces[i].how == BACK ? kw_trace_back(&g, hits, NULL) : kw_trace_forward(&g, hits, NULL);
}

START_TEST(every_trace)
{
        struct mill *m = mill_new();
        struct kw_hits *hits = kw_hits_new();
        char text[MILL_TEXT];

        traces[_i].mill(m);
        ck_assert_int_eq(trace(m, (size_t)_i, hits), 0);
        mill_tell(m, hits, text);
        ck_assert_msg(strcmp(text, traces[_i].answer) == 0, "%s:\n%sshould be\n%s", traces[_i].name, text,
                      traces[_i].answer);
        kw_hits_free(hits);
        mill_free(m);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_trace, 0, sizeof traces / sizeof *traces);
}

int main(void)
{
        return run_suite("examples", add);
}
