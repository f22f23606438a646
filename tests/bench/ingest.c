/*
 * Recording: entries acknowledged per second by one writer and by 32 that each wait for their answer, against a bare
 * SQLite table that takes the same bytes with the same durability and as many at a commit; and how long reads take
 * meanwhile.
 */
#include "bench.h"

#include "kinwire/answer.h"
#include "kinwire/writer.h"

#include <pthread.h>
#include <semaphore.h>
#include <sqlite3.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define WRITERS 32
#define READS   100000

/* Entry @i of writer @w: a coil received, or a drawing run of the coil before it into four bobbins. */
static size_t entry_text(char *text, size_t room, int w, int i)
{
        if (i < 0)
                return (size_t)snprintf(
                        text, room,
                        "{\"key\":\"%08x-0000-4000-8000-000000000000\",\"kind\":\"heat\",\"body\":{\"heat\":"
                        "\"H-%d\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}}",
                        w, w);
        if (i % 2 == 0)
                return (size_t)snprintf(text, room,
                                        "{\"key\":\"%08x-0000-4000-8000-%012x\",\"kind\":\"receive\",\"body\":{\"lot\":"
                                        "\"RC-%d-%d\",\"heat\":\"H-%d\",\"diameter_um\":5500,\"length_mm\":10723700}}",
                                        w, i + 1, w, i, w);
        return (size_t)snprintf(
                text, room,
                "{\"key\":\"%08x-0000-4000-8000-%012x\",\"kind\":\"run\",\"body\":{\"run\":\"DR-%d-%d\","
                "\"process\":\"draw\",\"machine\":\"BLOCK-%d\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
                "\"RC-%d-%d\"}]}],\"packages\":[{\"lot\":\"BB-%d-%d-1\",\"kind\":\"bobbin\",\"length_mm\":"
                "8000000},{\"lot\":\"BB-%d-%d-2\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":"
                "\"BB-%d-%d-3\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":\"BB-%d-%d-4\",\"kind\":"
                "\"bobbin\",\"length_mm\":8000000}]}}",
                w, i + 1, w, i, w, w, i - 1, w, i, w, i, w, i, w, i);
}

/* --- kinwire -------------------------------------------------------------------------------------------- */

struct writer_thread {
        pthread_t id;
        struct kw_writer *writer;
        int number, entries;
        sem_t answered;
};

static void answered(struct kw_job *job)
{
        sem_post(&((struct writer_thread *)job->ctx)->answered);
}

static void write_one(struct writer_thread *t, int i)
{
        char text[2048];
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
                bench_fail("entry", job.err.text);
        while (kw_writer_submit(t->writer, &job))
                usleep(1000);
        sem_wait(&t->answered);
        if (job.rc)
                bench_fail("entry", job.err.text);
        free(receipt.json);
        kw_draft_free(&draft);
}

static void *write_entries(void *arg)
{
        struct writer_thread *t = arg;

        sem_init(&t->answered, 0, 0);
        for (int i = -1; i < t->entries; i++)
                write_one(t, i);
        sem_destroy(&t->answered);
        return NULL;
}

/* --- reads meanwhile ------------------------------------------------------------------------------------ */

struct reading {
        pthread_t id;
        const char *path;
        struct kw_index *ix;
        atomic_bool stop;
        double *ms;
        size_t n;
};

static void *read_traces(void *arg)
{
        struct reading *r = arg;
        struct kw_error err = {0};
        struct kw_ledger *l;

        if (kw_ledger_open(r->path, KW_OPEN_READ, &l, &err))
                bench_fail(r->path, err.text);
        kw_ledger_ask_index(l, r->ix);
        while (!atomic_load(&r->stop) && r->n < READS) {
                struct kw_trace_answer *answer = NULL;
                struct kw_question q;
                char origin[32];
                double start;

                snprintf(origin, sizeof(origin), "lot:RC-%zu-0", r->n % WRITERS + 1);
                kw_question_read(origin, "forward", &q, &err);
                start = bench_now();
                if (kw_ledger_look(l, &err))
                        bench_fail("read", err.text);
                if (kw_trace_ask(l, &q, &answer, &err) == 0) {
                        r->ms[r->n++] = bench_now() - start;
                        kw_trace_answer_free(answer);
                }
                kw_ledger_done(l);
                usleep(2000);
        }
        kw_ledger_close(l);
        return NULL;
}

static int by_value(const void *a, const void *b)
{
        double x = *(const double *)a, y = *(const double *)b;

        return (x > y) - (x < y);
}

static double stop_reading(struct reading *r)
{
        double slow;

        atomic_store(&r->stop, true);
        pthread_join(r->id, NULL);
        qsort(r->ms, r->n, sizeof(*r->ms), by_value);
        slow = r->n ? r->ms[r->n * 99 / 100] : 0;
        free(r->ms);
        return slow;
}

/* Return: entries a second; *a_commit: how many shared one on the average. */
static double kinwire_rate(const char *path, int writers, int entries, double *a_commit, double *read_ms)
{
        struct writer_thread threads[WRITERS];
        struct kw_writer_figures figures;
        struct reading reading = {.path = path};
        struct kw_writer *writer;
        struct kw_index *ix;
        struct kw_error err = {0};
        double start;

        if (kw_writer_new(path, &writer, &err) || kw_index_new(path, &ix) || kw_index_build(ix))
                bench_fail(path, err.text);
        kw_writer_tell(writer, ix);
        if (read_ms) {
                reading.ix = ix;
                reading.ms = calloc(READS, sizeof(double));
                if (!reading.ms || pthread_create(&reading.id, NULL, read_traces, &reading))
                        bench_fail("thread", "can't be started");
        }
        start = bench_now();
        for (int w = 0; w < writers; w++) {
                threads[w] = (struct writer_thread){.writer = writer, .number = w + 1, .entries = entries / writers};
                if (pthread_create(&threads[w].id, NULL, write_entries, &threads[w]))
                        bench_fail("thread", "can't be started");
        }
        for (int w = 0; w < writers; w++)
                pthread_join(threads[w].id, NULL);
        start = bench_now() - start;
        if (read_ms)
                *read_ms = stop_reading(&reading);
        kw_writer_figures(writer, &figures);
        *a_commit = (double)figures.entries / (double)figures.commits;
        kw_writer_free(writer);
        kw_index_free(ix);
        return (double)(entries + writers) / start * 1e3;
}

/* --- bare SQLite ---------------------------------------------------------------------------------------- */

static double bare_rate(const char *path, int a_commit, int entries)
{
        sqlite3 *db;
        sqlite3_stmt *insert;
        char text[2560];
        double start;

        if (sqlite3_open(path, &db) ||
            sqlite3_exec(db,
                         "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; CREATE TABLE e (seq INTEGER PRIMARY "
                         "KEY, leaf TEXT)",
                         NULL, NULL, NULL) ||
            sqlite3_prepare_v2(db, "INSERT INTO e (leaf) VALUES (?1)", -1, &insert, NULL))
                bench_fail(path, sqlite3_errmsg(db));
        start = bench_now();
        for (int i = 0; i < entries; i++) {
                size_t n = entry_text(text, sizeof(text), 1, i);

                /* the leaf has some 130 bytes more than what was sent: who, where, when */
                n += (size_t)snprintf(text + n, sizeof(text) - n, "%0130d", 0);
                if (i % a_commit == 0)
                        sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL);
                sqlite3_bind_text(insert, 1, text, (int)n, SQLITE_STATIC);
                sqlite3_step(insert);
                sqlite3_reset(insert);
                if (((i + 1) % a_commit == 0 || i + 1 == entries) && sqlite3_exec(db, "COMMIT", NULL, NULL, NULL))
                        bench_fail(path, sqlite3_errmsg(db));
        }
        start = bench_now() - start;
        sqlite3_finalize(insert);
        sqlite3_close(db);
        return entries / start * 1e3;
}

static void remove_ledger(const char *path)
{
        static const char *const suffixes[] = {"", "-wal", "-shm", ".index"};
        char name[600];

        for (size_t i = 0; i < sizeof(suffixes) / sizeof(suffixes[0]); i++) {
                snprintf(name, sizeof(name), "%s%s", path, suffixes[i]);
                unlink(name);
        }
}

static void ingest(const char *dir, int writers, int entries)
{
        char path[512], name[128];
        double mine, bare, a_commit, read_ms = 0;

        snprintf(path, sizeof(path), "%s/ingest.kw", dir);
        remove_ledger(path);
        mine = kinwire_rate(path, writers, entries, &a_commit, NULL);
        remove_ledger(path);
        bare = bare_rate(path, (int)(a_commit + .5), entries);
        remove_ledger(path);
        snprintf(name, sizeof(name), "entries acknowledged, %d writer%s, %.1f a commit", writers,
                 writers > 1 ? "s" : "", a_commit);
        bench_row(name, "a second", mine, bare, mine / bare, AT_LEAST, .7);
        if (writers == 1)
                return;
        kinwire_rate(path, writers, entries, &a_commit, &read_ms);
        remove_ledger(path);
        bench_figure("traces while 32 writers write, 99th percentile", "ms", read_ms, AT_MOST, 20);
}

void ingest_rows(const char *dir)
{
        ingest(dir, 1, 2000);
        ingest(dir, WRITERS, 16000);
}
