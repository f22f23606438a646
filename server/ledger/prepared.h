#ifndef KW_LEDGER_PREPARED_H
#define KW_LEDGER_PREPARED_H
/* The connection's prepared statements, by the address of their text. */
#include "store.h"

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

struct kw_prepared {
        const char *sql;
        sqlite3_stmt *stmt;
        UT_hash_handle hh;
};

void kw_prepared_free(struct kw_ledger *l);

#endif
