/*
 * What a statement that slipped into the program could do to the ledger through its own connection: nothing. Entries
 * are only added, at the end; and what keeps it so can't be switched off.
 */
#include "disk.h"
#include "load.h"

#include "../unit/suite.h"

#include <stdio.h>
#include <string.h>

#define LEDGER "guard.kw"

#define COLUMNS " (seq, key, kind, at, logged, by, terminal, leaf, hash) "
#define VALUES  "'k', 'heat', 'a', 'l', 'b', 't', '{}', zeroblob(32)"

static const char *const statements[] = {
        "UPDATE entry SET leaf = '{}' WHERE seq = 3",
        "UPDATE entry SET seq = seq + 100",
        "UPDATE OR REPLACE entry SET seq = 3 WHERE seq = 4",
        "DELETE FROM entry WHERE seq = 8",
        "DELETE FROM entry",
        "INSERT INTO entry" COLUMNS "VALUES (3, " VALUES ")",
        "INSERT INTO entry" COLUMNS "VALUES (99, " VALUES ")",
        "INSERT OR REPLACE INTO entry" COLUMNS "VALUES (3, " VALUES ")",
        "INSERT OR IGNORE INTO entry" COLUMNS "VALUES (3, " VALUES ")",
        "REPLACE INTO entry" COLUMNS
        "SELECT 9, key, kind, at, logged, by, terminal, '{}', hash FROM entry WHERE seq = 3",
        "INSERT INTO entry" COLUMNS "VALUES (8, " VALUES ") ON CONFLICT (seq) DO UPDATE SET leaf = '{}'",
        "INSERT INTO entry" COLUMNS "VALUES (3, " VALUES ") ON CONFLICT DO NOTHING",
        "UPDATE node SET hash = zeroblob(32)",
        "DELETE FROM node",
        "INSERT OR REPLACE INTO node (id, hash) VALUES (129, zeroblob(32))",
        "INSERT INTO node (id, hash) VALUES (129, zeroblob(32)) ON CONFLICT DO UPDATE SET hash = zeroblob(32)",
        "UPDATE receipt SET findings = '[]'",
        "DELETE FROM receipt",
        "DROP TABLE entry",
        "DROP TRIGGER entry_fixed",
        "DROP TRIGGER entry_in_order",
        "DROP INDEX entry_by_kind",
        "ALTER TABLE entry RENAME TO other",
        "ALTER TABLE entry ADD COLUMN more TEXT",
        "ALTER TABLE entry DROP COLUMN terminal",
        "CREATE TABLE more (x)",
        "CREATE TEMP TABLE entry (x)",
        "CREATE TRIGGER more AFTER INSERT ON entry BEGIN DELETE FROM lot; END",
        "CREATE TEMP TRIGGER more AFTER INSERT ON entry BEGIN DELETE FROM lot; END",
        "CREATE VIEW more AS SELECT 1",
        "CREATE TEMP VIEW entry AS SELECT 1",
        "ATTACH 'other.kw' AS other",
        "VACUUM",
        "VACUUM INTO 'other.kw'",
        "UPDATE sqlite_schema SET sql = '' WHERE name = 'entry_fixed'",
        "DELETE FROM sqlite_schema WHERE type = 'trigger'",
        "PRAGMA writable_schema=ON",
        "PRAGMA journal_mode=OFF",
        "PRAGMA journal_mode=MEMORY",
        "PRAGMA journal_mode=DELETE",
        "PRAGMA synchronous=OFF",
        "PRAGMA synchronous=NORMAL",
        "PRAGMA recursive_triggers=OFF",
        "PRAGMA ignore_check_constraints=ON",
        "PRAGMA trusted_schema=ON",
        "PRAGMA locking_mode=EXCLUSIVE",
        "PRAGMA user_version=0",
        "PRAGMA application_id=0",
        "PRAGMA schema_version=99",
        "PRAGMA query_only=OFF",
};

/* In the reader's connection nothing can be recorded at all. */
static const char *const through_reader[] = {
        "INSERT INTO entry" COLUMNS "VALUES (9, " VALUES ")",
        "INSERT INTO note (seq, type, code, text, at) VALUES (1, 'lot', 'X', 'x', 0)",
        "DELETE FROM lot",
        "PRAGMA query_only=OFF",
};

static struct kw_ledger *ledger, *reader;
static sqlite3 *db, *reader_db;

static void set_up(void)
{
        struct kw_error err = {0};

        disk_install();
        load_folder();
        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &ledger, &err), 0);
        db = disk_last_opened();
        for (unsigned i = 0; i < 8; i++) {
                struct kw_receipt receipt = {0};

                ck_assert_msg(load_append(ledger, i, &receipt, &err) == 0, "%s", err.text);
                free(receipt.json);
        }
        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_READ, &reader, &err), 0);
        reader_db = disk_last_opened();
}

static void tear_down(void)
{
        kw_ledger_close(reader);
        kw_ledger_close(ledger);
        load_folder_end();
}

static int count(const char *sql)
{
        sqlite3_stmt *stmt = NULL;
        int n;

        ck_assert_int_eq(sqlite3_prepare_v2(db, sql, -1, &stmt, NULL), SQLITE_OK);
        ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
        n = sqlite3_column_int(stmt, 0);
        sqlite3_finalize(stmt);
        return n;
}

/* Refused, or without effect. */
static void try(sqlite3 *connection, const char *sql)
{
        struct kw_error err = {0};
        struct kw_head before, after;
        int rc;

        ck_assert_int_eq(kw_ledger_head(ledger, &before, &err), 0);
        rc = sqlite3_exec(connection, sql, NULL, NULL, NULL);
        if (!sqlite3_get_autocommit(connection))
                sqlite3_exec(connection, "ROLLBACK", NULL, NULL, NULL);
        ck_assert_msg(rc != SQLITE_OK || strstr(sql, "IGNORE") || strstr(sql, "NOTHING"), "taken: %s", sql);
        ck_assert_int_eq(kw_ledger_head(ledger, &after, &err), 0);
        ck_assert_msg(before.size == after.size && memcmp(before.root.bytes, after.root.bytes, KW_HASH) == 0, "%s",
                      sql);
        load_verify(ledger, sql);
}

START_TEST(nothing_is_changed_through_the_own_connection)
{
        static const int wanted[] = {2, 1, 0}; /* synchronous, recursive_triggers, trusted_schema */

        for (size_t i = 0; i < sizeof(statements) / sizeof(statements[0]); i++)
                try(db, statements[i]);
        for (size_t i = 0; i < sizeof(through_reader) / sizeof(through_reader[0]); i++)
                try(reader_db, through_reader[i]);
        ck_assert_int_eq(count("PRAGMA synchronous"), wanted[0]);
        ck_assert_int_eq(count("PRAGMA recursive_triggers"), wanted[1]);
        ck_assert_int_eq(count("PRAGMA trusted_schema"), wanted[2]);
        printf("guards: %zu of %zu statements refused\n", sizeof(statements) / sizeof(statements[0]),
               sizeof(statements) / sizeof(statements[0]));
}
END_TEST

/* The triggers alone hold too, where no authorizer is in the way: they go with the file into other programs. */
START_TEST(triggers_hold_by_themselves)
{
        sqlite3_set_authorizer(db, NULL, NULL);
        for (size_t i = 0; i < 16; i++) /* those of entries and nodes */
                try(db, statements[i]);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, set_up, tear_down);
        tcase_add_test(tests, nothing_is_changed_through_the_own_connection);
        tcase_add_test(tests, triggers_hold_by_themselves);
}

int main(void)
{
        return run_suite("guards", add);
}
