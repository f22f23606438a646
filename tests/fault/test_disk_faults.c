/*
 * The n-th operation of the disk fails, once or from then on: an entry is refused or recorded whole, the file stays
 * sound, and the ledger opens and verifies when the disk is well again. For n = 1, 2, ... until the work is done
 * without meeting the fault.
 */
#include "disk.h"
#include "load.h"

#include "../unit/suite.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define LEDGER "fault.kw"
#define SAFE   "safe.kw"
#define FIRST  8 /* entries that are there before the fault */
#define MORE   6 /* that are tried under it */

static struct book book;

static void copy_file(const char *from, const char *to)
{
        char bytes[65536];
        FILE *in = fopen(from, "rb"), *out;
        size_t n;

        unlink(to);
        if (!in)
                return;
        out = fopen(to, "wb");
        while ((n = fread(bytes, 1, sizeof(bytes), in)) > 0)
                fwrite(bytes, 1, n, out);
        fclose(in);
        fclose(out);
}

/* A ledger with the first entries, in a file or, @logged, mostly still in the log. */
static void make_safe(bool logged)
{
        struct kw_ledger *l;
        struct kw_error err = {0};

        load_remove(SAFE);
        load_remove(LEDGER);
        disk_forget();
        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
        for (unsigned i = 0; i < FIRST; i++) {
                struct kw_receipt receipt = {0};

                ck_assert_msg(load_append(l, i, &receipt, &err) == 0, "%s", err.text);
                free(receipt.json);
        }
        if (logged) { /* as a process that was killed leaves it */
                copy_file(LEDGER, SAFE);
                copy_file(LEDGER "-wal", SAFE "-wal");
                kw_ledger_close(l);
        } else {
                kw_ledger_close(l);
                copy_file(LEDGER, SAFE);
        }
        load_remove(LEDGER);
        disk_forget();
}

static void begin_with_safe(void)
{
        load_remove(LEDGER);
        copy_file(SAFE, LEDGER);
        copy_file(SAFE "-wal", LEDGER "-wal");
        disk_forget();
        load_forget(&book);
}

struct sum {
        long points, refused, recorded;
};

/* Open, record some more, close. Each answer goes into the book. */
static void record(bool short_log, struct sum *sum)
{
        struct kw_ledger *l;
        struct kw_error err = {0};

        if (kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err)) {
                sum->refused++;
                return;
        }
        if (short_log) {
                sqlite3_set_authorizer(disk_last_opened(), NULL, NULL);
                sqlite3_exec(disk_last_opened(), "PRAGMA wal_autocheckpoint=1", NULL, NULL, NULL);
        }
        for (unsigned i = FIRST; i < FIRST + MORE; i++) {
                struct kw_receipt receipt = {0};
                int rc = load_append(l, i, &receipt, &err);

                sum->recorded += rc == 0;
                sum->refused += rc != 0;
                ck_assert_msg(rc == 0 || rc == KW_INTERNAL || rc == KW_DISK_FULL || rc == KW_BUSY ||
                                      (rc >= KW_UNKNOWN_LOT && rc <= KW_UNKNOWN_ENTRY),
                              "an odd refusal: %d %s", rc, err.text);
                ck_assert_msg(rc != KW_BUSY || strstr(err.text, "locked"), "%s", err.text);
                struct asked *a = &book.asked[book.n++];
                struct kw_draft draft;

                *a = (struct asked){.number = i, .rc = rc, .seq = rc ? 0 : receipt.seq};
                load_draft(i, &draft, a->key);
                kw_draft_free(&draft);
                free(receipt.json);
        }
        kw_ledger_close(l);
}

/* The first entries were asked for too. */
static void remember_first(void)
{
        for (unsigned i = 0; i < FIRST; i++) {
                struct asked *a = &book.asked[book.n++];
                struct kw_draft draft;

                *a = (struct asked){.number = i, .seq = (int64_t)i + 1};
                load_draft(i, &draft, a->key);
                kw_draft_free(&draft);
        }
}

/* The disk is well again. */
static void look(const struct disk_fault *f)
{
        struct kw_ledger *l;
        struct kw_error err = {0};
        struct found found;
        char when[96];
        int rc;

        snprintf(when, sizeof(when), "operation %ld%s of kinds %u, full %d, again %ld", f->at,
                 f->lasting ? " and on" : "", f->ops, f->full, f->again);
        disk_fail(&(struct disk_fault){0});
        rc = kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err);
        ck_assert_msg(rc == 0, "%s: %s", when, err.text);
        remember_first();
        load_compare(l, &book, &found);
        ck_assert_msg(found.lost == 0 && found.strange == 0, "%s: %" PRId64 " lost, %" PRId64 " strange", when,
                      found.lost, found.strange);
        load_verify(l, when);
        for (unsigned i = FIRST; i < FIRST + MORE; i++) { /* what was refused can be sent again */
                struct kw_receipt receipt = {0};

                rc = load_append(l, i, &receipt, &err);
                ck_assert_msg(rc == 0, "%s: sent again: %s", when, err.text);
                ck_assert_msg(receipt.seq <= FIRST + MORE, "%s: recorded twice", when);
                free(receipt.json);
        }
        kw_ledger_close(l);
}

/* The fault moves on by @step until it is not met any more. */
static struct sum fail_each(struct disk_fault f, bool short_log, long step)
{
        struct sum sum = {0};
        bool met = true;

        for (f.at = 1; met; f.at += step) {
                begin_with_safe();
                disk_fail(&f);
                record(short_log, &sum);
                met = disk_ops() >= f.at;
                look(&f);
                sum.points += met;
        }
        return sum;
}

static void tell(const char *what, const struct sum *sum)
{
        printf("%s: %ld points, %ld entries recorded, %ld refusals, 0 lost, 0 half\n", what, sum->points, sum->recorded,
               sum->refused);
        fflush(stdout);
}

static const struct {
        const char *name;
        struct disk_fault fault;
        bool logged, short_log;
        long few, many; /* steps */
} cases[] = {
        {"any, once", {.ops = DISK_ANY}, false, false, 9, 1},
        {"any, lasting", {.ops = DISK_ANY, .lasting = true}, false, false, 9, 1},
        {"write, once", {.ops = DISK_WRITE}, false, false, 5, 1},
        {"write, lasting", {.ops = DISK_WRITE, .lasting = true}, false, false, 5, 1},
        {"no room, once", {.ops = DISK_WRITE, .full = true}, false, false, 5, 1},
        {"no room, lasting", {.ops = DISK_WRITE, .full = true, .lasting = true}, false, false, 5, 1},
        {"sync, once", {.ops = DISK_SYNC}, false, true, 1, 1},
        {"sync, lasting", {.ops = DISK_SYNC, .lasting = true}, false, true, 1, 1},
        {"open and remove, once", {.ops = DISK_OPEN | DISK_DELETE | DISK_TRUNCATE}, false, true, 1, 1},
        {"open and remove, lasting",
         {.ops = DISK_OPEN | DISK_DELETE | DISK_TRUNCATE, .lasting = true},
         false,
         true,
         1,
         1},
        {"while the log is brought in, once", {.ops = DISK_ANY & ~DISK_READ}, false, true, 9, 1},
        {"while the log is brought in, lasting", {.ops = DISK_ANY & ~DISK_READ, .lasting = true}, false, true, 9, 1},
        {"while recovering, once", {.ops = DISK_ANY}, true, true, 13, 1},
        {"while recovering, lasting", {.ops = DISK_ANY, .lasting = true}, true, true, 13, 1},
};

START_TEST(nothing_half_is_recorded)
{
        struct sum sum;

        disk_install();
        load_folder();
        make_safe(cases[_i].logged);
        sum = fail_each(cases[_i].fault, cases[_i].short_log, load_long(cases[_i].few, cases[_i].many));
        tell(cases[_i].name, &sum);
        ck_assert_int_gt(sum.points, 5);
        load_folder_end();
}
END_TEST

/* A fault, and another one soon after: while what the first left is being put right. */
START_TEST(two_faults)
{
        struct sum all = {0};

        disk_install();
        load_folder();
        make_safe(true);
        for (long again = 1; again <= load_long(24, 60); again += load_long(5, 1)) {
                struct sum sum = fail_each((struct disk_fault){.ops = DISK_ANY & ~DISK_READ, .again = again}, true,
                                           load_long(17, 1));

                all.points += sum.points;
                all.recorded += sum.recorded;
                all.refused += sum.refused;
        }
        tell("pairs of faults", &all);
        load_folder_end();
}
END_TEST

/* --- the writer ------------------------------------------------------------------------------------- */

/* After a sync that failed nobody knows: the writer says so to all, and takes nothing more. */
START_TEST(a_failing_sync_stops_the_writer)
{
        struct kw_writer *writer;
        struct kw_error err = {0};
        struct found found;
        struct kw_ledger *l;
        size_t acked;

        disk_install();
        load_folder();
        ck_assert_int_eq(kw_writer_new(LEDGER, &writer, &err), 0);
        load_run(writer, &book, 4, 1);
        acked = book.acked;
        ck_assert_uint_eq(acked, 32);
        disk_fail(&(struct disk_fault){.ops = DISK_SYNC, .at = 5, .lasting = false});
        load_run(writer, &book, 16, 4);
        ck_assert(kw_writer_failed(writer));
        ck_assert_uint_lt(book.acked - acked, 16 * 32);
        acked = book.acked;
        disk_fail(&(struct disk_fault){0}); /* though the disk would be well again */
        ck_assert_int_eq(load_write(writer, &book, book.next, &err), KW_BUSY);
        ck_assert_uint_eq(book.acked, acked);
        for (size_t i = 0; i < book.n; i++)
                ck_assert_msg(book.asked[i].rc == 0 || book.asked[i].rc == KW_BUSY, "answered with %d",
                              book.asked[i].rc);
        kw_writer_free(writer);

        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
        load_compare(l, &book, &found);
        ck_assert_int_eq(found.lost, 0);
        ck_assert_int_eq(found.strange, 0);
        ck_assert_int_eq(found.wrong_head, 0);
        load_verify(l, "after the sync failed");
        printf("failing sync: %zu acknowledged, 0 lost, 0 acknowledged after it\n", book.acked);
        kw_ledger_close(l);
        load_folder_end();
}
END_TEST

/* No room: refused, reads go on, and recording goes on when there is room, with the same writer. */
START_TEST(no_room_passes)
{
        struct kw_writer *writer;
        struct kw_ledger *l;
        struct kw_error err = {0};
        struct kw_head before, after;
        struct found found;

        disk_install();
        load_folder();
        ck_assert_int_eq(kw_writer_new(LEDGER, &writer, &err), 0);
        load_run(writer, &book, 4, 1);
        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_READ, &l, &err), 0);
        ck_assert_int_eq(kw_ledger_head(l, &before, &err), 0);
        for (long at = 1;; at += 2) {
                int rc;

                disk_fail(&(struct disk_fault){.ops = DISK_WRITE, .at = at, .lasting = true, .full = true});
                rc = load_write(writer, &book, book.next, &err);
                if (rc == 0 && disk_ops() < at)
                        break;
                ck_assert_int_eq(rc, KW_DISK_FULL);
                ck_assert_msg(strstr(err.text, "full"), "%s", err.text);
                ck_assert(!kw_writer_failed(writer));
                ck_assert_int_eq(kw_ledger_head(l, &after, &err), 0);
                ck_assert_int_eq(before.size, after.size);
                disk_fail(&(struct disk_fault){0});
                load_run(writer, &book, 1, 1);
                ck_assert_int_eq(kw_ledger_head(l, &before, &err), 0);
                ck_assert_int_eq(before.size, after.size + 8);
        }
        kw_writer_free(writer);
        load_compare(l, &book, &found);
        ck_assert_int_eq(found.lost + found.strange + found.wrong_head, 0);
        load_verify(l, "after there was no room");
        kw_ledger_close(l);
        load_folder_end();
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, nothing_half_is_recorded, 0, (int)(sizeof(cases) / sizeof(cases[0])));
        tcase_add_test(tests, two_faults);
        tcase_add_test(tests, a_failing_sync_stops_the_writer);
        tcase_add_test(tests, no_room_passes);
        tcase_set_timeout(tests, 3600);
}

int main(void)
{
        return run_suite("disk faults", add);
}
