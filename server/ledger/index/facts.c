/*
 * What an answer says of lots, gathered while the base is built: their rows, and what has become of them.
 *
 * Only what the index can say exactly is kept: a row that is not as all others are (a length that its package has not,
 * a mass beyond 32 bits, one kind of lot too many) has its flag cleared, and SQLite is asked.
 */
#include "layout.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define SORTS_MOST UINT16_MAX

struct text {
        uint32_t at;
        UT_hash_handle hh;
        char text[];
};

struct sort {
        struct sort_rec rec;
        uint16_t number;
        UT_hash_handle hh;
};

/* A lot's place as its row says it, until its package is read. */
struct said {
        uint32_t length, s0;
};

struct facts {
        struct base *b;
        struct kw_ledger *l;
        struct codes codes, run_codes;
        struct text *texts;
        struct sort *sorts;
        struct said *said;
        int64_t *left; /* of each lot */
        uint64_t cap[SECTIONS], cap_said, cap_left, n_said;
        uint32_t run; /* the next whose lots come */
};

struct facts *kw_facts_new(struct base *b, struct kw_ledger *l)
{
        struct facts *f = calloc(1, sizeof(*f));

        if (f) {
                f->b = b;
                f->l = l;
        }
        return f;
}

void kw_facts_free(struct facts *f)
{
        struct text *text, *next_text;
        struct sort *sort, *next_sort;

        if (!f)
                return;
        HASH_ITER(hh, f->texts, text, next_text)
        {
                HASH_DEL(f->texts, text);
                free(text);
        }
        HASH_ITER(hh, f->sorts, sort, next_sort)
        {
                HASH_DEL(f->sorts, sort);
                free(sort);
        }
        kw_codes_free(&f->codes);
        kw_codes_free(&f->run_codes);
        free(f->said);
        free(f->left);
        free(f);
}

static int room(void **at, uint64_t n, uint64_t *cap, size_t size)
{
        uint64_t more = n + n / 2 + 4096;
        void *bigger;

        if (n <= *cap)
                return 0;
        bigger = reallocarray(*at, more, size);
        if (!bigger)
                return -ENOMEM;
        *at = bigger;
        *cap = more;
        return 0;
}

/* One more of a section; NULL: no memory. */
static void *add(struct facts *f, enum section s, size_t size)
{
        uint64_t n = f->b->head.n[s];

        if (room(&f->b->section[s], n + 1, &f->cap[s], size) < 0)
                return NULL;
        f->b->head.n[s]++;
        return (char *)f->b->section[s] + n * size;
}

/* --- what many lots have in common ----------------------------------------------------------------- */

/* Where the text stands in SEC_TEXTS; NONE for NULL. Return: 0; -ENOMEM; -E2BIG. */
static int text_at(struct facts *f, const char *text, uint32_t *at)
{
        uint64_t n = f->b->head.n[SEC_TEXTS];
        size_t bytes = text ? strlen(text) + 1 : 0;
        struct text *t;

        *at = NONE;
        if (!text)
                return 0;
        HASH_FIND(hh, f->texts, text, bytes, t);
        if (!t) {
                if (n + bytes >= NONE)
                        return -E2BIG;
                t = malloc(sizeof(*t) + bytes);
                if (!t || room(&f->b->section[SEC_TEXTS], n + bytes, &f->cap[SEC_TEXTS], 1) < 0) {
                        free(t);
                        return -ENOMEM;
                }
                memcpy(t->text, text, bytes);
                t->at = (uint32_t)n;
                HASH_ADD_KEYPTR(hh, f->texts, t->text, bytes, t);
                if (!t->hh.tbl) {
                        free(t);
                        return -ENOMEM;
                }
                memcpy((char *)f->b->section[SEC_TEXTS] + n, text, bytes);
                f->b->head.n[SEC_TEXTS] += bytes;
        }
        *at = t->at;
        return 0;
}

/* The number of a sort. Return: 0; -ENOMEM; -E2BIG when there are too many. */
static int sort_of(struct facts *f, const struct sort_rec *rec, uint16_t *number)
{
        struct sort_rec *kept;
        struct sort *sort;

        HASH_FIND(hh, f->sorts, rec, sizeof(*rec), sort);
        if (!sort) {
                uint64_t n = f->b->head.n[SEC_SORTS];

                if (n > SORTS_MOST)
                        return -E2BIG;
                kept = add(f, SEC_SORTS, sizeof(*kept));
                sort = kept ? calloc(1, sizeof(*sort)) : NULL;
                if (!sort)
                        return -ENOMEM;
                sort->rec = *kept = *rec;
                sort->number = (uint16_t)n;
                HASH_ADD(hh, f->sorts, rec, sizeof(sort->rec), sort);
                if (!sort->hh.tbl) {
                        free(sort);
                        return -ENOMEM;
                }
        }
        *number = sort->number;
        return 0;
}

/* --- rows ------------------------------------------------------------------------------------------- */

int kw_facts_run(struct facts *f, struct kw_query *q, int at)
{
        int64_t *time = add(f, SEC_RUN_TIME, sizeof(*time));

        if (!time)
                return -ENOMEM;
        *time = kw_int(q, at + 1);
        return kw_codes_add(&f->run_codes, kw_text(q, at));
}

static int read_sort(struct facts *f, struct kw_query *q, int at, struct sort_rec *out)
{
        int64_t diameter = kw_is_null(q, at + 6) ? (int64_t)NONE : kw_int(q, at + 6),
                tensile = kw_is_null(q, at + 14) ? (int64_t)NONE : kw_int(q, at + 14);
        int rc = text_at(f, kw_text(q, at + 1), &out->kind);

        if (rc == 0)
                rc = text_at(f, kw_text(q, at + 5), &out->mass_from);
        if (rc == 0)
                rc = text_at(f, kw_text(q, at + 7), &out->construction);
        if (rc == 0)
                rc = text_at(f, kw_text(q, at + 12), &out->grade);
        if (rc == 0 && (diameter < 0 || diameter > (int64_t)NONE || tensile < 0 || tensile > (int64_t)NONE))
                rc = -E2BIG;
        out->diameter_um = (uint32_t)diameter;
        out->tensile_kpa = (uint32_t)tensile;
        return rc;
}

/* Whether the run's row says of the lot what its own does: runs and lots come in the same order. */
static bool agrees_with_run(struct facts *f, struct kw_query *q, int at)
{
        const struct run_rec *runs = f->b->section[SEC_RUNS];
        const int64_t *times = f->b->section[SEC_RUN_TIME];
        uint64_t n = f->b->head.n[SEC_RUNS];
        int64_t run = kw_int(q, at + 8);

        while (f->run < n && (int64_t)runs[f->run].seq * IDS < run)
                f->run++;
        return f->run < n && (int64_t)runs[f->run].seq * IDS == run && runs[f->run].depth == kw_int(q, at + 10) &&
               times[f->run] == kw_int(q, at + 11);
}

int kw_facts_lot(struct facts *f, struct kw_query *q, int at)
{
        uint8_t *flags = add(f, SEC_FLAGS, sizeof(*flags));
        uint16_t *sort = add(f, SEC_SORT_OF, sizeof(*sort));
        uint32_t *mass = add(f, SEC_MASS, sizeof(*mass));
        int64_t length = kw_int(q, at + 2), s0 = kw_int(q, at + 9);
        int64_t g = kw_is_null(q, at + 4) ? (int64_t)NONE : kw_int(q, at + 4);
        void *said = f->said, *left = f->left;
        struct sort_rec rec;
        bool made, right;
        int rc;

        if (!flags || !sort || !mass || room(&said, f->n_said + 1, &f->cap_said, sizeof(*f->said)) < 0)
                return -ENOMEM;
        f->said = said;
        if (room(&left, f->n_said + 1, &f->cap_left, sizeof(*f->left)) < 0)
                return -ENOMEM;
        f->left = left;
        f->left[f->n_said] = length;
        *flags = FACT_STATE;
        *sort = 0;
        *mass = (uint32_t)g;
        made = !kw_is_null(q, at + 8);
        right = made && kw_int(q, at + 13) && strcmp(kw_text(q, at + 3), "counted") == 0 && length > 0 &&
                length < NONE && s0 >= 0 && s0 < NONE && g >= 0 && (g < NONE || kw_is_null(q, at + 4)) &&
                agrees_with_run(f, q, at);
        f->said[f->n_said++] = (struct said){(uint32_t)length, (uint32_t)s0};
        rc = right ? read_sort(f, q, at, &rec) : -E2BIG;
        if (rc == 0)
                rc = sort_of(f, &rec, sort);
        if (rc == 0)
                *flags |= FACT_ROW;
        rc = rc == -E2BIG ? 0 : rc;
        return rc ? rc : kw_codes_add(&f->codes, kw_text(q, at));
}

void kw_facts_place(struct facts *f, uint32_t lot, const struct pack_rec *pack)
{
        uint8_t *flags = f->b->section[SEC_FLAGS];

        if (f->said[lot].s0 != pack->s0 || f->said[lot].length != pack->s1 - pack->s0)
                flags[lot] &= (uint8_t)~FACT_ROW;
        f->said[lot].length = 0; /* a lot whose package does not come has no row here */
}

/* --- what has become of them -------------------------------------------------------------------------- */

static void set(struct facts *f, uint32_t lot, enum lot_flags flag)
{
        ((uint8_t *)f->b->section[SEC_FLAGS])[lot] |= (uint8_t)flag;
}

void kw_facts_not(struct base *b, uint32_t lot, unsigned which)
{
        /* a page that is written to is this process's own from then on: only where there is something to clear */
        if (lot < b->n_lots && (b->flags[lot] & which))
                b->flags[lot] &= (uint8_t)~which;
}

/* The row that the last placing left. */
static int add_place(struct facts *f, struct kw_query *q, uint32_t lot)
{
        struct placed_rec *rec = f->b->section[SEC_PLACED];
        uint64_t n = f->b->head.n[SEC_PLACED];

        rec = n && rec[n - 1].lot == lot ? &rec[n - 1] : add(f, SEC_PLACED, sizeof(*rec));
        if (!rec)
                return -ENOMEM;
        rec->lot = lot;
        set(f, lot, FACT_PLACED);
        return text_at(f, kw_text(q, 1), &rec->text);
}

static int add_taken(struct facts *f, struct kw_query *q, uint32_t lot)
{
        struct taken_rec *rec;

        set(f, lot, FACT_TAKEN);
        f->left[lot] -= kw_int(q, 2) - kw_int(q, 1);
        if (kw_int(q, 1) < 0 || kw_int(q, 2) > UINT32_MAX)
                return -E2BIG;
        rec = add(f, SEC_TAKEN, sizeof(*rec));
        if (rec)
                *rec = (struct taken_rec){lot, (uint32_t)kw_int(q, 1), (uint32_t)kw_int(q, 2), (uint32_t)kw_int(q, 3)};
        return rec ? 0 : -ENOMEM;
}

static int add_sent(struct facts *f, struct kw_query *q, uint32_t lot)
{
        struct consignment_rec *to = f->b->section[SEC_CONSIGNMENTS];
        uint64_t n = f->b->head.n[SEC_CONSIGNMENTS];
        struct consignment_rec one = {.at = kw_int(q, 3)};
        struct sent_rec *rec = NULL;
        int rc = text_at(f, kw_text(q, 1), &one.code);

        if (((uint8_t *)f->b->section[SEC_FLAGS])[lot] & FACT_SENT)
                return -E2BIG; /* twice */
        set(f, lot, FACT_SENT);
        if (rc == 0)
                rc = text_at(f, kw_text(q, 2), &one.consignee);
        if (rc == 0 && (!n || to[n - 1].code != one.code)) {
                to = add(f, SEC_CONSIGNMENTS, sizeof(*to));
                if (!to)
                        return -ENOMEM;
                *to = one;
                n++;
        }
        if (rc == 0 && (rec = add(f, SEC_SENT, sizeof(*rec))))
                *rec = (struct sent_rec){lot, (uint32_t)n - 1};
        return rc ? rc : rec ? 0 : -ENOMEM;
}

static int add_certified(struct facts *f, struct kw_query *q, uint32_t lot)
{
        (void)q;
        set(f, lot, FACT_CERTIFIED);
        return 0;
}

static int add_held(struct facts *f, struct kw_query *q, uint32_t lot)
{
        (void)q;
        set(f, lot, FACT_HELD);
        return 0;
}

/* Each row is about the lot in column 0; one that can't be held here leaves that lot to SQLite. */
static int each_lot(struct facts *f, const char *sql, int (*row)(struct facts *f, struct kw_query *q, uint32_t lot))
{
        struct kw_query q;
        int rc = kw_ask(f->l, &q, sql, "");

        while (rc == 0 && (rc = kw_next(f->l, &q)) == 1) {
                uint32_t lot = kw_base_number(f->b, kw_int(&q, 0));

                rc = lot == NONE ? 0 : row(f, &q, lot);
                if (rc == -E2BIG) {
                        kw_facts_not(f->b, lot, FACT_STATE);
                        rc = 0;
                }
        }
        kw_end(&q);
        return rc;
}

/* --- what is in stock ------------------------------------------------------------------------------------- */

void kw_facts_fed(struct facts *f, uint32_t lot, int64_t mm)
{
        f->left[lot] -= mm;
}

static int add_up(struct facts *f, uint32_t kind, const struct kw_index_stock *s)
{
        struct stock_sum_rec *sums = f->b->section[SEC_STOCK_SUMS], *sum = NULL;

        for (uint64_t i = 0; i < f->b->head.n[SEC_STOCK_SUMS]; i++)
                if (sums[i].kind == kind)
                        sum = &sums[i];
        if (!sum) {
                sum = add(f, SEC_STOCK_SUMS, sizeof(*sum));
                if (!sum)
                        return -ENOMEM;
                *sum = (struct stock_sum_rec){.kind = kind};
        }
        sum->lots++;
        sum->weighed += s->weighed;
        sum->left_mm += s->left_mm;
        sum->left_g += s->left_g;
        return 0;
}

/* As a lot that is not as others are, or by the row that is here. */
static int add_left(struct facts *f, uint32_t lot, struct kw_index_stock *s)
{
        struct stock_rec *odd;
        struct left_rec *usual;
        uint32_t kind;
        int rc;

        if (f->b->flags[lot] & FACT_ROW) {
                usual = add(f, SEC_LEFT, sizeof(*usual));
                if (!usual)
                        return -ENOMEM;
                *usual = (struct left_rec){lot, (uint32_t)f->left[lot]};
                *s = kw_stock_usual(f->b, lot, usual->left_mm);
                return 0;
        }
        rc = kw_stock_ask(f->l, kw_base_id(f->b, lot), s);
        if (rc == 0)
                rc = text_at(f, s->kind, &kind);
        if (rc)
                return rc;
        odd = add(f, SEC_STOCK, sizeof(*odd));
        if (!odd)
                return -ENOMEM;
        *odd = (struct stock_rec){kw_base_id(f->b, lot), s->left_mm, s->weighed ? s->left_g : -1, kind, 0};
        return 0;
}

static int add_stock(struct facts *f)
{
        int rc = 0;

        for (uint32_t lot = 0; rc == 0 && lot < f->b->n_lots; lot++) {
                struct kw_index_stock s;
                uint32_t kind;

                if (f->left[lot] <= 0)
                        continue;
                rc = add_left(f, lot, &s);
                if (rc == 0)
                        rc = text_at(f, s.kind, &kind);
                if (rc == 0)
                        rc = add_up(f, kind, &s);
        }
        return rc;
}

static int by_lot(const void *a, const void *b)
{
        const uint32_t *x = a, *y = b; /* the lot comes first in each */

        return x[0] != y[0] ? (x[0] < y[0] ? -1 : 1) : (x[1] > y[1]) - (x[1] < y[1]);
}

static void put_in_order(struct facts *f, enum section s, size_t size)
{
        if (f->b->head.n[s])
                qsort(f->b->section[s], f->b->head.n[s], size, by_lot);
}

static void give(struct base *b, enum section at, enum section bytes, struct codes *c)
{
        b->section[at] = c->at;
        b->head.n[at] = c->n_at;
        b->section[bytes] = c->bytes;
        b->head.n[bytes] = c->n_bytes;
        *c = (struct codes){0};
}

int kw_facts_done(struct facts *f)
{
        uint8_t *flags = f->b->section[SEC_FLAGS];
        int rc;

        for (uint64_t i = 0; i < f->n_said; i++)
                if (f->said[i].length)
                        flags[i] &= (uint8_t)~FACT_ROW;
        kw_base_name(f->b);
        rc = each_lot(f, "SELECT lot, location FROM place ORDER BY lot, seq", add_place);
        if (rc == 0)
                rc = each_lot(f, "SELECT lot, from_mm, to_mm, what = 'scrap' FROM taken", add_taken);
        if (rc == 0)
                rc = each_lot(f,
                              "SELECT l.lot, c.code, c.consignee, c.at FROM consignment_lot l"
                              " CROSS JOIN consignment c ON c.id = l.consignment",
                              add_sent);
        if (rc == 0)
                rc = each_lot(f, "SELECT lot FROM certificate_reel", add_certified);
        if (rc == 0)
                rc = each_lot(f, "SELECT lot FROM hold_span", add_held);
        if (rc == 0)
                rc = add_stock(f);
        if (rc)
                return rc;
        put_in_order(f, SEC_TAKEN, sizeof(struct taken_rec));
        put_in_order(f, SEC_SENT, sizeof(struct sent_rec));
        give(f->b, SEC_CODE_AT, SEC_CODES, &f->codes);
        give(f->b, SEC_RUN_CODE_AT, SEC_RUN_CODES, &f->run_codes);
        return 0;
}
