/*
 * An index beside a ledger: compared row by row, and trace by trace with the engine on SQLite.
 */
#include "index_beside.h"

#include "read/read.h"
#include "store.h"

#include <check.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void beside_place(struct beside *b)
{
        snprintf(b->folder, sizeof(b->folder), "%s/kinwire-index-XXXXXX",
                 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
        ck_assert_ptr_nonnull(mkdtemp(b->folder));
        snprintf(b->path, sizeof(b->path), "%s/mill.kw", b->folder);
}

void beside_open(struct beside *b)
{
        struct kw_error err = {0};

        ck_assert_msg(kw_ledger_open(b->path, KW_OPEN_WRITE, &b->ledger, &err) == 0, "%s", err.text);
        ck_assert_int_eq(kw_index_new(b->path, &b->index), 0);
        ck_assert_int_eq(kw_index_build(b->index), 0);
}

void beside_new(struct beside *b)
{
        beside_place(b);
        beside_open(b);
}

void beside_free(struct beside *b)
{
        static const char *const files[] = {"", "-wal", "-shm", ".index", ".index.new"};
        char path[128];

        kw_index_free(b->index);
        kw_ledger_close(b->ledger);
        for (size_t i = 0; i < sizeof(files) / sizeof(files[0]); i++) {
                snprintf(path, sizeof(path), "%s%s", b->path, files[i]);
                unlink(path);
        }
        ck_assert_int_eq(rmdir(b->folder), 0);
}

/* --- two sets of hits ------------------------------------------------------------------------------- */

struct comparing {
        const struct kw_hits *wanted;
        int64_t from;
        const char *way;
};

static void same_spans(const struct comparing *c, const struct kw_hit *hit, const struct kw_spans *got,
                       const struct kw_spans *wanted)
{
        ck_assert_msg(got->n == wanted->n, "%s from %" PRId64 ": lot %" PRId64 " has %zu spans, not %zu", c->way,
                      c->from, hit->lot, got->n, wanted->n);
        for (size_t i = 0; i < got->n; i++)
                ck_assert_msg(got->at[i].from == wanted->at[i].from && got->at[i].to == wanted->at[i].to,
                              "%s from %" PRId64 ": lot %" PRId64 ": [%" PRId64 ", %" PRId64 "], not [%" PRId64
                              ", %" PRId64 "]",
                              c->way, c->from, hit->lot, got->at[i].from, got->at[i].to, wanted->at[i].from,
                              wanted->at[i].to);
}

static int same_hit(void *ctx, struct kw_hit *hit)
{
        const struct comparing *c = ctx;
        const struct kw_hit *wanted = kw_hits_find(c->wanted, hit->lot);

        ck_assert_msg(wanted != NULL, "%s from %" PRId64 ": lot %" PRId64 " is one too many", c->way, c->from,
                      hit->lot);
        ck_assert_msg(wanted->depth == hit->depth, "%s from %" PRId64 ": depth of lot %" PRId64, c->way, c->from,
                      hit->lot);
        same_spans(c, hit, &hit->reach.certain, &wanted->reach.certain);
        same_spans(c, hit, &hit->reach.possible, &wanted->reach.possible);
        return 0;
}

typedef int walk_fn(struct kw_index *ix, struct kw_hits *hits);
typedef int trace_fn(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within);

/* @got by the index and @wanted by the engine, from the same seeds. */
static void same_walk(struct beside *b, int64_t from, struct kw_hits *got, struct kw_hits *wanted, walk_fn *walk,
                      trace_fn *trace)
{
        struct comparing c = {wanted, from, walk == kw_index_forward ? "forward" : "back"};
        struct kw_reader *r;

        ck_assert_int_eq(kw_reader_new(b->ledger, &r), 0);
        ck_assert_int_eq(trace(kw_reader_genealogy(r), wanted, NULL), 0);
        ck_assert_int_eq(walk(b->index, got), 0);
        ck_assert_msg(kw_hits_count(got) == kw_hits_count(wanted), "%s from %" PRId64 ": %zu lots, not %zu", c.way,
                      from, kw_hits_count(got), kw_hits_count(wanted));
        kw_hits_each(got, same_hit, &c);
        kw_reader_free(r);
}

static void same_trace(struct beside *b, int64_t lot, struct kw_span span, enum kw_which which, walk_fn *walk,
                       trace_fn *trace)
{
        struct kw_hits *got = kw_hits_new(), *wanted = kw_hits_new();

        ck_assert_int_eq(kw_hits_add(got, lot, span.from, span.to, which), 0);
        ck_assert_int_eq(kw_hits_add(wanted, lot, span.from, span.to, which), 0);
        same_walk(b, lot, got, wanted, walk, trace);
        kw_hits_free(got);
        kw_hits_free(wanted);
}

/* From every @nth lot at once: seeds that others lead to, in part surely and in part perhaps, of any depth. */
static void same_from_many(struct beside *b, int nth, walk_fn *walk, trace_fn *trace)
{
        struct kw_hits *got = kw_hits_new(), *wanted = kw_hits_new();
        struct kw_query q;
        int i = 0;

        ck_assert_int_eq(kw_ask(b->ledger, &q, "SELECT id, length_mm FROM lot WHERE length_mm > 8 ORDER BY id", ""), 0);
        for (; kw_next(b->ledger, &q) == 1; i++) {
                int64_t lot = kw_int(&q, 0), eighth = kw_int(&q, 1) / 8;
                enum kw_which which = i % 3 ? KW_CERTAIN : KW_POSSIBLE;

                if (i % nth)
                        continue;
                for (int k = 1; k <= 5; k += 4) { /* two spans of each */
                        ck_assert_int_eq(kw_hits_add(got, lot, k * eighth, (k + 2) * eighth, which), 0);
                        ck_assert_int_eq(kw_hits_add(wanted, lot, k * eighth, (k + 2) * eighth, which), 0);
                }
        }
        kw_end(&q);
        same_walk(b, -nth, got, wanted, walk, trace);
        kw_hits_free(got);
        kw_hits_free(wanted);
}

static void same_traces(struct beside *b, int64_t lot, int64_t length)
{
        struct kw_span whole = {0, length}, middle = {length / 3, length - length / 4};

        same_trace(b, lot, whole, KW_CERTAIN, kw_index_forward, kw_trace_forward);
        same_trace(b, lot, whole, KW_CERTAIN, kw_index_back, kw_trace_back);
        if (middle.from >= middle.to)
                return;
        same_trace(b, lot, middle, KW_CERTAIN, kw_index_forward, kw_trace_forward);
        same_trace(b, lot, middle, KW_POSSIBLE, kw_index_back, kw_trace_back);
}

/* --- what an answer says of a lot --------------------------------------------------------------------- */

#define SAME_TEXT(what)                                                                                \
        ck_assert_msg((!x->what && !y->what) || (x->what && y->what && strcmp(x->what, y->what) == 0), \
                      "lot %" PRId64 ": " #what " is %s, not %s", lot, x->what, y->what)
#define SAME_NUMBER(what)                                                                                 \
        ck_assert_msg(x->what == y->what, "lot %" PRId64 ": " #what " is %" PRId64 ", not %" PRId64, lot, \
                      (int64_t)x->what, (int64_t)y->what)

static void same_row(int64_t lot, const struct kw_lot_row *x, const struct kw_lot_row *y)
{
        SAME_NUMBER(seq);
        SAME_TEXT(code);
        SAME_TEXT(kind);
        SAME_NUMBER(length_mm);
        SAME_TEXT(length_from);
        SAME_NUMBER(mass_g);
        SAME_TEXT(mass_from);
        SAME_NUMBER(diameter_um);
        SAME_TEXT(construction);
        SAME_NUMBER(heat);
        SAME_NUMBER(supply);
        SAME_NUMBER(run);
        SAME_NUMBER(s0);
        SAME_NUMBER(depth);
        SAME_NUMBER(at);
        SAME_TEXT(order);
        SAME_TEXT(measured);
        SAME_TEXT(grade);
        SAME_NUMBER(tensile_kpa);
}

static void same_state(int64_t lot, const struct kw_lot_state *x, const struct kw_lot_state *y)
{
        SAME_NUMBER(is);
        SAME_NUMBER(left_mm);
        SAME_NUMBER(left.n);
        for (size_t i = 0; i < x->left.n; i++) {
                SAME_NUMBER(left.at[i].from);
                SAME_NUMBER(left.at[i].to);
        }
        SAME_TEXT(location);
        SAME_TEXT(consignment);
        SAME_TEXT(consignee);
        SAME_NUMBER(dispatched);
        SAME_NUMBER(n_holds);
        for (size_t i = 0; i < x->n_holds; i++)
                SAME_TEXT(holds[i]);
        SAME_NUMBER(n_certificates);
        for (size_t i = 0; i < x->n_certificates; i++)
                SAME_TEXT(certificates[i]);
}

/* Each lot by a reader that holds the index, and by one on the tables alone. */
static void same_answers(struct beside *b, struct kw_reader *held, struct kw_reader *tables, int64_t lot)
{
        const struct kw_lot_row *x, *y;
        struct kw_lot_state xs, ys;
        const char *xr, *yr;

        kw_reader_hold(held, b->index);
        ck_assert_int_eq(kw_read_lot(held, lot, &x), 0);
        ck_assert_int_eq(kw_read_lot(tables, lot, &y), 0);
        ck_assert(x && y);
        same_row(lot, x, y);
        ck_assert_int_eq(kw_read_state(held, x, &xs), 0);
        ck_assert_int_eq(kw_read_state(tables, y, &ys), 0);
        same_state(lot, &xs, &ys);
        ck_assert_int_eq(kw_read_run_of_lot(held, x, &xr), 0);
        ck_assert_int_eq(kw_read_run_of_lot(tables, y, &yr), 0);
        ck_assert_msg((!xr && !yr) || strcmp(xr, yr) == 0, "lot %" PRId64 ": its run is %s, not %s", lot, xr, yr);
}

/* The stock as the index sums it up, and as the tables do. */
static void same_stock(struct beside *b, struct kw_reader *held, struct kw_reader *tables)
{
        const struct kw_stock_row *xs, *ys;
        size_t n, wanted, found = 0;

        kw_reader_hold(held, b->index);
        ck_assert_int_eq(kw_read_stock(held, &xs, &n), 0);
        ck_assert_int_eq(kw_read_stock(tables, &ys, &wanted), 0);
        ck_assert_msg(n == wanted, "%zu kinds of lots in stock, not %zu", n, wanted);
        for (size_t i = 0; i < n; i++)
                for (size_t k = 0; k < wanted; k++) {
                        const struct kw_stock_row *x = &xs[i], *y = &ys[k];
                        const int64_t lot = 0;

                        if (strcmp(x->kind, y->kind) != 0)
                                continue;
                        found++;
                        SAME_NUMBER(lots);
                        SAME_NUMBER(left_mm);
                        SAME_NUMBER(left_g);
                }
        ck_assert_uint_eq(found, n);
}

void beside_same(struct beside *b)
{
        struct kw_reader *held, *tables;
        struct kw_query q;
        struct kw_error err = {0};
        struct kw_head head;

        ck_assert_int_eq(kw_ledger_look(b->ledger, &err), 0);
        ck_assert_int_eq(kw_ledger_head(b->ledger, &head, &err), 0);
        int rc = kw_index_check(b->index, b->ledger, &err);
        ck_assert_msg(rc == 0, "%d: %s", rc, err.text);
        ck_assert_int_eq(kw_index_take(b->index, head.size), 0);
        ck_assert_int_eq(kw_ask(b->ledger, &q, "SELECT id, length_mm FROM lot ORDER BY id", ""), 0);
        ck_assert_int_eq(kw_reader_new(b->ledger, &held), 0);
        ck_assert_int_eq(kw_reader_new(b->ledger, &tables), 0);
        while (kw_next(b->ledger, &q) == 1) {
                same_traces(b, kw_int(&q, 0), kw_int(&q, 1));
                same_answers(b, held, tables, kw_int(&q, 0));
        }
        kw_end(&q);
        for (int nth = 1; nth <= 25; nth += 8) {
                same_from_many(b, nth, kw_index_forward, kw_trace_forward);
                same_from_many(b, nth, kw_index_back, kw_trace_back);
        }
        same_stock(b, held, tables);
        kw_reader_free(held);
        kw_reader_free(tables);
        kw_index_give(b->index);
        kw_ledger_done(b->ledger);
}

void beside_traces(struct beside *b, int nth)
{
        struct kw_error err = {0};
        struct kw_query q;
        int i = 0;

        ck_assert_int_eq(kw_ledger_look(b->ledger, &err), 0);
        ck_assert_int_eq(kw_index_take(b->index, -1), 0);
        ck_assert_int_eq(kw_ask(b->ledger, &q, "SELECT id, length_mm FROM lot ORDER BY id", ""), 0);
        for (; kw_next(b->ledger, &q) == 1; i++)
                if (i % nth == 0)
                        same_traces(b, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        same_from_many(b, nth, kw_index_forward, kw_trace_forward);
        same_from_many(b, nth, kw_index_back, kw_trace_back);
        kw_index_give(b->index);
        kw_ledger_done(b->ledger);
}

void beside_said(struct beside *b, size_t *rows, size_t *states)
{
        struct kw_index_state state;
        struct kw_index_lot row;
        struct kw_query q;

        *rows = *states = 0;
        ck_assert_int_eq(kw_index_take(b->index, -1), 0);
        ck_assert_int_eq(kw_ask(b->ledger, &q, "SELECT id FROM lot", ""), 0);
        while (kw_next(b->ledger, &q) == 1) {
                struct kw_spans taken = {0};

                *rows += kw_index_lot(b->index, kw_int(&q, 0), 0, &row) == 0;
                *states += kw_index_state(b->index, kw_int(&q, 0), 0, &state, &taken) == 0;
                kw_spans_free(&taken);
        }
        kw_end(&q);
        kw_index_give(b->index);
}
