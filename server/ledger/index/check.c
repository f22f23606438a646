/*
 * The index against the ledger: it must say of every lot and every run what a new one would say.
 */
#include "layout.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

static int differs(struct kw_error *err, const char *what, int64_t id)
{
        return kw_refuse(err, KW_BAD_VALUE, "", "the index does not say of %s %" PRId64 " what the ledger says", what,
                         id);
}

/* Runs have other numbers in another index: told by their entries. */
static bool same_feed(const struct body *x, const struct feed_rec *a, const struct body *y, const struct feed_rec *b)
{
        return kw_lot_id(x, a->lot) == kw_lot_id(y, b->lot) &&
               kw_run_of(x, a->run).rec->seq == kw_run_of(y, b->run).rec->seq && a->inner == b->inner &&
               a->open == b->open && a->shared == b->shared && a->far == b->far && a->line == b->line &&
               a->from == b->from && a->to == b->to && a->s0 == b->s0 && a->s1 == b->s1 && a->at == b->at &&
               a->length == b->length;
}

static bool same_pack(const struct body *x, const struct pack_rec *a, const struct body *y, const struct pack_rec *b)
{
        if (!a || !b)
                return !a && !b;
        if ((a->lot == NO_LOT) != (b->lot == NO_LOT))
                return false;
        return a->s0 == b->s0 && a->s1 == b->s1 && (a->lot == NO_LOT || kw_lot_id(x, a->lot) == kw_lot_id(y, b->lot));
}

static bool same_run(const struct body *x, uint32_t run, const struct body *y, uint32_t other)
{
        struct run_view a = kw_run_of(x, run), b = kw_run_of(y, other);

        if (a.rec->packs != b.rec->packs || a.rec->feeds != b.rec->feeds || a.rec->ppm != b.rec->ppm ||
            a.rec->depth != b.rec->depth || a.rec->far != b.rec->far || a.rec->seq != b.rec->seq)
                return false;
        for (uint32_t i = 0; i < a.rec->packs; i++)
                if (!same_pack(x, &a.packs[i], y, &b.packs[i]))
                        return false;
        for (uint32_t i = 0; i < a.rec->feeds; i++)
                if (!same_feed(x, kw_run_feed(x, &a, i), y, kw_run_feed(y, &b, i)))
                        return false;
        return true;
}

static bool same_lot(const struct body *x, uint32_t lot, const struct body *y, uint32_t other)
{
        struct feeds_view a = kw_feeds_of(x, lot), b = kw_feeds_of(y, other);
        const struct pack_rec *made = kw_lot_pack(x, lot), *made_there = kw_lot_pack(y, other);

        if (a.n != b.n || !same_pack(x, made, y, made_there))
                return false;
        if (made && !same_run(x, made->run, y, made_there->run))
                return false;
        for (uint32_t i = 0; i < a.n; i++)
                if (!same_feed(x, &a.at[i], y, &b.at[i]) || !same_run(x, a.at[i].run, y, b.at[i].run))
                        return false;
        return true;
}

/* The sums of the stock that was followed, against those of a new one. */
static int compare_stock(struct kw_index *ix, const struct body *y, struct kw_ledger *l, struct kw_error *err)
{
        struct kw_index_stock sums[KW_INDEX_KINDS], wanted[KW_INDEX_KINDS];
        struct kw_index fresh = {.body = *y};
        int rc = kw_index_stock(ix, l, sums);

        if (rc == 0)
                rc = kw_index_stock(&fresh, l, wanted);
        for (int i = 0; rc == 0 && i < KW_INDEX_KINDS; i++)
                if (sums[i].lots != wanted[i].lots || sums[i].weighed != wanted[i].weighed ||
                    sums[i].left_mm != wanted[i].left_mm || sums[i].left_g != wanted[i].left_g)
                        return kw_refuse(err, KW_BAD_VALUE, "",
                                         "the index does not say of the stock of kind %s what the"
                                         " ledger says",
                                         sums[i].kind);
        return rc;
}

static int compare(const struct body *x, const struct body *y, struct kw_error *err)
{
        for (uint32_t i = 0; i < y->base.n_lots; i++) {
                int64_t id = kw_lot_id(y, i);
                uint32_t lot = kw_lot_number(x, id);

                if (lot == NONE || !same_lot(x, lot, y, i))
                        return differs(err, "lot", id);
        }
        /* what is not there any more leads nowhere */
        for (uint32_t i = 0; i < kw_all_lots(x); i++) {
                int64_t id = kw_lot_id(x, i);

                if (kw_lot_number(y, id) == NONE && (kw_feeds_of(x, i).n || kw_lot_pack(x, i)))
                        return differs(err, "lot", id);
        }
        return 0;
}

int kw_index_check(struct kw_index *ix, struct kw_ledger *ledger, struct kw_error *err)
{
        struct body other = {0};
        int rc = kw_base_build(&other.base, ledger);

        if (rc == 0)
                rc = kw_delta_new(&other.delta);
        if (rc == 0)
                rc = kw_stock_new(&other.stock, &other.base);
        if (rc == 0)
                rc = kw_index_take(ix, other.base.head.size);
        if (rc == 0) {
                rc = compare(&ix->body, &other, err);
                if (rc == 0)
                        rc = compare_stock(ix, &other, ledger, err);
                kw_index_give(ix);
        }
        kw_body_free(&other);
        return rc;
}
