/*
 * What was recorded since the base was made: runs with numbers from where the base ends, new lots, and the lots of the
 * base of which something was taken or given back.
 *
 * An entry is read again whole: what it had made is taken out, what its rows say now is put in. A run that is put right
 * gets a new number, and nothing leads to its old one any more.
 */
#include "layout.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

struct lot_more {
        uint32_t number;
        int64_t id;
        struct pack_rec place; /* in the run that made it */
        bool made;
        struct feed_rec *feeds; /* all of them, by place */
        uint32_t n, cap;
        UT_hash_handle by_number, by_id;
};

struct run_more {
        struct run_rec rec;
        struct pack_rec *packs;
        struct feed_rec *feeds; /* by line */
};

/* Which run an entry made, where that is not what the base says. */
struct run_now {
        int64_t seq;
        uint32_t run; /* NONE: it makes none any more */
        UT_hash_handle hh;
};

struct delta {
        struct lot_more *by_number, *by_id;
        uint32_t new_lots;
        struct run_more *runs;
        uint32_t n_runs, cap_runs;
        struct run_now *now;
        uint64_t bytes;
};

int kw_delta_new(struct delta **out)
{
        *out = calloc(1, sizeof(**out));
        return *out ? 0 : -ENOMEM;
}

void kw_delta_free(struct delta *d)
{
        struct lot_more *lot, *next_lot;
        struct run_now *now, *next;

        if (!d)
                return;
        HASH_CLEAR(by_id, d->by_id);
        HASH_ITER(by_number, d->by_number, lot, next_lot)
        {
                HASH_DELETE(by_number, d->by_number, lot);
                free(lot->feeds);
                free(lot);
        }
        HASH_ITER(hh, d->now, now, next)
        {
                HASH_DEL(d->now, now);
                free(now);
        }
        for (uint32_t i = 0; i < d->n_runs; i++) {
                free(d->runs[i].packs);
                free(d->runs[i].feeds);
        }
        free(d->runs);
        free(d);
}

uint64_t kw_delta_bytes(const struct delta *d)
{
        return d->bytes + d->cap_runs * sizeof(*d->runs) + HASH_COUNT(d->now) * (sizeof(struct run_now) + 16);
}

size_t kw_delta_count(const struct delta *d)
{
        return d->n_runs + HASH_CNT(by_number, d->by_number);
}

/* --- lots ------------------------------------------------------------------------------------------ */

static struct lot_more *find(const struct delta *d, uint32_t number)
{
        struct lot_more *lot;

        HASH_FIND(by_number, d->by_number, &number, sizeof(number), lot);
        return lot;
}

struct feeds_view kw_delta_feeds(const struct body *x, uint32_t lot)
{
        const struct lot_more *more = find(x->delta, lot);

        return more ? (struct feeds_view){more->feeds, more->n} : (struct feeds_view){NULL, 0};
}

const struct pack_rec *kw_delta_pack(const struct body *x, uint32_t lot)
{
        const struct lot_more *more = find(x->delta, lot);

        return more && more->made ? &more->place : NULL;
}

int64_t kw_lot_id(const struct body *x, uint32_t lot)
{
        if (lot < x->base.n_lots)
                return kw_base_id(&x->base, lot);
        const struct lot_more *more = find(x->delta, lot);
        return more ? more->id : 0;
}

uint32_t kw_lot_number(const struct body *x, int64_t id)
{
        uint32_t number = kw_base_number(&x->base, id);
        const struct lot_more *more;

        if (number != NONE)
                return number;
        HASH_FIND(by_id, x->delta->by_id, &id, sizeof(id), more);
        return more ? more->number : NONE;
}

uint32_t kw_all_lots(const struct body *x)
{
        return x->base.n_lots + x->delta->new_lots;
}

static struct lot_more *add_lot(struct delta *d, uint32_t number, int64_t id, bool is_new)
{
        struct lot_more *lot = calloc(1, sizeof(*lot));

        if (!lot)
                return NULL;
        lot->number = number;
        lot->id = id;
        HASH_ADD(by_number, d->by_number, number, sizeof(number), lot);
        if (is_new && lot->by_number.tbl)
                HASH_ADD(by_id, d->by_id, id, sizeof(id), lot);
        d->bytes += sizeof(*lot) + 16;
        return lot->by_number.tbl && (!is_new || lot->by_id.tbl) ? lot : NULL;
}

static int reserve(struct delta *d, struct lot_more *lot, uint32_t n)
{
        struct feed_rec *feeds;

        if (n <= lot->cap)
                return 0;
        n = n > 2 * lot->cap ? n : 2 * lot->cap;
        feeds = reallocarray(lot->feeds, n, sizeof(*feeds));
        if (!feeds)
                return -ENOMEM;
        d->bytes += (n - lot->cap) * sizeof(*feeds);
        lot->feeds = feeds;
        lot->cap = n;
        return 0;
}

/* The lot as one that may be changed: of the base, all that was known of it comes along. */
static int touch(struct body *x, uint32_t number, struct lot_more **out)
{
        struct feeds_view feeds = kw_feeds_of(x, number);
        const struct pack_rec *place = kw_lot_pack(x, number);

        *out = find(x->delta, number);
        if (*out)
                return 0;
        *out = add_lot(x->delta, number, kw_lot_id(x, number), false);
        if (!*out || reserve(x->delta, *out, feeds.n) < 0)
                return -ENOMEM;
        if (feeds.n)
                memcpy((*out)->feeds, feeds.at, feeds.n * sizeof(*feeds.at));
        (*out)->n = feeds.n;
        (*out)->made = place != NULL;
        if (place)
                (*out)->place = *place;
        x->base.first[number] |= TOUCHED;
        x->base.touched = true;
        return 0;
}

/* The lot with this id, as one that may be changed; made when there is none. */
static int lot_of(struct body *x, int64_t id, struct lot_more **out)
{
        uint32_t number = kw_lot_number(x, id);

        if (number != NONE)
                return touch(x, number, out);
        number = kw_all_lots(x);
        if (number > LOTS_MOST)
                return -E2BIG;
        *out = add_lot(x->delta, number, id, true);
        x->delta->new_lots += *out != NULL;
        return *out ? 0 : -ENOMEM;
}

/* --- runs ------------------------------------------------------------------------------------------ */

uint32_t kw_all_runs(const struct body *x)
{
        return x->base.n_runs + x->delta->n_runs;
}

struct run_view kw_delta_run(const struct body *x, uint32_t run)
{
        const struct run_more *more = &x->delta->runs[run - x->base.n_runs];

        return (struct run_view){&more->rec, more->packs, more->feeds, NULL};
}

static uint32_t run_of_entry(const struct body *x, int64_t seq)
{
        const struct run_now *now;

        HASH_FIND(hh, x->delta->now, &seq, sizeof(seq), now);
        return now ? now->run : kw_base_run(&x->base, seq);
}

static int set_run(struct delta *d, int64_t seq, uint32_t run)
{
        struct run_now *now;

        HASH_FIND(hh, d->now, &seq, sizeof(seq), now);
        if (!now) {
                now = calloc(1, sizeof(*now));
                if (!now)
                        return -ENOMEM;
                now->seq = seq;
                HASH_ADD(hh, d->now, seq, sizeof(seq), now);
                if (!now->hh.tbl) {
                        free(now);
                        return -ENOMEM;
                }
        }
        now->run = run;
        return 0;
}

/* Take out what the entry had made. Its lots stay as lots that nothing made and of which nothing is known. */
static int take_out(struct body *x, int64_t seq, uint32_t run)
{
        struct run_view view = kw_run_of(x, run);
        struct lot_more *lot;
        int rc = set_run(x->delta, seq, NONE);

        for (uint32_t i = 0; rc == 0 && i < view.rec->feeds; i++) {
                uint32_t kept = 0;

                rc = touch(x, kw_run_feed(x, &view, i)->lot, &lot);
                for (uint32_t k = 0; rc == 0 && k < lot->n; k++)
                        if (lot->feeds[k].run != run)
                                lot->feeds[kept++] = lot->feeds[k];
                if (rc == 0)
                        lot->n = kept;
        }
        for (uint32_t i = 0; rc == 0 && i < view.rec->packs; i++) {
                if (view.packs[i].lot == NO_LOT)
                        continue;
                rc = touch(x, view.packs[i].lot, &lot);
                kw_facts_not(&x->base, view.packs[i].lot, FACT_ROW | FACT_STATE);
                if (rc == 0)
                        lot->made = false;
        }
        return rc;
}

/* --- reading an entry's rows ------------------------------------------------------------------------ */

static int give_feed(struct body *x, const struct feed_rec *rec)
{
        struct lot_more *lot;
        int rc = touch(x, rec->lot, &lot);
        uint32_t i;

        if (rc == 0)
                rc = reserve(x->delta, lot, lot->n + 1);
        if (rc)
                return rc;
        for (i = lot->n++; i && lot->feeds[i - 1].from > rec->from; i--)
                lot->feeds[i] = lot->feeds[i - 1];
        lot->feeds[i] = *rec;
        return 0;
}

static int put_feeds(struct body *x, struct run_more *run, uint32_t number, struct line_rows *line, size_t n)
{
        struct feed_rec *feeds = n ? reallocarray(run->feeds, run->rec.feeds + n, sizeof(*feeds)) : run->feeds;
        int rc = 0;

        if (n && !feeds)
                return -ENOMEM;
        for (size_t i = 0; rc == 0 && i < line->n; i++)
                rc = kw_stock_mark(x, line->rows[i].lot);
        for (size_t i = n; i < line->n; i++) /* taken, and no feed of the index yet */
                kw_facts_not(&x->base, kw_base_number(&x->base, line->rows[i].lot), FACT_STATE);
        run->feeds = feeds;
        x->delta->bytes += n * sizeof(*feeds);
        for (size_t i = 0; rc == 0 && i < n; i++) {
                struct lot_more *lot;

                /* of entries that are read again together, one may take of a lot that a later one makes */
                rc = lot_of(x, line->rows[i].lot, &lot);
                if (rc)
                        break;
                line->recs[i].lot = lot->number & NO_LOT;
                line->recs[i].run = number & 0xffffff;
                feeds[run->rec.feeds] = line->recs[i];
                kw_run_feed_next(&run->rec, &feeds[run->rec.feeds - (run->rec.feeds != 0)], &line->recs[i]);
                rc = give_feed(x, &line->recs[i]);
        }
        return rc;
}

static int read_line(struct kw_ledger *l, int64_t run, int64_t ord, struct line_rows *line)
{
        struct kw_query q;
        int rc = kw_ask(
                l, &q,
                "SELECT lot, from_mm, to_mm, inner, v0, seen_mm FROM feed WHERE run = ?1 AND line = ?2 ORDER BY ord",
                "ii", run, ord);

        line->n = 0;
        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_line_add(line, &q, 0);
        kw_end(&q);
        return rc;
}

static int read_lines(struct body *x, struct kw_ledger *l, struct run_more *run, uint32_t number, int64_t run_mm,
                      bool under_way)
{
        struct line_rows line = {0};
        struct kw_query q;
        int64_t id = (int64_t)run->rec.seq * IDS;
        int rc = kw_ask(l, &q, "SELECT ord, length_mm FROM line WHERE run = ?1 ORDER BY ord", "i", id);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                rc = read_line(l, id, kw_int(&q, 0), &line);
                if (rc == 0)
                        rc = put_feeds(x, run, number, &line, kw_line_recs(&line, kw_int(&q, 1), run_mm, under_way));
        }
        kw_end(&q);
        kw_line_free(&line);
        return rc;
}

static int read_packs(struct body *x, struct kw_ledger *l, struct run_more *run, uint32_t number)
{
        uint32_t cap = 0;
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT lot, s0, s1 FROM package WHERE run = ?1 ORDER BY ord", "i",
                        (int64_t)run->rec.seq * IDS);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                struct pack_rec pack = {NO_LOT, (uint32_t)kw_int(&q, 1), (uint32_t)kw_int(&q, 2), number & 0xffffff,
                                        kw_depth_in_pack(run->rec.depth)};
                struct lot_more *lot = NULL;

                rc = kw_int(&q, 0) ? lot_of(x, kw_int(&q, 0), &lot) : 0;
                if (rc == 0 && lot)
                        rc = kw_stock_mark(x, lot->id);
                if (rc)
                        break;
                if (lot) {
                        kw_facts_not(&x->base, lot->number, FACT_ROW | FACT_STATE);
                        pack.lot = lot->number;
                        lot->place = pack;
                        lot->made = true;
                }
                if (run->rec.packs == cap) {
                        struct pack_rec *packs = reallocarray(run->packs, cap ? 2 * cap : 8, sizeof(*packs));

                        if (!packs) {
                                rc = -ENOMEM;
                                break;
                        }
                        x->delta->bytes += (cap ? cap : 8) * sizeof(*packs);
                        run->packs = packs;
                        cap = cap ? 2 * cap : 8;
                }
                run->packs[run->rec.packs++] = pack;
        }
        kw_end(&q);
        return rc;
}

static int put_run(struct body *x, struct kw_ledger *l, int64_t seq, struct kw_query *q)
{
        struct delta *d = x->delta;
        uint32_t number = kw_all_runs(x);
        int64_t run_mm = kw_int(q, 1);
        bool under_way = kw_int(q, 3) != 0;
        struct run_more *run;
        int rc;

        if (number > RUNS_MOST || seq > UINT32_MAX)
                return -E2BIG;
        if (d->n_runs == d->cap_runs) {
                uint32_t cap = d->cap_runs ? 2 * d->cap_runs : 64;
                struct run_more *runs = reallocarray(d->runs, cap, sizeof(*runs));

                if (!runs)
                        return -ENOMEM;
                d->runs = runs;
                d->cap_runs = cap;
        }
        run = &d->runs[d->n_runs++];
        *run = (struct run_more){.rec = {.ppm = (uint32_t)kw_int(q, 0),
                                         .depth = (uint32_t)kw_int(q, 2) & DEPTH_MOST,
                                         .far = run_mm > UINT32_MAX,
                                         .length = (uint32_t)run_mm,
                                         .seq = (uint32_t)seq}};
        if (run->rec.depth > x->depth_most)
                x->depth_most = run->rec.depth;
        rc = set_run(d, seq, number);
        if (rc == 0)
                rc = read_packs(x, l, run, number);
        return rc ? rc : read_lines(x, l, run, number, run_mm, under_way);
}

int kw_delta_entry(struct body *x, struct kw_ledger *l, int64_t seq)
{
        uint32_t old = run_of_entry(x, seq);
        struct lot_more *lot;
        struct kw_query q;
        int64_t there = 0;
        int rc = old == NONE ? 0 : take_out(x, seq, old);

        if (rc)
                return rc;
        rc = kw_ask(l, &q, "SELECT tolerance_ppm, length_mm, depth, under_way FROM run WHERE id = ?1", "i", seq * IDS);
        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1)
                rc = put_run(x, l, seq, &q);
        else if (rc == 0 && (rc = kw_one(l, &there, 0, "SELECT 1 FROM lot WHERE id = ?1", "i", seq * IDS)) == 0 &&
                 there)
                rc = lot_of(x, seq * IDS, &lot);
        if (rc == 0 && there)
                rc = kw_stock_mark(x, seq * IDS);
        kw_end(&q);
        return rc;
}
