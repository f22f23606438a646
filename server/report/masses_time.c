/*
 * The balance of a machine, or of the whole mill, over a time.
 *
 * A machine's box is its runs: what they took against what they made. The mill's box is all of them: received against
 * sent, sampled and scrapped, and what the stock has grown by, which is what was received and made less what was taken:
 *
 *      received = sent + samples + scrap + growth of stock + what runs lost
 */
#include "masses.h"

#include <errno.h>

#define AT_ONCE 200 /* runs or lots that one reader keeps, so that memory does not grow with the time asked about */

struct box {
        struct kw_mass_balance *b;
        struct kw_ledger *ledger;
        struct kw_reader *r; /* of the moment */
        size_t read;
        bool mill; /* else a machine */
        int64_t growth_g;
};

/* A fresh reader now and then; rows of the one before are gone. */
static int refresh(struct box *box)
{
        if (box->r && box->read++ % AT_ONCE)
                return 0;
        kw_reader_free(box->r);
        box->r = NULL;
        return kw_reader_new(box->ledger, &box->r);
}

static int add_kind(struct box *box, enum kw_side side, const char *what, const struct kw_lot_row *lot, int64_t mm,
                    int64_t g)
{
        return kw_mass_add(box->b, &(struct kw_mass_row){.side = side,
                                                         .what = what,
                                                         .kind = lot->kind,
                                                         .lots = 1,
                                                         .length_mm = mm,
                                                         .mass_g = g,
                                                         .computed_g = kw_mass_computed(lot, g)});
}

static int add_feeds(struct box *box, const struct kw_run *run)
{
        int rc = 0;

        for (size_t l = 0; rc == 0 && l < run->n_lines; l++) {
                for (size_t f = 0; rc == 0 && f < run->lines[l].n_feeds; f++) {
                        const struct kw_feed *feed = &run->lines[l].feeds[f];
                        const struct kw_lot_row *lot;

                        rc = kw_read_lot(box->r, feed->lot, &lot);
                        if (rc == 0 && lot)
                                rc = add_kind(box, KW_IN, "fed", lot, feed->to - feed->from,
                                              kw_mass_lot_part(lot, feed->from, feed->to));
                }
        }
        return rc;
}

static int add_packages(struct box *box, const struct kw_run_mass *m, int64_t *out_g)
{
        const struct kw_run *run = &m->run->map;
        int rc = 0;

        for (size_t p = 0; rc == 0 && p < run->n_packages; p++) {
                const int64_t mm = run->packages[p].s1 - run->packages[p].s0, g = m->package_g[p];
                const struct kw_lot_row *lot = NULL;

                *out_g += g;
                if (run->packages[p].lot)
                        rc = kw_read_lot(box->r, run->packages[p].lot, &lot);
                if (rc == 0 && !lot)
                        rc = kw_mass_add(box->b, &(struct kw_mass_row){.side = KW_OUT,
                                                                       .what = "scrap",
                                                                       .kind = m->run->process,
                                                                       .length_mm = mm,
                                                                       .mass_g = g,
                                                                       .computed_g = g});
                else if (rc == 0 && !box->mill)
                        rc = add_kind(box, KW_OUT, "made", lot, mm, g);
                if (lot)
                        box->growth_g += g;
        }
        return rc;
}

static int add_run(struct box *box, int64_t id)
{
        const struct kw_run_row *run;
        struct kw_run_mass m;
        int64_t out_g = 0;
        int rc = refresh(box);

        if (rc == 0)
                rc = kw_read_run(box->r, id, &run);

        if (rc == 0)
                rc = run ? kw_run_mass(box->r, run, &m) : -EIO;
        if (rc)
                return rc;
        box->b->unknown += m.unknown;
        box->growth_g -= m.in_g;
        if (!box->mill)
                rc = add_feeds(box, &run->map);
        if (rc == 0)
                rc = add_packages(box, &m, &out_g);
        if (rc == 0 && run->under_way)
                rc = kw_mass_add(box->b, &(struct kw_mass_row){.side = KW_OUT,
                                                               .what = "machine",
                                                               .type = "run",
                                                               .code = run->code,
                                                               .mass_g = m.machine_g,
                                                               .computed_g = m.machine_g});
        if (rc == 0)
                rc = kw_mass_lost(box->b, run, m.in_g - (run->under_way ? m.machine_g : 0), out_g);
        kw_run_mass_free(&m);
        return rc;
}

/* --- the mill ----------------------------------------------------------------------------------------- */

static int add_received(struct box *box, const struct kw_period *in)
{
        const int64_t *lots;
        size_t n;
        int rc = kw_read_received_in(box->b->r, in, &lots, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_lot_row *lot;

                rc = refresh(box);
                if (rc == 0)
                        rc = kw_read_lot(box->r, lots[i], &lot);
                if (rc || !lot)
                        continue;
                box->b->unknown += lot->mass_g == KW_NONE;
                box->growth_g += kw_mass_lot_part(lot, 0, lot->length_mm);
                rc = add_kind(box, KW_IN, "received", lot, lot->length_mm, kw_mass_lot_part(lot, 0, lot->length_mm));
        }
        return rc;
}

static int add_taken(struct box *box, const struct kw_period *in)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "fed",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "sent"};
        const struct kw_taken_row *taken;
        size_t n;
        int rc = kw_read_taken_in(box->b->r, in, &taken, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_lot_row *lot;
                int64_t g;

                rc = refresh(box);
                if (rc == 0)
                        rc = kw_read_lot(box->r, taken[i].lot, &lot);
                if (rc || !lot)
                        continue;
                g = kw_mass_lot_part(lot, taken[i].from, taken[i].to);
                box->b->unknown += lot->mass_g == KW_NONE;
                box->growth_g -= g;
                rc = add_kind(box, KW_OUT, what[taken[i].what], lot, taken[i].to - taken[i].from, g);
        }
        return rc;
}

/* A stock that has shrunk gave what it has less. */
static int add_growth(struct box *box)
{
        const bool grew = box->growth_g >= 0;
        const int64_t g = grew ? box->growth_g : -box->growth_g;

        return kw_mass_add(
                box->b,
                &(struct kw_mass_row){.side = grew ? KW_OUT : KW_IN, .what = "stock", .mass_g = g, .computed_g = g});
}

int kw_balance_of_time(struct kw_mass_balance *b, struct kw_ledger *ledger, const char *machine,
                       const struct kw_period *in)
{
        struct box box = {.b = b, .ledger = ledger, .mill = !machine};
        const int64_t *runs;
        size_t n;
        int rc = box.mill ? add_received(&box, in) : 0;

        if (rc == 0)
                rc = kw_read_runs_in(b->r, machine, in, &runs, &n);
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = add_run(&box, runs[i]);
        if (rc == 0 && box.mill)
                rc = add_taken(&box, in);
        if (rc == 0 && box.mill)
                rc = add_growth(&box);
        kw_reader_free(box.r);
        return rc;
}
