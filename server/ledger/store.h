#ifndef KW_LEDGER_STORE_H
#define KW_LEDGER_STORE_H
/*
 * The store, as the files of this folder see it: the connection, and statements on it.
 *
 * SQL stands beside the function that runs it, as a constant text. A text is prepared once per connection, at its first
 * use, and found again by its address. Parameters are ?1, ?2, ... in the order in which they are handed over.
 *
 *      int rc = kw_ask(l, &q, "SELECT seq, code FROM lot WHERE heat = ?1", "i", heat);
 *      while ((rc = kw_next(l, &q)) == 1)
 *              use(kw_int(&q, 0), kw_text(&q, 1));
 *      kw_end(&q);                       // also needed after a failure; harmless twice
 */
#include "kinwire/ledger.h"

#include <sqlite3.h>

struct kw_prepared;
struct kw_index;

/**
 * So many pages may lie in the write-ahead log before they are brought into the ledger; where somebody's view kept a
 * part of them, that is tried again when it has grown by so many more.
 */
#define KW_LOG_PAGES 4000
#define KW_LOG_MORE  500

/**
 * The nodes last put into the tree, one a level: its growing edge, of which the next entry's nodes and every root are
 * made. A node is never changed, so what is here is right as long as it was not taken back.
 */
struct kw_edge {
        uint64_t there; /* a bit a level */
        uint64_t index[64];
        struct kw_hash hash[64];
};

struct kw_numbers {
        int64_t *at;
        size_t n, cap;
};

struct kw_ledger {
        sqlite3 *db;
        struct kw_prepared *prepared;
        enum kw_open how;
        bool looking; /* a read transaction is open */
        int marks;    /* open savepoints */
        bool bold;    /* entries of this transaction set none of their own */
        bool half;    /* and one was refused of which a part is there */
        int in_log;   /* pages in the write-ahead log after the last commit, where kw_ledger_tidy() is to see to it */
        int tidied;   /* how many there were when it last did, unless the log was begun anew since */
        /* for whoever follows the ledger: its size when the transaction began and when it was committed, the entries
         * undone in it, and the lots of which these said something */
        int64_t begun, ended;
        struct kw_numbers undone, undone_lots;
        struct kw_index *index;    /* NULL, or what answers traces; not owned */
        bool (*wanted)(void *ctx); /* NULL, or whether anybody still wants what is read */
        void *wanted_ctx;
        unsigned asked; /* statements, since that was looked at */
        struct kw_edge edge;
        int64_t steps_stay; /* the first entry that does not take a step it puts right out of its run (level 14) */
};

struct kw_query {
        sqlite3_stmt *stmt;
};

/**
 * kw_ask - start a statement
 * @sql:   a constant text: its address names it
 * @types: one letter a parameter: i int64_t; I const int64_t * (NULL pointer: SQL NULL); t const char * (NULL: SQL
 * NULL); b const void * followed by an int length Return: 0; -EIO with the connection's message; -ENOMEM.
 */
int kw_ask(struct kw_ledger *l, struct kw_query *q, const char *sql, const char *types, ...);
/** kw_next - 1: a row; 0: no more (the statement is reset); negative errno. */
int kw_next(struct kw_ledger *l, struct kw_query *q);
void kw_end(struct kw_query *q);
/** kw_do - run a statement that gives no rows. Return: 0; negative errno. */
int kw_do(struct kw_ledger *l, const char *sql, const char *types, ...);
/** kw_changed - how many rows the last INSERT, UPDATE or DELETE changed. */
static inline int kw_changed(struct kw_ledger *l)
{
        return sqlite3_changes(l->db);
}
/** kw_one - the first column of the first row, or @otherwise when there is none or it is NULL. Return: 0; negative
 * errno. */
int kw_one(struct kw_ledger *l, int64_t *out, int64_t otherwise, const char *sql, const char *types, ...);

static inline int64_t kw_int(struct kw_query *q, int column)
{
        return sqlite3_column_int64(q->stmt, column);
}
static inline bool kw_is_null(struct kw_query *q, int column)
{
        return sqlite3_column_type(q->stmt, column) == SQLITE_NULL;
}
/** kw_text - NULL for SQL NULL; valid until the next kw_next() or kw_end(). */
static inline const char *kw_text(struct kw_query *q, int column)
{
        return (const char *)sqlite3_column_text(q->stmt, column);
}

/** kw_numbers_add - one more, or all of others. Return: 0; -ENOMEM. */
int kw_numbers_add(struct kw_numbers *to, int64_t number);
int kw_numbers_add_all(struct kw_numbers *to, const struct kw_numbers *more);

/**
 * kw_lots_named - append the lots whose state entry @seq's rows say something of: placed, taken from, sent, certified,
 * barred. Return: 0; a negative errno.
 */
int kw_lots_named(struct kw_ledger *l, int64_t seq, struct kw_numbers *out);

/** kw_lots_moved - append the lots that entry @seq made, or fed to its run. Return: 0; a negative errno. */
int kw_lots_moved(struct kw_ledger *l, int64_t seq, struct kw_numbers *out);

/** kw_run_script - statements without parameters, set-up and migrations. Return: 0; a refusal. */
int kw_run_script(struct kw_ledger *l, const char *sql, struct kw_error *err);

/** kw_store_failed - turn a negative errno from this file into a refusal with the connection's message, KW_DISK_FULL
 * where it is. */
int kw_store_failed(struct kw_ledger *l, int rc, struct kw_error *err);

/** kw_thing_id - the id of a code, 0 when it is not in use. */
int kw_thing_id(struct kw_ledger *l, const char *type, const char *code, int64_t *id);

#endif
