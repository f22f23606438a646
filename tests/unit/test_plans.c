/*
 * Query plans: after the mill was recorded, with corrections that undo entries and do them again, and answers about
 * things, lots and the ledger were asked for, each statement that was prepared for it is explained, and none
 * of them reads a table that grows with the years from end to end.
 */
#include "index_beside.h"
#include "kinwire/export.h"
#include "kinwire/months.h"
#include "prepared.h"
#include "read/floor.h"
#include "recorder.h"
#include "suite.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static const char *mill; /* the demo mill's entries */

static const char *const growing[] = {"entry", "lot", "feed", "package", "taken",   "thing",      "place",     "line",
                                      "weld",  "run", "test", "result",  "finding", "run_supply", "overridden"};

/* @index: follows each commit, or NULL. */
static void record_all(struct kw_ledger *ledger, struct kw_index *index)
{
        size_t n;
        char *text = recorder_file(mill, &n);

        for (char *line = text, *end; (end = strchr(line, '\n')); line = end + 1) {
                record_line(ledger, line, (size_t)(end - line));
                if (index)
                        kw_index_follow(index, ledger);
        }
        free(text);
}

static void trace(struct kw_ledger *ledger, const char *origin, const char *direction)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_question q;

        ck_assert_int_eq(kw_question_read(origin, direction, &q, &err), 0);
        ask_trace(ledger, &q, KW_AS_JSON, &out);
        kw_buf_free(&out);
}

/* A code of each type, as the mill has it. */
static void first_code(struct kw_ledger *ledger, const char *type, char code[64])
{
        struct kw_query q;

        ck_assert_int_eq(kw_ask(ledger, &q, "SELECT code FROM thing WHERE type = ?1 ORDER BY code LIMIT 1", "t", type),
                         0);
        ck_assert_msg(kw_next(ledger, &q) == 1, "the mill has no %s", type);
        snprintf(code, 64, "%s", kw_text(&q, 0));
        kw_end(&q);
}

static void ask_about_things(struct kw_ledger *ledger)
{
        static const char *const types[] = {"heat", "lot",    "run",  "batch",       "weld",
                                            "test", "supply", "hold", "certificate", "consignment"};
        struct kw_error err = {0};
        struct kw_buf out = {0};
        char code[64], origin[96];

        for (size_t i = 0; i < sizeof(types) / sizeof(types[0]); i++) {
                first_code(ledger, types[i], code);
                ck_assert_int_eq(kw_answer_thing(ledger, types[i], code, &out, &err), 0);
                if (strcmp(types[i], "hold") == 0)
                        continue;
                snprintf(origin, sizeof(origin), "%s:%s", types[i], code);
                trace(ledger, origin, "forward");
                trace(ledger, origin, "kin");
        }
        trace(ledger, "machine:PICKLE-1", "back");
        kw_buf_free(&out);
}

static void ask_about_a_lot(struct kw_ledger *ledger)
{
        struct kw_error err = {0};
        struct kw_buf out = {0};
        char code[64];

        first_code(ledger, "lot", code);
        ck_assert_int_eq(kw_answer_lot(ledger, code, &out, &err), 0);
        ck_assert_int_eq(kw_answer_makeup(ledger, code, "heat", NULL, &out, &err), 0);
        ck_assert_int_eq(kw_answer_joints(ledger, code, &out, &err), 0);
        ck_assert_int_eq(kw_answer_balance(ledger, code, &out, &err), 0);
        ck_assert_int_eq(kw_answer_find(ledger, code, &out, &err), 0);
        kw_buf_free(&out);
}

static void ask_about_the_ledger(struct kw_ledger *ledger)
{
        const struct kw_entry_filter all = {.limit = 20}, runs = {.limit = 20, .kind = "run", .before = 100},
                                     nobodys = {.limit = 20, .by = "nobody"},
                                     nobodys_runs = {.limit = 20, .by = "nobody", .kind = "run"};
        struct kw_entry_filter about = {.limit = 20};
        char code[64];
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_answer_entries(ledger, &all, &out, &err), 0);
        ck_assert_int_eq(kw_answer_entries(ledger, &runs, &out, &err), 0);
        ck_assert_int_eq(kw_answer_entries(ledger, &nobodys, &out, &err), 0);
        ck_assert_int_eq(kw_answer_entries(ledger, &nobodys_runs, &out, &err), 0);
        first_code(ledger, "lot", code);
        about.code = code;
        ck_assert_int_eq(kw_answer_entries(ledger, &about, &out, &err), 0);
        ck_assert_int_eq(kw_answer_entry(ledger, 5, &out, &err), 0);
        code[2] = '\0'; /* codes that begin so, of every type */
        ck_assert_int_eq(kw_answer_find(ledger, code, &out, &err), 0);
        ck_assert_int_eq(kw_answer_head(ledger, &out, &err), 0);
        ck_assert_int_eq(kw_answer_holds(ledger, "open", 0, 100, &out, &err), 0);
        ck_assert_int_eq(kw_answer_orders(ledger, &out, &err), 0);
        ck_assert_int_eq(kw_answer_floor(ledger, NULL, &out, &err), 0);
        ck_assert_int_eq(kw_answer_inclusion(ledger, 5, 100, &out, &err), 0);
        ck_assert_int_eq(kw_answer_consistency(ledger, 5, 100, &out, &err), 0);
        kw_buf_free(&out);
}

/* By each way in: property, lot, run, instrument. */
static void ask_for_charts(struct kw_ledger *ledger)
{
        struct kw_chart_question q = {.property = "tensile_kpa",
                                      .since = INT64_MIN,
                                      .until = INT64_MAX,
                                      .tensile_kpa = INT64_MIN,
                                      .from_um = INT64_MIN,
                                      .below_um = INT64_MIN,
                                      .limit = 500};
        char lot[64], run[64], test[64];
        struct kw_error err = {0};
        struct kw_buf out = {0};

        first_code(ledger, "lot", lot);
        first_code(ledger, "run", run);
        first_code(ledger, "test", test);
        ck_assert_int_eq(kw_answer_chart(ledger, &q, &out, &err), 0);
        q.lot = lot;
        ck_assert_int_eq(kw_answer_chart(ledger, &q, &out, &err), 0);
        q.lot = NULL;
        q.run = run;
        ck_assert_int_eq(kw_answer_chart(ledger, &q, &out, &err), 0);
        q.run = NULL;
        q.instrument = "TT-2";
        ck_assert_int_eq(kw_answer_chart(ledger, &q, &out, &err), 0);
        ck_assert_int_eq(kw_answer_instrument(ledger, "TT-2", &out, &err), 0);
        ck_assert_int_eq(kw_answer_judged(ledger, test, "W-1770-10", 0, &out, &err), 0);
        kw_buf_free(&out);
}

/* The newest ones, one of them, and whether another may be issued. */
static void ask_about_certificates(struct kw_ledger *ledger)
{
        struct kw_error err = {0};
        struct kw_buf out = {0};
        char code[64], reel[64];

        first_code(ledger, "certificate", code);
        first_code(ledger, "lot", reel);
        ck_assert_int_eq(kw_answer_certificate(ledger, code, &out, &err), 0);
        ck_assert_int_eq(kw_answer_certificates(ledger, 0, 50, false, &out, &err), 0);
        ck_assert_int_eq(kw_answer_certificates_named(ledger, code, 1, &out, &err), 0);
        ck_assert_int_eq(
                kw_answer_certifiable(ledger, &(struct kw_certify_question){"RL-0021", "2.2", code}, &out, &err), 0);
        ck_assert_int_eq(kw_answer_certifiable(ledger, &(struct kw_certify_question){reel, "3.1", NULL}, &out, &err),
                         0);
        kw_buf_free(&out);
}

/* Of the months that are kept, of the whole mill and of a machine: all of them, and a part of one. */
static void ask_for_balances(struct kw_ledger *ledger)
{
        struct kw_balance_question q = {.since = INT64_MIN, .until = INT64_MAX};
        struct kw_undone *undone;
        struct kw_months *months;
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_undone_new(&undone), 0);
        ck_assert_int_eq(kw_months_new(undone, NULL, &months), 0);
        ck_assert_int_eq(kw_answer_masses(ledger, months, &q, &out, &err), 0);
        q.since = 1789000000;
        q.until = q.since + 86400;
        ck_assert_int_eq(kw_answer_masses(ledger, months, &q, &out, &err), 0);
        strcpy(q.type, "machine");
        strcpy(q.code, "BLOCK-1");
        ck_assert_int_eq(kw_answer_masses(ledger, months, &q, &out, &err), 0);
        kw_months_free(months);
        kw_undone_free(undone);
        kw_buf_free(&out);
}

/* What an entry needs is asked for each of an export, so none of it may read a table that grows. */
static void ask_for_exports(struct kw_ledger *ledger)
{
        static const char *const forms[] = {"entries", "genealogy", "pack"};
        const struct kw_scope_words words = {.origin = "lot:RL-0021", .direction = "back"};
        struct kw_error err = {0};
        struct kw_buf out = {0};
        struct kw_scope scope;

        ck_assert_int_eq(kw_scope_read(&words, &scope, &err), 0);
        for (size_t i = 0; i < sizeof(forms) / sizeof(*forms); i++) {
                struct kw_export *x = NULL;

                ck_assert_int_eq(kw_export_start(ledger, &scope, kw_export_form_named(forms[i]), &x, &err), 0);
                ck_assert_int_ge(kw_export_next(x, &out, &err), 0);
                kw_export_end(x);
        }
        kw_buf_free(&out);
}

/* Of what an entry needs nothing is read from end to end, not even what grows slowly: it is asked for each entry. */
static void find_needs(struct kw_ledger *ledger)
{
        int found = 0;

        for (struct kw_prepared *p = ledger->prepared; p; p = p->hh.next) {
                sqlite3_stmt *stmt;
                char *text;

                if (!strstr(p->sql, "FROM correction WHERE target = ?1") &&
                    strncmp(p->sql, "SELECT run / 4096", 17) != 0)
                        continue;
                text = sqlite3_mprintf("EXPLAIN QUERY PLAN %s", p->sql);
                ck_assert_int_eq(sqlite3_prepare_v2(ledger->db, text, -1, &stmt, NULL), SQLITE_OK);
                while (sqlite3_step(stmt) == SQLITE_ROW) {
                        const char *detail = (const char *)sqlite3_column_text(stmt, 3);

                        ck_assert_msg(strncmp(detail, "SCAN ", 5) != 0, "each entry's needs: %s", detail);
                }
                sqlite3_finalize(stmt);
                sqlite3_free(text);
                found++;
        }
        /* of runs and of others, to record them again and to read them; of receipts; who took of a lot before */
        ck_assert_int_ge(found, 6);
}

/* Whether the statement calls @table by @alias ("FROM feed f"). */
static bool is_alias(const char *sql, const char *table, const char *alias)
{
        char text[64];
        size_t n = (size_t)snprintf(text, sizeof(text), " %s %s", table, alias);

        for (const char *at = sql; (at = strstr(at, text)); at++)
                if (at[n] == '\0' || strchr(" ,)", at[n]))
                        return true;
        return false;
}

/* "SCAN lot", "SCAN l USING COVERING INDEX ...": read from end to end. Return: the growing table that is, or NULL. */
static const char *scanned(const char *sql, const char *detail)
{
        char name[32];

        if (sscanf(detail, "SCAN %31s", name) != 1)
                return NULL;
        for (size_t i = 0; i < sizeof(growing) / sizeof(growing[0]); i++)
                if (strcmp(name, growing[i]) == 0 || is_alias(sql, growing[i], name))
                        return growing[i];
        return NULL;
}

/* An index of some rows alone, those that failed or are under way, may be read as it is. */
static bool by_partial_index(struct kw_ledger *ledger, const char *detail)
{
        const char *at = strstr(detail, "INDEX ");
        char name[64];
        int64_t partial = 0;

        if (!at || sscanf(at, "INDEX %63s", name) != 1)
                return false;
        ck_assert_int_eq(kw_one(ledger, &partial, 0,
                                "SELECT count(*) FROM sqlite_schema WHERE type = 'index' AND name = ?1 AND sql LIKE"
                                " '% WHERE %'",
                                "t", name),
                         0);
        return partial > 0;
}

/* A table read backwards in the order in which it is kept, and no further than it is asked. */
static bool from_the_end(const char *sql, const char *detail)
{
        return strcmp(detail, "SCAN finding") == 0 && strstr(sql, "FROM finding ORDER BY seq DESC, ord DESC LIMIT");
}

static void explain(struct kw_ledger *ledger, const char *sql)
{
        char *text = malloc(strlen(sql) + 32);
        sqlite3_stmt *stmt;

        sprintf(text, "EXPLAIN QUERY PLAN %s", sql);
        ck_assert_int_eq(sqlite3_prepare_v2(ledger->db, text, -1, &stmt, NULL), SQLITE_OK);
        while (sqlite3_step(stmt) == SQLITE_ROW) {
                const char *detail = (const char *)sqlite3_column_text(stmt, 3);
                const char *table = scanned(sql, detail);

                ck_assert_msg(!table || by_partial_index(ledger, detail) || from_the_end(sql, detail),
                              "%s reads the whole of %s: %s", sql, table, detail);
        }
        sqlite3_finalize(stmt);
        free(text);
}

/* What one person recorded is found by who recorded it, not by looking at what everybody did. */
static void find_by_person(struct kw_ledger *ledger)
{
        int found = 0;

        for (struct kw_prepared *p = ledger->prepared; p; p = p->hh.next) {
                sqlite3_stmt *stmt;
                char text[1024];

                if (!strstr(p->sql, "e.by = ?4 AND e.seq < ?1"))
                        continue;
                snprintf(text, sizeof(text), "EXPLAIN QUERY PLAN %s", p->sql);
                ck_assert_int_eq(sqlite3_prepare_v2(ledger->db, text, -1, &stmt, NULL), SQLITE_OK);
                ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
                ck_assert_ptr_nonnull(strstr((const char *)sqlite3_column_text(stmt, 3), "entry_by_who"));
                sqlite3_finalize(stmt);
                found++;
        }
        ck_assert_int_eq(found, 1);
}

static int explain_all(struct kw_ledger *ledger)
{
        int explained = 0;

        for (struct kw_prepared *p = ledger->prepared; p; p = p->hh.next)
                if (strncmp(p->sql, "SELECT", 6) == 0 || strncmp(p->sql, "WITH", 4) == 0 ||
                    strncmp(p->sql, "DELETE", 6) == 0 || strncmp(p->sql, "INSERT", 6) == 0) {
                        explain(ledger, p->sql);
                        explained++;
                }
        return explained;
}

START_TEST(nothing_is_read_from_end_to_end)
{
        struct kw_ledger *recorded = recorder_new();
        struct kw_error err = {0};

        record_all(recorded, NULL);
        ask_about_things(recorded);
        ck_assert_int_eq(kw_ledger_look(recorded, &err), 0);
        ask_about_a_lot(recorded);
        ask_about_the_ledger(recorded);
        ask_for_charts(recorded);
        ask_about_certificates(recorded);
        ask_for_balances(recorded);
        ask_for_exports(recorded);
        find_needs(recorded);
        ck_assert_int_gt(explain_all(recorded), 50);
        find_by_person(recorded);
        kw_ledger_done(recorded);
        kw_ledger_close(recorded);
}
END_TEST

static bool some_times(void *left)
{
        return (*(int *)left)-- > 0;
}

static int export_all(struct kw_ledger *ledger, const struct kw_scope *scope, struct kw_error *err)
{
        struct kw_export *x = NULL;
        struct kw_buf out = {0};
        int rc = kw_export_start(ledger, scope, kw_export_form_named("csv"), &x, err);

        for (rc = rc ? rc : 1; rc == 1;) {
                out.n = 0;
                rc = kw_export_next(x, &out, err);
        }
        kw_export_end(x);
        kw_buf_free(&out);
        return rc;
}

/* Whoever gathers what an export is to hold stops soon after nobody wants it any more. */
START_TEST(an_export_nobody_wants)
{
        struct kw_ledger *recorded = recorder_new();
        struct kw_scope_words words = {.origin = "all"};
        struct kw_error err = {0};
        struct kw_scope scope;
        int rc;

        record_all(recorded, NULL);
        ck_assert_int_eq(kw_scope_read(&words, &scope, &err), 0);
        ck_assert_int_eq(kw_ledger_look(recorded, &err), 0);
        for (int i = 0, wanted = _i; i < 2; i++) {
                kw_ledger_while(recorded, some_times, &wanted);
                rc = export_all(recorded, &scope, &err);
                ck_assert_msg(rc == KW_BUSY || rc == -ECANCELED, "%d: %s", rc, err.text);
                ck_assert_int_lt(wanted, 0);
                wanted = 0;
        }
        kw_ledger_while(recorded, NULL, NULL);
        ck_assert_int_eq(export_all(recorded, &scope, &err), 0);
        kw_ledger_done(recorded);
        kw_ledger_close(recorded);
}
END_TEST

/* The stock is summed up by the index: of the tables no more is read than what was recorded since. */
START_TEST(attention_with_an_index)
{
        struct beside b = {0};
        struct kw_error err = {0};
        struct kw_buf out = {0};

        beside_new(&b);
        record_all(b.ledger, b.index);
        kw_ledger_ask_index(b.ledger, b.index);
        ck_assert_int_eq(kw_ledger_look(b.ledger, &err), 0);
        ck_assert_int_eq(kw_answer_attention(b.ledger, &out, &err), 0);
        kw_ledger_done(b.ledger);
        ck_assert_ptr_nonnull(strstr(out.at, "\"kind\":\"bobbin\""));
        ck_assert_int_gt(explain_all(b.ledger), 50);
        kw_buf_free(&out);
        beside_free(&b);
}
END_TEST

/* A large ledger whose index is not there yet: the stock is said to be unknown, and no lot is looked at for it. */
START_TEST(attention_before_the_index)
{
        struct beside b = {0};
        struct kw_error err = {0};
        struct kw_buf out = {0};
        char body[128];

        beside_new(&b);
        record_all(b.ledger, NULL);
        for (int i = 0; i < 400; i++) {
                snprintf(body, sizeof(body), "{\"supply\":\"PAD-%d\",\"what\":\"soap\",\"supplier\":\"A\"}", i);
                record(b.ledger, "supply", "2026-03-04T09:12:00Z", body);
        }
        kw_index_free(b.index);
        ck_assert_int_eq(kw_index_new(b.path, &b.index), 0);
        kw_ledger_ask_index(b.ledger, b.index);
        ck_assert_int_eq(kw_ledger_look(b.ledger, &err), 0);
        ck_assert_int_eq(kw_answer_attention(b.ledger, &out, &err), 0);
        kw_ledger_done(b.ledger);
        ck_assert_ptr_nonnull(strstr(out.at, "\"stock\":null"));
        ck_assert_int_gt(explain_all(b.ledger), 50);
        kw_buf_free(&out);
        beside_free(&b);
}
END_TEST

/* Stepping from one machine to the next finds what reading every run and batch does. */
START_TEST(every_machine)
{
        struct kw_ledger *recorded = recorder_new();
        const struct kw_machine_row *machines;
        struct kw_error err = {0};
        struct kw_reader *r;
        sqlite3_stmt *stmt;
        size_t n, i = 0;

        record_all(recorded, NULL);
        ck_assert_int_eq(kw_ledger_look(recorded, &err), 0);
        ck_assert_int_eq(kw_reader_new(recorded, &r), 0);
        ck_assert_int_eq(kw_read_machines(r, &machines, &n), 0);
        ck_assert_int_eq(sqlite3_prepare_v2(recorded->db,
                                            "SELECT machine, process, max(at) FROM (SELECT machine, process, at FROM"
                                            " run UNION ALL SELECT machine, process, at FROM batch)"
                                            " GROUP BY machine, process ORDER BY process, machine",
                                            -1, &stmt, NULL),
                         SQLITE_OK);
        for (; sqlite3_step(stmt) == SQLITE_ROW; i++) {
                ck_assert_uint_lt(i, n);
                ck_assert_str_eq(machines[i].machine, (const char *)sqlite3_column_text(stmt, 0));
                ck_assert_str_eq(machines[i].process, (const char *)sqlite3_column_text(stmt, 1));
                ck_assert_int_eq(machines[i].last, sqlite3_column_int64(stmt, 2));
        }
        sqlite3_finalize(stmt);
        ck_assert_uint_eq(i, n);
        ck_assert_uint_gt(n, 5);
        kw_reader_free(r);
        kw_ledger_done(recorded);
        kw_ledger_close(recorded);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, every_machine);
        tcase_add_test(tests, attention_with_an_index);
        tcase_add_test(tests, attention_before_the_index);
        tcase_add_test(tests, nothing_is_read_from_end_to_end);
        tcase_add_loop_test(tests, an_export_nobody_wants, 0, 3);
}

int main(int argc, char **argv)
{
        mill = argc > 1 ? argv[1] : "demo-data/mill.ndjson";
        return run_suite("plans", add);
}
