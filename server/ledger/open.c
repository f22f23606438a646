/*
 * Opening a ledger: the settings that durability and append-only need, set and read back; migration; and a first look
 * at whether the file is whole.
 */
#include "store.h"

#include "gather.h"
#include "migrate.h"
#include "prepared.h"
#include "scratch.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define TEXT(x)         #x
#define TEXT_OF(macro)  TEXT(macro)
#define BUSY_MS         5000
#define SAVEPOINT_BYTES (124 << 10)
static const char take_back[] = "ROLLBACK", take_back_to_mark[] = "ROLLBACK TO mark", release_mark[] = "RELEASE mark";

#define QUICK_CHECK_BYTES (INT64_C(256) << 20) /* up to here the whole file is looked through at every start */

static int pragma(struct kw_ledger *l, const char *sql, int64_t *out, struct kw_error *err)
{
        sqlite3_stmt *stmt = NULL;
        int rc = sqlite3_prepare_v2(l->db, sql, -1, &stmt, NULL);

        if (rc == SQLITE_OK)
                rc = sqlite3_step(stmt);
        if (rc == SQLITE_ROW)
                *out = sqlite3_column_int64(stmt, 0);
        sqlite3_finalize(stmt);
        if (rc == SQLITE_ROW)
                return 0;
        return kw_refuse(err, (rc & 0xff) == SQLITE_BUSY ? KW_BUSY : KW_INTERNAL, "",
                         "the ledger file can't be used: %s", sqlite3_errmsg(l->db));
}

/* Set, then read back: a setting that did not take would be found out only after a power cut. */
static int settings(struct kw_ledger *l, struct kw_error *err)
{
        static const struct {
                const char *read;
                int64_t value;
        } must[] = {
                {"PRAGMA synchronous", 2},
                {"PRAGMA recursive_triggers", 1},
                {"PRAGMA trusted_schema", 0},
        };
        int64_t value = 0;
        int rc;

        sqlite3_busy_timeout(l->db, BUSY_MS);
        sqlite3_extended_result_codes(l->db, 1);
        sqlite3_db_config(l->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
        rc = kw_run_script(l,
                           "PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON; PRAGMA trusted_schema=OFF;"
                           "PRAGMA cell_size_check=ON; PRAGMA journal_size_limit=67108864; PRAGMA temp_store=FILE;"
                           "PRAGMA cache_size=-65536; PRAGMA wal_autocheckpoint=" TEXT_OF(KW_LOG_PAGES),
                           err);
        for (size_t i = 0; rc == 0 && i < sizeof(must) / sizeof(must[0]); i++) {
                rc = pragma(l, must[i].read, &value, err);
                if (rc == 0 && value != must[i].value)
                        rc = kw_refuse(err, KW_INTERNAL, "", "the setting '%s' did not take", must[i].read);
        }
        return rc;
}

static int write_ahead(struct kw_ledger *l, struct kw_error *err)
{
        sqlite3_stmt *stmt = NULL;
        int rc = sqlite3_prepare_v2(l->db, "PRAGMA journal_mode=WAL", -1, &stmt, NULL);
        bool took = rc == SQLITE_OK && sqlite3_step(stmt) == SQLITE_ROW;

        if (took) {
                const char *mode = (const char *)sqlite3_column_text(stmt, 0);

                took = mode && (strcmp(mode, "wal") == 0 || strcmp(mode, "memory") == 0);
        }
        sqlite3_finalize(stmt);
        if (took)
                return 0;
        return kw_refuse(err, KW_INTERNAL, "", "the ledger file can't be used: %s", sqlite3_errmsg(l->db));
}

/* What may be set of the connection once it is set up: nothing. To look a file through takes a number of complaints. */
static bool only_asks(const char *name, const char *value)
{
        return !value || strcmp(name, "integrity_check") == 0 || strcmp(name, "quick_check") == 0;
}

/* After the set-up nothing may touch what is there, whatever statement slips in. */
static int guard(void *ctx, int action, const char *a, const char *b, const char *c, const char *d)
{
        (void)ctx, (void)c, (void)d;
        switch (action) {
        case SQLITE_PRAGMA:
                return a && only_asks(a, b) ? SQLITE_OK : SQLITE_DENY;
        case SQLITE_UPDATE:
        case SQLITE_DELETE:
                return a && (strcmp(a, "entry") == 0 || strcmp(a, "node") == 0 || strcmp(a, "receipt") == 0 ||
                             strcmp(a, "rule") == 0)
                               ? SQLITE_DENY
                               : SQLITE_OK;
        case SQLITE_ATTACH:
        case SQLITE_DETACH:
        case SQLITE_ALTER_TABLE:
        case SQLITE_DROP_TABLE:
        case SQLITE_DROP_INDEX:
        case SQLITE_DROP_TRIGGER:
        case SQLITE_DROP_VIEW:
        case SQLITE_CREATE_TABLE:
        case SQLITE_CREATE_INDEX:
        case SQLITE_CREATE_TRIGGER:
        case SQLITE_CREATE_VIEW:
        case SQLITE_CREATE_VTABLE:
        case SQLITE_CREATE_TEMP_TABLE:
        case SQLITE_CREATE_TEMP_TRIGGER:
        case SQLITE_CREATE_TEMP_VIEW:
                return SQLITE_DENY;
        default:
                return SQLITE_OK;
        }
}

/* What kind of file it is, and how far its tables have come. */
static int levels(struct kw_ledger *l, const char *path, struct kw_error *err)
{
        int64_t application = 0, level = 0, tables = 0;
        int rc = pragma(l, "PRAGMA application_id", &application, err);

        if (rc == 0)
                rc = pragma(l, "PRAGMA user_version", &level, err);
        if (rc == 0)
                rc = pragma(l, "SELECT count(*) FROM sqlite_schema", &tables, err);
        if (rc)
                return rc;
        if (application != KW_APPLICATION_ID && (tables || l->how == KW_OPEN_READ))
                return kw_refuse(err, KW_INTERNAL, "", "%s is not a kinwire ledger", path);
        if (level > KW_LEDGER_LEVEL)
                return kw_refuse(err, KW_INTERNAL, "",
                                 "%s was made by a newer kinwire (level %" PRId64 ", this one knows %d); use that one",
                                 path, level, KW_LEDGER_LEVEL);
        if (level == KW_LEDGER_LEVEL)
                return 0;
        if (l->how == KW_OPEN_READ)
                return kw_refuse(err, KW_INTERNAL, "",
                                 "%s is of an older kinwire; open it once with 'kinwire serve' to bring it up", path);
        return kw_migrate(l, kw_migrations, level, err);
}

/* A damaged file is refused at the start rather than in the middle of a shift. */
static int whole(struct kw_ledger *l, const char *path, int64_t bytes, struct kw_error *err)
{
        sqlite3_stmt *stmt = NULL;
        bool fine = false;
        int rc;

        if (bytes > QUICK_CHECK_BYTES)
                return 0;
        rc = sqlite3_prepare_v2(l->db, "PRAGMA quick_check(1)", -1, &stmt, NULL);
        if (rc == SQLITE_OK)
                rc = sqlite3_step(stmt);
        if (rc == SQLITE_ROW) {
                const char *text = (const char *)sqlite3_column_text(stmt, 0);

                fine = text && strcmp(text, "ok") == 0;
                if (!fine)
                        kw_refuse(err, KW_INTERNAL, "", "%s is damaged: %s; restore a backup", path,
                                  text ? text : "unreadable");
        } else {
                kw_refuse(err, (rc & 0xff) == SQLITE_BUSY ? KW_BUSY : KW_INTERNAL, "", "%s can't be used: %s", path,
                          sqlite3_errmsg(l->db));
        }
        sqlite3_finalize(stmt);
        return fine ? 0 : (int)(err ? err->what : KW_INTERNAL);
}

static int set_up(struct kw_ledger *l, const char *path, int64_t bytes, struct kw_error *err)
{
        int rc = settings(l, err);

        if (rc == 0)
                rc = whole(l, path, bytes, err);
        if (rc == 0 && l->how != KW_OPEN_READ && path[0])
                rc = write_ahead(l, err);
        if (rc == 0)
                rc = levels(l, path, err);
        if (rc == 0)
                rc = kw_rules_read(l, err);
        if (rc == 0 && l->how == KW_OPEN_READ)
                rc = kw_run_script(l, "PRAGMA query_only=ON", err);
        if (rc == 0 && sqlite3_set_authorizer(l->db, guard, NULL))
                rc = -ENOMEM;
        return rc;
}

/* What takes back is prepared beforehand: it has to work when there is no memory for anything new. */
static int ready_to_undo(struct kw_ledger *l, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, take_back, "");

        if (rc == 0)
                rc = kw_ask(l, &q, take_back_to_mark, "");
        if (rc == 0)
                rc = kw_ask(l, &q, release_mark, "");
        return rc ? kw_store_failed(l, rc, err) : 0;
}

/*
 * What a savepoint may have to take back is kept in memory as far as most entries fill it, not in a file (SQLite writes
 * it to the file in one piece, and pieces of 128 KiB and more not at all); and SQLite keeps no count of its memory, for
 * which all connections would wait for one another. Too late it has no effect.
 */
static void configure(void)
{
        sqlite3_config(SQLITE_CONFIG_STMTJRNL_SPILL, SAVEPOINT_BYTES);
        sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
}

int kw_ledger_open(const char *path, enum kw_open how, struct kw_ledger **out, struct kw_error *err)
{
        static const int flags[] = {
                [KW_OPEN_WRITE] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
                [KW_OPEN_EXISTING] = SQLITE_OPEN_READWRITE,
                [KW_OPEN_READ] =
                        SQLITE_OPEN_READWRITE, /* a WAL reader shares memory with the writer; query_only guards */
        };
        struct kw_ledger *l;
        static pthread_once_t configured = PTHREAD_ONCE_INIT;
        struct stat st = {0};
        int rc;

        pthread_once(&configured, configure);
        if (stat(path, &st) && errno == ENOENT && how != KW_OPEN_WRITE)
                return kw_refuse(err, KW_NOT_FOUND, "", "there is no ledger %s", path);
        l = calloc(1, sizeof(*l));
        if (!l)
                return -ENOMEM;
        l->how = how;
        rc = sqlite3_open_v2(path, &l->db, flags[how] | SQLITE_OPEN_NOMUTEX, kw_gather_vfs());
        if (rc)
                rc = kw_refuse(err, KW_INTERNAL, "", "%s can't be opened: %s", path, sqlite3_errstr(rc));
        else
                kw_gather_watch(l->db);
        if (rc == 0)
                rc = set_up(l, path, st.st_size, err);
        if (rc == 0)
                rc = ready_to_undo(l, err);
        if (rc) {
                kw_ledger_close(l);
                return rc;
        }
        *out = l;
        return 0;
}

/* A file without a name is SQLite's for a temporary one. Nothing in it has to outlive a power cut. */
int kw_scratch_open(const struct kw_ledger *of, struct kw_ledger **out, struct kw_error *err)
{
        int rc = kw_ledger_open("", KW_OPEN_WRITE, out, err);

        if (rc)
                return rc;
        sqlite3_set_authorizer((*out)->db, NULL, NULL);
        rc = kw_run_script(*out, "PRAGMA synchronous=OFF", err);
        if (rc == 0 && sqlite3_set_authorizer((*out)->db, guard, NULL))
                rc = -ENOMEM;
        if (rc) {
                kw_ledger_close(*out);
                *out = NULL;
        } else if (of) {
                (*out)->steps_stay = of->steps_stay;
        }
        return rc;
}

void kw_ledger_close(struct kw_ledger *ledger)
{
        if (!ledger)
                return;
        kw_prepared_free(ledger);
        sqlite3_close(ledger->db);
        free(ledger->undone.at);
        free(ledger->undone_lots.at);
        free(ledger);
}

/* --- transactions and views ------------------------------------------------------------------- */

int kw_ledger_begin(struct kw_ledger *ledger, struct kw_error *err)
{
        int rc = kw_do(ledger, "BEGIN IMMEDIATE", "");

        ledger->marks = 0;
        ledger->bold = ledger->half = false;
        ledger->undone.n = ledger->undone_lots.n = 0;
        if (rc == 0) {
                rc = kw_one(ledger, &ledger->begun, 0, "SELECT max(seq) FROM entry", "");
                if (rc)
                        kw_ledger_rollback(ledger);
        }
        return rc ? kw_store_failed(ledger, rc, err) : 0;
}

int kw_ledger_begin_boldly(struct kw_ledger *ledger, struct kw_error *err)
{
        int rc = kw_ledger_begin(ledger, err);

        ledger->bold = rc == 0;
        return rc;
}

bool kw_ledger_half(const struct kw_ledger *ledger)
{
        return ledger->half;
}

int kw_ledger_commit(struct kw_ledger *ledger, struct kw_error *err)
{
        int rc = kw_one(ledger, &ledger->ended, 0, "SELECT max(seq) FROM entry", "");

        if (rc == 0)
                rc = kw_do(ledger, "COMMIT", "");
        if (rc == 0)
                return 0;
        rc = kw_store_failed(ledger, rc, err);
        kw_ledger_rollback(ledger);
        return rc;
}

void kw_ledger_rollback(struct kw_ledger *ledger)
{
        kw_tree_forget(ledger);
        if (!sqlite3_get_autocommit(ledger->db))
                kw_do(ledger, take_back, "");
        ledger->marks = 0;
        ledger->half = false;
}

static int note_log(void *ctx, sqlite3 *db, const char *name, int pages)
{
        struct kw_ledger *l = ctx;

        (void)db, (void)name;
        if (pages < l->in_log)
                l->tidied = 0;
        l->in_log = pages;
        return SQLITE_OK;
}

void kw_ledger_tidy_later(struct kw_ledger *ledger)
{
        sqlite3_wal_hook(ledger->db, note_log, ledger);
}

bool kw_ledger_untidy(const struct kw_ledger *ledger, int times)
{
        return ledger->in_log >= times * KW_LOG_PAGES &&
               (!ledger->tidied || ledger->in_log >= ledger->tidied + KW_LOG_MORE);
}

void kw_ledger_tidy_beside(struct kw_ledger *reader)
{
        sqlite3_wal_checkpoint_v2(reader->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
}

void kw_ledger_tidy(struct kw_ledger *ledger)
{
        if (!kw_ledger_untidy(ledger, 1))
                return;
        kw_ledger_tidy_beside(ledger);
        ledger->tidied = ledger->in_log;
}

int kw_ledger_mark(struct kw_ledger *ledger, struct kw_error *err)
{
        int rc = kw_do(ledger, "SAVEPOINT mark", "");

        if (rc)
                return kw_store_failed(ledger, rc, err);
        ledger->marks++;
        return 0;
}

int kw_ledger_keep(struct kw_ledger *ledger, struct kw_error *err)
{
        int rc = kw_do(ledger, release_mark, "");

        if (rc)
                return kw_store_failed(ledger, rc, err);
        ledger->marks--;
        return 0;
}

void kw_ledger_undo(struct kw_ledger *ledger)
{
        kw_tree_forget(ledger);
        /* a disk that fills up rolls the whole transaction back: the mark is gone with it */
        if (sqlite3_get_autocommit(ledger->db))
                return;
        /* what can't be taken back by itself takes the whole transaction with it: half an entry must not be committed
         */
        if (kw_do(ledger, take_back_to_mark, "") || kw_do(ledger, release_mark, ""))
                kw_ledger_rollback(ledger);
        else
                ledger->marks--;
        ledger->half = false;
}

int kw_ledger_look(struct kw_ledger *ledger, struct kw_error *err)
{
        int64_t seq;
        int rc = kw_do(ledger, "BEGIN", "");

        if (rc == 0)
                rc = kw_one(ledger, &seq, 0, "SELECT max(seq) FROM entry", "");
        if (rc) {
                rc = kw_store_failed(ledger, rc, err);
                kw_ledger_done(ledger);
                return rc;
        }
        ledger->looking = true;
        return 0;
}

int kw_ledger_look_after(struct kw_ledger *reader, const struct kw_ledger *writer, struct kw_error *err)
{
        int rc;

        reader->begun = writer->begun;
        reader->ended = writer->ended;
        reader->undone.n = reader->undone_lots.n = 0;
        rc = kw_numbers_add_all(&reader->undone, &writer->undone);
        if (rc == 0)
                rc = kw_numbers_add_all(&reader->undone_lots, &writer->undone_lots);
        return rc ? rc : kw_ledger_look(reader, err);
}

void kw_ledger_done(struct kw_ledger *ledger)
{
        if (!sqlite3_get_autocommit(ledger->db))
                kw_do(ledger, take_back, "");
        ledger->looking = false;
}
