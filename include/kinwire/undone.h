#ifndef KINWIRE_UNDONE_H
#define KINWIRE_UNDONE_H
/*
 * What commits undid and did again, for whoever keeps something that was computed from the entries.
 *
 * A correction changes what older entries say, and so does a step of a run that was logged before others which lean on
 * it. Which entries these are is known to the writer alone, while it commits: it notes them here, and one follower
 * takes them.
 */
#include <stddef.h>
#include <stdint.h>

struct kw_ledger;
struct kw_undone;

/** kw_undone_new - Return: 0; -ENOMEM. */
int kw_undone_new(struct kw_undone **out);
void kw_undone_free(struct kw_undone *u);
/** kw_undone_note - @ledger: the writer's, after a commit that made it @size entries long (-1: that is not
 * known), before anyone is answered. */
void kw_undone_note(struct kw_undone *u, const struct kw_ledger *ledger, int64_t size);
/** kw_undone_known - the size from which on it is told what was undone; -1 before the writer's first word. */
int64_t kw_undone_known(struct kw_undone *u);
/**
 * kw_undone_take - the entries that were undone by what made the ledger larger than @from, up to @to entries
 * @out: receives @n numbers, for the caller to free(); an entry may be there more than once
 *
 * What is of @from and before is forgotten.
 * Return: 0; -EAGAIN when the writer has not told of it yet; -ESTALE when it can't tell, because another program wrote
 * meanwhile or too much was undone: any entry may say something else than before; -ENOMEM.
 */
int kw_undone_take(struct kw_undone *u, int64_t from, int64_t to, int64_t **out, size_t *n);

#endif
