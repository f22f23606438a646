#ifndef KW_READ_SELECT_H
#define KW_READ_SELECT_H
/*
 * A selection of entries: which of the ledger's entries an export holds.
 *
 * One bit an entry, so that a selection of a million entries takes an eighth of a megabyte. A selection is *closed*
 * when every entry has with it what it needs to be taken into an empty ledger: the lots that it takes, the heats that
 * those are of, the hold that it releases, the entry that it puts right, and whatever put any of these right.
 */
#include "read.h"

/** All zero is empty; free with kw_selection_free(). */
struct kw_selection {
        unsigned char *bits;
        int64_t size; /* entries of the ledger: 1 .. size can be selected */
        int64_t n;    /* selected */
};

/** kw_selection_new - an empty one over the first @size entries. Return: 0; -ENOMEM. */
int kw_selection_new(int64_t size, struct kw_selection *out);
void kw_selection_free(struct kw_selection *s);
/** kw_select - add an entry; numbers outside the ledger are passed over. */
void kw_select(struct kw_selection *s, int64_t seq);
bool kw_selected(const struct kw_selection *s, int64_t seq);
/** kw_selected_next - the first selected after @seq, 0 when there is none. */
int64_t kw_selected_next(const struct kw_selection *s, int64_t seq);

/** kw_select_times - every entry of what happened from @since up to, not including, @until (RFC 3339, UTC). */
int kw_select_times(struct kw_reader *r, const char *since, const char *until, struct kw_selection *s);
/** kw_select_thing - the entry of a thing and the notes about it; a machine and an instrument have notes only. */
int kw_select_thing(struct kw_reader *r, const char *type, const char *code, struct kw_selection *s);
/** kw_select_lot - everything recorded of a lot: what made it, tests, claims other than feeds, holds, papers, places,
 * notes. */
int kw_select_lot(struct kw_reader *r, int64_t lot, struct kw_selection *s);
/**
 * kw_select_put_right - entries that were put right since and named one of the lots before
 * A test that was voided has no place in the tables any more; an auditor asks for it all the same.
 * @wanted: called with a code that such an entry named, says whether it is one of the export's lots
 */
int kw_select_put_right(struct kw_reader *r, bool (*wanted)(void *ctx, const char *code), void *ctx,
                        struct kw_selection *s);
/** kw_selection_copy - Return: 0; -ENOMEM. */
int kw_selection_copy(const struct kw_selection *s, struct kw_selection *out);
/** What a selection is closed for. */
enum kw_closed {
        KW_CLOSED_TO_LOAD, /* all that is needed to record the selected ones again */
        KW_CLOSED_TO_READ  /* what one reads beside them: heats, supplies and orders, the holds that they release, and
                            * what  put any of them right */
};
struct kw_closing;
/**
 * kw_closing_new - begin to add to @s what the selected ones need, and what those need
 *
 * One consignment or one bobbin that was used up between two ropes ties many together: of one reel this may be a good
 * part of the ledger, so it is done bit by bit. @s stays the caller's and is to outlive it.
 * Return: 0; -ENOMEM, and *@out is to be freed where it is not NULL.
 */
int kw_closing_new(struct kw_selection *s, enum kw_closed to, struct kw_closing **out);
void kw_closing_free(struct kw_closing *c);
/** kw_closing_go - go through @most entries more. Return: 1, there are others; 0, it is closed; a negative errno. */
int kw_closing_go(struct kw_closing *c, struct kw_reader *r, int64_t most);
/** kw_closing_gone - how many were gone through. */
int64_t kw_closing_gone(const struct kw_closing *c);

/** kw_read_lots_of_entry - the lots that an entry made or received, as it stands. */
int kw_read_lots_of_entry(struct kw_reader *r, int64_t seq, const int64_t **lots, size_t *n);
/** kw_selected_certificate - the code of the certificate whose entry is the next selected one after @seq, which
 * receives its number; NULL and 0 when there is none. */
int kw_selected_certificate(struct kw_reader *r, const struct kw_selection *s, int64_t *seq, const char **code);
/** kw_read_run_of_entry - the run that an entry logged or opened, as it stands; 0: none. */
int kw_read_run_of_entry(struct kw_reader *r, int64_t seq, int64_t *run);

#endif
