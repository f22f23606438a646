#ifndef KW_LEDGER_MIGRATE_H
#define KW_LEDGER_MIGRATE_H
/*
 * Bringing a ledger of an earlier level up, step by step, all the way or not at all.
 *
 * A step is a file schema/NNN-name.sql. A line of comment in it says what becomes of the derived rows that are there:
 *
 *      -- derived: kept               they stay as they are: the step adds tables for kinds of entry that are new with
 *                                     it, or changes indices, or nothing that is derived
 *      -- derived: again for A B      they are derived again if there is an entry of kind A or B
 *      -- derived: again if SELECT .. they are derived again if that finds a row, after the step
 *      (no such line)                 they are derived again
 *
 * To derive again takes as long as recording did, but for the waiting: an hour for a large mill's twenty years. What a
 * step says wrongly of itself shows in kw_ledger_verify(), which tests hold every older ledger against.
 */
#include "store.h"

#include "kinwire/embedded.h"

/**
 * kw_migrate - take the steps above level @from
 * @steps: in order; the last row has no name
 *
 * Return: 0; a refusal, the ledger is as it was.
 */
int kw_migrate(struct kw_ledger *l, const struct kw_embedded *steps, int64_t from, struct kw_error *err);

/** kw_rules_read - from which entries on the rules hold that are not as old as the ledger. Return: 0; a refusal. */
int kw_rules_read(struct kw_ledger *l, struct kw_error *err);

#endif
