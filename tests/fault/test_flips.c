/*
 * One bit of the file is another: opening or verifying finds it, or what the ledger says is the same to the last byte.
 *
 * In the log, which a killed process leaves, a wrong bit makes SQLite take the log for ended there: the ledger is then
 * an earlier one, with the root that it had, and a head kept outside shows that it was cut.
 */
#include "load.h"

#include "../unit/suite.h"

#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

#define LEDGER  "flip.kw"
#define ENTRIES 32

static unsigned char file[4 << 20], log_bytes[4 << 20];
static size_t n_file, n_log;
static struct kw_hash roots[ENTRIES + 1];
static uint64_t right; /* the digest of everything */
static uint64_t state = 88172645463325252u;

static uint64_t dice(void)
{
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return state;
}

static size_t read_file(const char *path, unsigned char *bytes, size_t room)
{
        FILE *f = fopen(path, "rb");
        size_t n = f ? fread(bytes, 1, room, f) : 0;

        ck_assert_uint_lt(n, room);
        if (f)
                fclose(f);
        return n;
}

static void write_file(const char *path, const unsigned char *bytes, size_t n)
{
        FILE *f = fopen(path, "wb");

        ck_assert_uint_eq(fwrite(bytes, 1, n, f), n);
        fclose(f);
}

/* --- everything that the file says, in one number ---------------------------------------------------- */

static uint64_t add(uint64_t digest, const void *bytes, int n)
{
        const unsigned char *at = bytes;

        digest = (digest ^ (uint64_t)n) * 1099511628211u;
        for (int i = 0; at && i < n; i++)
                digest = (digest ^ at[i]) * 1099511628211u; /* FNV-1a */
        return digest;
}

static int digest_rows(sqlite3 *db, const char *sql, uint64_t *digest)
{
        sqlite3_stmt *stmt = NULL;
        int rc = sqlite3_prepare_v2(db, sql, -1, &stmt, NULL);

        while (rc == SQLITE_OK && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
                for (int i = 0; i < sqlite3_column_count(stmt); i++) {
                        int type = sqlite3_column_type(stmt, i);

                        *digest = add(*digest, &type, sizeof(type));
                        *digest = add(*digest, sqlite3_column_blob(stmt, i), sqlite3_column_bytes(stmt, i));
                }
                rc = SQLITE_OK;
        }
        sqlite3_finalize(stmt);
        return rc == SQLITE_DONE ? 0 : rc;
}

/* 0 when it can't be read to its end, or its indexes don't agree with its tables. */
static uint64_t digest_file(void)
{
        static char tables[128][64];
        sqlite3_stmt *stmt = NULL;
        sqlite3 *db = NULL;
        uint64_t digest = 14695981039346656037u, checked = digest;
        char sql[128];
        size_t n = 0;
        int rc = sqlite3_open_v2(LEDGER, &db, SQLITE_OPEN_READWRITE, NULL);

        if (rc == SQLITE_OK)
                rc = digest_rows(db, "SELECT type, name, tbl_name, sql FROM sqlite_schema", &digest);
        if (rc == SQLITE_OK)
                rc = digest_rows(db, "PRAGMA integrity_check(1)", &checked);
        digest = add(digest, &checked, sizeof(checked));
        if (rc == SQLITE_OK)
                rc = sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table'", -1, &stmt, NULL);
        while (rc == SQLITE_OK && n < 128 && sqlite3_step(stmt) == SQLITE_ROW)
                snprintf(tables[n++], sizeof(tables[0]), "%s", (const char *)sqlite3_column_text(stmt, 0));
        sqlite3_finalize(stmt);
        for (size_t i = 0; rc == SQLITE_OK && i < n; i++) {
                snprintf(sql, sizeof(sql), "SELECT * FROM \"%s\"", tables[i]);
                rc = digest_rows(db, sql, &digest);
        }
        sqlite3_close(db);
        return rc == SQLITE_OK ? digest : 0;
}

/* @logged: the last half of the entries is in the log. */
static void make(bool logged)
{
        struct kw_ledger *l;
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
        for (unsigned i = 0; i < ENTRIES; i++) {
                struct kw_receipt receipt = {0};

                if (logged && i == ENTRIES / 2) { /* closing brings the log in */
                        kw_ledger_close(l);
                        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
                }
                ck_assert_msg(load_append(l, i, &receipt, &err) == 0, "%s", err.text);
                free(receipt.json);
        }
        for (int64_t i = 0; i <= ENTRIES; i++)
                ck_assert_int_eq(kw_ledger_root(l, i, &roots[i], &err), 0);
        if (logged) {
                n_file = read_file(LEDGER, file, sizeof(file));
                n_log = read_file(LEDGER "-wal", log_bytes, sizeof(log_bytes));
                ck_assert_uint_gt(n_log, 0);
        }
        kw_ledger_close(l);
        if (!logged)
                n_file = read_file(LEDGER, file, sizeof(file));
        right = digest_file();
        load_remove(LEDGER);
}

/* Half of the places are where something is written: most of a small file is empty. */
static size_t place(const unsigned char *bytes, size_t n)
{
        size_t at = dice() % n;

        for (int i = 0; i < 8 && dice() % 2 && !bytes[at]; i++)
                at = dice() % n;
        return at;
}

struct sum {
        int64_t flips, at_opening, by_verify, same, cut, changed;
};

static void judge(struct sum *sum, bool may_be_cut)
{
        struct kw_ledger *l = NULL;
        struct kw_error err = {0};
        struct kw_head head;
        int64_t wrong;
        bool fine;

        if (kw_ledger_open(LEDGER, KW_OPEN_READ, &l, &err)) {
                sum->at_opening++;
                return;
        }
        /* what is the same to the last byte needs no verifying */
        if (!may_be_cut && digest_file() == right) {
                sum->same++;
        } else if (kw_ledger_verify(l, NULL, NULL, &wrong, &err)) {
                sum->by_verify++;
        } else {
                ck_assert_int_eq(kw_ledger_head(l, &head, &err), 0);
                fine = head.size <= ENTRIES && memcmp(head.root.bytes, roots[head.size].bytes, KW_HASH) == 0;
                if (fine && may_be_cut && head.size == ENTRIES)
                        sum->same++;
                else if (fine && may_be_cut)
                        sum->cut++;
                else
                        sum->changed++;
        }
        kw_ledger_close(l);
}

static struct sum flip_each(long n, bool in_log)
{
        struct sum sum = {0};
        unsigned char *bytes = in_log ? log_bytes : file;

        for (; sum.flips < n; sum.flips++) {
                size_t at = place(bytes, in_log ? n_log : n_file);
                unsigned char bit = (unsigned char)(1u << dice() % 8);

                bytes[at] ^= bit;
                write_file(LEDGER, file, n_file);
                if (in_log)
                        write_file(LEDGER "-wal", log_bytes, n_log);
                judge(&sum, in_log);
                bytes[at] ^= bit;
                load_remove(LEDGER);
        }
        printf("bits of the %s: %" PRId64 " turned, %" PRId64 " found at opening, %" PRId64 " by verify, %" PRId64
               " made no difference, %" PRId64 " an earlier ledger, %" PRId64 " changed unseen\n",
               in_log ? "log" : "file", sum.flips, sum.at_opening, sum.by_verify, sum.same, sum.cut, sum.changed);
        fflush(stdout);
        return sum;
}

START_TEST(no_bit_changes_unseen)
{
        struct sum sum;

        load_folder();
        make(false);
        sum = flip_each(load_long(2000, 20000), false);
        ck_assert_int_eq(sum.changed, 0);
        ck_assert_int_gt(sum.at_opening + sum.by_verify, sum.flips / 10);
        load_folder_end();
}
END_TEST

START_TEST(a_bit_of_the_log_cuts_it_at_most)
{
        struct sum sum;

        load_folder();
        make(true);
        sum = flip_each(load_long(100, 5000), true);
        ck_assert_int_eq(sum.changed, 0);
        load_folder_end();
}
END_TEST

static void add_tests(TCase *tests)
{
        tcase_add_test(tests, no_bit_changes_unseen);
        tcase_add_test(tests, a_bit_of_the_log_cuts_it_at_most);
        tcase_set_timeout(tests, 3600);
}

int main(void)
{
        return run_suite("flips", add_tests);
}
