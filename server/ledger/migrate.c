/*
 * From one level to the next: the steps of schema/, and deriving again where one of them asks for it.
 */
#include "migrate.h"

#include "scratch.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SAYS   "-- derived: "
#define KEPT   "kept"
#define AGAIN  "again for "
#define IF     "again if "
#define KIND_N 32

static int64_t level_of(const char *name)
{
        return strtoll(name, NULL, 10);
}

static int take_step(struct kw_ledger *l, const struct kw_embedded *step, struct kw_error *err)
{
        char level[96];
        int rc = kw_run_script(l, (const char *)step->bytes, err);

        snprintf(level, sizeof(level), "PRAGMA user_version=%" PRId64 "; PRAGMA application_id=%d",
                 level_of(step->name), KW_APPLICATION_ID);
        return rc ? rc : kw_run_script(l, level, err);
}

/* The rest of the line of @script that begins with @start; NULL: there is none. */
static const char *line_with(const char *script, const char *start)
{
        const char *at = script;

        while (at && strncmp(at, start, strlen(start)) != 0) {
                at = strchr(at, '\n');
                at = at ? at + 1 : NULL;
        }
        return at ? at + strlen(start) : NULL;
}

/* Whether there is an entry of a kind that the line at @kinds names. */
static int any_of(struct kw_ledger *l, const char *kinds, bool *there)
{
        *there = false;
        while (!*there && *kinds && *kinds != '\n') {
                size_t n = strcspn(kinds, " \n");
                char kind[KIND_N];
                int64_t seq;
                int rc;

                snprintf(kind, sizeof(kind), "%.*s", (int)n, kinds);
                rc = kw_one(l, &seq, 0, "SELECT seq FROM entry WHERE kind = ?1 LIMIT 1", "t", kind);
                if (rc)
                        return rc;
                *there = seq > 0;
                kinds += n;
                kinds += strspn(kinds, " ");
        }
        return 0;
}

/* Whether the rest of the line at @sql finds a row. */
static int finds(struct kw_ledger *l, const char *sql, bool *row)
{
        sqlite3_stmt *stmt = NULL;
        int rc = sqlite3_prepare_v2(l->db, sql, (int)strcspn(sql, "\n"), &stmt, NULL);

        if (rc == SQLITE_OK)
                rc = sqlite3_step(stmt);
        *row = rc == SQLITE_ROW;
        sqlite3_finalize(stmt);
        return rc == SQLITE_ROW || rc == SQLITE_DONE ? 0 : -EIO;
}

static int asks_again(struct kw_ledger *l, const struct kw_embedded *step, bool *again)
{
        const char *says = line_with((const char *)step->bytes, SAYS);

        *again = true;
        if (says && strncmp(says, KEPT, strlen(KEPT)) == 0 && isspace((unsigned char)says[strlen(KEPT)]))
                *again = false;
        else if (says && strncmp(says, AGAIN, strlen(AGAIN)) == 0)
                return any_of(l, says + strlen(AGAIN), again);
        else if (says && strncmp(says, IF, strlen(IF)) == 0)
                return finds(l, says + strlen(IF), again);
        return 0;
}

static int take_steps(struct kw_ledger *l, const struct kw_embedded *steps, int64_t from, bool *again,
                      struct kw_error *err)
{
        int rc = 0;

        *again = false;
        for (const struct kw_embedded *step = steps; rc == 0 && step->name; step++) {
                bool this_one = false;

                if (level_of(step->name) <= from)
                        continue;
                rc = take_step(l, step, err);
                if (rc == 0 && from > 0) {
                        rc = asks_again(l, step, &this_one);
                        rc = rc ? kw_store_failed(l, rc, err) : 0;
                }
                *again |= this_one;
        }
        return rc;
}

int kw_rules_read(struct kw_ledger *l, struct kw_error *err)
{
        int rc = kw_one(l, &l->steps_stay, 0, "SELECT since FROM rule WHERE name = 'steps-stay'", "");

        return rc ? kw_store_failed(l, rc, err) : 0;
}

/* The entries are not touched, and so the heads stay what they were. */
int kw_migrate(struct kw_ledger *l, const struct kw_embedded *steps, int64_t from, struct kw_error *err)
{
        bool again = false;
        int rc = kw_run_script(l, "BEGIN IMMEDIATE", err);

        if (rc)
                return rc;
        rc = take_steps(l, steps, from, &again, err);
        if (rc == 0)
                rc = kw_rules_read(l, err);
        if (rc == 0 && again)
                rc = kw_rebuild(l, err);
        if (rc == 0)
                rc = kw_run_script(l, "COMMIT", err);
        if (rc)
                sqlite3_exec(l->db, "ROLLBACK", NULL, NULL, NULL);
        return rc;
}
