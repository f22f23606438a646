/*
 * Two ways of writing the same: many jobs in one transaction, boldly and then again where one was refused half written,
 * and each job in a transaction of its own with a way back for each entry. Whatever is among them, the answers, the
 * head and every row of every table are the same.
 *
 * What is sent is a mill's entries in their order, and between them what is refused of it: under another key, so that
 * codes are taken; too early; put right with what is there and with another's body; made void; several in one job;
 * only asked.
 */
#include "store.h"
#include "suite.h"

#include "kinwire/writer.h"

#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LINES    1500
#define JOBS     4000
#define DRAFTS   4
#define TOGETHER 64
#define NOW      1790000000

static const char *mill;

/* What an entry is logged at must not depend on when the test runs. */
time_t __wrap_time(time_t *out);
time_t __wrap_time(time_t *out)
{
        if (out)
                *out = NOW;
        return NOW;
}

/* Steps of runs, a second person, and runs in spite of a hold, of which the mill has none. */
static const char *const steps[] = {
        "{\"kind\":\"spec\",\"body\":{\"spec\":\"S#\",\"version\":1,\"what\":\"wire\",\"diameter_from_um\":1000,"
        "\"diameter_below_um\":9000,\"limits\":{\"torsions\":{\"min\":20}},\"tests\":[{\"property\":\"torsions\","
        "\"per\":\"run\",\"n\":1}],\"source\":\"-\",\"tolerance_ppm\":{\"draw\":5000}}}",
        "{\"kind\":\"heat\",\"body\":{\"heat\":\"SH#\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\"}}",
        "{\"kind\":\"receive\",\"body\":{\"lot\":\"SC#-1\",\"heat\":\"SH#\",\"diameter_um\":5500,\"length_mm\":100000}"
        "}",
        "{\"kind\":\"receive\",\"body\":{\"lot\":\"SC#-2\",\"heat\":\"SH#\",\"diameter_um\":5500,\"length_mm\":100000}"
        "}",
        "{\"kind\":\"open\",\"body\":{\"run\":\"SR#\",\"process\":\"draw\",\"machine\":\"BLOCK-1\",\"lines\":[\"1\"]}}",
        "{\"kind\":\"load\",\"body\":{\"run\":\"SR#\",\"line\":\"1\",\"lot\":\"SC#-1\"}}",
        "{\"kind\":\"load\",\"body\":{\"run\":\"SR#\",\"line\":\"1\",\"lot\":\"SC#-2\",\"take_mm\":40000}}",
        "{\"kind\":\"hold\",\"body\":{\"hold\":\"SO#\",\"reason\":\"rust\",\"lots\":[{\"lot\":\"SC#-2\"}]}}",
        "{\"kind\":\"run\",\"body\":{\"run\":\"SX#\",\"process\":\"draw\",\"machine\":\"BLOCK-1\",\"override\":{"
        "\"reason\":\"agreed\"},\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"SC#-2\",\"take_mm\":10000}]}],"
        "\"packages\":[{\"lot\":\"SB#\",\"kind\":\"bobbin\",\"length_mm\":40000,\"diameter_um\":2500}]}}",
        "{\"kind\":\"agree\",\"body\":{\"hold\":\"SO#\",\"disposition\":\"release\",\"reason\":\"seen\"}}",
        "{\"kind\":\"release\",\"body\":{\"hold\":\"SO#\",\"disposition\":\"release\",\"reason\":\"cleaned\"}}",
};

static char *lines[LINES];
static size_t n_lines;
static uint64_t state;

static unsigned pick(unsigned n)
{
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return (unsigned)(state % n);
}

/* --- what is sent ------------------------------------------------------------------------------------ */

/* One entry as its sender wrote it; both ways read it anew, for what is recorded of it is added to it. */
struct sent {
        char *entries[DRAFTS];
        size_t n;
        const char *by;
        bool check, may_override;
};

static struct sent jobs[JOBS];
static size_t n_jobs;
static unsigned keys;

static struct sent *new_job(void)
{
        struct sent *s = &jobs[n_jobs++];

        ck_assert_uint_le(n_jobs, JOBS);
        *s = (struct sent){.by = pick(4) ? "anna" : "ben", .check = pick(12) == 0, .may_override = pick(3) != 0};
        return s;
}

static void new_key(char key[40])
{
        snprintf(key, 40, "%08x-0000-4000-8000-00000000beef", ++keys);
}

/* The entry of line @i under another key, as the body of a correction of @target, or as it is. */
static char *entry(size_t i, bool other_key, const char *target)
{
        cJSON *json = cJSON_Parse(lines[i]);
        char key[40], *text;

        ck_assert_ptr_nonnull(json);
        new_key(key);
        if (target) {
                cJSON *body = cJSON_DetachItemFromObject(json, "body"), *correct = cJSON_CreateObject();

                cJSON_AddStringToObject(correct, "entry", target);
                cJSON_AddStringToObject(correct, "reason", "read again");
                cJSON_AddItemToObject(correct, "body", body);
                cJSON_AddItemToObject(json, "body", correct);
                cJSON_ReplaceItemInObject(json, "kind", cJSON_CreateString("correct"));
        }
        if (other_key || target)
                cJSON_ReplaceItemInObject(json, "key", cJSON_CreateString(key));
        text = cJSON_PrintUnformatted(json);
        cJSON_Delete(json);
        return text;
}

static char *key_of(size_t i)
{
        static char key[40];
        const char *at = strstr(lines[i], "\"key\":\"");

        snprintf(key, sizeof(key), "%.36s", at + 7);
        return key;
}

static char *make_void(size_t i)
{
        char key[40], text[300];

        new_key(key);
        snprintf(text, sizeof(text),
                 "{\"key\":\"%s\",\"kind\":\"void\",\"body\":{\"entry\":\"%s\",\"reason\":\"by mistake\"}}", key,
                 key_of(i));
        return strdup(text);
}

static size_t before(size_t i)
{
        return i < 2 ? 0 : i - 1 - pick(i < 60 ? (unsigned)i - 1 : 60);
}

static char *what_may_be_refused(size_t i)
{
        size_t k = before(i);
        unsigned later = pick(20);

        switch (pick(7)) {
        case 0:
                return entry(i + later < n_lines ? i + later : i, true, NULL);
        case 1: /* seldom, for what leans on it is refused from then on */
                return pick(12) ? entry(k, true, NULL) : make_void(k);
        case 2: /* with another's body, mostly */
                return entry(k, false, key_of(pick(6) ? i : before(i)));
        case 3:
        case 4:
                return entry(k, false, key_of(k));
        case 5: /* once more */
                return entry(k, false, NULL);
        default:
                return entry(k, true, NULL);
        }
}

static void send_all(void)
{
        for (size_t i = 0; i < n_lines;) {
                struct sent *s = new_job();
                size_t n = pick(12) ? 1 : 1 + pick(DRAFTS);

                /* else what comes later is not there to be refused for anything else */
                s->check = false;
                for (; n-- && i < n_lines; i++)
                        s->entries[s->n++] = entry(i, false, NULL);
                while (pick(2) && n_jobs < JOBS) {
                        s = new_job();
                        for (n = pick(4) ? 1 : 1 + pick(DRAFTS); n--;)
                                s->entries[s->n++] = what_may_be_refused(i ? i - 1 : 0);
                }
        }
}

/* --- both ways --------------------------------------------------------------------------------------- */

struct asked {
        struct kw_job job;
        struct kw_draft drafts[DRAFTS];
        struct kw_receipt receipts[DRAFTS];
};

static struct asked bold[JOBS], careful[JOBS];
static const struct kw_who who = {.roles = ~0U, .fresh = true};

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t change = PTHREAD_COND_INITIALIZER;
static size_t answered, out_of_turn;

static void done(struct kw_job *job)
{
        pthread_mutex_lock(&lock);
        out_of_turn += job != &bold[answered].job;
        answered++;
        pthread_cond_signal(&change);
        pthread_mutex_unlock(&lock);
}

static void read_drafts(struct asked *a, const struct sent *s)
{
        struct kw_error err = {0};

        *a = (struct asked){.job = {.drafts = a->drafts,
                                    .receipts = a->receipts,
                                    .n = s->n,
                                    .by = s->by,
                                    .terminal = "TEST",
                                    .check = s->check,
                                    .may_override = s->may_override,
                                    .second_person = true,
                                    .who = &who,
                                    .done = done}};
        for (size_t i = 0; i < s->n; i++)
                ck_assert_msg(kw_draft_read(s->entries[i], strlen(s->entries[i]), &a->drafts[i], &err) == 0,
                              "%s %s\n%s", err.pointer, err.text, s->entries[i]);
}

static void clear(struct asked *a)
{
        for (size_t i = 0; i < a->job.n; i++) {
                kw_draft_free(&a->drafts[i]);
                free(a->receipts[i].json);
        }
}

static struct kw_ledger *open_ledger(const char *path)
{
        struct kw_error err = {0};
        struct kw_ledger *l;

        ck_assert_msg(kw_ledger_open(path, KW_OPEN_WRITE, &l, &err) == 0, "%s", err.text);
        return l;
}

/* They wait behind the first, which can't begin as long as another program holds the ledger. */
static void write_boldly(const char *path)
{
        struct kw_ledger *other = open_ledger(path);
        struct kw_error err = {0};
        struct kw_writer *w;
        size_t sent = 0;

        ck_assert_msg(kw_writer_new(path, &w, &err) == 0, "%s", err.text);
        while (sent < n_jobs) {
                size_t n = 1 + pick(TOGETHER);

                ck_assert_int_eq(kw_ledger_begin(other, &err), 0);
                for (; n-- && sent < n_jobs; sent++) {
                        read_drafts(&bold[sent], &jobs[sent]);
                        ck_assert_int_eq(kw_writer_submit(w, &bold[sent].job), 0);
                }
                kw_ledger_rollback(other);
                pthread_mutex_lock(&lock);
                while (answered < sent)
                        pthread_cond_wait(&change, &lock);
                pthread_mutex_unlock(&lock);
                if (pick(3)) { /* one that has met nothing yet is bold */
                        kw_writer_free(w);
                        ck_assert_msg(kw_writer_new(path, &w, &err) == 0, "%s", err.text);
                }
        }
        kw_writer_free(w);
        kw_ledger_close(other);
        ck_assert_uint_eq(out_of_turn, 0);
}

static void write_carefully(const char *path)
{
        struct kw_ledger *l = open_ledger(path);
        struct kw_error err = {0};

        for (size_t i = 0; i < n_jobs; i++) {
                struct kw_job *job = &careful[i].job;
                const struct kw_sender sender = {.by = jobs[i].by,
                                                 .terminal = "TEST",
                                                 .may_override = jobs[i].may_override,
                                                 .second_person = true,
                                                 .who = &who};

                read_drafts(&careful[i], &jobs[i]);
                ck_assert_msg(kw_ledger_begin(l, &err) == 0, "%s", err.text);
                for (size_t k = 0; !job->rc && k < job->n; k++)
                        job->rc = kw_ledger_append(l, &job->drafts[k], &sender, NOW, &job->receipts[k], &job->err);
                ck_assert_msg(job->rc >= 0 && job->rc != KW_INTERNAL, "%s", job->err.text);
                if (job->rc || job->check)
                        kw_ledger_rollback(l);
                else
                        ck_assert_msg(kw_ledger_commit(l, &err) == 0, "%s", err.text);
        }
        kw_ledger_close(l);
}

/* --- held against each other ------------------------------------------------------------------------- */

static void same_answer(size_t i)
{
        const struct kw_job *x = &bold[i].job, *y = &careful[i].job;

        ck_assert_msg(x->rc == y->rc, "job %zu: %d %s, not %d %s\n%s", i, x->rc, x->err.text, y->rc, y->err.text,
                      jobs[i].entries[0]);
        if (x->rc) {
                ck_assert_str_eq(x->err.text, y->err.text);
                ck_assert_str_eq(x->err.pointer, y->err.pointer);
                return;
        }
        for (size_t k = 0; k < x->n; k++) {
                ck_assert_int_eq(x->receipts[k].seq, y->receipts[k].seq);
                ck_assert_int_eq(x->receipts[k].repeated, y->receipts[k].repeated);
                ck_assert_str_eq(x->receipts[k].json, y->receipts[k].json);
        }
}

static sqlite3 *open_file(const char *path)
{
        sqlite3 *db;

        ck_assert_int_eq(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
        return db;
}

static sqlite3_stmt *query(sqlite3 *db, const char *sql)
{
        sqlite3_stmt *q;

        ck_assert_msg(sqlite3_prepare_v2(db, sql, -1, &q, NULL) == SQLITE_OK, "%s: %s", sql, sqlite3_errmsg(db));
        return q;
}

static int64_t same_table(sqlite3 *a, sqlite3 *b, const char *name)
{
        char sql[200];
        sqlite3_stmt *x, *y;
        int64_t rows = 0;

        snprintf(sql, sizeof(sql), "SELECT * FROM \"%s\"", name); /* in the order in which they lie there */
        x = query(a, sql);
        y = query(b, sql);
        for (;; rows++) {
                int rx = sqlite3_step(x), ry = sqlite3_step(y);

                ck_assert_msg(rx == ry, "%s: row %lld: %d, not %d", name, (long long)rows, rx, ry);
                if (rx != SQLITE_ROW)
                        break;
                for (int i = 0; i < sqlite3_column_count(x); i++) {
                        int n = sqlite3_column_bytes(x, i), type = sqlite3_column_type(x, i);

                        ck_assert_msg(type == sqlite3_column_type(y, i) && n == sqlite3_column_bytes(y, i) &&
                                              (!n || memcmp(sqlite3_column_blob(x, i), sqlite3_column_blob(y, i),
                                                            (size_t)n) == 0),
                                      "%s: row %lld, %s", name, (long long)rows, sqlite3_column_name(x, i));
                }
        }
        sqlite3_finalize(x);
        sqlite3_finalize(y);
        return rows;
}

static void same_tables(const char *path, const char *other)
{
        sqlite3 *a = open_file(path), *b = open_file(other);
        sqlite3_stmt *names = query(a, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name");
        int64_t rows = 0;
        int tables = 0;

        for (; sqlite3_step(names) == SQLITE_ROW; tables++)
                rows += same_table(a, b, (const char *)sqlite3_column_text(names, 0));
        sqlite3_finalize(names);
        sqlite3_close(a);
        sqlite3_close(b);
        ck_assert_int_gt(tables, 20);
        ck_assert_int_gt(rows, (int64_t)n_lines);
}

static void verified(const char *path)
{
        struct kw_ledger *l = open_ledger(path);
        struct kw_error err = {0};
        int64_t wrong;

        ck_assert_msg(kw_ledger_verify(l, NULL, NULL, &wrong, &err) == 0, "%s", err.text);
        kw_ledger_close(l);
}

/* --- the mill ---------------------------------------------------------------------------------------- */

static void add_line(const char *text)
{
        ck_assert_uint_lt(n_lines, LINES);
        lines[n_lines++] = strdup(text);
}

static void add_steps(unsigned round)
{
        for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++) {
                char text[1024], key[40];
                size_t n;

                new_key(key);
                n = (size_t)snprintf(text, sizeof(text), "{\"key\":\"%s\",\"at\":\"2026-08-24T06:00:00Z\",", key);
                for (const char *at = steps[i] + 1; *at; at++)
                        n += (size_t)(*at == '#' ? sprintf(text + n, "%u", round) : sprintf(text + n, "%c", *at));
                add_line(text);
        }
}

static void read_mill(void)
{
        char text[16384];
        FILE *f = fopen(mill, "re");

        ck_assert_msg(f != NULL, "%s", mill);
        while (n_lines < LINES - 20 && fgets(text, sizeof(text), f)) {
                add_line(text);
                if (n_lines % 50 == 49)
                        add_steps((unsigned)n_lines);
        }
        fclose(f);
}

static void tell(void)
{
        int of[KW_REFUSALS] = {0};

        for (size_t i = 0; i < n_jobs; i++)
                of[careful[i].job.rc]++;
        printf("%zu jobs, %d of them taken or repeated;", n_jobs, of[0]);
        for (int i = 1; i < KW_REFUSALS; i++)
                if (of[i])
                        printf(" %d %s", of[i], kw_refusal_row((enum kw_refusal)i)->slug);
        printf("\n");
        ck_assert_int_gt(of[0], (int)n_jobs / 4);
        ck_assert_int_gt((int)n_jobs - of[0], (int)n_jobs / 10);
}

START_TEST(as_if_each_had_come_alone)
{
        char folder[64], bold_path[96], careful_path[96], command[128];

        state = 0x9e3779b97f4a7c15u + (uint64_t)_i;
        n_lines = n_jobs = answered = 0;
        keys = 0;
        snprintf(folder, sizeof(folder), "%s/kinwire-ways-XXXXXX", access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
        ck_assert_ptr_nonnull(mkdtemp(folder));
        snprintf(bold_path, sizeof(bold_path), "%s/bold.kw", folder);
        snprintf(careful_path, sizeof(careful_path), "%s/careful.kw", folder);
        read_mill();
        send_all();
        write_boldly(bold_path);
        write_carefully(careful_path);
        tell();
        for (size_t i = 0; i < n_jobs; i++)
                same_answer(i);
        same_tables(bold_path, careful_path);
        verified(bold_path);
        for (size_t i = 0; i < n_jobs; i++) {
                clear(&bold[i]);
                clear(&careful[i]);
                for (size_t k = 0; k < jobs[i].n; k++)
                        free(jobs[i].entries[k]);
        }
        for (size_t i = 0; i < n_lines; i++)
                free(lines[i]);
        snprintf(command, sizeof(command), "rm -r %s", folder);
        ck_assert_int_eq(system(command), 0);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, as_if_each_had_come_alone, 0, 2);
}

int main(int argc, char **argv)
{
        mill = argc > 1 ? argv[1] : "demo-data/mill.ndjson";
        return run_suite("writer's ways", add);
}
