/*
 * Recording: entries acknowledged per second by one writer and by 32 that each wait for their answer, beside bare
 * SQLite; and how long reads take meanwhile.
 *
 * The peer is the least that keeps the same entries as safely: one table (seq INTEGER PRIMARY KEY, leaf TEXT, hash
 * BLOB) without any other index, in WAL mode with synchronous = FULL and the ledger's own distance between checkpoints,
 * on the same disk. It is given the very leaves and hashes that the ledger has just stored, ready in memory, and
 * commits as many at a time as the ledger did on the average. Nobody waits for its answers, it checks nothing, derives
 * nothing and would take an entry twice. A disk's syncs take now this long and now that, the more so when others use
 * it: so both write in turn, round after round, and what counts is the median of the rounds' ratios. The ledger has
 * threads of its own for the index and for bringing its log into the file; what of that goes on after a round's last
 * answer is not counted, and falls into the peer's turn.
 */
#include "bench.h"

#include "store.h"

#include "kinwire/answer.h"
#include "kinwire/writer.h"

#include <fcntl.h>
#include <pthread.h>
#include <semaphore.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#define WRITERS 32
#define CLIENTS 4 /* threads that these share, as the daemon's connections do */
#define ROUNDS  9
#define READS   100000

/* As the pages make them (RFC 9562, version 7): what is recorded about the same time lies together. */
static void key_text(char key[37], int w, int i)
{
        struct timespec t;
        uint64_t ms;

        clock_gettime(CLOCK_REALTIME, &t);
        ms = (uint64_t)t.tv_sec * 1000 + (uint64_t)t.tv_nsec / 1000000;
        snprintf(key, 37, "%08x-%04x-7%03x-8%03x-0000%08x", (unsigned)(ms >> 16), (unsigned)(ms & 0xffff),
                 (unsigned)(t.tv_nsec % 1000000 / 245) & 0xfff, (unsigned)w & 0xfff, (unsigned)i);
}

/* Entry @i of writer @w: a coil received, or a drawing run of the coil before it into four bobbins. */
static size_t entry_text(char *text, size_t room, int w, int i)
{
        char key[37];

        key_text(key, w, i);
        if (i < 0)
                return (size_t)snprintf(text, room,
                                        "{\"key\":\"%s\",\"kind\":\"heat\",\"body\":{\"heat\":"
                                        "\"H-%d\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}}",
                                        key, w);
        if (i % 2 == 0)
                return (size_t)snprintf(text, room,
                                        "{\"key\":\"%s\",\"kind\":\"receive\",\"body\":{\"lot\":"
                                        "\"RC-%d-%d\",\"heat\":\"H-%d\",\"diameter_um\":5500,\"length_mm\":10723700}}",
                                        key, w, i, w);
        return (size_t)snprintf(
                text, room,
                "{\"key\":\"%s\",\"kind\":\"run\",\"body\":{\"run\":\"DR-%d-%d\","
                "\"process\":\"draw\",\"machine\":\"BLOCK-%d\",\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":"
                "\"RC-%d-%d\"}]}],\"packages\":[{\"lot\":\"BB-%d-%d-1\",\"kind\":\"bobbin\",\"length_mm\":"
                "8000000},{\"lot\":\"BB-%d-%d-2\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":"
                "\"BB-%d-%d-3\",\"kind\":\"bobbin\",\"length_mm\":8000000},{\"lot\":\"BB-%d-%d-4\",\"kind\":"
                "\"bobbin\",\"length_mm\":8000000}]}}",
                key, w, i, w, w, i - 1, w, i, w, i, w, i, w, i);
}

/* --- kinwire -------------------------------------------------------------------------------------------- */

/* One writer: it waits for the answer to its entry, and then sends the next. */
struct sender {
        struct kw_job job;
        struct kw_draft draft;
        struct kw_receipt receipt;
        struct client *client;
        int number, next; /* -1 is its heat */
        struct sender *answered;
};

/* A thread with so many writers as one of the daemon's has connections, who sleeps while none of them is answered. */
struct client {
        pthread_t id;
        struct kw_writer *writer;
        struct sender senders[WRITERS];
        int n, from, to; /* writers, and the entries of each */
        sem_t some;
        _Atomic(struct sender *) answered; /* the last of them first */
};

/* A ledger that is written to. */
struct ground {
        char path[512];
        struct kw_writer *writer;
        struct kw_index *ix;
        int first; /* number of the first writer */
        int done;  /* entries of each */
        double a_commit;
};

static void answered(struct kw_job *job)
{
        struct sender *s = job->ctx;
        struct client *c = s->client;

        s->answered = atomic_load(&c->answered);
        while (!atomic_compare_exchange_weak(&c->answered, &s->answered, s))
                ;
        sem_post(&c->some);
}

static void send_next(struct sender *s)
{
        char text[2048];
        size_t n = entry_text(text, sizeof(text), s->number, s->next++);

        s->job = (struct kw_job){.drafts = &s->draft,
                                 .n = 1,
                                 .by = "bench",
                                 .terminal = "BENCH",
                                 .receipts = &s->receipt,
                                 .done = answered,
                                 .ctx = s};
        if (kw_draft_read(text, n, &s->draft, &s->job.err))
                bench_fail("entry", s->job.err.text);
        while (kw_writer_submit(s->client->writer, &s->job))
                usleep(1000);
}

static void take_answer(struct sender *s)
{
        if (s->job.rc)
                bench_fail("entry", s->job.err.text);
        free(s->receipt.json);
        kw_draft_free(&s->draft);
}

static void *write_entries(void *arg)
{
        struct client *c = arg;
        int left = c->n * (c->to - c->from);

        for (int i = 0; i < c->n; i++)
                send_next(&c->senders[i]);
        while (left) {
                struct sender *s, *next;

                sem_wait(&c->some);
                for (s = atomic_exchange(&c->answered, NULL); s; s = next, left--) {
                        next = s->answered;
                        take_answer(s);
                        if (s->next < c->to)
                                send_next(s);
                }
        }
        return NULL;
}

static void ground_open(struct ground *g)
{
        struct kw_error err = {0};

        if (kw_writer_new(g->path, &g->writer, &err) || kw_index_new(g->path, &g->ix) ||
            (kw_index_open(g->ix) && kw_index_build(g->ix)))
                bench_fail(g->path, err.text);
        kw_writer_tell(g->writer, g->ix);
}

static void ground_close(struct ground *g)
{
        kw_writer_free(g->writer);
        kw_index_free(g->ix);
}

static void client_start(struct client *c, const struct ground *g, int first, int n, int each)
{
        *c = (struct client){.writer = g->writer, .n = n, .from = g->done, .to = g->done + each};
        for (int i = 0; i < n; i++)
                c->senders[i] = (struct sender){.client = c, .number = g->first + first + i, .next = c->from};
        sem_init(&c->some, 0, 0);
        if (pthread_create(&c->id, NULL, write_entries, c))
                bench_fail("thread", "can't be started");
}

/* Return: entries a second; g->a_commit: how many shared one on the average. */
static double ground_round(struct ground *g, int writers, int each)
{
        static struct client clients[CLIENTS];
        int n_clients = writers < CLIENTS ? writers : CLIENTS;
        struct kw_writer_figures before, after;
        double start;

        kw_writer_figures(g->writer, &before);
        start = bench_now();
        for (int i = 0; i < n_clients; i++)
                client_start(&clients[i], g, i * writers / n_clients, writers / n_clients, each);
        for (int i = 0; i < n_clients; i++) {
                pthread_join(clients[i].id, NULL);
                sem_destroy(&clients[i].some);
        }
        start = bench_now() - start;
        g->done += each;
        kw_writer_figures(g->writer, &after);
        g->a_commit = (double)(after.entries - before.entries) / (double)(after.commits - before.commits);
        return (double)(each * writers) / start * 1e3;
}

/* --- reads meanwhile ------------------------------------------------------------------------------------ */

struct reading {
        pthread_t id;
        const char *path;
        struct kw_index *ix;
        int first;
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

                snprintf(origin, sizeof(origin), "lot:RC-%zu-0", r->n % WRITERS + (size_t)r->first);
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

/* --- bare SQLite ---------------------------------------------------------------------------------------- */

/* What the ledger stored, as it lies in its table. */
struct leaves {
        struct leaf {
                char *text;
                int n;
                unsigned char hash[KW_HASH];
        } * at;
        size_t n;
};

static int keep_leaf(void *ctx, const struct kw_stored *e)
{
        struct leaves *all = ctx;
        struct leaf *leaf;

        all->at = reallocarray(all->at, all->n + 1, sizeof(*all->at));
        leaf = all->at ? &all->at[all->n++] : NULL;
        if (!leaf || !(leaf->text = strdup(e->leaf)))
                bench_fail("leaves", "no memory");
        leaf->n = (int)strlen(e->leaf);
        memcpy(leaf->hash, e->hash, KW_HASH);
        return 0;
}

static void last_leaves(const char *path, int n, struct leaves *out)
{
        struct kw_error err = {0};
        struct kw_ledger *l;
        struct kw_head head;

        if (kw_ledger_open(path, KW_OPEN_READ, &l, &err) || kw_ledger_head(l, &head, &err) ||
            kw_ledger_entries(l, head.size - n, n, keep_leaf, out, &err))
                bench_fail(path, err.text);
        kw_ledger_close(l);
}

static void leaves_free(struct leaves *all)
{
        for (size_t i = 0; i < all->n; i++)
                free(all->at[i].text);
        free(all->at);
        *all = (struct leaves){0};
}

struct bare {
        sqlite3 *db;
        sqlite3_stmt *insert;
};

static void bare_open(struct bare *b, const char *path)
{
        char settings[160];

        snprintf(settings, sizeof(settings),
                 "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = %d;"
                 "CREATE TABLE e (seq INTEGER PRIMARY KEY, leaf TEXT, hash BLOB)",
                 KW_LOG_PAGES);
        if (sqlite3_open(path, &b->db) || sqlite3_exec(b->db, settings, NULL, NULL, NULL) ||
            sqlite3_prepare_v2(b->db, "INSERT INTO e (leaf, hash) VALUES (?1, ?2)", -1, &b->insert, NULL))
                bench_fail(path, sqlite3_errmsg(b->db));
}

static void bare_close(struct bare *b)
{
        sqlite3_finalize(b->insert);
        sqlite3_close(b->db);
}

static double bare_round(struct bare *b, const struct leaves *all, double a_commit)
{
        size_t group = (size_t)(a_commit + .5);
        double start = bench_now();

        for (size_t i = 0; i < all->n; i++) {
                if (i % group == 0)
                        sqlite3_exec(b->db, "BEGIN IMMEDIATE", NULL, NULL, NULL);
                sqlite3_bind_text(b->insert, 1, all->at[i].text, all->at[i].n, SQLITE_STATIC);
                sqlite3_bind_blob(b->insert, 2, all->at[i].hash, KW_HASH, SQLITE_STATIC);
                sqlite3_step(b->insert);
                sqlite3_reset(b->insert);
                if (((i + 1) % group == 0 || i + 1 == all->n) && sqlite3_exec(b->db, "COMMIT", NULL, NULL, NULL))
                        bench_fail("bare SQLite", sqlite3_errmsg(b->db));
        }
        return (double)all->n / (bench_now() - start) * 1e3;
}

/* --- the rows ------------------------------------------------------------------------------------------- */

static void remove_file(const char *path)
{
        static const char *const suffixes[] = {"", "-wal", "-shm", ".index"};
        char name[600];

        for (size_t i = 0; i < sizeof(suffixes) / sizeof(suffixes[0]); i++) {
                snprintf(name, sizeof(name), "%s%s", path, suffixes[i]);
                unlink(name);
        }
}

/* New writers each time: each begins with its heat. */
static void rates(struct ground *g, const char *dir, const char *on, int writers, int each)
{
        double mine[ROUNDS], bare[ROUNDS], ratio[ROUNDS], a_commit = 0;
        struct bare peer;
        char path[512], name[160];

        snprintf(path, sizeof(path), "%s/ingest-bare.db", dir);
        remove_file(path);
        bare_open(&peer, path);
        g->first += WRITERS;
        g->done = -1;
        for (int i = 0; i < ROUNDS; i++) {
                struct leaves leaves = {0};

                mine[i] = ground_round(g, writers, each);
                last_leaves(g->path, writers * each, &leaves);
                bare[i] = bare_round(&peer, &leaves, g->a_commit);
                ratio[i] = mine[i] / bare[i];
                a_commit += g->a_commit / ROUNDS;
                leaves_free(&leaves);
        }
        bare_close(&peer);
        remove_file(path);
        snprintf(name, sizeof(name), "entries acknowledged%s, %d writer%s, %.1f a commit", on, writers,
                 writers > 1 ? "s" : "", a_commit);
        bench_row(name, "a second", bench_median(mine, ROUNDS), bench_median(bare, ROUNDS), bench_median(ratio, ROUNDS),
                  AT_LEAST, .7);
}

static void reads_meanwhile(struct ground *g, const char *on, int each)
{
        struct reading reading = {.path = g->path, .ix = g->ix, .first = g->first, .ms = calloc(READS, sizeof(double))};
        char name[160];

        if (!reading.ms || pthread_create(&reading.id, NULL, read_traces, &reading))
                bench_fail("thread", "can't be started");
        ground_round(g, WRITERS, each);
        snprintf(name, sizeof(name), "traces%s while %d writers write, 99th percentile", on, WRITERS);
        bench_figure(name, "ms", stop_reading(&reading), AT_MOST, 20);
}

static void copy_file(const char *from, const char *to)
{
        int in = open(from, O_RDONLY), out = open(to, O_WRONLY | O_CREAT | O_TRUNC, 0600);
        ssize_t n = in < 0 || out < 0 ? -1 : 1;

        while (n > 0)
                n = copy_file_range(in, NULL, out, NULL, 1 << 30, 0);
        if (n < 0 || fsync(out))
                bench_fail(to, "can't be copied");
        close(in);
        close(out);
}

/* A copy of the history, with its index, if there is room for it. */
static bool copy_history(const char *history, const char *to)
{
        char from_index[600], to_index[600];
        struct statvfs room;
        struct stat ledger;

        if (stat(history, &ledger) || statvfs(history, &room) ||
            (uint64_t)ledger.st_size * 3 / 2 > (uint64_t)room.f_bavail * room.f_frsize)
                return false;
        snprintf(from_index, sizeof(from_index), "%s.index", history);
        snprintf(to_index, sizeof(to_index), "%s.index", to);
        copy_file(history, to);
        copy_file(from_index, to_index);
        return true;
}

static void both_rows(const char *dir, const char *history, const char *on)
{
        struct ground g = {.writer = NULL};

        snprintf(g.path, sizeof(g.path), "%s/ingest.kw", dir);
        remove_file(g.path);
        if (history && !copy_history(history, g.path)) {
                bench_not_run("entries acknowledged on the history", "there is no room for a copy of it");
                return;
        }
        ground_open(&g);
        if (!history)
                rates(&g, dir, on, 1, 300);
        rates(&g, dir, on, WRITERS, 60);
        reads_meanwhile(&g, on, 300);
        ground_close(&g);
        remove_file(g.path);
}

void ingest_rows(const char *dir, const char *history)
{
        both_rows(dir, NULL, "");
        if (history)
                both_rows(dir, history, " on the history");
}
