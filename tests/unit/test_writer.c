/*
 * The writer: jobs that share a commit, of which some are refused, before or after a part of them was written. Whatever
 * is among them, the others are recorded in the order in which they were sent, and the ledger is as if each had come
 * alone. And a crowd, so that the index is told of one group while the next is written.
 */
#include "index_beside.h"
#include "store.h"
#include "suite.h"
#include "tree.h"

#include "kinwire/writer.h"

#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define JOBS   12
#define DRAFTS 3
#define CROWD  1000 /* fewer than fit into the queue */
#define LONG   2100

/* Entries of one job, each "kind body"; codes with # get the number of the round. */
struct sent {
        const char *entries[DRAFTS];
        int rc; /* as it should be answered */
        bool check;
};

#define HEAT    "heat {\"heat\":\"H#\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}"
#define COIL(n) "receive {\"lot\":\"C#-" n "\",\"heat\":\"H#\",\"diameter_um\":5500,\"length_mm\":100000}"
#define RUN(n)  RUN_OF(n, "C#-" n, "B#-" n "-2")
#define RUN_OF(n, coil, second)                                                                              \
        "run {\"run\":\"R#-" n "\",\"process\":\"draw\",\"machine\":\"BLOCK-1\",\"lines\":[{\"line\":\"1\"," \
        "\"feeds\":[{\"lot\":\"" coil "\"}]}],\"packages\":[{\"lot\":\"B#-" n "-1\",\"kind\":\"bobbin\","    \
        "\"length_mm\":50000},{\"lot\":\"" second "\",\"kind\":\"bobbin\",\"length_mm\":50000}]}"

static const struct {
        const char *name;
        struct sent jobs[JOBS];
} rounds[] = {
        {"all are taken",
         {{{HEAT}, 0, false}, {{COIL("1")}, 0, false}, {{RUN("1")}, 0, false}, {{COIL("2")}, 0, false}}},
        {"one is refused before anything of it is there",
         {{{HEAT}, 0, false}, {{COIL("1")}, 0, false}, {{RUN("2")}, KW_UNKNOWN_LOT, false}, {{RUN("1")}, 0, false}}},
        {"one is refused when a part of it is there",
         {{{HEAT}, 0, false},
          {{COIL("1")}, 0, false},
          {{COIL("2")}, 0, false},
          {{RUN("1")}, 0, false},
          {{RUN_OF("2", "C#-2", "B#-1-2")}, KW_CODE_TAKEN, false},
          {{RUN("2")}, 0, false}}},
        {"the first and the last are",
         {{{RUN_OF("2", "C9-9", "B#-1-2")}, KW_UNKNOWN_LOT, false},
          {{HEAT}, 0, false},
          {{COIL("1")}, 0, false},
          {{COIL("2")}, 0, false},
          {{RUN_OF("2", "C#-2", "C#-1")}, KW_CODE_TAKEN, false},
          {{RUN("1")}, 0, false},
          {{RUN_OF("2", "C#-2", "B#-1-1")}, KW_CODE_TAKEN, false}}},
        {"one only asks",
         {{{HEAT}, 0, false},
          {{COIL("1")}, 0, true},
          {{COIL("1")}, 0, false},
          {{RUN("1")}, 0, true},
          {{RUN_OF("1", "C#-1", "H#")}, 0, true},
          {{RUN_OF("2", "C#-1", "C0-1")}, KW_CODE_TAKEN, true},
          {{RUN("1")}, 0, false}}},
        {"some are of several entries",
         {{{HEAT, COIL("1"), COIL("2")}, 0, false},
          {{COIL("3"), RUN("3"), COIL("3")}, KW_CODE_TAKEN, false},
          {{COIL("3"), RUN("3"), RUN("2")}, 0, false},
          {{RUN_OF("1", "C#-1", "B#-3-1")}, KW_CODE_TAKEN, false},
          {{RUN("1"), COIL("4"), RUN("4")}, 0, false}}},
        {"all are refused",
         {{{RUN("1")}, KW_UNKNOWN_LOT, false},
          {{COIL("1")}, KW_UNKNOWN_HEAT, false},
          {{RUN("2")}, KW_UNKNOWN_LOT, false}}},
};

struct asked {
        struct kw_job job;
        struct kw_draft drafts[DRAFTS];
        struct kw_receipt receipts[DRAFTS];
        int expect;
};

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t change = PTHREAD_COND_INITIALIZER;
static int answered, untold; /* untold: answered, though the index did not have it */
static unsigned keys;

static bool is_told(const struct kw_job *job)
{
        struct kw_index_figures f;

        if (job->rc || job->check)
                return true;
        kw_index_figures(job->ctx, &f);
        return f.ready && f.size >= job->receipts[job->n - 1].seq;
}

static void done(struct kw_job *job)
{
        bool told = is_told(job);

        pthread_mutex_lock(&lock);
        answered++;
        untold += !told;
        pthread_cond_signal(&change);
        pthread_mutex_unlock(&lock);
}

static void wait_for(int n)
{
        pthread_mutex_lock(&lock);
        while (answered < n)
                pthread_cond_wait(&change, &lock);
        pthread_mutex_unlock(&lock);
}

static void read_entry(const char *text, size_t round, struct kw_draft *draft)
{
        char line[1024], *at = line;
        const char *body = strchr(text, ' ') + 1;
        struct kw_error err = {0};

        at += sprintf(at, "{\"key\":\"%08x-0000-4000-8000-000000000000\",\"kind\":\"%.*s\",\"body\":", ++keys,
                      (int)(body - 1 - text), text);
        for (; *body; body++)
                at += *body == '#' ? sprintf(at, "%zu", round) : sprintf(at, "%c", *body);
        at += sprintf(at, "}");
        ck_assert_msg(kw_draft_read(line, (size_t)(at - line), draft, &err) == 0, "%s\n%s", err.text, line);
}

static void prepare(struct asked *a, const struct sent *sent, size_t round, struct beside *b)
{
        *a = (struct asked){.expect = sent->rc,
                            .job = {.drafts = a->drafts,
                                    .receipts = a->receipts,
                                    .by = "open",
                                    .terminal = "TEST",
                                    .check = sent->check,
                                    .done = done,
                                    .ctx = b->index}};
        for (; a->job.n < DRAFTS && sent->entries[a->job.n]; a->job.n++)
                read_entry(sent->entries[a->job.n], round, &a->drafts[a->job.n]);
}

static void clear(struct asked *a)
{
        for (size_t i = 0; i < a->job.n; i++) {
                kw_draft_free(&a->drafts[i]);
                free(a->receipts[i].json);
        }
}

static int64_t queued(struct kw_writer *w)
{
        struct kw_writer_figures f;

        kw_writer_figures(w, &f);
        return f.queue;
}

/* The others wait behind one that can't begin as long as another program holds the ledger: so they are written
 * together. */
static size_t send_together(struct kw_writer *w, struct beside *b, struct asked *asked, const struct sent *sent,
                            size_t round)
{
        static const struct sent first = {{"note {\"about\":\"run:R0-0\",\"text\":\"-\"}"}, KW_UNKNOWN_RUN, false};
        struct kw_error err = {0};
        size_t n = 0;

        answered = 0;
        ck_assert_msg(kw_ledger_begin(b->ledger, &err) == 0, "%s", err.text);
        prepare(&asked[n], &first, round, b);
        ck_assert_int_eq(kw_writer_submit(w, &asked[n++].job), 0);
        while (queued(w))
                usleep(1000);
        for (size_t i = 0; i < JOBS && sent[i].entries[0]; i++, n++) {
                prepare(&asked[n], &sent[i], round, b);
                ck_assert_int_eq(kw_writer_submit(w, &asked[n].job), 0);
        }
        kw_ledger_rollback(b->ledger);
        wait_for((int)n);
        clear(&asked[0]); /* it waited; whether in vain is no matter */
        return n;
}

static int64_t verified(struct kw_ledger *l)
{
        struct kw_error err = {0};
        int64_t wrong, size;
        int rc = kw_ledger_verify(l, NULL, NULL, &wrong, &err);

        ck_assert_msg(rc == 0, "%s", err.text);
        ck_assert_int_eq(kw_ledger_size(l, &size), 0);
        return size;
}

START_TEST(written_together)
{
        struct asked asked[JOBS + 1];
        struct kw_error err = {0};
        struct kw_writer *w;
        struct beside b;
        int64_t seq = 0;

        beside_new(&b);
        for (size_t round = 0; round < sizeof(rounds) / sizeof(rounds[0]); round++) {
                size_t n;

                /* one that has met none yet that was refused half written */
                ck_assert_msg(kw_writer_new(b.path, &w, &err) == 0, "%s", err.text);
                kw_writer_tell(w, b.index);
                n = send_together(w, &b, asked, rounds[round].jobs, round);
                for (size_t i = 1; i < n; i++) {
                        const struct asked *a = &asked[i];

                        ck_assert_msg(a->job.rc == a->expect, "%s: job %zu: %d instead of %d: %s", rounds[round].name,
                                      i, a->job.rc, a->expect, a->job.err.text);
                        for (size_t k = 0; a->expect == 0 && k < a->job.n; k++)
                                ck_assert_msg(a->receipts[k].seq == seq + (int64_t)k + 1, "%s: job %zu",
                                              rounds[round].name, i);
                        seq += a->expect || a->job.check ? 0 : (int64_t)a->job.n;
                        clear(&asked[i]);
                }
                ck_assert_int_eq(untold, 0);
                ck_assert_int_eq(verified(b.ledger), seq);
                beside_same(&b);
                kw_writer_free(w);
        }
        beside_free(&b);
}
END_TEST

/* One in seven makes the run before it void that is not the last. */
static void crowd_entry(size_t i, char *text, size_t room)
{
        static const char *const made[] = {HEAT, COIL("1"), COIL("2"), RUN("1"), COIL("3"), RUN("2")};

        if (i % 7 < 6)
                snprintf(text, room, "%s", made[i % 7]);
        else
                snprintf(text, room,
                         "void {\"entry\":\"%08x-0000-4000-8000-000000000000\",\"reason\":\"logged by mistake\"}",
                         keys - 2);
}

START_TEST(crowd)
{
        static struct asked asked[CROWD];
        struct kw_error err = {0};
        struct kw_writer *w;
        struct beside b;

        answered = untold = 0;
        beside_new(&b);
        ck_assert_msg(kw_writer_new(b.path, &w, &err) == 0, "%s", err.text);
        kw_writer_tell(w, b.index);
        for (size_t i = 0; i < CROWD; i++) {
                char text[512];

                crowd_entry(i, text, sizeof(text));
                prepare(&asked[i], &(struct sent){{text}, 0, false}, i / 7, &b);
                ck_assert_int_eq(kw_writer_submit(w, &asked[i].job), 0);
        }
        wait_for(CROWD);
        for (size_t i = 0; i < CROWD; i++) {
                ck_assert_msg(asked[i].job.rc == 0, "%zu: %s", i, asked[i].job.err.text);
                ck_assert_int_eq(asked[i].receipts[0].seq, (int64_t)i + 1);
                clear(&asked[i]);
        }
        ck_assert_int_eq(untold, 0);
        beside_same(&b);
        kw_writer_free(w);
        ck_assert_int_eq(verified(b.ledger), CROWD);
        beside_free(&b);
}
END_TEST

/* One after the other, each a commit of its own, until the log has been brought into the ledger again and again. */
START_TEST(long_log)
{
        static struct asked asked;
        struct kw_error err = {0};
        struct kw_writer *w;
        struct beside b;
        struct stat log;
        char path[128];

        untold = 0;
        beside_new(&b);
        snprintf(path, sizeof(path), "%s-wal", b.path);
        ck_assert_msg(kw_writer_new(b.path, &w, &err) == 0, "%s", err.text);
        kw_writer_tell(w, b.index);
        for (size_t i = 0; i < LONG; i++) {
                char text[512];

                answered = 0;
                crowd_entry(i, text, sizeof(text));
                prepare(&asked, &(struct sent){{text}, 0, false}, i / 7, &b);
                ck_assert_int_eq(kw_writer_submit(w, &asked.job), 0);
                wait_for(1);
                ck_assert_msg(asked.job.rc == 0, "%zu: %s", i, asked.job.err.text);
                clear(&asked);
        }
        ck_assert_int_eq(untold, 0);
        beside_same(&b);
        kw_writer_free(w);
        ck_assert_int_eq(stat(path, &log), 0);
        ck_assert_int_lt(log.st_size, INT64_C(5) * KW_LOG_PAGES * 4096);
        ck_assert_int_eq(verified(b.ledger), LONG);
        beside_free(&b);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, long_log);
        tcase_add_test(tests, crowd);
        tcase_add_test(tests, written_together);
}

int main(void)
{
        return run_suite("writer", add);
}
