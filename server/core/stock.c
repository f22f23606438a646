/*
 * What of a lot is still there.
 *
 * Claims are kept in order of from and disjoint, so that the first one that a new claim meets is found by bisection,
 * and what is left is what lies between them.
 */
#include "kinwire/plan.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void kw_stock_free(struct kw_stock *stock)
{
        free(stock->claims);
        stock->claims = NULL;
        stock->n = stock->cap = 0;
}

/* The first claim that ends after @from. */
static size_t first_after(const struct kw_stock *stock, int64_t from)
{
        size_t low = 0, high = stock->n;

        while (low < high) {
                size_t middle = (low + high) / 2;

                if (stock->claims[middle].to <= from)
                        low = middle + 1;
                else
                        high = middle;
        }
        return low;
}

static int reserve(struct kw_stock *stock, size_t more)
{
        struct kw_claim *claims;
        size_t cap = stock->cap ? stock->cap : 4;

        while (cap < stock->n + more)
                cap *= 2;
        if (cap == stock->cap)
                return 0;
        claims = realloc(stock->claims, cap * sizeof(*claims));
        if (!claims)
                return -ENOMEM;
        stock->claims = claims;
        stock->cap = cap;
        return 0;
}

int kw_stock_claim(struct kw_stock *stock, int64_t from, int64_t to, const char *name, struct kw_error *err)
{
        size_t i = first_after(stock, from);
        struct kw_claim *claim;

        if (from < 0 || to > stock->length_mm || from >= to)
                return kw_refuse_with(err, KW_OUT_OF_RANGE, "", "interval",
                                      KW_VALUES(KW_WORD("lot", stock->code), KW_FIGURE("length_mm", stock->length_mm),
                                                KW_FIGURE("from_mm", from), KW_FIGURE("to_mm", to)),
                                      "%s is %" PRId64 " mm long; %" PRId64 " to %" PRId64 " mm is not a length of it",
                                      stock->code, stock->length_mm, from, to);
        if (i < stock->n && stock->claims[i].from < to)
                return kw_refuse_with(
                        err, KW_ALREADY_CONSUMED, "", "taken",
                        KW_VALUES(KW_WORD("lot", stock->code), KW_WORD("by", stock->claims[i].name),
                                  KW_FIGURE("from_mm", stock->claims[i].from), KW_FIGURE("to_mm", stock->claims[i].to),
                                  KW_FIGURE("asked_from_mm", from), KW_FIGURE("asked_to_mm", to)),
                        "%" PRId64 " to %" PRId64 " mm of %s has been taken by %s already; %" PRId64 " to %" PRId64
                        " mm can't be taken",
                        stock->claims[i].from, stock->claims[i].to, stock->code, stock->claims[i].name, from, to);
        if (reserve(stock, 1))
                return -ENOMEM;
        claim = stock->claims + i;
        memmove(claim + 1, claim, (stock->n - i) * sizeof(*claim));
        claim->from = from;
        claim->to = to;
        snprintf(claim->name, sizeof(claim->name), "%s", name);
        stock->n++;
        return 0;
}

int kw_stock_left(const struct kw_stock *stock, struct kw_spans *out)
{
        int64_t at = 0;

        for (size_t i = 0; i < stock->n; i++) {
                if (at < stock->claims[i].from && kw_spans_add(out, at, stock->claims[i].from))
                        return -ENOMEM;
                at = stock->claims[i].to;
        }
        if (at < stock->length_mm && kw_spans_add(out, at, stock->length_mm))
                return -ENOMEM;
        return 0;
}

/* The first @length of @left, in the order in which it pays off from @off. */
static int pay_off(const struct kw_spans *left, enum kw_off off, int64_t length, struct kw_spans *pieces)
{
        for (size_t i = 0; i < left->n && length > 0; i++) {
                struct kw_span s = left->at[off == KW_OFF_OUTER ? left->n - 1 - i : i];

                if (s.to - s.from > length && off == KW_OFF_OUTER)
                        s.from = s.to - length;
                else if (s.to - s.from > length)
                        s.to = s.from + length;
                length -= s.to - s.from;
                if (kw_spans_add(pieces, s.from, s.to))
                        return -ENOMEM;
        }
        return 0;
}

static bool named_before(const struct kw_stock *stock, size_t i)
{
        for (size_t j = 0; j < i; j++)
                if (strcmp(stock->claims[j].name, stock->claims[i].name) == 0)
                        return true;
        return false;
}

/* The names of those who took it, the first three of them. */
static int refuse_empty(const struct kw_stock *stock, struct kw_error *err)
{
        char names[4 * KW_CLAIM_NAME] = "nobody";
        size_t told = 0, at = 0;

        for (size_t i = 0; i < stock->n && told < 3; i++) {
                if (named_before(stock, i))
                        continue;
                at += (size_t)snprintf(names + at, sizeof(names) - at, "%s%s", told ? ", " : "", stock->claims[i].name);
                told++;
        }
        return kw_refuse_with(err, KW_ALREADY_CONSUMED, "", "nothing-left",
                              KW_VALUES(KW_WORD("lot", stock->code), KW_WORD("by", told ? names : "-")),
                              "nothing is left of %s; it was taken by %s", stock->code, names);
}

static int choose(const struct kw_stock *stock, const struct kw_take *take, struct kw_spans *pieces,
                  struct kw_error *err)
{
        struct kw_spans left = {0};
        int64_t there, wanted;
        int rc = kw_stock_left(stock, &left);

        there = kw_spans_total(&left);
        wanted = take->how == KW_TAKE_ALL ? there : take->length;
        if (rc == 0 && there == 0)
                rc = refuse_empty(stock, err);
        else if (rc == 0 && wanted > there)
                rc = kw_refuse_with(err, KW_OUT_OF_RANGE, "", "too-much",
                                    KW_VALUES(KW_WORD("lot", stock->code), KW_FIGURE("asked_mm", wanted),
                                              KW_FIGURE("left_mm", there)),
                                    "%" PRId64 " mm is asked of %s; only %" PRId64 " mm is left", wanted, stock->code,
                                    there);
        if (rc == 0)
                rc = pay_off(&left, take->off, wanted, pieces);
        kw_spans_free(&left);
        return rc;
}

int kw_stock_take(struct kw_stock *stock, const struct kw_take *take, const char *name, struct kw_spans *pieces,
                  struct kw_error *err)
{
        size_t before = pieces->n;
        int rc;

        if (take->how == KW_TAKE_SPAN) {
                if (kw_spans_add(pieces, take->from, take->to))
                        return -ENOMEM;
                rc = kw_stock_claim(stock, take->from, take->to, name, err);
                if (rc)
                        pieces->n = before;
                return rc;
        }
        rc = choose(stock, take, pieces, err);
        if (rc == 0)
                rc = reserve(stock, pieces->n - before);
        /* what is left can be claimed, and there is room: none of these fails */
        for (size_t i = before; rc == 0 && i < pieces->n; i++)
                rc = kw_stock_claim(stock, pieces->at[i].from, pieces->at[i].to, name, err);
        if (rc)
                pieces->n = before;
        return rc;
}
