/*
 * The queue of runs: in order of rank, then of id, each run once however often it was put in.
 */
#include "mill.h"
#include "queue.h"
#include "suite.h"

static void put(struct kw_queue *q, uint32_t rank, int64_t run)
{
        ck_assert_int_eq(kw_queue_put(q, (struct kw_turn){rank, run}), 0);
}

static void take(struct kw_queue *q, uint32_t rank, int64_t run)
{
        struct kw_turn got;

        ck_assert(kw_queue_take(q, &got));
        ck_assert_uint_eq(got.rank, rank);
        ck_assert_int_eq(got.run, run);
}

START_TEST(in_order_each_once)
{
        struct kw_queue q = {0};
        struct kw_turn none;

        ck_assert(!kw_queue_take(&q, &none));
        put(&q, 2, 7);
        put(&q, 1, 9);
        put(&q, 2, 3);
        put(&q, 1, 9);
        put(&q, 2, 7);
        put(&q, 1, 12);
        put(&q, 1, 9);
        take(&q, 1, 9);
        take(&q, 1, 12);
        take(&q, 2, 3);
        put(&q, 3, 1);
        put(&q, 2, 7);
        take(&q, 2, 7);
        take(&q, 3, 1);
        ck_assert(!kw_queue_take(&q, &none));
        kw_queue_free(&q);
}
END_TEST

START_TEST(many)
{
        struct dice d = {4711};

        for (int round = 0; round < 50; round++) {
                struct kw_queue q = {0};
                struct kw_turn last = {0}, turn;
                bool in[8][100] = {{false}};
                int puts = (int)dice_between(&d, 1, 500), distinct = 0, taken = 0;

                for (int i = 0; i < puts; i++) {
                        int64_t rank = dice_between(&d, 0, 7), run = dice_between(&d, 1, 99);

                        distinct += !in[rank][run];
                        in[rank][run] = true;
                        put(&q, (uint32_t)rank, run);
                }
                for (; kw_queue_take(&q, &turn); last = turn, taken++) {
                        ck_assert(in[turn.rank][turn.run]);
                        ck_assert(taken == 0 || turn.rank > last.rank ||
                                  (turn.rank == last.rank && turn.run > last.run));
                }
                ck_assert_int_eq(taken, distinct);
                kw_queue_free(&q);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, in_order_each_once);
        tcase_add_test(tests, many);
}

int main(void)
{
        return run_suite("queue", add);
}
