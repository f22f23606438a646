/*
 * A ledger's genealogy as plain arrays, and the questions that every engine is asked.
 */
#include "bench.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

static void *room(size_t n, size_t size)
{
        void *at = calloc(n + 2, size);

        if (!at)
                bench_fail("graph", "no memory");
        return at;
}

static sqlite3_stmt *prepare(sqlite3 *db, const char *sql)
{
        sqlite3_stmt *stmt;

        if (sqlite3_prepare_v2(db, sql, -1, &stmt, NULL))
                bench_fail(sql, sqlite3_errmsg(db));
        return stmt;
}

static int64_t one(sqlite3 *db, const char *sql)
{
        sqlite3_stmt *stmt = prepare(db, sql);
        int64_t n = sqlite3_step(stmt) == SQLITE_ROW ? sqlite3_column_int64(stmt, 0) : 0;

        sqlite3_finalize(stmt);
        return n;
}

static uint32_t find(const int64_t *ids, uint32_t n, int64_t id)
{
        uint32_t lo = 0, hi = n;

        while (lo < hi) {
                uint32_t mid = lo + (hi - lo) / 2;

                if (ids[mid] < id)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        if (lo == n || ids[lo] != id)
                bench_fail("graph", "a row leads nowhere");
        return lo;
}

static void load_lots(struct graph *g, sqlite3 *db)
{
        sqlite3_stmt *stmt = prepare(db, "SELECT id, ifnull(heat, 0), kind = 'reel' FROM lot ORDER BY id");
        int64_t last = 0;

        g->lots = (uint32_t)one(db, "SELECT count(*) FROM lot");
        g->lot_id = room(g->lots, sizeof(*g->lot_id));
        g->heat_of = room(g->lots, sizeof(*g->heat_of));
        g->reel = room(g->lots, 1);
        for (uint32_t i = 0; sqlite3_step(stmt) == SQLITE_ROW; i++) {
                int64_t heat = sqlite3_column_int64(stmt, 1);

                g->lot_id[i] = sqlite3_column_int64(stmt, 0);
                /* coils of one heat are received together */
                if (heat && heat != last)
                        g->heats++;
                last = heat ? heat : last;
                g->heat_of[i] = heat ? g->heats : 0;
                g->reel[i] = (uint8_t)sqlite3_column_int(stmt, 2);
        }
        sqlite3_finalize(stmt);
}

static void load_runs(struct graph *g, sqlite3 *db)
{
        sqlite3_stmt *stmt = prepare(db, "SELECT id, started, machine FROM run ORDER BY id");

        g->runs = (uint32_t)one(db, "SELECT count(*) FROM run");
        g->run_id = room(g->runs, sizeof(*g->run_id));
        g->started = room(g->runs, sizeof(*g->started));
        g->furnace = room(g->runs, 1);
        for (uint32_t i = 0; sqlite3_step(stmt) == SQLITE_ROW; i++) {
                const char *machine = (const char *)sqlite3_column_text(stmt, 2);

                g->run_id[i] = sqlite3_column_int64(stmt, 0);
                g->started[i] = sqlite3_column_int(stmt, 1);
                g->furnace[i] = strncmp(machine, "PF-", 3) == 0 ? (uint8_t)atoi(machine + 3) : 0;
        }
        sqlite3_finalize(stmt);
}

static void load_packs(struct graph *g, sqlite3 *db)
{
        sqlite3_stmt *stmt = prepare(db, "SELECT run, lot, s0, s1 FROM package WHERE lot <> 0 ORDER BY run, ord");
        uint32_t run = 0;

        g->packs = (uint32_t)one(db, "SELECT count(*) FROM package WHERE lot <> 0");
        g->pack = room(g->packs, sizeof(*g->pack));
        g->first_pack = room(g->runs, sizeof(*g->first_pack));
        for (uint32_t i = 0; sqlite3_step(stmt) == SQLITE_ROW; i++) {
                while (g->run_id[run] < sqlite3_column_int64(stmt, 0))
                        g->first_pack[++run] = i;
                g->pack[i] = (struct graph_pack){find(g->lot_id, g->lots, sqlite3_column_int64(stmt, 1)), run,
                                                 sqlite3_column_int(stmt, 2), sqlite3_column_int(stmt, 3)};
        }
        while (run < g->runs)
                g->first_pack[++run] = g->packs;
        sqlite3_finalize(stmt);
}

/* Feeds of one line from @from up to @to, all of one piece that comes out at [s0, s1]. */
static void place(struct graph_feed *feeds, const int64_t *v, size_t from, size_t to, int64_t end, int64_t s0,
                  int64_t s1)
{
        for (size_t i = from; i < to; i++) {
                int64_t next = i + 1 < to ? v[i + 1] : end, length = end - v[from];

                feeds[i].s0 = (int32_t)(s0 + (v[i] - v[from]) * (s1 - s0) / length);
                feeds[i].s1 = (int32_t)(s0 + (next - v[from]) * (s1 - s0) / length);
        }
}

static int by_lot(const void *a, const void *b)
{
        const struct graph_feed *x = a, *y = b;

        if (x->lot != y->lot)
                return x->lot < y->lot ? -1 : 1;
        return (x->from > y->from) - (x->from < y->from);
}

static void load_feeds(struct graph *g, sqlite3 *db)
{
        sqlite3_stmt *stmt =
                prepare(db, "SELECT f.run, f.line, f.lot, f.from_mm, f.to_mm, f.inner, f.v0, f.seen_mm, l.length_mm,"
                            " r.length_mm FROM feed f CROSS JOIN line l ON l.run = f.run AND l.ord = f.line"
                            " CROSS JOIN run r ON r.id = f.run ORDER BY f.run, f.line, f.ord");
        int64_t *v, s0 = 0, line_mm = 0, run_mm = 0, line = -1, run_id = 0;
        uint32_t n = 0, piece = 0, run = 0;

        g->feeds = (uint32_t)one(db, "SELECT count(*) FROM feed");
        g->feed = room(g->feeds, sizeof(*g->feed));
        v = room(g->feeds, sizeof(*v));
        for (; sqlite3_step(stmt) == SQLITE_ROW; n++) {
                bool new_line = sqlite3_column_int64(stmt, 0) != run_id || sqlite3_column_int64(stmt, 1) != line;

                v[n] = sqlite3_column_int64(stmt, 6);
                if (new_line) {
                        place(g->feed, v, piece, n, line_mm, s0, run_mm);
                        piece = n;
                        s0 = 0;
                } else if (sqlite3_column_type(stmt, 7) != SQLITE_NULL) {
                        place(g->feed, v, piece, n, v[n], s0, sqlite3_column_int64(stmt, 7));
                        piece = n;
                        s0 = sqlite3_column_int64(stmt, 7);
                }
                run_id = sqlite3_column_int64(stmt, 0);
                line = sqlite3_column_int64(stmt, 1);
                line_mm = sqlite3_column_int64(stmt, 8);
                run_mm = sqlite3_column_int64(stmt, 9);
                while (g->run_id[run] < run_id)
                        run++;
                g->feed[n] = (struct graph_feed){.lot = find(g->lot_id, g->lots, sqlite3_column_int64(stmt, 2)),
                                                 .run = run,
                                                 .from = sqlite3_column_int(stmt, 3),
                                                 .to = sqlite3_column_int(stmt, 4),
                                                 .line = (int32_t)line,
                                                 .inner = (uint8_t)sqlite3_column_int(stmt, 5)};
        }
        place(g->feed, v, piece, n, line_mm, s0, run_mm);
        sqlite3_finalize(stmt);
        free(v);
        qsort(g->feed, g->feeds, sizeof(*g->feed), by_lot);
        g->first_feed = room(g->lots, sizeof(*g->first_feed));
        for (uint32_t i = 0, lot = 0; lot <= g->lots; g->first_feed[lot++] = i)
                while (i < g->feeds && g->feed[i].lot < lot)
                        i++;
}

/* --- the questions, evenly spread over the middle of the history --------------------------------------- */

static struct start *add(struct graph *g, enum question what, int64_t a, int64_t b, int64_t c)
{
        struct start *s = &g->starts[g->n_starts++];

        *s = (struct start){.what = what, .a = a, .b = b, .c = c, .lots = room(g->lots / 50 + 4096, sizeof(uint32_t))};
        return s;
}

static void add_packages(struct graph *g, struct start *s, uint32_t run)
{
        for (uint32_t i = g->first_pack[run]; i < g->first_pack[run + 1]; i++)
                s->lots[s->n++] = g->pack[i].lot;
}

static void ask_heat(struct graph *g, uint32_t heat)
{
        struct start *s = add(g, ASK_HEAT, heat, 0, 0);

        for (uint32_t i = 0; i < g->lots; i++)
                if (g->heat_of[i] == heat)
                        s->lots[s->n++] = i;
}

static void ask_month(struct graph *g, uint8_t furnace, int32_t since)
{
        struct start *s = add(g, ASK_MONTH, furnace, since, since + 30 * 86400);

        for (uint32_t r = 0; r < g->runs; r++)
                if (g->furnace[r] == furnace && g->started[r] >= s->b && g->started[r] < s->c)
                        add_packages(g, s, r);
}

static void choose(struct graph *g)
{
        uint32_t *furnace_runs = room(g->runs, sizeof(uint32_t)), n = 0;
        int32_t first = g->started[0], days = g->started[g->runs - 1] - first;
        int months = days / 86400 > 720 ? 12 : 6;

        for (uint32_t r = 0; r < g->runs; r++)
                if (g->furnace[r])
                        furnace_runs[n++] = r;
        for (int i = 0; i < ASKED; i++)
                ask_heat(g, (uint32_t)(g->heats * (.15 + .5 * i / ASKED)) + 1);
        for (int i = 0; i < ASKED; i++) {
                uint32_t run = furnace_runs[(uint32_t)(n * (.15 + .5 * i / ASKED))];

                add_packages(g, add(g, ASK_BATCH, run, 0, 0), run);
        }
        for (int i = 0; i < months; i++)
                ask_month(g, (uint8_t)(i % 4 + 1), first + (int32_t)(days * (.15 + .5 * i / months)));
        for (int i = 0; i < ASKED; i++) {
                uint32_t lot = (uint32_t)(g->lots * (.35 + .6 * i / ASKED));

                while (lot > 0 && !g->reel[lot])
                        lot--;
                struct start *s = add(g, ASK_REEL, lot, 0, 0);
                s->lots[s->n++] = lot;
        }
        free(furnace_runs);
}

void graph_load(struct graph *g, const char *ledger)
{
        sqlite3 *db;

        *g = (struct graph){0};
        if (sqlite3_open_v2(ledger, &db, SQLITE_OPEN_READONLY, NULL))
                bench_fail(ledger, sqlite3_errmsg(db));
        load_lots(g, db);
        load_runs(g, db);
        load_packs(g, db);
        load_feeds(g, db);
        sqlite3_close(db);
        choose(g);
}

void graph_free(struct graph *g)
{
        for (size_t i = 0; i < g->n_starts; i++)
                free(g->starts[i].lots);
        free(g->feed);
        free(g->pack);
        free(g->first_feed);
        free(g->first_pack);
        free(g->heat_of);
        free(g->reel);
        free(g->lot_id);
        free(g->run_id);
        free(g->started);
        free(g->furnace);
}
