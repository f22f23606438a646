/*
 * The peer SQLite: the same history in tables made for nothing but this, asked by recursive queries, everything cached.
 */
#include "bench.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void run(sqlite3 *db, const char *sql)
{
        char *why = NULL;

        if (sqlite3_exec(db, sql, NULL, NULL, &why))
                bench_fail(sql, why);
}

static void insert(sqlite3_stmt *stmt, const int64_t *values, int n)
{
        for (int i = 0; i < n; i++)
                sqlite3_bind_int64(stmt, i + 1, values[i]);
        if (sqlite3_step(stmt) != SQLITE_DONE)
                bench_fail("SQLite", "a row is not taken");
        sqlite3_reset(stmt);
}

static sqlite3_stmt *prepare(sqlite3 *db, const char *sql)
{
        sqlite3_stmt *stmt;

        if (sqlite3_prepare_v2(db, sql, -1, &stmt, NULL))
                bench_fail(sql, sqlite3_errmsg(db));
        return stmt;
}

static void load(sqlite3 *db, const struct graph *g)
{
        sqlite3_stmt *stmt;

        run(db,
            "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -4000000;"
            "CREATE TABLE run (id INTEGER PRIMARY KEY, furnace INT, started INT);"
            "CREATE TABLE lot (id INTEGER PRIMARY KEY, heat INT);"
            "CREATE TABLE feed (lot INT, run INT, line INT, from_mm INT, to_mm INT, inner INT, s_from INT, s_to INT,"
            " PRIMARY KEY (lot, run, line, s_from)) WITHOUT ROWID;"
            "CREATE TABLE package (run INT, lot INT, s_from INT, s_to INT, PRIMARY KEY (run, s_from, lot)) WITHOUT "
            "ROWID;"
            "BEGIN");
        stmt = prepare(db, "INSERT INTO run VALUES (?, ?, ?)");
        for (uint32_t i = 0; i < g->runs; i++)
                insert(stmt, (int64_t[]){i, g->furnace[i], g->started[i]}, 3);
        sqlite3_finalize(stmt);
        stmt = prepare(db, "INSERT INTO lot VALUES (?, nullif(?, 0))");
        for (uint32_t i = 0; i < g->lots; i++)
                insert(stmt, (int64_t[]){i, g->heat_of[i]}, 2);
        sqlite3_finalize(stmt);
        stmt = prepare(db, "INSERT INTO package VALUES (?, ?, ?, ?)");
        for (uint32_t i = 0; i < g->packs; i++)
                insert(stmt, (int64_t[]){g->pack[i].run, g->pack[i].lot, g->pack[i].s0, g->pack[i].s1}, 4);
        sqlite3_finalize(stmt);
        stmt = prepare(db, "INSERT INTO feed VALUES (?, ?, ?, ?, ?, ?, ?, ?)");
        for (uint32_t i = 0; i < g->feeds; i++) {
                const struct graph_feed *f = &g->feed[i];

                insert(stmt, (int64_t[]){f->lot, f->run, f->line, f->from, f->to, f->inner, f->s0, f->s1}, 8);
        }
        sqlite3_finalize(stmt);
        run(db, "COMMIT; CREATE INDEX run_furnace ON run (furnace, started) WHERE furnace;"
                "CREATE INDEX lot_heat ON lot (heat) WHERE heat IS NOT NULL; CREATE INDEX feed_run ON feed (run);"
                "CREATE INDEX package_lot ON package (lot); ANALYZE");
}

static const char *const seeds[QUESTIONS] = {
        [ASK_HEAT] = "SELECT id FROM lot WHERE heat = ?1",
        [ASK_BATCH] = "SELECT lot FROM package WHERE run = ?1",
        [ASK_MONTH] = "SELECT p.lot FROM run r JOIN package p ON p.run = r.id WHERE r.furnace AND r.furnace = ?1 AND "
                  "r.started >= ?2"
                  " AND r.started < ?3",
        [ASK_REEL] = "SELECT ?1",
};

/* By membership: what a run made is made of all that it took. */
#define MEMBERS                                                                                                   \
        "WITH RECURSIVE d (lot) AS (%s UNION SELECT p.lot FROM d JOIN feed f ON f.lot = d.lot JOIN package p ON " \
        "p.run ="                                                                                                 \
        " f.run) SELECT count(*) FROM d"
/* The same, with each run visited once. */
#define MEMBERS_BACK                                                                                              \
        "WITH RECURSIVE u (lot) AS (%s UNION SELECT f.lot FROM u JOIN package p ON p.lot = u.lot JOIN feed f ON " \
        "f.run ="                                                                                                 \
        " p.run) SELECT count(*) FROM u"
#define LOW                                                                                                          \
        "(f.s_from + CASE f.inner WHEN 1 THEN (max(d.x, f.from_mm) - f.from_mm) * (f.s_to - f.s_from) / (f.to_mm - " \
        "f.from_mm)"                                                                                                 \
        " ELSE (f.to_mm - min(d.y, f.to_mm)) * (f.s_to - f.s_from) / (f.to_mm - f.from_mm) END)"
#define HIGH                                                                                                       \
        "(f.s_from + CASE f.inner WHEN 1 THEN ((min(d.y, f.to_mm) - f.from_mm) * (f.s_to - f.s_from) + f.to_mm - " \
        "f.from_mm"                                                                                                \
        " - 1) / (f.to_mm - f.from_mm) ELSE ((f.to_mm - max(d.x, f.from_mm)) * (f.s_to - f.s_from) + f.to_mm - "   \
        "f.from_mm - 1)"                                                                                           \
        " / (f.to_mm - f.from_mm) END)"
/* With places: intervals carried along, those that are the same taken once. */
#define PLACES                                                                                                        \
        "WITH RECURSIVE seed (id) AS (%s), d (lot, x, y) AS (SELECT id, 0, 2000000000 FROM seed UNION SELECT p.lot, " \
        "max(" LOW ", p.s_from) - p.s_from, min(" HIGH                                                                \
        ", p.s_to) - p.s_from FROM d JOIN feed f ON f.lot = d.lot AND f.from_mm < d.y AND"                            \
        " f.to_mm > d.x JOIN package p ON p.run = f.run WHERE p.s_from < f.s_to AND p.s_to > f.s_from AND " LOW       \
        " < p.s_to AND " HIGH " > p.s_from) SELECT count(DISTINCT lot) FROM d"
#define PLACES_BACK                                                                                               \
        "WITH RECURSIVE u (lot) AS (%s UNION SELECT f.lot FROM u JOIN package p ON p.lot = u.lot JOIN feed f ON " \
        "f.run ="                                                                                                 \
        " p.run AND p.s_from < f.s_to AND p.s_to > f.s_from) SELECT count(*) FROM u"

struct asking {
        sqlite3_stmt *stmts[QUESTIONS];
};

static uint32_t ask(void *ctx, const struct start *start)
{
        sqlite3_stmt *stmt = ((struct asking *)ctx)->stmts[start->what];
        uint32_t n;

        sqlite3_bind_int64(stmt, 1, start->a);
        if (sqlite3_bind_parameter_count(stmt) > 2) {
                sqlite3_bind_int64(stmt, 2, start->b);
                sqlite3_bind_int64(stmt, 3, start->c);
        }
        if (sqlite3_step(stmt) != SQLITE_ROW)
                bench_fail("SQLite", "no answer");
        n = (uint32_t)sqlite3_column_int64(stmt, 0);
        sqlite3_reset(stmt);
        return n;
}

static void time_one(sqlite3 *db, const struct graph *g, const char *forward, const char *back, struct took *out)
{
        struct asking a;
        char sql[8192];

        for (int q = 0; q < QUESTIONS; q++) {
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
                snprintf(sql, sizeof(sql), q == ASK_REEL ? back : forward, seeds[q]);
#pragma GCC diagnostic pop
                a.stmts[q] = prepare(db, sql);
        }
        bench_ask(g, ask, &a, 1, false, out);
        for (int q = 0; q < QUESTIONS; q++)
                sqlite3_finalize(a.stmts[q]);
}

void sqlite_time(const struct graph *g, const char *file, struct took out[PEERS])
{
        sqlite3 *db;

        unlink(file);
        if (sqlite3_open(file, &db))
                bench_fail(file, sqlite3_errmsg(db));
        load(db, g);
        time_one(db, g, MEMBERS, MEMBERS_BACK, &out[PEER_MEMBERS]);
        time_one(db, g, PLACES, PLACES_BACK, &out[PEER_PLACES]);
        sqlite3_close(db);
        unlink(file);
}
