/*
 * The queue of runs: in order of rank, then of id, each run once with the lots that it was put in for.
 */
#include "mill.h"
#include "queue.h"
#include "suite.h"

static struct kw_hit hits[100];

static void put(struct kw_queue *q, uint32_t rank, int64_t run, int64_t lot)
{
        hits[lot].lot = lot;
        ck_assert_int_eq(kw_queue_put(q, (struct kw_turn){rank, run, &hits[lot]}), 0);
}

/* @lots: as they should come, ended by 0 */
static void take(struct kw_queue *q, uint32_t rank, int64_t run, const int64_t *lots)
{
        size_t n = 0;

        ck_assert(kw_queue_take(q));
        ck_assert_uint_eq(q->rank, rank);
        ck_assert_int_eq(q->run, run);
        for (; lots[n]; n++) {
                ck_assert_uint_lt(n, q->n_hits);
                ck_assert_ptr_eq(q->hits[n], &hits[lots[n]]);
                ck_assert_ptr_eq(kw_queue_hit(q, lots[n]), &hits[lots[n]]);
        }
        ck_assert_uint_eq(q->n_hits, n);
        ck_assert_ptr_null(kw_queue_hit(q, 0));
        ck_assert_ptr_null(kw_queue_hit(q, 99));
}

START_TEST(in_order_each_once)
{
        struct kw_queue q = {0};

        ck_assert(!kw_queue_take(&q));
        put(&q, 2, 7, 5);
        put(&q, 1, 9, 4);
        put(&q, 2, 3, 1);
        put(&q, 1, 9, 2);
        put(&q, 2, 7, 3);
        put(&q, 1, 12, 2);
        put(&q, 1, 9, 4);
        take(&q, 1, 9, (const int64_t[]){2, 4, 0});
        take(&q, 1, 12, (const int64_t[]){2, 0});
        take(&q, 2, 3, (const int64_t[]){1, 0});
        put(&q, 3, 7, 1);
        put(&q, 2, 7, 3);
        take(&q, 2, 7, (const int64_t[]){3, 5, 0});
        take(&q, 3, 7, (const int64_t[]){1, 0});
        ck_assert(!kw_queue_take(&q));
        kw_queue_free(&q);
}
END_TEST

START_TEST(many)
{
        struct dice d = {4711};

        for (int round = 0; round < 50; round++) {
                struct kw_queue q = {0};
                uint32_t rank = 0;
                int64_t run = 0;
                bool in[8][20][100] = {{{false}}};
                int puts = (int)dice_between(&d, 1, 500), distinct = 0, taken = 0;

                for (int i = 0; i < puts; i++) {
                        int64_t at = dice_between(&d, 0, 7), of = dice_between(&d, 1, 19),
                                lot = dice_between(&d, 1, 98);

                        distinct += !in[at][of][lot];
                        in[at][of][lot] = true;
                        put(&q, (uint32_t)at, of, lot);
                }
                for (; kw_queue_take(&q); rank = q.rank, run = q.run) {
                        ck_assert(taken == 0 || q.rank > rank || (q.rank == rank && q.run > run));
                        for (size_t i = 0; i < q.n_hits; i++) {
                                ck_assert(in[q.rank][q.run][q.hits[i]->lot]);
                                ck_assert(i == 0 || q.hits[i]->lot > q.hits[i - 1]->lot);
                                taken++;
                        }
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
