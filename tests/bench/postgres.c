/*
 * The peer PostgreSQL: the same tables and queries in a cluster of its own, asked over its socket.
 */
#include "bench.h"

#ifdef HAVE_POSTGRES

#include <libpq-fe.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void check(PGconn *db, PGresult *r, const char *what)
{
        ExecStatusType s = PQresultStatus(r);

        if (s != PGRES_COMMAND_OK && s != PGRES_TUPLES_OK && s != PGRES_COPY_IN)
                bench_fail(what, PQerrorMessage(db));
}

static void run(PGconn *db, const char *sql)
{
        PGresult *r = PQexec(db, sql);

        check(db, r, sql);
        PQclear(r);
}

struct copying {
        PGconn *db;
        char text[65536];
        int n;
};

static void start_copy(struct copying *c, const char *sql)
{
        PGresult *r = PQexec(c->db, sql);

        check(c->db, r, sql);
        PQclear(r);
        c->n = 0;
}

static void copy_row(struct copying *c, const int64_t *values, int n)
{
        for (int i = 0; i < n; i++)
                c->n += snprintf(c->text + c->n, sizeof(c->text) - (size_t)c->n, "%s%lld", i ? "\t" : "",
                                 (long long)values[i]);
        c->text[c->n++] = '\n';
        if (c->n > 60000) {
                if (PQputCopyData(c->db, c->text, c->n) != 1)
                        bench_fail("PostgreSQL", PQerrorMessage(c->db));
                c->n = 0;
        }
}

static void end_copy(struct copying *c)
{
        PGresult *r;

        if ((c->n && PQputCopyData(c->db, c->text, c->n) != 1) || PQputCopyEnd(c->db, NULL) != 1)
                bench_fail("PostgreSQL", PQerrorMessage(c->db));
        while ((r = PQgetResult(c->db))) {
                check(c->db, r, "COPY");
                PQclear(r);
        }
}

static void load(PGconn *db, const struct graph *g)
{
        struct copying c = {.db = db};

        run(db, "CREATE TABLE run (id INT, furnace INT, started INT); CREATE TABLE lot (id INT, heat INT);"
                "CREATE TABLE feed (lot INT, run INT, s_from INT, s_to INT); CREATE TABLE package (run INT, lot INT, "
                "s_from INT,"
                " s_to INT)");
        start_copy(&c, "COPY run FROM STDIN");
        for (uint32_t i = 0; i < g->runs; i++)
                copy_row(&c, (int64_t[]){i, g->furnace[i], g->started[i]}, 3);
        end_copy(&c);
        start_copy(&c, "COPY lot FROM STDIN");
        for (uint32_t i = 0; i < g->lots; i++)
                copy_row(&c, (int64_t[]){i, g->heat_of[i]}, 2);
        end_copy(&c);
        start_copy(&c, "COPY feed FROM STDIN");
        for (uint32_t i = 0; i < g->feeds; i++)
                copy_row(&c, (int64_t[]){g->feed[i].lot, g->feed[i].run, g->feed[i].s0, g->feed[i].s1}, 4);
        end_copy(&c);
        start_copy(&c, "COPY package FROM STDIN");
        for (uint32_t i = 0; i < g->packs; i++)
                copy_row(&c, (int64_t[]){g->pack[i].run, g->pack[i].lot, g->pack[i].s0, g->pack[i].s1}, 4);
        end_copy(&c);
        run(db, "CREATE INDEX ON run (furnace, started) WHERE furnace > 0; CREATE INDEX ON lot (heat) WHERE heat > 0;"
                "CREATE INDEX ON feed (lot) INCLUDE (run, s_from, s_to); CREATE INDEX ON feed (run) INCLUDE (lot, "
                "s_from, s_to);"
                "CREATE INDEX ON package (run) INCLUDE (lot, s_from, s_to); CREATE INDEX ON package (lot) INCLUDE "
                "(run, s_from,"
                " s_to)");
        run(db, "VACUUM ANALYZE");
        /* what it does best with: nested loops over its indices */
        run(db, "SET jit = off; SET enable_seqscan = off; SET enable_hashjoin = off; SET enable_mergejoin = off");
}

static const char *const seeds[QUESTIONS] = {
        [ASK_HEAT] = "SELECT id FROM lot WHERE heat = $1::int AND heat > 0",
        [ASK_BATCH] = "SELECT lot FROM package WHERE run = $1::int",
        [ASK_MONTH] =
                "SELECT p.lot FROM run r JOIN package p ON p.run = r.id WHERE r.furnace > 0 AND r.furnace = $1::int AND"
                " r.started >= $2::int AND r.started < $3::int",
        [ASK_REEL] = "SELECT $1::int",
};

#define OVERLAP " AND p.s_from < f.s_to AND p.s_to > f.s_from"
#define FORWARD                                                                                                   \
        "WITH RECURSIVE d (lot) AS (%s UNION SELECT p.lot FROM d JOIN feed f ON f.lot = d.lot JOIN package p ON " \
        "p.run = f.run%s)"                                                                                        \
        " SELECT count(*) FROM d"
#define BACK                                                                                                      \
        "WITH RECURSIVE u (lot) AS (%s UNION SELECT f.lot FROM u JOIN package p ON p.lot = u.lot JOIN feed f ON " \
        "f.run = p.run%s)"                                                                                        \
        " SELECT count(*) FROM u"

struct asking {
        PGconn *db;
        char prefix;
};

static uint32_t ask(void *ctx, const struct start *start)
{
        struct asking *a = ctx;
        const int64_t values[] = {start->a, start->b, start->c};
        char name[8], text[3][24];
        const char *given[3];
        PGresult *r;
        uint32_t n;

        snprintf(name, sizeof(name), "%c%d", a->prefix, (int)start->what);
        for (int i = 0; i < 3; i++) {
                snprintf(text[i], sizeof(text[i]), "%lld", (long long)values[i]);
                given[i] = text[i];
        }
        r = PQexecPrepared(a->db, name, start->what == ASK_MONTH ? 3 : 1, given, NULL, NULL, 0);
        check(a->db, r, name);
        n = (uint32_t)strtoul(PQgetvalue(r, 0, 0), NULL, 10);
        PQclear(r);
        return n;
}

static void time_one(PGconn *db, const struct graph *g, char prefix, const char *overlap, struct took *out)
{
        struct asking a = {db, prefix};
        char sql[4096], name[8];

        for (int q = 0; q < QUESTIONS; q++) {
                PGresult *r;

                if (q == ASK_REEL)
                        snprintf(sql, sizeof(sql), BACK, seeds[q], overlap);
                else
                        snprintf(sql, sizeof(sql), FORWARD, seeds[q], overlap);
                snprintf(name, sizeof(name), "%c%d", prefix, q);
                r = PQprepare(db, name, sql, 0, NULL);
                check(db, r, sql);
                PQclear(r);
        }
        bench_ask(g, ask, &a, 1, false, out);
}

/* As another user where this one is root, which the server refuses to be. */
static int shell(const char *script, const char *cluster)
{
        char command[4096];

        setenv("CLUSTER", cluster, 1);
        if (geteuid() == 0)
                snprintf(command, sizeof(command),
                         "chown postgres \"$CLUSTER\" && cd / && runuser -u postgres -- sh -c '%s'", script);
        else
                snprintf(command, sizeof(command), "%s", script);
        return system(command);
}

void postgres_time(const struct graph *g, const char *dir, struct took out[PEERS])
{
        char cluster[512], where[600];
        PGconn *db;

        out[0].why_not = out[1].why_not = "no PostgreSQL cluster could be started";
        snprintf(cluster, sizeof(cluster), "%s/postgres-XXXXXX", dir);
        if (!mkdtemp(cluster))
                return;
        if (shell("initdb -D \"$CLUSTER/data\" -U bench -A trust >\"$CLUSTER/log\" 2>&1 && pg_ctl -D \"$CLUSTER/data\" "
                  "-w -o"
                  " \"-k $CLUSTER -c listen_addresses= -c fsync=off -c shared_buffers=2GB -c work_mem=256MB\" start"
                  " >>\"$CLUSTER/log\" 2>&1",
                  cluster) == 0) {
                snprintf(where, sizeof(where), "host=%s user=bench dbname=postgres", cluster);
                db = PQconnectdb(where);
                if (PQstatus(db) == CONNECTION_OK) {
                        load(db, g);
                        time_one(db, g, 'm', "", &out[PEER_MEMBERS]);
                        time_one(db, g, 'p', OVERLAP, &out[PEER_PLACES]);
                }
                PQfinish(db);
                if (shell("pg_ctl -D \"$CLUSTER/data\" -m immediate stop >/dev/null 2>&1", cluster))
                        bench_fail("PostgreSQL", "does not stop");
        }
        if (shell("rm -rf \"$CLUSTER\"/*", cluster) == 0)
                rmdir(cluster);
}

#else

void postgres_time(const struct graph *g, const char *dir, struct took out[PEERS])
{
        (void)g, (void)dir;
        out[0].why_not = out[1].why_not = "PostgreSQL's library was not there when kinwire was built";
}

#endif
