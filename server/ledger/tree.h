#ifndef KW_LEDGER_TREE_H
#define KW_LEDGER_TREE_H
/* The Merkle tree in the store. */
#include "store.h"

/** kw_tree_nodes - the stored nodes, for the functions of merkle.h. */
struct kw_nodes kw_tree_nodes(struct kw_ledger *l);
/**
 * kw_tree_root - the root at @size, which must not be more than the ledger has. Return: 0; a negative errno.
 * kw_tree_forget - to be told when something that was put into the tree was taken back
 */
int kw_tree_root(struct kw_ledger *l, int64_t size, struct kw_hash *out);
void kw_tree_forget(struct kw_ledger *l);
/** kw_tree_add - put an entry at the end: its row, and every node that becomes complete. Return: 0; negative errno. */
int kw_tree_add(struct kw_ledger *l, const struct kw_stored *e);
/** kw_ledger_size - the number of entries. Return: 0; negative errno. */
int kw_ledger_size(struct kw_ledger *l, int64_t *out);
/** kw_tree_size - the same inside a transaction, where what was put into the tree in it need not be asked for. */
int kw_tree_size(struct kw_ledger *l, int64_t *out);

#endif
