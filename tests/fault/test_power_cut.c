/*
 * The power goes while entries are being recorded: every acknowledged one is there afterwards, under its number and
 * head, the ledger verifies, and nothing is in it that nobody sent. So for a few who write to the ledger alone, and for
 * a crowd, with an index that is told of it and a long log that is brought into the ledger meanwhile, whose readers
 * never find less than was acknowledged.
 *
 * The control does the same with a weaker sync and has to see losses, or the test would prove nothing.
 */
#include "disk.h"
#include "load.h"
#include "store.h"
#include "tree.h"

#include "kinwire/index.h"

#include "../unit/suite.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#define LEDGER    "cut.kw"
#define CUTS_EACH 20 /* of one ledger */

static struct book book;

static int64_t now_us(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

struct way {
        const char *pragmas;
        bool control;
        int crowd; /* 0, or how many pages of its ledger's log are a long one */
};

struct sum {
        long cuts, in_opening, losing, anew, looks, less;
        int64_t acked, lost, stored, kept_unasked, worst_open_us;
};

/* What the test sets on the writer's connection: a short log, so that it is often brought into the file, and the sync.
 */
static void set(const char *pragmas)
{
        sqlite3_set_authorizer(disk_last_opened(), NULL, NULL);
        ck_assert_int_eq(sqlite3_exec(disk_last_opened(), pragmas, NULL, NULL, NULL), SQLITE_OK);
}

/* --- a crowd ------------------------------------------------------------------------------------------- */

struct crowd {
        struct kw_index *index;
        struct kw_ledger *writers;  /* its own, for the hook */
        int long_log, in_log, anew; /* how often it was begun anew */
        struct kw_ledger *view;
        pthread_t watcher;
        atomic_bool stop;
        long looks, less; /* how often it was looked, and found to have less than was acknowledged */
};

/* After each of the writer's commits, in its thread: a log is long sooner than it is in earnest. */
static int note_log(void *arg, sqlite3 *db, const char *name, int pages)
{
        struct crowd *c = arg;

        (void)db, (void)name;
        book.writer = pthread_self();
        if (pages < c->in_log) {
                c->anew++;
                c->writers->tidied = 0;
        }
        c->in_log = pages;
        c->writers->in_log = pages * (KW_LOG_PAGES / c->long_log);
        return SQLITE_OK;
}

/* Whoever looks now finds what was acknowledged before, and holds on to a part of the log for a moment. */
static void *watch(void *arg)
{
        struct crowd *c = arg;
        struct kw_index_figures f;

        while (!atomic_load(&c->stop)) {
                int64_t acked = atomic_load(&book.highest), size;

                kw_index_figures(c->index, &f);
                c->less += f.ready && f.size < acked;
                if (kw_ledger_look(c->view, NULL) == 0 && kw_ledger_size(c->view, &size) == 0) {
                        c->less += size < acked;
                        c->looks++;
                }
                usleep((useconds_t)(c->looks % 8) * 400);
                kw_ledger_done(c->view);
        }
        return NULL;
}

static void crowd_begin(struct crowd *c, struct kw_writer *writer)
{
        c->writers = sqlite3_wal_hook(disk_last_opened(), note_log, c);
        ck_assert_int_eq(kw_index_new(LEDGER, &c->index), 0);
        kw_index_build(c->index);
        if (kw_ledger_open(LEDGER, KW_OPEN_READ, &c->view, NULL))
                c->view = NULL;
        kw_writer_tell(writer, c->index);
        if (c->view)
                ck_assert_int_eq(pthread_create(&c->watcher, NULL, watch, c), 0);
}

static void crowd_end(struct crowd *c, struct sum *sum)
{
        atomic_store(&c->stop, true);
        if (c->view)
                pthread_join(c->watcher, NULL);
        kw_ledger_close(c->view);
        kw_index_free(c->index);
        sum->anew += c->anew;
        sum->looks += c->looks;
        sum->less += c->less;
}

/* Until the power goes. */
static void record_until_cut(uint64_t seed, bool new, const struct way *way, struct sum *sum)
{
        struct kw_writer *writer;
        struct crowd crowd = {.long_log = way->crowd};
        struct kw_error err = {0};

        /* one in eight goes while the ledger is opened or recovered, one in three while it is made, which takes some
         * 300 operations */
        disk_cut_after(seed % (new ? 3 : 8) == 0 ? 1 + (long)(seed * 2654435761u % (new ? 300 : 20))
                                                 : (new ? 300 : 20) + (long)(seed * 2654435761u % 700));
        if (kw_writer_new(LEDGER, &writer, &err)) {
                ck_assert_msg(disk_is_off(), "%s", err.text);
                sum->in_opening++;
                return;
        }
        if (!disk_is_off())
                set(way->pragmas);
        if (way->crowd)
                crowd_begin(&crowd, writer);
        load_run(writer, &book, way->crowd ? 12 : 4, way->crowd ? 6 : 3);
        disk_cut();
        kw_writer_free(writer);
        if (way->crowd)
                crowd_end(&crowd, sum);
}

/* What was not acknowledged and is there all the same is answered by its key with its number. */
static void send_again(struct kw_ledger *l, struct sum *sum)
{
        for (size_t i = 0; i < book.n; i++) {
                struct kw_receipt receipt = {0};
                struct kw_error err = {0};

                if (book.asked[i].seq)
                        continue;
                if (load_append(l, book.asked[i].number, &receipt, &err) == 0) {
                        sum->kept_unasked += receipt.repeated;
                        book.asked[i].seq = receipt.seq;
                        book.asked[i].head[0] = '\0';
                }
                free(receipt.json);
        }
}

static void look(struct sum *sum, bool again)
{
        struct kw_ledger *l;
        struct kw_error err = {0};
        struct found found;
        int64_t before = now_us(), took;
        char when[64];
        int rc = kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err);

        snprintf(when, sizeof(when), "after cut %ld", sum->cuts);
        ck_assert_msg(rc == 0, "%s: %s", when, err.text);
        took = now_us() - before;
        if (took > sum->worst_open_us)
                sum->worst_open_us = took;
        load_compare(l, &book, &found);
        sum->lost += found.lost;
        sum->losing += found.lost > 0;
        sum->stored += found.stored;
        ck_assert_msg(found.strange == 0, "%s: %" PRId64 " entries that nobody sent", when, found.strange);
        if (again) {
                ck_assert_msg(found.wrong_head == 0, "%s: %" PRId64 " heads are others", when, found.wrong_head);
                /* what a cut spoils stays spoilt: the ledger goes through twenty of them */
                if ((sum->cuts + 1) % load_long(5, 1) == 0)
                        load_verify(l, when);
                send_again(l, sum);
        }
        kw_ledger_close(l);
        disk_forget();
}

static struct sum cut_again_and_again(long cuts, const struct way *way)
{
        struct sum sum = {0};

        load_folder();
        for (sum.cuts = 0; sum.cuts < cuts; sum.cuts++) {
                bool new = way->control || sum.cuts % CUTS_EACH == 0;

                if (new) {
                        load_remove(LEDGER);
                        load_forget(&book);
                }
                disk_forget();
                record_until_cut((uint64_t)sum.cuts * 7919 + 1, new, way, &sum);
                disk_power_on((uint64_t)sum.cuts + 1);
                look(&sum, !way->control);
                if (way->control || (sum.cuts + 1) % CUTS_EACH == 0 || sum.cuts + 1 == cuts)
                        sum.acked += (int64_t)book.acked;
        }
        load_folder_end();
        return sum;
}

static void tell(const char *what, const struct sum *sum)
{
        struct disk_figures f = disk_figures();

        printf("%s: %ld cuts (%ld while opening), %" PRId64 " acknowledged, %" PRId64 " lost in %ld cuts, %" PRId64
               " kept though not acknowledged; %ld unsynced sectors kept, %ld dropped; worst opening %.1f ms\n",
               what, sum->cuts, sum->in_opening, sum->acked, sum->lost, sum->losing, sum->kept_unasked, f.kept,
               f.dropped, (double)sum->worst_open_us / 1000);
        fflush(stdout);
}

START_TEST(nothing_acknowledged_is_lost)
{
        struct sum sum;

        disk_install();
        sum = cut_again_and_again(load_long(500, 5000), &(struct way){.pragmas = "PRAGMA wal_autocheckpoint=60"});
        tell("power cuts", &sum);
        ck_assert_int_eq(sum.lost, 0);
        ck_assert_int_gt(sum.acked, sum.cuts * 5);
}
END_TEST

START_TEST(a_weaker_sync_is_seen_to_lose)
{
        struct sum sum;

        disk_install();
        sum = cut_again_and_again(
                load_long(40, 400),
                &(struct way){.pragmas = "PRAGMA wal_autocheckpoint=1000; PRAGMA synchronous=NORMAL", .control = true});
        tell("control, log not synced", &sum);
        ck_assert_int_gt(sum.lost, 0);
        ck_assert_int_gt(sum.losing, sum.cuts / 4);
}
END_TEST

static void tell_crowd(const char *what, const struct sum *sum)
{
        tell(what, sum);
        printf("%zu answered beside the writer, the log begun anew %ld times, %ld looks meanwhile\n", book.beside,
               sum->anew, sum->looks);
        fflush(stdout);
}

START_TEST(nothing_acknowledged_to_a_crowd_is_lost)
{
        struct sum sum;

        disk_install();
        sum = cut_again_and_again(load_long(300, 3000), &(struct way){.pragmas = "", .crowd = 40});
        tell_crowd("power cuts, a crowd", &sum);
        ck_assert_int_eq(sum.lost, 0);
        ck_assert_int_eq(sum.less, 0);
        ck_assert_int_gt(sum.acked, sum.cuts * 5);
        /* or what is beside the writer was not tried */
        ck_assert_uint_gt(book.beside, (size_t)sum.acked / 100); /* a busy machine lets fewer come together */
        ck_assert_int_gt(sum.anew, sum.cuts / 4);
        ck_assert_int_gt(sum.looks, sum.cuts);
}
END_TEST

START_TEST(a_weaker_sync_is_seen_to_lose_of_a_crowd)
{
        struct sum sum;

        disk_install();
        sum = cut_again_and_again(
                load_long(40, 400),
                &(struct way){.pragmas = "PRAGMA synchronous=NORMAL", .control = true, .crowd = KW_LOG_PAGES});
        tell_crowd("control, a crowd, log not synced", &sum);
        ck_assert_int_gt(sum.lost, 0);
        ck_assert_int_gt(sum.losing, sum.cuts / 4);
}
END_TEST

/* --- while a long log is brought into the ledger ---------------------------------------------------- */

#define ENTRIES 40

static struct kw_ledger *open_ledger(void)
{
        struct kw_error err = {0};
        struct kw_ledger *l;

        ck_assert_msg(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err) == 0, "%s", err.text);
        return l;
}

static void record_some(struct kw_ledger *l, unsigned from, unsigned to, int64_t seqs[])
{
        for (unsigned i = from; i < to; i++) {
                struct kw_receipt receipt = {0};
                struct kw_error err = {0};

                ck_assert_msg(load_append(l, i, &receipt, &err) == 0, "%s", err.text);
                seqs[i] = receipt.seq;
                free(receipt.json);
        }
}

/* Every entry is there under its number: sent again, it is answered with it. */
static void all_there(struct kw_ledger *l, const int64_t seqs[], unsigned n, const char *when)
{
        int64_t again[ENTRIES + 1], size;

        load_verify(l, when);
        record_some(l, 0, n, again);
        for (unsigned i = 0; i < n; i++)
                ck_assert_msg(again[i] == seqs[i], "%s: entry %u", when, i);
        ck_assert_int_eq(kw_ledger_size(l, &size), 0);
        ck_assert_int_eq(size, seqs[n - 1]);
}

/* The power goes at each third of its writes and syncs, and the last time after them. */
START_TEST(a_log_half_brought_in_loses_nothing)
{
        int64_t seqs[ENTRIES + 1];
        bool whole = false;
        int cuts = 0;

        disk_install();
        load_folder();
        for (long at = 1; !whole; at += 3, cuts++) {
                struct kw_ledger *l;
                char when[64];

                load_remove(LEDGER);
                disk_forget();
                l = open_ledger();
                kw_ledger_tidy_later(l);
                record_some(l, 0, ENTRIES, seqs);
                ck_assert_int_gt(l->in_log, 0);
                l->in_log = KW_LOG_PAGES; /* as if it were that long */
                disk_cut_after(at);
                kw_ledger_tidy(l);
                whole = !disk_is_off();
                disk_cut();
                kw_ledger_close(l);
                disk_power_on((uint64_t)at);

                snprintf(when, sizeof(when), "cut at %ld of tidying", at);
                l = open_ledger();
                all_there(l, seqs, ENTRIES, when);
                record_some(l, ENTRIES, ENTRIES + 1, seqs);
                all_there(l, seqs, ENTRIES + 1, when);
                kw_ledger_close(l);
        }
        printf("%d cuts while the log was brought into the ledger\n", cuts);
        ck_assert_int_gt(cuts, 10);
        disk_forget();
        load_folder_end();
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, a_log_half_brought_in_loses_nothing);
        tcase_add_test(tests, nothing_acknowledged_is_lost);
        tcase_add_test(tests, a_weaker_sync_is_seen_to_lose);
        tcase_add_test(tests, nothing_acknowledged_to_a_crowd_is_lost);
        tcase_add_test(tests, a_weaker_sync_is_seen_to_lose_of_a_crowd);
        tcase_set_timeout(tests, 3600);
}

int main(void)
{
        return run_suite("power cut", add);
}
