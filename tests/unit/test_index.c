/*
 * The index: a mill's two months recorded while the index follows, looked at now and then and after a restart.
 */
#include "index_beside.h"
#include "recorder.h"
#include "suite.h"

#include "beside.h"
#include "index/layout.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char *mill; /* the demo mill's entries */

/* The entries up to @until, each in a commit of its own, followed; @line goes on from where it stands. */
static void record_until(struct beside *b, char **line, int *count, int until)
{
        for (char *end; *count < until && (end = strchr(*line, '\n')); *line = end + 1, ++*count) {
                record_line(b->ledger, *line, (size_t)(end - *line));
                kw_index_follow(b->index, b->ledger);
        }
}

static void restart(struct beside *b, int rc)
{
        struct kw_index_figures figures;

        kw_index_free(b->index);
        ck_assert_int_eq(kw_index_new(b->path, &b->index), 0);
        ck_assert_int_eq(kw_index_open(b->index), rc);
        if (rc)
                ck_assert_int_eq(kw_index_build(b->index), 0);
        kw_index_figures(b->index, &figures);
        ck_assert(figures.ready);
}

START_TEST(follows_a_mill)
{
        size_t n;
        char *text = recorder_file(mill, &n), *line = text;
        struct beside b = {0};
        size_t rows, states, fewer_rows, fewer_states;
        int count = 0;

        beside_new(&b);
        record_until(&b, &line, &count, 1060);
        beside_same(&b);
        restart(&b, 0); /* the file of the empty ledger, and 1,060 entries after it */
        beside_same(&b);
        ck_assert_int_eq(kw_index_build(b.index), 0);
        beside_said(&b, &rows, &states);
        ck_assert_msg(rows > 900 && states > 900, "%zu rows and %zu states", rows, states);
        record_until(&b, &line, &count, 1660);
        beside_same(&b);
        beside_said(&b, &fewer_rows, &fewer_states);
        ck_assert_uint_le(fewer_rows, rows);
        ck_assert_msg(fewer_states < states && fewer_states, "%zu states, and %zu later", states, fewer_states);
        restart(&b, -ESTALE); /* a correction has come since the file was made: what it touched is not in the tables */
        beside_same(&b);
        restart(&b, 0);
        record_until(&b, &line, &count, 1 << 30);
        beside_same(&b);
        beside_free(&b);
        free(text);
}
END_TEST

/* Every lot that a run made, traced with no bound, then with bounds about what it touches. */
static void bounded(struct beside *b, int64_t lot, int64_t length, int (*walk)(struct kw_index *, struct kw_hits *))
{
        size_t whole = 0;

        for (size_t most = 0, less = 0; less < 4; less++) {
                struct kw_hits *hits = kw_hits_new();
                int rc;

                kw_hits_bound(hits, most);
                ck_assert_int_eq(kw_hits_add(hits, lot, 0, length, KW_CERTAIN), 0);
                rc = walk(b->index, hits);
                ck_assert_int_eq(rc, less < 2 ? 0 : -E2BIG);
                whole = less == 0 ? kw_hits_count(hits) : whole;
                if (less == 3) /* told before the answer was put together */
                        ck_assert_uint_eq(kw_hits_count(hits), 1);
                kw_hits_free(hits);
                if (whole < 4)
                        return;
                most = whole - less;
        }
}

START_TEST(more_than_is_wanted)
{
        size_t n;
        char *text = recorder_file(mill, &n), *line = text;
        struct beside b = {0};
        struct kw_error err = {0};
        struct kw_query q;
        int count = 0, lots = 0;

        beside_new(&b);
        record_until(&b, &line, &count, 700);
        ck_assert_int_eq(kw_ledger_look(b.ledger, &err), 0);
        ck_assert_int_eq(kw_index_take(b.index, count), 0);
        ck_assert_int_eq(kw_ask(b.ledger, &q, "SELECT id, length_mm FROM lot WHERE run IS NOT NULL", ""), 0);
        while (kw_next(b.ledger, &q) == 1) {
                bounded(&b, kw_int(&q, 0), kw_int(&q, 1), kw_index_forward);
                bounded(&b, kw_int(&q, 0), kw_int(&q, 1), kw_index_back);
                lots++;
        }
        kw_end(&q);
        ck_assert_int_gt(lots, 50);
        kw_index_give(b.index);
        kw_ledger_done(b.ledger);
        beside_free(&b);
        free(text);
}
END_TEST

/*
 * A step makes the runs that lean on its run again: a bobbin of a run under way is in a strand already when something
 * deeper is loaded, and what a load took goes back when the run is closed.
 */
static const struct {
        const char *kind, *body;
} under_way[] = {
        {"heat", "{\"heat\":\"H1\",\"supplier\":\"S\",\"grade\":\"G\"}"},
        {"receive", "{\"lot\":\"C1\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":5500,\"length_mm\":100000}"},
        {"receive", "{\"lot\":\"C2\",\"kind\":\"coil\",\"heat\":\"H1\",\"diameter_um\":5500,\"length_mm\":100000}"},
        {"run",
         "{\"run\":\"D1\",\"process\":\"draw\",\"machine\":\"M1\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
         "\"C2\",\"take_mm\":50000}]}],\"packages\":[{\"lot\":\"W1\",\"kind\":\"coil\",\"length_mm\":90000}]}"},
        {"open", "{\"run\":\"D2\",\"process\":\"wind\",\"machine\":\"M2\",\"lines\":[\"1\"]}"},
        {"load", "{\"run\":\"D2\",\"line\":\"1\",\"lot\":\"C1\",\"take_mm\":50000}"},
        {"doff", "{\"run\":\"D2\",\"lot\":\"B1\",\"kind\":\"bobbin\",\"length_mm\":40000}"},
        {"doff", "{\"run\":\"D2\",\"lot\":\"B2\",\"kind\":\"bobbin\",\"length_mm\":10000}"},
        {"run",
         "{\"run\":\"S1\",\"process\":\"strand\",\"machine\":\"M3\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
         "\"B1\",\"take_mm\":30000}]}],\"packages\":[{\"lot\":\"P1\",\"kind\":\"strand\",\"length_mm\":29000}]}"},
        {"run",
         "{\"run\":\"S2\",\"process\":\"strand\",\"machine\":\"M3\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
         "\"P1\",\"take_mm\":20000}]}],\"packages\":[{\"lot\":\"P2\",\"kind\":\"strand\",\"length_mm\":19000}]}"},
        {"load", "{\"run\":\"D2\",\"line\":\"1\",\"lot\":\"W1\",\"take_mm\":60000}"},
        {"doff", "{\"run\":\"D2\",\"lot\":\"B3\",\"kind\":\"bobbin\",\"length_mm\":20000}"},
        {"load", "{\"run\":\"D2\",\"line\":\"1\",\"lot\":\"C2\",\"take_mm\":1000}"},
        {"close", "{\"run\":\"D2\",\"left\":[{\"line\":\"1\",\"left_mm\":900}]}"},
};
#define STEPS ((int)(sizeof(under_way) / sizeof(under_way[0])))

/* Step @i by the ledger that the index follows, or by another program. */
static void step(struct kw_ledger *l, int i)
{
        record(l, under_way[i].kind, "2026-01-01T00:00:00Z", under_way[i].body);
}

/* From step @from on as many as there are up to @to are another's, or came after the file was made. */
START_TEST(steps_that_others_recorded)
{
        for (int from = 1; from < STEPS; from++)
                for (int to = from + 1; to < STEPS; to += 2) {
                        struct beside b = {0};
                        struct kw_ledger *other;
                        struct kw_error err = {0};

                        beside_new(&b);
                        ck_assert_int_eq(kw_ledger_open(b.path, KW_OPEN_EXISTING, &other, &err), 0);
                        for (int i = 0; i < STEPS; i++) {
                                if (i == from)
                                        ck_assert_int_eq(kw_index_build(b.index), 0);
                                step(i >= from && i < to ? other : b.ledger, i);
                                if (i < from || i >= to)
                                        kw_index_follow(b.index, b.ledger);
                                if (i == to) {
                                        beside_same(&b);
                                        restart(&b, 0);
                                        beside_same(&b);
                                }
                        }
                        beside_same(&b);
                        kw_ledger_close(other);
                        beside_free(&b);
                }
}
END_TEST

/* What another program writes after a commit and before the index is told of that: it is told of it as well, or is not
 * ready any more. */
START_TEST(what_others_recorded_right_after)
{
        int stale = 0;

        for (int at = 1; at < STEPS - 1; at++) {
                struct beside b = {0};
                struct kw_index_figures f;
                struct kw_ledger *other;
                struct kw_error err = {0};

                beside_new(&b);
                ck_assert_int_eq(kw_ledger_open(b.path, KW_OPEN_EXISTING, &other, &err), 0);
                for (int i = 0; i < STEPS; i++) {
                        step(i == at + 1 ? other : b.ledger, i);
                        if (i == at)
                                continue;
                        kw_index_follow(b.index, b.ledger);
                        kw_index_figures(b.index, &f);
                        stale += !f.ready;
                        if (!f.ready)
                                ck_assert_int_eq(kw_index_build(b.index), 0);
                        beside_same(&b);
                }
                kw_ledger_close(other);
                beside_free(&b);
        }
        ck_assert_int_gt(stale, 0);
        ck_assert_int_lt(stale, STEPS - 2); /* where nothing was undone it goes on */
}
END_TEST

/* A file of another ledger, a file cut off, no file. */
START_TEST(a_file_that_does_not_fit)
{
        struct beside a = {0}, b = {0};
        char from[160], to[160];

        beside_new(&a);
        record(a.ledger, "heat", "2026-01-01T00:00:00Z", "{\"heat\":\"H1\",\"supplier\":\"S\",\"grade\":\"G\"}");
        ck_assert_int_eq(kw_index_build(a.index), 0);
        beside_new(&b);
        record(b.ledger, "heat", "2026-01-01T00:00:00Z", "{\"heat\":\"H2\",\"supplier\":\"S\",\"grade\":\"G\"}");
        snprintf(from, sizeof(from), "%s.index", a.path);
        snprintf(to, sizeof(to), "%s.index", b.path);
        ck_assert_int_eq(rename(from, to), 0);
        restart(&b, -ENOENT);
        ck_assert_int_eq(truncate(to, 100), 0);
        restart(&b, -ENOENT);
        ck_assert_int_eq(unlink(to), 0);
        restart(&b, -ENOENT);
        beside_same(&b);
        beside_free(&a);
        beside_free(&b);
}
END_TEST

/* While one writes the file, another leaves it alone and goes on without: not even its length changes. */
START_TEST(a_file_that_another_writes)
{
        struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
        struct kw_index_figures figures;
        struct beside b = {0};
        struct stat st;
        char path[160];
        int fd;

        beside_new(&b);
        record(b.ledger, "heat", "2026-01-01T00:00:00Z", "{\"heat\":\"H1\",\"supplier\":\"S\",\"grade\":\"G\"}");
        snprintf(path, sizeof(path), "%s.index.new", b.path);
        fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        ck_assert_int_eq(write(fd, "half of it", 10), 10);
        ck_assert_int_eq(fcntl(fd, F_OFD_SETLK, &all), 0);
        ck_assert_int_eq(kw_index_build(b.index), 0);
        kw_index_figures(b.index, &figures);
        ck_assert(figures.ready && !figures.mapped && figures.size == 1);
        ck_assert_int_eq(fstat(fd, &st), 0);
        ck_assert_int_eq(st.st_size, 10);
        close(fd);
        ck_assert_int_eq(kw_index_build(b.index), 0);
        kw_index_figures(b.index, &figures);
        ck_assert(figures.ready && figures.mapped);
        ck_assert_int_ne(access(path, F_OK), 0);
        restart(&b, 0);
        beside_free(&b);
}
END_TEST

/* Between two sections, where nothing is told by the bytes. */
static bool is_padding(const struct base_head *head, uint64_t at, const size_t sizes[SECTIONS])
{
        if (at < sizeof(*head))
                return false;
        for (int s = 0; s < SECTIONS; s++) {
                if (at >= head->at[s] && at < head->at[s] + head->n[s] * sizes[s])
                        return false;
        }
        return true;
}

/* Any byte of the file changed, as a disk may: it is not used. */
START_TEST(a_file_that_was_changed)
{
        static size_t sizes[SECTIONS];
        size_t n, bad = 0;
        char *text = recorder_file(mill, &n), *line = text, path[160];
        struct beside b = {0};
        struct base_head head;
        int count = 0, fd;
        unsigned char byte;

        beside_new(&b);
        record_until(&b, &line, &count, 400);
        ck_assert_int_eq(kw_index_build(b.index), 0);
        kw_index_free(b.index);
        snprintf(path, sizeof(path), "%s.index", b.path);
        fd = open(path, O_RDWR);
        ck_assert_int_eq(read(fd, &head, sizeof(head)), sizeof(head));
        kw_base_sizes(sizes);
        for (uint64_t at = 0; at < head.bytes; at += at < sizeof(head) ? 3 : 41) {
                int rc;

                ck_assert_int_eq(pread(fd, &byte, 1, (off_t)at), 1);
                byte ^= (unsigned char)(1u << at % 8);
                ck_assert_int_eq(pwrite(fd, &byte, 1, (off_t)at), 1);
                ck_assert_int_eq(kw_index_new(b.path, &b.index), 0);
                rc = kw_index_open(b.index);
                ck_assert_msg(rc == (is_padding(&head, at, sizes) ? 0 : -ENOENT), "byte %ju of the file: %d",
                              (uintmax_t)at, rc);
                bad += rc == -ENOENT;
                kw_index_free(b.index);
                byte ^= (unsigned char)(1u << at % 8);
                ck_assert_int_eq(pwrite(fd, &byte, 1, (off_t)at), 1);
        }
        ck_assert_uint_gt(bad, 500);
        close(fd);
        ck_assert_int_eq(kw_index_new(b.path, &b.index), 0);
        ck_assert_int_eq(kw_index_open(b.index), 0);
        beside_same(&b);
        beside_free(&b);
        free(text);
}
END_TEST

/* Of every length up to a few blocks, every bit. */
START_TEST(a_sum_tells_any_change)
{
        unsigned char bytes[100];

        for (size_t i = 0; i < sizeof(bytes); i++)
                bytes[i] = (unsigned char)(i * 37 % 5 ? i * 37 : 0);
        for (size_t n = 0; n <= sizeof(bytes); n++) {
                uint64_t sum = kw_sum_of(7, bytes, n);

                ck_assert(kw_sum_of(8, bytes, n) != sum && (n == 0 || kw_sum_of(7, bytes, n - 1) != sum));
                for (size_t bit = 0; bit < n * 8; bit++) {
                        bytes[bit / 8] ^= (unsigned char)(1u << bit % 8);
                        ck_assert(kw_sum_of(7, bytes, n) != sum);
                        bytes[bit / 8] ^= (unsigned char)(1u << bit % 8);
                }
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, a_file_that_was_changed);
        tcase_add_test(tests, a_sum_tells_any_change);
        tcase_add_test(tests, follows_a_mill);
        tcase_add_test(tests, more_than_is_wanted);
        tcase_add_test(tests, steps_that_others_recorded);
        tcase_add_test(tests, what_others_recorded_right_after);
        tcase_add_test(tests, a_file_that_does_not_fit);
        tcase_add_test(tests, a_file_that_another_writes);
}

int main(int argc, char **argv)
{
        mill = argc > 1 ? argv[1] : "demo-data/mill.ndjson";
        return run_suite("index", add);
}
