/*
 * The balance of a run and of a lot.
 */
#include "masses.h"

#include <errno.h>
#include <stdlib.h>

void kw_run_mass_free(struct kw_run_mass *m)
{
        free(m->in_package_g);
        free(m->package_g);
        *m = (struct kw_run_mass){0};
}

/* All that went in, laid on the output. */
static int lay_feeds(struct kw_reader *r, const struct kw_run_row *run, struct kw_run_mass *out, struct kw_masses *on_s)
{
        int rc = 0;

        for (size_t l = 0; rc == 0 && l < run->map.n_lines; l++) {
                const struct kw_line *line = &run->map.lines[l];

                for (size_t f = 0; rc == 0 && f < line->n_feeds; f++) {
                        struct kw_masses whole = {0};
                        const struct kw_lot_row *lot;

                        rc = kw_read_lot(r, line->feeds[f].lot, &lot);
                        if (rc || !lot)
                                continue;
                        out->unknown += lot->mass_g == KW_NONE;
                        if (lot->mass_g != KW_NONE)
                                rc = kw_masses_add(&whole, 0, lot->length_mm, lot->mass_g);
                        out->in_g += kw_mass_lot_part(lot, line->feeds[f].from, line->feeds[f].to);
                        if (rc == 0)
                                rc = kw_mass_feed(&run->map, line, &line->feeds[f], &whole, on_s);
                        kw_masses_free(&whole);
                }
        }
        return rc;
}

static int take_packages(struct kw_reader *r, const struct kw_run_row *run, const struct kw_masses *on_s,
                         struct kw_run_mass *out)
{
        int64_t out_g = 0;
        int rc = 0;

        for (size_t p = 0; rc == 0 && p < run->map.n_packages; p++) {
                struct kw_masses part = {0};
                const struct kw_lot_row *lot = NULL;

                rc = kw_mass_package(&run->map, p, on_s, &part);
                if (rc == 0 && run->map.packages[p].lot)
                        rc = kw_read_lot(r, run->map.packages[p].lot, &lot);
                out->in_package_g[p] = kw_masses_total(&part);
                out->unknown += lot && lot->mass_g == KW_NONE;
                out->package_g[p] = lot && lot->mass_g != KW_NONE ? lot->mass_g : lot ? 0 : out->in_package_g[p];
                out_g += out->package_g[p];
                kw_masses_free(&part);
        }
        out->machine_g = run->under_way ? out->in_g - out_g : 0;
        return rc;
}

int kw_run_mass(struct kw_reader *r, const struct kw_run_row *run, struct kw_run_mass *out)
{
        struct kw_masses on_s = {0};
        int rc;

        *out = (struct kw_run_mass){.run = run,
                                    .in_package_g = calloc(run->map.n_packages + 1, sizeof(int64_t)),
                                    .package_g = calloc(run->map.n_packages + 1, sizeof(int64_t))};
        rc = out->in_package_g && out->package_g ? lay_feeds(r, run, out, &on_s) : -ENOMEM;
        if (rc == 0)
                rc = take_packages(r, run, &on_s, out);
        kw_masses_free(&on_s);
        if (rc)
                kw_run_mass_free(out);
        return rc;
}

/* --- of a run -------------------------------------------------------------------------------------------- */

static int add_feeds(struct kw_mass_balance *b, const struct kw_run_row *run)
{
        int rc = 0;

        for (size_t l = 0; rc == 0 && l < run->map.n_lines; l++) {
                for (size_t f = 0; rc == 0 && f < run->map.lines[l].n_feeds; f++) {
                        const struct kw_feed *feed = &run->map.lines[l].feeds[f];
                        const struct kw_lot_row *lot;
                        int64_t g;

                        rc = kw_read_lot(b->r, feed->lot, &lot);
                        if (rc || !lot)
                                continue;
                        g = kw_mass_lot_part(lot, feed->from, feed->to);
                        rc = kw_mass_add(b, &(struct kw_mass_row){.side = KW_IN,
                                                                  .what = "fed",
                                                                  .type = "lot",
                                                                  .code = lot->code,
                                                                  .kind = lot->kind,
                                                                  .lots = 1,
                                                                  .length_mm = feed->to - feed->from,
                                                                  .mass_g = g,
                                                                  .computed_g = kw_mass_computed(lot, g)});
                }
        }
        return rc;
}

static int add_packages(struct kw_mass_balance *b, const struct kw_run_mass *m)
{
        const struct kw_run *map = &m->run->map;
        int rc = 0;

        for (size_t p = 0; rc == 0 && p < map->n_packages; p++) {
                const struct kw_lot_row *lot = NULL;

                if (map->packages[p].lot)
                        rc = kw_read_lot(b->r, map->packages[p].lot, &lot);
                if (rc == 0)
                        rc = kw_mass_add(
                                b, &(struct kw_mass_row){.side = KW_OUT,
                                                         .what = lot ? "made" : "scrap",
                                                         .type = lot ? "lot" : NULL,
                                                         .code = lot ? lot->code : NULL,
                                                         .kind = lot ? lot->kind : NULL,
                                                         .lots = lot != NULL,
                                                         .length_mm = map->packages[p].s1 - map->packages[p].s0,
                                                         .mass_g = m->package_g[p],
                                                         .computed_g = lot ? kw_mass_computed(lot, m->package_g[p])
                                                                           : m->package_g[p]});
        }
        if (rc == 0 && m->run->under_way)
                rc = kw_mass_add(b, &(struct kw_mass_row){.side = KW_OUT,
                                                          .what = "machine",
                                                          .mass_g = m->machine_g,
                                                          .computed_g = m->machine_g});
        return rc;
}

int kw_balance_of_run(struct kw_mass_balance *b, const char *code, struct kw_error *err)
{
        const struct kw_run_row *run = NULL;
        struct kw_thing_row thing;
        struct kw_run_mass m;
        int rc = kw_read_thing(b->r, "run", code, &thing, err);

        if (rc == 0)
                rc = kw_read_run(b->r, thing.id, &run);
        if (rc || !run)
                return rc ? rc : -EIO;
        rc = kw_run_mass(b->r, run, &m);
        if (rc)
                return rc;
        b->unknown = m.unknown;
        rc = add_feeds(b, run);
        if (rc == 0)
                rc = add_packages(b, &m);
        if (rc == 0)
                rc = kw_mass_lost(b, run, b->sum_g[KW_IN], b->sum_g[KW_OUT]);
        kw_run_mass_free(&m);
        return rc;
}

/* --- of a lot --------------------------------------------------------------------------------------------- */

static int add_claim(struct kw_mass_balance *b, const struct kw_lot_row *lot, const struct kw_claim_row *claim)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "fed",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "sent"};
        static const char *const type[] = {[KW_CLAIM_FEED] = "run",
                                           [KW_CLAIM_SAMPLE] = "test",
                                           [KW_CLAIM_SCRAP] = NULL,
                                           [KW_CLAIM_DISPATCH] = "consignment"};
        int64_t g = kw_mass_lot_part(lot, claim->from, claim->to);

        return kw_mass_add(b, &(struct kw_mass_row){.side = KW_OUT,
                                                    .what = what[claim->what],
                                                    .type = type[claim->what],
                                                    .code = type[claim->what] ? claim->code : NULL,
                                                    .length_mm = claim->to - claim->from,
                                                    .mass_g = g,
                                                    .computed_g = g});
}

int kw_balance_of_lot(struct kw_mass_balance *b, const char *code, struct kw_error *err)
{
        const struct kw_claim_row *claims;
        const struct kw_lot_row *lot;
        struct kw_lot_state state;
        size_t n;
        int rc = kw_read_lot_named(b->r, code, &lot, err);

        if (rc == 0)
                rc = kw_read_state(b->r, lot, &state);
        if (rc == 0)
                rc = kw_read_claims(b->r, lot, &claims, &n);
        if (rc)
                return rc;
        b->unknown = lot->mass_g == KW_NONE;
        rc = kw_mass_add(b, &(struct kw_mass_row){
                                    .side = KW_IN,
                                    .what = lot->run ? "made" : "received",
                                    .type = "lot",
                                    .code = lot->code,
                                    .kind = lot->kind,
                                    .lots = 1,
                                    .length_mm = lot->length_mm,
                                    .mass_g = kw_mass_lot_part(lot, 0, lot->length_mm),
                                    .computed_g = kw_mass_computed(lot, kw_mass_lot_part(lot, 0, lot->length_mm))});
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = add_claim(b, lot, &claims[i]);
        for (size_t i = 0; rc == 0 && i < state.left.n; i++) {
                int64_t g = kw_mass_lot_part(lot, state.left.at[i].from, state.left.at[i].to);

                rc = kw_mass_add(b, &(struct kw_mass_row){.side = KW_OUT,
                                                          .what = "left",
                                                          .kind = lot->kind,
                                                          .length_mm = state.left.at[i].to - state.left.at[i].from,
                                                          .mass_g = g,
                                                          .computed_g = g});
        }
        return rc;
}
