/*
 * The balance of a heat: its coils followed through every run to where the metal is now.
 *
 * Positions are taken nominally, by proportion between known points. What came out of a run is as heavy as it was
 * recorded; of it the heat has the share that it has of what went in on the same stretch. The difference is the run's
 * loss, so that received = sent + scrap + samples + left + lost, to the gram.
 */
#include "masses.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdlib.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

/* The heat's metal on a lot. */
struct share {
        int64_t lot;
        struct kw_masses masses;
        UT_hash_handle hh;
};

/* A run that took of it. */
struct awaited {
        int64_t run;
        const struct kw_run_row *row;
        bool done;
        UT_hash_handle hh;
};

struct flow {
        struct kw_mass_balance *b;
        struct share *shares;
        struct awaited *runs;
};

struct starts {
        struct kw_arena *arena;
        struct kw_list *ids;
};

static struct kw_masses *masses_of(struct flow *f, int64_t lot)
{
        struct share *share;

        HASH_FIND(hh, f->shares, &lot, sizeof(lot), share);
        return share ? &share->masses : NULL;
}

/* @masses is taken. */
static int give(struct flow *f, int64_t lot, struct kw_masses *masses)
{
        struct share *share = calloc(1, sizeof(*share));

        if (share) {
                share->lot = lot;
                share->masses = *masses;
                *masses = (struct kw_masses){0};
                HASH_ADD(hh, f->shares, lot, sizeof(lot), share);
        }
        if (!share || !share->hh.tbl) {
                if (share)
                        kw_masses_free(&share->masses);
                free(share);
                return -ENOMEM;
        }
        return 0;
}

static void free_flow(struct flow *f)
{
        struct share *share, *next;

        HASH_ITER(hh, f->shares, share, next)
        {
                HASH_DEL(f->shares, share);
                kw_masses_free(&share->masses);
                free(share);
        }
        HASH_CLEAR(hh, f->runs);
}

/* --- through a run ----------------------------------------------------------------------------------------- */

static int lay(struct flow *f, const struct kw_run_row *run, struct kw_masses *on_s, int64_t *in_g)
{
        int rc = 0;

        *in_g = 0;
        for (size_t l = 0; rc == 0 && l < run->map.n_lines; l++) {
                const struct kw_line *line = &run->map.lines[l];

                for (size_t i = 0; rc == 0 && i < line->n_feeds; i++) {
                        const struct kw_masses *lot = masses_of(f, line->feeds[i].lot);

                        if (!lot)
                                continue;
                        *in_g += kw_masses_part(lot, line->feeds[i].from, line->feeds[i].to);
                        rc = kw_mass_feed(&run->map, line, &line->feeds[i], lot, on_s);
                }
        }
        return rc;
}

static int take_package(struct flow *f, const struct kw_run_mass *m, size_t p, const struct kw_masses *on_s,
                        int64_t *out_g)
{
        const struct kw_package *package = &m->run->map.packages[p];
        struct kw_masses part = {0};
        int rc = kw_mass_package(&m->run->map, p, on_s, &part);
        int64_t g;

        kw_masses_scale(&part,
                        kw_share(m->package_g[p], kw_masses_total(&part), m->in_package_g[p] ? m->in_package_g[p] : 1),
                        kw_masses_total(&part));
        g = kw_masses_total(&part);
        *out_g += g;
        if (rc == 0 && part.n && package->lot)
                rc = give(f, package->lot, &part);
        else if (rc == 0 && part.n)
                rc = kw_mass_add(f->b, &(struct kw_mass_row){.side = KW_OUT,
                                                             .what = "scrap",
                                                             .kind = m->run->process,
                                                             .length_mm = package->s1 - package->s0,
                                                             .mass_g = g,
                                                             .computed_g = g});
        kw_masses_free(&part);
        return rc;
}

static int through(struct flow *f, const struct kw_run_row *run)
{
        struct kw_masses on_s = {0};
        struct kw_run_mass m;
        int64_t in_g, out_g = 0;
        int rc = kw_run_mass(f->b->r, run, &m);

        if (rc)
                return rc;
        rc = lay(f, run, &on_s, &in_g);
        for (size_t p = 0; rc == 0 && p < run->map.n_packages; p++)
                rc = take_package(f, &m, p, &on_s, &out_g);
        f->b->unknown += m.unknown;
        if (rc == 0 && run->under_way)
                rc = kw_mass_add(f->b, &(struct kw_mass_row){.side = KW_OUT,
                                                             .what = "machine",
                                                             .type = "run",
                                                             .code = run->code,
                                                             .mass_g = in_g - out_g,
                                                             .computed_g = in_g - out_g});
        if (rc == 0)
                rc = kw_mass_lost(f->b, run, run->under_way ? out_g : in_g, out_g);
        kw_run_mass_free(&m);
        kw_masses_free(&on_s);
        return rc;
}

/* --- where it is now ------------------------------------------------------------------------------------------ */

static int settle_claim(struct flow *f, const struct kw_lot_row *lot, const struct kw_claim_row *claim, int64_t g)
{
        struct kw_mass_row row = {
                .side = KW_OUT, .lots = 1, .length_mm = claim->to - claim->from, .mass_g = g, .computed_g = g};

        switch (claim->what) {
        case KW_CLAIM_FEED: /* it is on what the run made */
                return 0;
        case KW_CLAIM_SAMPLE:
                row.what = "sample";
                row.kind = lot->kind;
                break;
        case KW_CLAIM_SCRAP:
                row.what = "scrap";
                row.kind = lot->kind;
                break;
        case KW_CLAIM_DISPATCH:
                row.what = "sent";
                row.type = "consignment";
                row.code = claim->code;
                break;
        }
        return g ? kw_mass_add(f->b, &row) : 0;
}

static int settle(struct flow *f, const struct kw_lot_row *lot, const struct kw_spans *left)
{
        const struct kw_masses *masses = masses_of(f, lot->id);
        const struct kw_claim_row *claims;
        size_t n;
        int rc;

        if (!masses)
                return 0;
        rc = kw_read_claims(f->b->r, lot, &claims, &n);
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = settle_claim(f, lot, &claims[i], kw_masses_part(masses, claims[i].from, claims[i].to));
        for (size_t i = 0; rc == 0 && i < left->n; i++) {
                int64_t g = kw_masses_part(masses, left->at[i].from, left->at[i].to);

                if (g)
                        rc = kw_mass_add(f->b, &(struct kw_mass_row){.side = KW_OUT,
                                                                     .what = "left",
                                                                     .kind = lot->kind,
                                                                     .lots = 1,
                                                                     .length_mm = left->at[i].to - left->at[i].from,
                                                                     .mass_g = g,
                                                                     .computed_g = g});
        }
        return rc;
}

static int receive(struct flow *f, const struct kw_lot_row *lot)
{
        struct kw_masses whole = {0};
        int rc;

        if (lot->mass_g == KW_NONE) {
                f->b->unknown++;
                return 0;
        }
        rc = kw_mass_add(f->b, &(struct kw_mass_row){.side = KW_IN,
                                                     .what = "received",
                                                     .type = "lot",
                                                     .code = lot->code,
                                                     .kind = lot->kind,
                                                     .lots = 1,
                                                     .length_mm = lot->length_mm,
                                                     .mass_g = lot->mass_g,
                                                     .computed_g = kw_mass_computed(lot, lot->mass_g)});
        if (rc == 0)
                rc = kw_masses_add(&whole, 0, lot->length_mm, lot->mass_g);
        if (rc == 0)
                rc = give(f, lot->id, &whole);
        kw_masses_free(&whole);
        return rc;
}

static int add_start(void *ctx, struct kw_hit *hit)
{
        struct kw_list *ids = ((struct starts *)ctx)->ids;
        int64_t *id = kw_list_more(((struct starts *)ctx)->arena, ids, sizeof(*id));

        if (!id)
                return -ENOMEM;
        *id = hit->lot;
        return 0;
}

static int by_id(const void *a, const void *b)
{
        const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

        return x < y ? -1 : x > y;
}

/* Every run that took of a lot, once. */
static int await_runs(struct flow *f, int64_t id)
{
        const struct kw_claim_row *claims;
        const struct kw_lot_row *lot;
        size_t n;
        int rc = kw_read_lot(f->b->r, id, &lot);

        if (rc == 0 && lot)
                rc = kw_read_claims(f->b->r, lot, &claims, &n);
        if (rc || !lot)
                return rc;
        for (size_t i = 0; rc == 0 && i < n; i++) {
                struct awaited *a;

                if (claims[i].what != KW_CLAIM_FEED)
                        continue;
                HASH_FIND(hh, f->runs, &claims[i].run, sizeof(claims[i].run), a);
                if (a)
                        continue;
                a = kw_arena_get(kw_reader_arena(f->b->r), sizeof(*a));
                if (!a)
                        return -ENOMEM;
                a->run = claims[i].run;
                rc = kw_read_run(f->b->r, a->run, &a->row);
                HASH_ADD(hh, f->runs, run, sizeof(a->run), a);
                if (!a->hh.tbl)
                        return -ENOMEM;
        }
        return rc;
}

/* A run of least depth has all that it took settled before it. */
static struct awaited *next_run(struct flow *f)
{
        struct awaited *least = NULL;

        for (struct awaited *a = f->runs; a; a = a->hh.next) {
                if (!a->done && a->row && (!least || a->row->map.depth < least->row->map.depth))
                        least = a;
        }
        return least;
}

static int follow(struct flow *f, const int64_t *coils, size_t n)
{
        const struct kw_lot_row *lot;
        struct awaited *a;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = kw_read_lot(f->b->r, coils[i], &lot);
                if (rc == 0 && lot)
                        rc = receive(f, lot);
                if (rc == 0)
                        rc = await_runs(f, coils[i]);
        }
        while (rc == 0 && (a = next_run(f))) {
                a->done = true;
                rc = through(f, a->row);
                for (size_t p = 0; rc == 0 && p < a->row->map.n_packages; p++) {
                        if (masses_of(f, a->row->map.packages[p].lot))
                                rc = await_runs(f, a->row->map.packages[p].lot);
                }
        }
        for (const struct share *s = f->shares; rc == 0 && s; s = s->hh.next) {
                struct kw_lot_state state;

                rc = kw_read_lot(f->b->r, s->lot, &lot);
                if (rc == 0 && lot)
                        rc = kw_read_state(f->b->r, lot, &state);
                if (rc == 0 && lot)
                        rc = settle(f, lot, &state.left);
        }
        return rc;
}

int kw_balance_of_heat(struct kw_mass_balance *b, const char *code, struct kw_error *err)
{
        const struct kw_origin origin = {.type = "heat", .code = code, .since = INT64_MIN, .until = INT64_MAX};
        struct kw_hits *hits = kw_hits_new();
        struct kw_list coils = {0};
        struct flow f = {.b = b};
        int rc = hits ? kw_origin_spans(b->r, &origin, hits, err) : -ENOMEM;

        if (rc == 0)
                rc = kw_hits_each(hits, add_start, &(struct starts){kw_reader_arena(b->r), &coils});
        if (rc == 0 && coils.n)
                qsort(coils.at, coils.n, sizeof(int64_t), by_id);
        if (rc == 0)
                rc = follow(&f, coils.at, coils.n);
        free_flow(&f);
        kw_hits_free(hits);
        return rc;
}
