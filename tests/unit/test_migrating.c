/*
 * Bringing a ledger up: what a step says of the derived rows is what becomes of them.
 *
 * Each case takes a made-up step over a small mill of which a derived row was touched beforehand. Rows that are derived
 * again are right again; rows that are kept are as they were touched.
 */
#include "migrate.h"
#include "scratch.h"
#include "small_mill.h"
#include "suite.h"

#include <string.h>

#define ADDS "CREATE TABLE extra (seq INTEGER PRIMARY KEY) STRICT;"
#define ONE  "INSERT INTO extra VALUES (1);"

static const struct step_case {
        const char *name;
        const char *steps[2]; /* levels 1001 and 1002 */
        bool again;
        bool fails;
} cases[] = {
        {"a step that says nothing", {ADDS}, true, false},
        {"kept", {"-- Level 1001.\n-- derived: kept\n\n" ADDS}, false, false},
        {"kept, at the end of the file", {ADDS "\n-- derived: kept\n"}, false, false},
        {"something else", {"-- derived: keptish\n" ADDS}, true, false},
        {"within a line", {"-- so -- derived: kept\n" ADDS}, true, false},
        {"again for a kind that is there", {"-- derived: again for withdraw run\n" ADDS}, true, false},
        {"again for kinds that are not", {"-- derived: again for withdraw spec\n" ADDS}, false, false},
        {"again if there is a row", {"-- derived: again if SELECT 1 FROM extra\n" ADDS ONE}, true, false},
        {"again if there is none", {"-- derived: again if SELECT 1 FROM extra\n" ADDS}, false, false},
        {"again if something that can't be asked", {"-- derived: again if SELECT 1 FROM nowhere\n" ADDS}, false, true},
        {"two steps, one of them again", {"-- derived: kept\n" ADDS, "SELECT 1;"}, true, false},
        {"two steps, both kept", {"-- derived: kept\n" ADDS, "-- derived: kept\nSELECT 1;"}, false, false},
        {"a step that fails", {"-- derived: kept\n" ADDS, "CREATE TABLE extra (a);"}, false, true},
};

static int64_t touched(struct kw_ledger *l)
{
        int64_t n;

        ck_assert_int_eq(kw_one(l, &n, -1, "SELECT count(*) FROM run WHERE machine = 'TOUCHED'", ""), 0);
        return n;
}

static int64_t level(struct kw_ledger *l)
{
        int64_t n;

        ck_assert_int_eq(kw_one(l, &n, -1, "PRAGMA user_version", ""), 0);
        return n;
}

static int64_t last_told, told_of;

static void note(void *ctx, const char *what, int64_t done, int64_t of)
{
        (void)ctx;
        ck_assert_str_ne(what, "");
        ck_assert_int_gt(done, last_told);
        last_told = done;
        told_of = of;
}

START_TEST(derived_rows_are_kept_or_made_again)
{
        const struct step_case *c = &cases[_i];
        struct kw_embedded steps[] = {{"001-ledger.sql", NULL, 0}, {"1001-a.sql", NULL, 0}, {0}, {0}};
        struct kw_ledger *l = small_mill();
        struct kw_error err = {0};
        struct kw_head before, after;
        int64_t wrong;
        int rc;

        steps[1].bytes = (const unsigned char *)c->steps[0];
        if (c->steps[1])
                steps[2] = (struct kw_embedded){"1002-b.sql", (const unsigned char *)c->steps[1], 0};
        sqlite3_set_authorizer(l->db, NULL, NULL);
        ck_assert_int_eq(kw_ledger_head(l, &before, &err), 0);
        ck_assert_int_eq(kw_do(l, "UPDATE run SET machine = 'TOUCHED'", ""), 0);
        last_told = told_of = 0;
        kw_ledger_tell_of_bringing_up(note, NULL);
        rc = kw_migrate(l, steps, KW_LEDGER_LEVEL, &err);
        kw_ledger_tell_of_bringing_up(NULL, NULL);
        ck_assert_msg(told_of == (c->again ? before.size : 0) && last_told == told_of, "%s: told of %d", c->name,
                      (int)told_of);
        ck_assert_msg((rc != 0) == c->fails, "%s: %d %s", c->name, rc, err.text);
        ck_assert_msg((touched(l) == 0) == c->again, "%s: %d rows are as they were touched", c->name, (int)touched(l));
        ck_assert_int_eq(level(l), c->fails ? KW_LEDGER_LEVEL : c->steps[1] ? 1002 : 1001);
        ck_assert_int_eq(kw_ledger_head(l, &after, &err), 0);
        ck_assert_mem_eq(&before, &after, sizeof(before));
        /* verifying finds what a step kept that it should not have */
        if (c->fails) {
                ck_assert_int_eq(kw_ledger_verify(l, NULL, NULL, &wrong, &err), KW_BAD_VALUE);
                ck_assert_ptr_nonnull(strstr(err.text, "table run"));
        }
        kw_ledger_close(l);
}
END_TEST

/* What a mark may have to take back is larger than what is kept of it in memory. */
START_TEST(a_mark_holds_much)
{
        struct kw_error err = {0};
        struct kw_ledger *l;
        int64_t n;

        ck_assert_int_eq(kw_scratch_open(NULL, &l, &err), 0);
        sqlite3_set_authorizer(l->db, NULL, NULL);
        ck_assert_int_eq(kw_ledger_begin(l, &err), 0);
        ck_assert_int_eq(kw_do(l, "CREATE TABLE much (id INTEGER PRIMARY KEY, what BLOB)", ""), 0);
        ck_assert_int_eq(kw_do(l,
                               "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 4000)"
                               " INSERT INTO much SELECT i, zeroblob(4000) FROM n",
                               ""),
                         0);
        ck_assert_int_eq(kw_ledger_commit(l, &err), 0);
        ck_assert_int_eq(kw_ledger_begin(l, &err), 0);
        ck_assert_int_eq(kw_ledger_mark(l, &err), 0);
        ck_assert_int_eq(kw_do(l, "UPDATE much SET what = randomblob(4000)", ""), 0);
        kw_ledger_undo(l);
        ck_assert_int_eq(kw_ledger_commit(l, &err), 0);
        ck_assert_int_eq(kw_one(l, &n, -1, "SELECT count(*) FROM much WHERE what <> zeroblob(4000)", ""), 0);
        ck_assert_int_eq(n, 0);
        kw_ledger_close(l);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, a_mark_holds_much);
        tcase_add_loop_test(tests, derived_rows_are_kept_or_made_again, 0, (int)(sizeof(cases) / sizeof(cases[0])));
}

int main(void)
{
        return run_suite("migrating", add);
}
