/*
 * Mass along lengths: parts have the whole's mass together, and what goes into runs comes out of them, to the gram.
 */
#include "kinwire/balance.h"
#include "mill.h"
#include "suite.h"

#include <inttypes.h>

static const struct {
        const char *what;
        struct kw_mass m;
        int64_t from, to, g;
} parts[] = {
        {"the whole", {0, 1000, 777}, 0, 1000, 777},
        {"more than the whole", {100, 200, 50}, 0, 1000, 50},
        {"half, rounded up", {0, 10, 5}, 0, 5, 3},
        {"the other half has the rest", {0, 10, 5}, 5, 10, 2},
        {"beside it", {0, 10, 5}, 10, 20, 0},
        {"a place at the beginning", {30, 30, 9}, 30, 40, 9},
        {"a place at the end is the next one's", {30, 30, 9}, 20, 30, 0},
        {"nothing of nothing", {0, 10, 5}, 7, 7, 0},
};

START_TEST(part_of_a_mass)
{
        int64_t got = kw_mass_part(&parts[_i].m, parts[_i].from, parts[_i].to);

        ck_assert_msg(got == parts[_i].g, "%s: %" PRId64, parts[_i].what, got);
}
END_TEST

/* However a lot is cut, the parts have its mass. */
START_TEST(cut_at_random)
{
        struct dice d = {.state = (uint64_t)_i + 1};
        struct kw_mass m = {0, dice_between(&d, 1, 100000), dice_between(&d, 1, 3000000)};
        int64_t at = 0, g = 0;

        while (at < m.to) {
                int64_t next = dice_between(&d, at + 1, m.to);

                g += kw_mass_part(&m, at, next);
                at = next;
        }
        ck_assert_int_eq(g, m.g);
}
END_TEST

/* Two coils through a drawing run in which the joint was seen late: 60 kg on s 0..30, 40 kg on 30..40. */
START_TEST(a_seen_joint_bends_the_way)
{
        struct mill *m = mill_new();
        struct kw_masses a = {0}, b = {0}, on_s = {0}, first = {0}, second = {0};
        const struct kw_run *run;

        mill_receive(m, "A", 10);
        mill_receive(m, "B", 10);
        mill_run(m, "R", 0);
        mill_line(m, "1");
        mill_feed(m, "A", 0, 10, KW_OFF_OUTER, 0);
        mill_feed(m, "B", 0, 10, KW_OFF_OUTER, 30);
        mill_package(m, "P", 15);
        mill_package(m, "Q", 25);
        mill_close(m);
        run = mill_run_of(m, mill_run_id(m, "R"));
        ck_assert_int_eq(kw_masses_add(&a, 0, 10, 60000), 0);
        ck_assert_int_eq(kw_masses_add(&b, 0, 10, 40000), 0);
        ck_assert_int_eq(kw_mass_feed(run, &run->lines[0], &run->lines[0].feeds[0], &a, &on_s), 0);
        ck_assert_int_eq(kw_mass_feed(run, &run->lines[0], &run->lines[0].feeds[1], &b, &on_s), 0);
        ck_assert_int_eq(kw_mass_package(run, 0, &on_s, &first), 0);
        ck_assert_int_eq(kw_mass_package(run, 1, &on_s, &second), 0);
        ck_assert_int_eq(kw_masses_total(&first), 30000);  /* 15 of A's 30 */
        ck_assert_int_eq(kw_masses_total(&second), 70000); /* the other 15, and B */
        ck_assert_int_eq(second.at[0].from, 0);
        ck_assert_int_eq(second.at[0].to, 15);
        ck_assert_int_eq(second.at[1].to, 25);
        kw_masses_free(&a);
        kw_masses_free(&b);
        kw_masses_free(&on_s);
        kw_masses_free(&first);
        kw_masses_free(&second);
        mill_free(m);
}
END_TEST

/* The mass of every lot that was received, split at random places, followed through a random mill: none is lost. */
START_TEST(nothing_is_lost_between)
{
        struct dice d = {.state = (uint64_t)_i + 77};
        struct mill *m = mill_random(&d, 20000, true);
        struct kw_masses *lots = calloc(m->n_lots + 1, sizeof(*lots));
        bool *done = calloc(m->n_runs, sizeof(*done));
        int64_t received = 0, scrap = 0, there = 0, fed = 0;

        for (size_t i = 0; i < m->n_lots; i++) {
                int64_t length = m->lots[i].length, at = 0;

                while (!m->lots[i].maker && at < length) {
                        int64_t to = dice_between(&d, at + 1, length), g = dice_between(&d, 0, 5000);

                        ck_assert_int_eq(kw_masses_add(&lots[i + 1], at, to, g), 0);
                        received += g;
                        at = to;
                }
        }
        for (uint32_t depth = 1; depth <= m->n_runs; depth++) {
                for (size_t k = 0; k < m->n_runs; k++) {
                        const struct kw_run *run = &m->runs[k].run;
                        struct kw_masses on_s = {0};
                        int64_t in = 0, out = 0;

                        if (run->depth != depth || done[k])
                                continue;
                        done[k] = true;
                        for (size_t l = 0; l < run->n_lines; l++) {
                                for (size_t f = 0; f < run->lines[l].n_feeds; f++) {
                                        const struct kw_feed *feed = &run->lines[l].feeds[f];

                                        in += kw_masses_part(&lots[feed->lot], feed->from, feed->to);
                                        ck_assert_int_eq(
                                                kw_mass_feed(run, &run->lines[l], feed, &lots[feed->lot], &on_s), 0);
                                }
                        }
                        for (size_t p = 0; p < run->n_packages; p++) {
                                struct kw_masses part = {0};

                                ck_assert_int_eq(kw_mass_package(run, p, &on_s, &part), 0);
                                out += kw_masses_total(&part);
                                if (run->packages[p].lot) {
                                        lots[run->packages[p].lot] = part;
                                } else {
                                        scrap += kw_masses_total(&part);
                                        kw_masses_free(&part);
                                }
                        }
                        ck_assert_msg(in == out, "run %s: %" PRId64 " g in, %" PRId64 " g out", m->runs[k].name, in,
                                      out);
                        fed += in;
                        kw_masses_free(&on_s);
                }
        }
        for (size_t i = 1; i <= m->n_lots; i++) {
                there += kw_masses_total(&lots[i]);
                kw_masses_free(&lots[i]);
        }
        /* everything that was ever on a lot, without what went on from it */
        ck_assert_int_eq(there - fed + scrap, received);
        free(lots);
        free(done);
        mill_free(m);
}
END_TEST

START_TEST(scaled_to_what_was_weighed)
{
        struct kw_masses m = {0};

        ck_assert_int_eq(kw_masses_add(&m, 0, 10, 333), 0);
        ck_assert_int_eq(kw_masses_add(&m, 10, 20, 333), 0);
        ck_assert_int_eq(kw_masses_add(&m, 20, 30, 334), 0);
        ck_assert_int_eq(kw_masses_scale(&m, 990, 1000), 10);
        ck_assert_int_eq(kw_masses_total(&m), 990);
        ck_assert_int_eq(kw_masses_scale(&m, 0, 0), 0);
        ck_assert_int_eq(kw_masses_total(&m), 990);
        kw_masses_free(&m);
}
END_TEST

static void add_tests(TCase *tests)
{
        tcase_add_loop_test(tests, part_of_a_mass, 0, sizeof(parts) / sizeof(*parts));
        tcase_add_loop_test(tests, cut_at_random, 0, 300);
        tcase_add_test(tests, a_seen_joint_bends_the_way);
        tcase_add_loop_test(tests, nothing_is_lost_between, 0, 300);
        tcase_add_test(tests, scaled_to_what_was_weighed);
}

int main(void)
{
        return run_suite("balance", add_tests);
}
