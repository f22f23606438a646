/*
 * Figures: entries acknowledged per second beside bare SQLite, in one run on one disk, and the time of a recall in the
 * engine.
 *
 * usage: kinwire-figures DIR [DEMO.ndjson ORIGIN]
 *
 * The peer is a table of one INTEGER PRIMARY KEY and one TEXT column in WAL mode with synchronous=FULL: the same bytes
 * as the leaves, the same number of entries a commit, and nothing derived. Each row: name, kinwire, peer, ratio.
 */
#include "kinwire/answer.h"
#include "kinwire/writer.h"

#include <inttypes.h>
#include <pthread.h>
#include <semaphore.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define WRITERS 32

static double now(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void fail(const char *what, const struct kw_error *err)
{
        fprintf(stderr, "%s: %s\n", what, err ? err->text : "");
        exit(1);
}

/* Entry @i of writer @w: a coil received, or a drawing run of the coil before it into four bobbins. */
static size_t entry_text(char *text, size_t room, int w, int i)
{
        if (i < 0)
                return (size_t)snprintf(
                        text, room,
                        "{\"key\":\"%08x-0000-4000-8000-000000000000\",\"kind\":\"heat\",\"body\":{\"heat\":\"H-%d\","
                        "\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}}",
                        w, w);
        if (i % 2 == 0)
                return (size_t)snprintf(
                        text, room,
                        "{\"key\":\"%08x-0000-4000-8000-%012x\",\"kind\":\"receive\",\"body\":{\"lot\":\"RC-%d-%d\","
                        "\"heat\":\"H-%d\",\"diameter_um\":5500,\"length_mm\":10723700}}",
                        w, i + 1, w, i, w);
        return (size_t)snprintf(
                text, room,
                "{\"key\":\"%08x-0000-4000-8000-%012x\",\"kind\":\"run\",\"body\":{\"run\":\"DR-%d-%d\",\"process\":"
                "\"draw\",\"machine\":\"BLOCK-%d\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"RC-%d-%d\"}]}],"
                "\"packages\":[{\"lot\":\"BB-%d-%d-1\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":"
                "\"BB-%d-%d-2\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":\"BB-%d-%d-3\",\"kind\":"
                "\"bobbin\",\"length_mm\":8000000},{\"lot\":\"BB-%d-%d-4\",\"kind\":\"bobbin\",\"length_mm\":"
                "8000000}]}}",
                w, i + 1, w, i, w, w, i - 1, w, i, w, i, w, i, w, i);
}

/* --- kinwire: writers that each wait for their answer --------------------------------------------- */

struct writer_thread {
        struct kw_writer *writer;
        int number, entries;
        sem_t answered;
};

static void answered(struct kw_job *job)
{
        sem_post(&((struct writer_thread *)job->ctx)->answered);
}

static void *write_entries(void *arg)
{
        struct writer_thread *t = arg;
        char text[2048];

        sem_init(&t->answered, 0, 0);
        for (int i = -1; i < t->entries; i++) {
                size_t n = entry_text(text, sizeof(text), t->number, i);
                struct kw_draft draft;
                struct kw_receipt receipt = {0};
                struct kw_job job = {.drafts = &draft,
                                     .n = 1,
                                     .by = "bench",
                                     .terminal = "BENCH",
                                     .receipts = &receipt,
                                     .done = answered,
                                     .ctx = t};

                if (kw_draft_read(text, n, &draft, &job.err))
                        fail("read", &job.err);
                while (kw_writer_submit(t->writer, &job))
                        usleep(1000);
                sem_wait(&t->answered);
                if (job.rc)
                        fail("append", &job.err);
                free(receipt.json);
                kw_draft_free(&draft);
        }
        sem_destroy(&t->answered);
        return NULL;
}

static double kinwire_rate(const char *path, int writers, int entries)
{
        struct writer_thread threads[WRITERS];
        pthread_t ids[WRITERS];
        struct kw_writer *writer;
        struct kw_error err = {0};
        double start;

        if (kw_writer_new(path, &writer, &err))
                fail(path, &err);
        start = now();
        for (int w = 0; w < writers; w++) {
                threads[w] = (struct writer_thread){.writer = writer, .number = w + 1, .entries = entries / writers};
                if (pthread_create(&ids[w], NULL, write_entries, &threads[w]))
                        fail("thread", NULL);
        }
        for (int w = 0; w < writers; w++)
                pthread_join(ids[w], NULL);
        start = now() - start;
        kw_writer_free(writer);
        return (double)(entries + writers) / start;
}

/* --- the peer -------------------------------------------------------------------------------------- */

static double bare_rate(const char *path, int a_commit, int entries)
{
        sqlite3 *db;
        sqlite3_stmt *insert;
        char text[2560];
        double start;

        if (sqlite3_open(path, &db) ||
            sqlite3_exec(db,
                         "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE e (seq INTEGER PRIMARY KEY, "
                         "leaf TEXT)",
                         NULL, NULL, NULL) ||
            sqlite3_prepare_v2(db, "INSERT INTO e (leaf) VALUES (?1)", -1, &insert, NULL))
                fail("bare SQLite", NULL);
        start = now();
        for (int i = 0; i < entries; i++) {
                size_t n = entry_text(text, sizeof(text), 1, i);

                /* the leaf has some 130 bytes more than what was sent: who, where, when */
                n += (size_t)snprintf(text + n, sizeof(text) - n, "%0130d", 0);
                if (i % a_commit == 0)
                        sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL);
                sqlite3_bind_text(insert, 1, text, (int)n, SQLITE_STATIC);
                sqlite3_step(insert);
                sqlite3_reset(insert);
                if ((i + 1) % a_commit == 0 && sqlite3_exec(db, "COMMIT", NULL, NULL, NULL))
                        fail("bare SQLite commit", NULL);
        }
        if (!sqlite3_get_autocommit(db))
                sqlite3_exec(db, "COMMIT", NULL, NULL, NULL);
        start = now() - start;
        sqlite3_finalize(insert);
        sqlite3_close(db);
        return entries / start;
}

static void ingest(const char *dir, int writers, int entries)
{
        char path[512], peer[512];
        double mine, bare;

        snprintf(path, sizeof(path), "%s/figures-%d.kw", dir, writers);
        snprintf(peer, sizeof(peer), "%s/figures-%d.db", dir, writers);
        mine = kinwire_rate(path, writers, entries);
        bare = bare_rate(peer, writers, entries);
        printf("entries acknowledged per second, %d writer%s\t%.0f\t%.0f\t%.2f\n", writers, writers > 1 ? "s" : "",
               mine, bare, mine / bare);
}

/* --- a recall --------------------------------------------------------------------------------------- */

static void load(struct kw_ledger *l, const char *path)
{
        struct kw_error err = {0};
        struct kw_sender sender = {"bench", "BENCH", true};
        FILE *f = fopen(path, "r");
        char *line = NULL;
        size_t cap = 0;
        ssize_t n;
        double start = now();
        int count = 0;

        if (!f || kw_ledger_begin(l, &err))
                fail(path, &err);
        for (; (n = getline(&line, &cap, f)) > 0; count++) {
                struct kw_draft draft;
                struct kw_receipt receipt;

                if (kw_draft_read(line, (size_t)n, &draft, &err) ||
                    kw_ledger_append(l, &draft, &sender, 0, &receipt, &err))
                        fail(path, &err);
                free(receipt.json);
                kw_draft_free(&draft);
        }
        if (kw_ledger_commit(l, &err))
                fail(path, &err);
        start = now() - start;
        printf("entries loaded in one transaction, per second\t%.0f\t-\t-\n", count / start);
        free(line);
        fclose(f);
}

static int by_value(const void *a, const void *b)
{
        double x = *(const double *)a, y = *(const double *)b;

        return x < y ? -1 : x > y;
}

static void recall(const char *dir, const char *demo, const char *origin)
{
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question question;
        struct kw_ledger *l;
        char path[512];
        double took[21];
        size_t lots = 0;

        snprintf(path, sizeof(path), "%s/figures-demo.kw", dir);
        if (kw_ledger_open(path, KW_OPEN_WRITE, &l, &err))
                fail(path, &err);
        load(l, demo);
        if (kw_question_read(origin, "forward", &question, &err))
                fail(origin, &err);
        for (int i = 0; i < 21; i++) {
                took[i] = now();
                if (kw_ledger_look(l, &err) || kw_trace_ask(l, &question, &answer, &err))
                        fail(origin, &err);
                lots = kw_trace_count(answer);
                kw_trace_answer_free(answer);
                kw_ledger_done(l);
                took[i] = now() - took[i];
        }
        qsort(took, 21, sizeof(took[0]), by_value);
        printf("recall of %s, %zu lots, with all that is said of each, ms (median of 21)\t%.2f\t-\t-\n", origin, lots,
               took[10] * 1e3);
        kw_ledger_close(l);
}

int main(int argc, char **argv)
{
        if (argc != 2 && argc != 4) {
                fprintf(stderr, "usage: kinwire-figures DIR [DEMO.ndjson ORIGIN]\n");
                return 2;
        }
        ingest(argv[1], 1, 4000);
        ingest(argv[1], WRITERS, 16000);
        if (argc == 4)
                recall(argv[1], argv[2], argv[3]);
        return 0;
}
