#ifndef KW_TESTS_INDEX_BESIDE_H
#define KW_TESTS_INDEX_BESIDE_H
/*
 * A ledger in a file with an index that follows it, for tests that change it.
 */
#include "kinwire/index.h"

struct beside {
        char folder[64], path[96];
        struct kw_ledger *ledger;
        struct kw_index *index;
};

/** beside_new - an empty ledger in memory's own file system where there is one, and its index. */
void beside_new(struct beside *b);
/** beside_place - only the folder and the ledger's path; beside_open - the ledger that is there, and its index. */
void beside_place(struct beside *b);
void beside_open(struct beside *b);
/** beside_same - that the index says what the ledger says, of every lot's row and state too, and that its traces are
 * the engine's. */
void beside_same(struct beside *b);
/** beside_traces - that the index's traces are the engine's, from every @nth lot and from all of these at once. */
void beside_traces(struct beside *b, int nth);
/** beside_said - of how many lots the index says the row and the state itself. */
void beside_said(struct beside *b, size_t *rows, size_t *states);
void beside_free(struct beside *b);

#endif
