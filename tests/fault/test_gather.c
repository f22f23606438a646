/*
 * The log's writes are gathered: fewer of them, and nothing else is different. Whatever SQLite says is committed stands
 * in the file for whoever reads it by another way, at every setting; what a transaction was too large to keep in memory
 * it reads back; and a write that fails takes the transaction with it, not what was committed before.
 */
#include "disk.h"
#include "gather.h"
#include "load.h"
#include "store.h"

#include "../unit/suite.h"

#include <stdio.h>
#include <sys/stat.h>

#define FILE_NAME "gather.db"
#define ROWS      4000

static sqlite3 *gathered, *plain;

static sqlite3 *open_by(const char *vfs)
{
        sqlite3 *db;

        ck_assert_int_eq(
                sqlite3_open_v2(FILE_NAME, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX, vfs),
                SQLITE_OK);
        return db;
}

static void run(const char *sql)
{
        char *text = NULL;
        int rc = sqlite3_exec(gathered, sql, NULL, NULL, &text);

        ck_assert_msg(rc == SQLITE_OK, "%s: %s", sql, text ? text : "");
}

static int ask(sqlite3 *db, const char *sql)
{
        sqlite3_stmt *stmt = NULL;
        int n;

        ck_assert_int_eq(sqlite3_prepare_v2(db, sql, -1, &stmt, NULL), SQLITE_OK);
        ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
        n = sqlite3_column_int(stmt, 0);
        sqlite3_finalize(stmt);
        return n;
}

static const char all_well[] = "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check = 'ok'";

static int rows(sqlite3 *db)
{
        return ask(db, "SELECT count(*) FROM t");
}

static void set_up(void)
{
        disk_install();
        load_folder();
        ck_assert_ptr_nonnull(kw_gather_vfs());
        gathered = open_by(kw_gather_vfs());
        kw_gather_watch(gathered);
        run("PRAGMA journal_mode=WAL; PRAGMA wal_autocheckpoint=0; CREATE TABLE t (a INTEGER PRIMARY KEY, b BLOB)");
        plain = open_by(NULL);
}

static void tear_down(void)
{
        sqlite3_close(plain);
        sqlite3_close(gathered);
        load_folder_end();
}

/* @n rows of some 500 bytes, so that eight fill a page. */
static void insert(int n)
{
        char sql[160];

        snprintf(sql, sizeof(sql),
                 "WITH RECURSIVE n(i) AS (VALUES (1) UNION ALL SELECT i + 1 FROM n WHERE i < %d)"
                 " INSERT INTO t (b) SELECT randomblob(500) FROM n",
                 n);
        run(sql);
}

static const char *const settings[] = {"PRAGMA synchronous=FULL", "PRAGMA synchronous=NORMAL",
                                       "PRAGMA synchronous=OFF"};

START_TEST(what_is_committed_is_in_the_file)
{
        run(settings[_i]);
        for (int n = 1; n <= 200; n += 40) {
                int before = rows(plain);

                insert(n);
                ck_assert_int_eq(rows(plain), before + n);
        }
        ck_assert_int_eq(sqlite3_wal_checkpoint_v2(gathered, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL), SQLITE_OK);
        insert(3);
        ck_assert_int_eq(rows(plain), 1 + 41 + 81 + 121 + 161 + 3);
        ck_assert_int_eq(ask(plain, all_well), 1);
}
END_TEST

START_TEST(a_commit_is_written_in_few_pieces)
{
        long before;
        int pages;

        insert(1);
        before = disk_figures().writes;
        pages = ask(gathered, "PRAGMA page_count");
        insert(ROWS);
        pages = ask(gathered, "PRAGMA page_count") - pages;
        ck_assert_int_gt(pages, ROWS / 10);
        ck_assert_int_lt((int)(disk_figures().writes - before), pages / 10);
}
END_TEST

/* A cache of ten pages: most of the transaction is in the log before its end, and read and written over there. */
START_TEST(what_did_not_fit_into_memory_is_read_back)
{
        run("PRAGMA cache_size=10; BEGIN");
        insert(ROWS);
        ck_assert_int_eq(rows(gathered), ROWS);
        run("SAVEPOINT mark; UPDATE t SET b = 'x'");
        ck_assert_int_eq(ask(gathered, "SELECT count(*) FROM t WHERE b = 'x'"), ROWS);
        run("ROLLBACK TO mark");
        ck_assert_int_eq(ask(gathered, "SELECT count(*) FROM t WHERE length(b) = 500"), ROWS);
        ck_assert_int_eq(rows(plain), 0);
        run("DELETE FROM t WHERE a % 2; COMMIT");
        ck_assert_int_eq(rows(plain), ROWS / 2);
        run("BEGIN");
        insert(ROWS);
        run("ROLLBACK");
        ck_assert_int_eq(rows(gathered), ROWS / 2);
        ck_assert_int_eq(ask(plain, all_well), 1);
}
END_TEST

START_TEST(a_failed_write_takes_its_transaction_with_it)
{
        const char *const all = "UPDATE t SET b = randomblob(600)";

        insert(100);
        run("PRAGMA cache_size=10");
        for (long at = 1;; at++) {
                const struct disk_fault fault = {.at = at, .ops = DISK_WRITE};
                int rc;

                disk_fail(&fault);
                rc = sqlite3_exec(gathered, all, NULL, NULL, NULL);
                disk_fail(&(struct disk_fault){0});
                ck_assert_int_eq(ask(plain, "SELECT count(*) FROM t WHERE length(b) = 500"), rc ? 100 : 0);
                ck_assert_int_eq(ask(gathered, "SELECT count(*) FROM t WHERE length(b) = 500"), rc ? 100 : 0);
                if (rc == SQLITE_OK)
                        break;
        }
}
END_TEST

/*
 * What was taken back is not written any more: its place in the log may be another program's by then. Some of each
 * transaction is still held when it ends, as it stops at another point of the room each time.
 */
START_TEST(what_was_taken_back_is_never_written)
{
        const char *const fill = "UPDATE t SET b = zeroblob(500)";

        insert(300);
        run("PRAGMA cache_size=10");
        for (int n = 200; n < 300; n += 7) {
                char sql[80];

                snprintf(sql, sizeof(sql), "BEGIN; UPDATE t SET b = randomblob(500) WHERE a < %d; ROLLBACK", n);
                /* else it reads what it changes from the log, and nothing is held when it does */
                run("PRAGMA wal_checkpoint(TRUNCATE)");
                run(sql);
                ck_assert_int_eq(sqlite3_exec(plain, fill, NULL, NULL, NULL), SQLITE_OK);
                for (int look = 0; look < 2; look++) {
                        ck_assert_int_eq(ask(gathered, "SELECT count(*) FROM t WHERE b = zeroblob(500)"), 300);
                        ck_assert_int_eq(ask(plain, all_well), 1);
                }
                ck_assert_int_eq(ask(plain, "SELECT count(*) FROM t WHERE b = zeroblob(500)"), 300);
        }
}
END_TEST

/*
 * A full disk undoes one statement, and SQLite would go on with the rest of the transaction: it may not be committed
 * with a part missing that was thought to be written.
 */
START_TEST(nothing_is_committed_over_what_was_lost)
{
        int gone_on = 0;

        run("PRAGMA cache_size=10");
        insert(50);
        for (long at = 1; at < 40; at++) {
                const struct disk_fault fault = {.at = at, .ops = DISK_WRITE, .full = true};
                int before = rows(plain), rc;

                run("BEGIN");
                disk_fail(&fault);
                for (int i = 0; i < 12 && !sqlite3_get_autocommit(gathered); i++) {
                        rc = sqlite3_exec(gathered,
                                          "INSERT INTO t (b) SELECT randomblob(500) FROM t WHERE a <= 50 UNION ALL"
                                          " SELECT 'x' WHERE 0",
                                          NULL, NULL, NULL);
                        gone_on += rc && !sqlite3_get_autocommit(gathered);
                }
                disk_fail(&(struct disk_fault){0});
                rc = sqlite3_get_autocommit(gathered) ? SQLITE_ABORT
                                                      : sqlite3_exec(gathered, "COMMIT", NULL, NULL, NULL);
                if (!sqlite3_get_autocommit(gathered))
                        run("ROLLBACK");
                ck_assert_int_eq(rows(gathered), rows(plain));
                if (rc)
                        ck_assert_int_eq(rows(plain), before);
                ck_assert_int_eq(ask(plain, all_well), 1);
                ck_assert_int_eq(ask(gathered, all_well), 1);
        }
        printf("%d times SQLite would have gone on\n", gone_on);
}
END_TEST

/* --- the log grown long ------------------------------------------------------------------------------ */

#define LEDGER "tidy.kw"
#define GROUP  400

static long bytes(const char *path)
{
        struct stat st;

        ck_assert_int_eq(stat(path, &st), 0);
        return (long)st.st_size;
}

static void append_group(struct kw_ledger *l, unsigned *number)
{
        const struct kw_sender sender = {.by = "stress", .terminal = "TEST", .may_override = true};
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_begin(l, &err), 0);
        for (int i = 0; i < GROUP; i++, ++*number) {
                struct kw_receipt receipt;
                char key[KW_KEY_LEN + 1];
                struct kw_draft draft;

                load_draft(*number, &draft, key);
                ck_assert_msg(kw_ledger_append(l, &draft, &sender, 1767225600, &receipt, &err) == 0, "%s", err.text);
                free(receipt.json);
                kw_draft_free(&draft);
        }
        ck_assert_int_eq(kw_ledger_commit(l, &err), 0);
}

/* Commits leave it as it is; brought into the ledger, it is begun anew and not grown. */
START_TEST(a_long_log_waits_until_it_is_tidied)
{
        const long long_log = KW_LOG_PAGES * 4096L;
        struct kw_error err = {0};
        struct kw_ledger *l;
        unsigned number = 0;
        long log, ledger;

        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
        kw_ledger_tidy_later(l);
        append_group(l, &number);
        ledger = bytes(LEDGER);
        kw_ledger_tidy(l); /* too soon */
        while (bytes(LEDGER "-wal") < long_log + long_log / 10)
                append_group(l, &number);
        ck_assert_int_eq(bytes(LEDGER), ledger);
        kw_ledger_tidy(l);
        ck_assert_int_gt(bytes(LEDGER), ledger);
        log = bytes(LEDGER "-wal");
        append_group(l, &number);
        ck_assert_int_eq(bytes(LEDGER "-wal"), log);
        load_verify(l, "tidied");
        kw_ledger_close(l);
}
END_TEST

static void add(TCase *t)
{
        tcase_add_checked_fixture(t, set_up, tear_down);
        tcase_add_loop_test(t, what_is_committed_is_in_the_file, 0, sizeof(settings) / sizeof(settings[0]));
        tcase_add_test(t, a_commit_is_written_in_few_pieces);
        tcase_add_test(t, what_did_not_fit_into_memory_is_read_back);
        tcase_add_test(t, a_failed_write_takes_its_transaction_with_it);
        tcase_add_test(t, what_was_taken_back_is_never_written);
        tcase_add_test(t, nothing_is_committed_over_what_was_lost);
        tcase_add_test(t, a_long_log_waits_until_it_is_tidied);
}

int main(void)
{
        return run_suite("gathered writes", add);
}
