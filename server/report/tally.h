#ifndef KW_REPORT_TALLY_H
#define KW_REPORT_TALLY_H
/*
 * A tally: what runs, receipts and what was taken of lots add to a balance of mass, by machine, so that balances over
 * longer times and of one machine or all of them can be put together of tallies.
 */
#include "masses.h"

#include "kinwire/kept.h"

/** What was done on one machine; without one: what came and went. */
struct kw_tally_box {
        const char *machine; /* or NULL */
        struct kw_mass_balance sums;
};

/** All zero is a valid empty one, which must not move once something is in it; free with kw_tally_free(). */
struct kw_tally {
        struct kw_arena arena;
        struct kw_list boxes;
};
void kw_tally_free(struct kw_tally *t);
/** kw_tally_box - of a machine, or NULL; made when it is not there. Return: 0; -ENOMEM. */
int kw_tally_box(struct kw_tally *t, const char *machine, struct kw_mass_balance **out);

/* Each adds one thing, read by @r. Return: 0; a negative errno. */
int kw_tally_run(struct kw_tally *t, struct kw_reader *r, const struct kw_run_row *run);
int kw_tally_received(struct kw_tally *t, struct kw_reader *r, const struct kw_lot_row *lot);
int kw_tally_taken(struct kw_tally *t, struct kw_reader *r, const struct kw_taken_row *taken);

/**
 * kw_tally_into - add what is in a tally to a balance
 * @machine:  of which the balance is; NULL: of the whole mill
 * @growth_g: of the mill's stock, which becomes a row with kw_tally_growth() when all tallies were added
 */
int kw_tally_into(const struct kw_tally *t, const char *machine, struct kw_mass_balance *b, int64_t *growth_g);
int kw_tally_growth(struct kw_mass_balance *b, int64_t growth_g);

/**
 * kw_tally_keep - write it into what is kept
 * kw_tally_kept - and read it from there, into an empty one. Return: 0, all right if @k says so; -ENOMEM.
 */
void kw_tally_keep(const struct kw_tally *t, struct kw_buf *out);
int kw_tally_kept(struct kw_tally *t, struct kw_kept *k);

#endif
