#ifndef KW_WRITER_TELLER_H
#define KW_WRITER_TELLER_H
/*
 * The teller: what a commit left is told to the index, and then everyone who waits for that commit is answered, beside
 * the writer, which goes on with the next group. When nobody waits for that, it tidies up.
 *
 *      writer   | group 1 | commit | group 2        | commit | group 3
 *      teller                      | tell 1, answer |        | tell 2, answer
 *
 * The index reads what a commit left as that commit left it: so the writer opens a view for the teller before it begins
 * the next transaction. Groups are told of in the order of their commits, and nobody is answered before the index has
 * his entry.
 */
#include "kinwire/index.h"
#include "kinwire/writer.h"

struct kw_teller;

/**
 * kw_teller_new - a thread of its own, with views of the ledger at @path
 * @path:   kept, not copied
 * @answer: called from that thread for each group once the index has it
 *
 * Return: 0; -errno: the writer tells of everything itself then, and is slower.
 */
int kw_teller_new(const char *path, struct kw_index *index, void (*answer)(void *ctx, struct kw_job *group), void *ctx,
                  struct kw_teller **out);
/** kw_teller_free - after what was taken is told of; NULL is nothing. */
void kw_teller_free(struct kw_teller *t);

/**
 * kw_teller_take - a group, in the moment in which @writer has committed it; it waits while too many are taken
 * Return: true: it will be answered; false: it can't be, or would have to wait for the tidying, and all taken before it
 * are.
 */
bool kw_teller_take(struct kw_teller *t, const struct kw_ledger *writer, struct kw_job *group);
/**
 * kw_teller_tidies - have the log brought into the ledger where it has become long, while the writer goes on
 *
 * Return: true: that is asked for, or under way; false: it was done, and what came meanwhile is for the writer to bring
 * in, who alone can begin the log anew; or it can't be.
 */
bool kw_teller_tidies(struct kw_teller *t);
/** kw_teller_busy - whether something that was taken is not answered yet. */
bool kw_teller_busy(struct kw_teller *t);
/** kw_teller_wait - until nothing is, and it does not tidy. */
void kw_teller_wait(struct kw_teller *t);

#endif
