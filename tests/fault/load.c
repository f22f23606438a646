/*
 * The story that is recorded under stress, and the book of what was asked and acknowledged.
 */
#include "load.h"

#include <check.h>
#include <ftw.h>
#include <inttypes.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define NOW INT64_C(1780000000)

/* --- the story ------------------------------------------------------------------------------------- */

/* %1$u: the number of the eight, %2$s: the key of the run in it. */
static const struct {
        const char *kind, *body;
} story[8] = {
        {"heat",
         "{\"heat\":\"H-%1$u\",\"supplier\":\"Northmark Steel\",\"grade\":\"C82D\",\"analysis_ppm\":{\"C\":8200}}"},
        {"receive",
         "{\"lot\":\"RC-%1$u\",\"heat\":\"H-%1$u\",\"diameter_um\":5500,\"length_mm\":900000,\"location\":\"BAY-1\"}"},
        {"run", "{\"run\":\"R-%1$u\",\"process\":\"draw\",\"machine\":\"DR-1\",\"lines\":[{\"line\":\"1\",\"feeds\":"
                "[{\"lot\":\"RC-%1$u\",\"take_mm\":400000},{\"lot\":\"RC-%1$u\",\"take_mm\":300000}]}],\"packages\":"
                "[{\"lot\":\"BB-%1$u-1\",\"kind\":\"bobbin\",\"length_mm\":2000000,\"diameter_um\":2500},"
                "{\"scrap_mm\":1000},{\"lot\":\"BB-%1$u-2\",\"kind\":\"bobbin\",\"length_mm\":1390000}]}"},
        {"test",
         "{\"test\":\"T-%1$u\",\"lot\":\"BB-%1$u-1\",\"at_mm\":1999000,\"sample_mm\":1000,\"instrument\":\"TM-1\","
         "\"results\":{\"diameter_um\":2501,\"torsions\":28},\"verdict\":\"fail\"}"},
        {"hold", "{\"hold\":\"HO-%1$u\",\"reason\":\"torsions\",\"lots\":[{\"lot\":\"BB-%1$u-1\"},\"BB-%1$u-2\"]}"},
        {"correct",
         "{\"entry\":\"%2$s\",\"reason\":\"the counter was read again\",\"body\":{\"run\":\"R-%1$u\","
         "\"process\":\"draw\",\"machine\":\"DR-1\",\"lines\":[{\"line\":\"1\",\"feeds\":"
         "[{\"lot\":\"RC-%1$u\",\"take_mm\":400000},{\"lot\":\"RC-%1$u\",\"take_mm\":310000}]}],\"packages\":"
         "[{\"lot\":\"BB-%1$u-1\",\"kind\":\"bobbin\",\"length_mm\":2000500},"
         "{\"lot\":\"BB-%1$u-2\",\"kind\":\"bobbin\",\"length_mm\":1390000}]}}"},
        {"release", "{\"hold\":\"HO-%1$u\",\"disposition\":\"release\",\"reason\":\"as decided\"}"},
        {"scrap", "{\"lot\":\"BB-%1$u-2\",\"reason\":\"kinked\"}"},
};

static void key_of(unsigned number, char key[KW_KEY_LEN + 1])
{
        snprintf(key, KW_KEY_LEN + 1, "%08x-0000-4000-8000-0000006b7721", number);
}

void load_draft(unsigned number, struct kw_draft *out, char key[KW_KEY_LEN + 1])
{
        unsigned eight = number / 8;
        char run_key[KW_KEY_LEN + 1], body[1024], text[1400];
        struct kw_error err = {0};
        int rc;

        key_of(number, key);
        key_of(eight * 8 + 2, run_key);
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
        snprintf(body, sizeof(body), story[number % 8].body, eight, run_key);
#pragma GCC diagnostic pop
        rc = snprintf(text, sizeof(text),
                      "{\"key\":\"%s\",\"kind\":\"%s\",\"at\":\"2026-03-04T09:%02u:00Z\",\"body\":%s}", key,
                      story[number % 8].kind, number % 60, body);
        rc = kw_draft_read(text, (size_t)rc, out, &err);
        if (rc)
                ck_abort_msg("entry %u can't be read: %s: %s", number, err.pointer, err.text);
}

int load_append(struct kw_ledger *ledger, unsigned number, struct kw_receipt *out, struct kw_error *err)
{
        const struct kw_sender sender = {.by = "stress", .terminal = "TEST", .may_override = true};
        char key[KW_KEY_LEN + 1];
        struct kw_draft draft;
        int rc = kw_ledger_begin(ledger, err);

        if (rc)
                return rc;
        load_draft(number, &draft, key);
        rc = kw_ledger_append(ledger, &draft, &sender, NOW, out, err);
        if (rc == 0)
                rc = kw_ledger_commit(ledger, err);
        else
                kw_ledger_rollback(ledger);
        if (rc) {
                free(out->json);
                *out = (struct kw_receipt){0};
        }
        kw_draft_free(&draft);
        return rc;
}

/* --- through the writer ------------------------------------------------------------------------------ */

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;

struct waiting {
        pthread_mutex_t lock;
        pthread_cond_t answered;
        bool done;
        pthread_t by;
};

static void done(struct kw_job *job)
{
        struct waiting *w = job->ctx;

        pthread_mutex_lock(&w->lock);
        w->done = true;
        w->by = pthread_self();
        pthread_cond_signal(&w->answered);
        pthread_mutex_unlock(&w->lock);
}

static struct asked *note(struct book *book, unsigned number, const char *key)
{
        struct asked *a;

        pthread_mutex_lock(&lock);
        if (book->n == LOAD_MAX)
                abort();
        a = &book->asked[book->n++];
        *a = (struct asked){.number = number, .rc = -1};
        snprintf(a->key, sizeof(a->key), "%s", key);
        pthread_mutex_unlock(&lock);
        return a;
}

/* {"seq":17,"head":"<hex>",... */
static void acknowledge(struct book *book, struct asked *a, const struct kw_receipt *receipt, pthread_t by)
{
        const char *head = strstr(receipt->json, "\"head\":\"");

        pthread_mutex_lock(&lock);
        a->seq = receipt->seq;
        if (head && !receipt->repeated)
                snprintf(a->head, sizeof(a->head), "%.64s", head + 8);
        book->acked++;
        book->beside += !pthread_equal(by, book->writer);
        if (receipt->seq > atomic_load(&book->highest))
                atomic_store(&book->highest, receipt->seq);
        pthread_mutex_unlock(&lock);
}

int load_write(struct kw_writer *writer, struct book *book, unsigned number, struct kw_error *err)
{
        struct waiting w = {.lock = PTHREAD_MUTEX_INITIALIZER, .answered = PTHREAD_COND_INITIALIZER};
        struct kw_receipt receipt = {0};
        struct kw_draft draft;
        struct kw_job job = {.drafts = &draft, .n = 1, .by = "stress", .terminal = "TEST", .may_override = true};
        char key[KW_KEY_LEN + 1];
        struct asked *a;
        int rc;

        load_draft(number, &draft, key);
        a = note(book, number, key);
        job.receipts = &receipt;
        job.done = done;
        job.ctx = &w;
        rc = kw_writer_submit(writer, &job);
        if (!rc) {
                pthread_mutex_lock(&w.lock);
                while (!w.done)
                        pthread_cond_wait(&w.answered, &w.lock);
                pthread_mutex_unlock(&w.lock);
                *err = job.err;
                rc = job.rc;
        }
        a->rc = rc;
        if (!rc)
                acknowledge(book, a, &receipt, w.by);
        free(receipt.json);
        kw_draft_free(&draft);
        return rc;
}

struct hand {
        struct kw_writer *writer;
        struct book *book;
        unsigned eights;
        pthread_t thread;
};

static void *work(void *arg)
{
        struct hand *h = arg;
        struct kw_error err;

        for (unsigned i = 0; i < h->eights; i++) {
                unsigned first;

                pthread_mutex_lock(&lock);
                first = h->book->next;
                h->book->next += 8;
                pthread_mutex_unlock(&lock);
                for (unsigned k = 0; k < 8; k++)
                        if (load_write(h->writer, h->book, first + k, &err))
                                return NULL;
        }
        return NULL;
}

void load_run(struct kw_writer *writer, struct book *book, unsigned threads, unsigned eights)
{
        struct hand hands[32];

        for (unsigned i = 0; i < threads; i++) {
                hands[i] = (struct hand){.writer = writer, .book = book, .eights = eights};
                pthread_create(&hands[i].thread, NULL, work, &hands[i]);
        }
        for (unsigned i = 0; i < threads; i++)
                pthread_join(hands[i].thread, NULL);
}

/* --- the book ---------------------------------------------------------------------------------------- */

struct comparing {
        struct kw_ledger *ledger;
        struct book *book;
        struct found *out;
        unsigned char *seen; /* by place in the book */
};

static int by_key(const void *a, const void *b)
{
        return strcmp(((const struct asked *)a)->key, ((const struct asked *)b)->key);
}

static int find(void *ctx, const struct kw_stored *e)
{
        struct comparing *c = ctx;
        struct asked key, *a;

        c->out->stored++;
        snprintf(key.key, sizeof(key.key), "%s", e->key);
        a = bsearch(&key, c->book->asked, c->book->n, sizeof(*a), by_key);
        if (!a) {
                c->out->strange++;
                return 0;
        }
        if (a->seq && a->seq != e->seq)
                return 0; /* counted as lost: it is not where it was said to be */
        c->seen[a - c->book->asked] = 1;
        return 0;
}

/* A key that was asked for twice is one entry of the book: the acknowledged one, if there is one. */
static void unite(struct book *book)
{
        size_t n = 0;

        qsort(book->asked, book->n, sizeof(book->asked[0]), by_key);
        for (size_t i = 0; i < book->n; i++) {
                if (n && by_key(&book->asked[n - 1], &book->asked[i]) == 0) {
                        if (!book->asked[n - 1].seq)
                                book->asked[n - 1] = book->asked[i];
                } else {
                        book->asked[n++] = book->asked[i];
                }
        }
        book->n = n;
}

static void check_head(struct comparing *c, const struct asked *a)
{
        struct kw_error err;
        struct kw_hash root;
        char hex[KW_HASH_HEX];

        if (!a->head[0] || kw_ledger_root(c->ledger, a->seq, &root, &err))
                return;
        kw_hash_hex(&root, hex);
        c->out->wrong_head += strcmp(hex, a->head) != 0;
}

void load_compare(struct kw_ledger *ledger, struct book *book, struct found *out)
{
        struct comparing c = {ledger, book, out, NULL};
        struct kw_error err = {0};

        *out = (struct found){0};
        unite(book);
        c.seen = calloc(book->n + 1, 1);
        ck_assert_ptr_nonnull(c.seen);
        ck_assert_msg(kw_ledger_entries(ledger, 0, -1, find, &c, &err) == 0, "%s", err.text);
        for (size_t i = 0; i < book->n; i++) {
                if (book->asked[i].seq && !c.seen[i])
                        out->lost++;
                else if (book->asked[i].seq)
                        check_head(&c, &book->asked[i]);
        }
        free(c.seen);
}

void load_forget(struct book *book)
{
        book->n = 0;
        book->acked = 0;
        atomic_store(&book->highest, 0);
}

void load_verify(struct kw_ledger *ledger, const char *when)
{
        struct kw_error err = {0};
        int64_t wrong = 0;
        int rc = kw_ledger_verify(ledger, NULL, NULL, &wrong, &err);

        if (rc)
                ck_abort_msg("%s: entry %" PRId64 ": %s", when, wrong, err.text);
}

/* --- the place --------------------------------------------------------------------------------------- */

static char folder[64], back[512];

long load_long(long few, long many)
{
        const char *is_long = getenv("KW_FAULT_LONG");

        return is_long && strcmp(is_long, "1") == 0 ? many : few;
}

void load_folder(void)
{
        ck_assert_ptr_nonnull(getcwd(back, sizeof(back)));
        /* in memory where there is such a place: what is synced there costs nothing */
        snprintf(folder, sizeof(folder), "%s/kinwire-XXXXXX", access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
        ck_assert_ptr_nonnull(mkdtemp(folder));
        ck_assert_int_eq(chdir(folder), 0);
}

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *at)
{
        (void)st;
        (void)type;
        (void)at;
        return remove(path);
}

void load_folder_end(void)
{
        ck_assert_int_eq(chdir(back), 0);
        nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

void load_remove(const char *path)
{
        static const char *const ends[] = {"", "-wal", "-shm", "-journal", ".index"};
        char name[300];

        for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
                snprintf(name, sizeof(name), "%s%s", path, ends[i]);
                unlink(name);
        }
}
