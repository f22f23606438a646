/*
 * What is in stock, by kind of lot, without a look at every lot.
 *
 * A base has the sums of its view, and of each lot that had something left what it counted for. A lot that is spoken of
 * since is marked, which costs a commit next to nothing; when the sums are asked for, what marked lots count for now is
 * read from the tables and takes the place of what they counted for before.
 */
#include "layout.h"

#include "kinwire/metal.h"
#include "kinwire/process.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define GONE (-1) /* as kind: nothing is left of it */

/* What a lot counts for. */
struct counts {
        int kind; /* in kw_lot_kinds */
        int64_t left_mm, left_g;
};

struct counted {
        int64_t lot;
        struct counts as;
        bool marked;
        UT_hash_handle hh;
};

struct stock {
        pthread_mutex_t lock; /* over all of this: who holds the index for reading may bring the sums up to date */
        struct kw_index_stock sums[KW_INDEX_KINDS];
        struct counted *lots; /* that are not as in the base */
        struct kw_numbers marked;
};

static int kind_of(const char *name)
{
        for (int i = 0; name && kw_lot_kinds[i].name && i < KW_INDEX_KINDS; i++)
                if (strcmp(kw_lot_kinds[i].name, name) == 0)
                        return i;
        return GONE;
}

static const char *text(const struct base *b, uint32_t at)
{
        return at < b->head.n[SEC_TEXTS] ? (const char *)b->section[SEC_TEXTS] + at : NULL;
}

int kw_stock_new(struct stock **out, const struct base *b)
{
        const struct stock_sum_rec *sums = b->section[SEC_STOCK_SUMS];
        struct stock *s = calloc(1, sizeof(*s));

        *out = s;
        if (!s)
                return -ENOMEM;
        pthread_mutex_init(&s->lock, NULL);
        for (int i = 0; kw_lot_kinds[i].name && i < KW_INDEX_KINDS; i++)
                s->sums[i].kind = kw_lot_kinds[i].name;
        for (uint64_t i = 0; i < b->head.n[SEC_STOCK_SUMS]; i++) {
                int kind = kind_of(text(b, sums[i].kind));

                if (kind == GONE)
                        return -ENOENT;
                s->sums[kind].lots = sums[i].lots;
                s->sums[kind].weighed = sums[i].weighed;
                s->sums[kind].left_mm = sums[i].left_mm;
                s->sums[kind].left_g = sums[i].left_g;
        }
        return 0;
}

void kw_stock_drop(struct stock *s)
{
        struct counted *lot, *next;

        if (!s)
                return;
        HASH_ITER(hh, s->lots, lot, next)
        {
                HASH_DEL(s->lots, lot);
                free(lot);
        }
        free(s->marked.at);
        pthread_mutex_destroy(&s->lock);
        free(s);
}

struct kw_index_stock kw_stock_usual(const struct base *b, uint32_t lot, uint32_t left_mm)
{
        const struct sort_rec *sort =
                (const struct sort_rec *)b->section[SEC_SORTS] + ((const uint16_t *)b->section[SEC_SORT_OF])[lot];
        const struct pack_rec *pack = &((const struct pack_rec *)b->section[SEC_PACKS])[b->pack_of[lot]];
        uint32_t mass = ((const uint32_t *)b->section[SEC_MASS])[lot];

        return (struct kw_index_stock){.kind = text(b, sort->kind),
                                       .lots = 1,
                                       .weighed = mass != NONE,
                                       .left_mm = left_mm,
                                       .left_g = mass == NONE ? 0 : kw_share(mass, left_mm, pack->s1 - pack->s0)};
}

static struct counts as_counts(const struct kw_index_stock *s)
{
        return (struct counts){s->lots ? kind_of(s->kind) : GONE, s->left_mm, s->weighed ? s->left_g : -1};
}

/* What the lot counted for in the base's view. */
static struct counts in_base(const struct base *b, int64_t lot)
{
        const struct left_rec *usual = b->section[SEC_LEFT];
        const struct stock_rec *recs = b->section[SEC_STOCK];
        uint64_t lo = 0, hi = b->head.n[SEC_LEFT];
        uint32_t number = kw_base_number(b, lot);

        if (number == NONE)
                return (struct counts){.kind = GONE};
        while (lo < hi) {
                uint64_t mid = lo + (hi - lo) / 2;

                if (usual[mid].lot < number)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        if (lo < b->head.n[SEC_LEFT] && usual[lo].lot == number) {
                struct kw_index_stock s = kw_stock_usual(b, number, usual[lo].left_mm);

                return as_counts(&s);
        }
        for (lo = 0, hi = b->head.n[SEC_STOCK]; lo < hi;) {
                uint64_t mid = lo + (hi - lo) / 2;

                if (recs[mid].lot < lot)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        if (lo == b->head.n[SEC_STOCK] || recs[lo].lot != lot)
                return (struct counts){.kind = GONE};
        return (struct counts){kind_of(text(b, recs[lo].kind)), recs[lo].left_mm, recs[lo].left_g};
}

int kw_stock_mark(struct body *x, int64_t lot)
{
        struct stock *s = x->stock;
        struct counted *c;

        HASH_FIND(hh, s->lots, &lot, sizeof(lot), c);
        if (c && c->marked)
                return 0;
        if (!c) {
                c = calloc(1, sizeof(*c));
                if (!c)
                        return -ENOMEM;
                c->lot = lot;
                c->as = in_base(&x->base, lot);
                HASH_ADD(hh, s->lots, lot, sizeof(lot), c);
                if (!c->hh.tbl) {
                        free(c);
                        return -ENOMEM;
                }
        }
        c->marked = true;
        return kw_numbers_add(&s->marked, lot);
}

/* --- bringing the sums up to date ------------------------------------------------------------------- */

int kw_stock_ask(struct kw_ledger *l, int64_t lot, struct kw_index_stock *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT kind, left_mm, (2 * mass_g * left_mm + length_mm) / (2 * length_mm) FROM"
                        " (SELECT kind, length_mm, mass_g, length_mm"
                        "   - ifnull((SELECT sum(to_mm - from_mm) FROM feed WHERE lot = ?1), 0)"
                        "   - ifnull((SELECT sum(to_mm - from_mm) FROM taken WHERE lot = ?1), 0) AS left_mm"
                        "  FROM lot WHERE id = ?1) WHERE left_mm > 0",
                        "i", lot);

        *out = (struct kw_index_stock){0};
        if (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                int kind = kind_of(kw_text(&q, 0));

                rc = kind == GONE ? -ENOENT : 0;
                if (rc == 0)
                        *out = (struct kw_index_stock){kw_lot_kinds[kind].name, 1, !kw_is_null(&q, 2), kw_int(&q, 1),
                                                       kw_is_null(&q, 2) ? 0 : kw_int(&q, 2)};
        }
        kw_end(&q);
        return rc;
}

static void count(struct stock *s, const struct counts *as, int sign)
{
        if (as->kind == GONE)
                return;
        s->sums[as->kind].lots += sign;
        s->sums[as->kind].left_mm += sign * as->left_mm;
        if (as->left_g >= 0) {
                s->sums[as->kind].weighed += sign;
                s->sums[as->kind].left_g += sign * as->left_g;
        }
}

static int count_anew(struct stock *s, struct kw_ledger *l, int64_t lot)
{
        struct kw_index_stock now;
        struct counted *c;
        int rc = kw_stock_ask(l, lot, &now);

        if (rc)
                return rc;
        HASH_FIND(hh, s->lots, &lot, sizeof(lot), c);
        count(s, &c->as, -1);
        c->as = as_counts(&now);
        count(s, &c->as, 1);
        c->marked = false;
        return 0;
}

int kw_index_stock(struct kw_index *ix, struct kw_ledger *ledger, struct kw_index_stock out[KW_INDEX_KINDS])
{
        struct stock *s = ix->body.stock;
        int rc = 0;

        pthread_mutex_lock(&s->lock);
        while (rc == 0 && s->marked.n) {
                rc = count_anew(s, ledger, s->marked.at[s->marked.n - 1]);
                if (rc == 0)
                        s->marked.n--;
        }
        memcpy(out, s->sums, sizeof(s->sums));
        pthread_mutex_unlock(&s->lock);
        return rc;
}
