/*
 * Tallies. A machine's box is its runs: what they took against what they made. The mill's box is all of them: received
 * against sent, sampled and scrapped, and what the stock has grown by, which is what was received and made less what
 * was taken:
 *
 *      received = sent + samples + scrap + growth of stock + what runs lost
 */
#include "tally.h"

#include <errno.h>
#include <string.h>

void kw_tally_free(struct kw_tally *t)
{
        kw_arena_free(&t->arena);
        *t = (struct kw_tally){0};
}

/* Boxes stay where they are: the list is one of pointers. */
int kw_tally_box(struct kw_tally *t, const char *machine, struct kw_mass_balance **out)
{
        struct kw_tally_box **boxes = t->boxes.at, **place, *box;
        bool failed = false;

        for (size_t i = 0; i < t->boxes.n; i++) {
                const char *its = boxes[i]->machine;

                if (its == machine || (its && machine && strcmp(its, machine) == 0)) {
                        *out = &boxes[i]->sums;
                        return 0;
                }
        }
        place = kw_list_more(&t->arena, &t->boxes, sizeof(*place));
        box = place ? kw_arena_get(&t->arena, sizeof(*box)) : NULL;
        if (!box) {
                t->boxes.n -= place != NULL;
                return -ENOMEM;
        }
        *place = box;
        box->machine = kw_arena_text(&t->arena, machine, &failed);
        box->sums.arena = &t->arena;
        *out = &box->sums;
        return failed ? -ENOMEM : 0;
}

static int add_kind(struct kw_mass_balance *sums, enum kw_side side, const char *what, const struct kw_lot_row *lot,
                    int64_t mm, int64_t g)
{
        return kw_mass_add(sums, &(struct kw_mass_row){.side = side,
                                                       .what = what,
                                                       .kind = lot->kind,
                                                       .lots = 1,
                                                       .length_mm = mm,
                                                       .mass_g = g,
                                                       .computed_g = kw_mass_computed(lot, g)});
}

/* --- runs -------------------------------------------------------------------------------------------- */

static int add_feeds(struct kw_mass_balance *sums, struct kw_reader *r, const struct kw_run *run)
{
        int rc = 0;

        for (size_t l = 0; rc == 0 && l < run->n_lines; l++) {
                for (size_t f = 0; rc == 0 && f < run->lines[l].n_feeds; f++) {
                        const struct kw_feed *feed = &run->lines[l].feeds[f];
                        const struct kw_lot_row *lot;

                        rc = kw_read_lot(r, feed->lot, &lot);
                        if (rc == 0 && lot)
                                rc = add_kind(sums, KW_IN, "fed", lot, feed->to - feed->from,
                                              kw_mass_lot_part(lot, feed->from, feed->to));
                }
        }
        return rc;
}

static int add_packages(struct kw_mass_balance *sums, struct kw_reader *r, const struct kw_run_mass *m, int64_t *out_g)
{
        const struct kw_run *run = &m->run->map;
        int rc = 0;

        for (size_t p = 0; rc == 0 && p < run->n_packages; p++) {
                const int64_t mm = run->packages[p].s1 - run->packages[p].s0, g = m->package_g[p];
                const struct kw_lot_row *lot = NULL;

                *out_g += g;
                if (run->packages[p].lot)
                        rc = kw_read_lot(r, run->packages[p].lot, &lot);
                if (rc)
                        break;
                rc = lot ? add_kind(sums, KW_OUT, "made", lot, mm, g)
                         : kw_mass_add(sums, &(struct kw_mass_row){.side = KW_OUT,
                                                                   .what = "scrap",
                                                                   .kind = m->run->process,
                                                                   .length_mm = mm,
                                                                   .mass_g = g,
                                                                   .computed_g = g});
        }
        return rc;
}

int kw_tally_run(struct kw_tally *t, struct kw_reader *r, const struct kw_run_row *run)
{
        struct kw_mass_balance *sums;
        struct kw_run_mass m;
        int64_t out_g = 0;
        int rc = kw_run_mass(r, run, &m);

        if (rc)
                return rc;
        rc = kw_tally_box(t, run->machine, &sums);
        if (rc == 0)
                rc = add_feeds(sums, r, &run->map);
        if (rc == 0)
                rc = add_packages(sums, r, &m, &out_g);
        if (rc == 0 && run->under_way)
                rc = kw_mass_add(sums, &(struct kw_mass_row){.side = KW_OUT,
                                                             .what = "machine",
                                                             .type = "run",
                                                             .code = run->code,
                                                             .mass_g = m.machine_g,
                                                             .computed_g = m.machine_g});
        if (rc == 0)
                rc = kw_mass_lost(sums, run, m.in_g - (run->under_way ? m.machine_g : 0), out_g);
        if (rc == 0)
                sums->unknown += m.unknown;
        kw_run_mass_free(&m);
        return rc;
}

/* --- what came and went ------------------------------------------------------------------------------ */

int kw_tally_received(struct kw_tally *t, struct kw_reader *r, const struct kw_lot_row *lot)
{
        struct kw_mass_balance *sums;
        int rc = kw_tally_box(t, NULL, &sums);

        (void)r;
        if (rc)
                return rc;
        sums->unknown += lot->mass_g == KW_NONE;
        return add_kind(sums, KW_IN, "received", lot, lot->length_mm, kw_mass_lot_part(lot, 0, lot->length_mm));
}

int kw_tally_taken(struct kw_tally *t, struct kw_reader *r, const struct kw_taken_row *taken)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "fed",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "sent"};
        struct kw_mass_balance *sums;
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(r, taken->lot, &lot);

        if (rc == 0 && lot)
                rc = kw_tally_box(t, NULL, &sums);
        if (rc || !lot)
                return rc;
        sums->unknown += lot->mass_g == KW_NONE;
        return add_kind(sums, KW_OUT, what[taken->what], lot, taken->to - taken->from,
                        kw_mass_lot_part(lot, taken->from, taken->to));
}

/* --- into a balance ---------------------------------------------------------------------------------- */

/* What a machine took and made stays in the mill, and is of its stock. */
static bool stays(const struct kw_mass_row *row, int64_t *growth_g)
{
        const bool fed = strcmp(row->what, "fed") == 0, made = strcmp(row->what, "made") == 0;

        if (fed || made)
                *growth_g += fed ? -row->mass_g : row->mass_g;
        return fed || made;
}

static int add_runs(const struct kw_mass_balance *sums, struct kw_mass_balance *b)
{
        const struct kw_mass_run *runs = sums->runs.at;

        for (size_t i = 0; i < sums->runs.n; i++) {
                struct kw_mass_run *run = kw_list_more(b->arena, &b->runs, sizeof(*run));

                if (!run)
                        return -ENOMEM;
                *run = runs[i];
        }
        b->allowed_g += sums->allowed_g;
        return 0;
}

static int add_box(const struct kw_tally_box *box, bool mill, struct kw_mass_balance *b, int64_t *growth_g)
{
        const struct kw_mass_row *rows = box->sums.rows.at;
        int rc = add_runs(&box->sums, b);

        b->unknown += box->sums.unknown;
        for (size_t i = 0; rc == 0 && i < box->sums.rows.n; i++) {
                const struct kw_mass_row *row = &rows[i];

                if (mill && box->machine && stays(row, growth_g))
                        continue;
                if (!box->machine)
                        *growth_g += row->side == KW_IN ? row->mass_g : -row->mass_g;
                rc = kw_mass_add(b, row);
        }
        return rc;
}

int kw_tally_into(const struct kw_tally *t, const char *machine, struct kw_mass_balance *b, int64_t *growth_g)
{
        struct kw_tally_box *const *boxes = t->boxes.at;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < t->boxes.n; i++) {
                if (!machine || (boxes[i]->machine && strcmp(boxes[i]->machine, machine) == 0))
                        rc = add_box(boxes[i], !machine, b, growth_g);
        }
        return rc;
}

/* A stock that has shrunk gave what it has less. */
int kw_tally_growth(struct kw_mass_balance *b, int64_t growth_g)
{
        const bool grew = growth_g >= 0;
        const int64_t g = grew ? growth_g : -growth_g;

        return kw_mass_add(
                b, &(struct kw_mass_row){.side = grew ? KW_OUT : KW_IN, .what = "stock", .mass_g = g, .computed_g = g});
}
