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

void beside_new(struct beside *b)
{
        struct kw_error err = {0};

        snprintf(b->folder, sizeof(b->folder), "%s/kinwire-index-XXXXXX",
                 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
        ck_assert_ptr_nonnull(mkdtemp(b->folder));
        snprintf(b->path, sizeof(b->path), "%s/mill.kw", b->folder);
        ck_assert_msg(kw_ledger_open(b->path, KW_OPEN_WRITE, &b->ledger, &err) == 0, "%s", err.text);
        ck_assert_int_eq(kw_index_new(b->path, &b->index), 0);
        ck_assert_int_eq(kw_index_build(b->index), 0);
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

static void same_trace(struct beside *b, int64_t lot, struct kw_span span, enum kw_which which, walk_fn *walk,
                       trace_fn *trace)
{
        struct kw_hits *got = kw_hits_new(), *wanted = kw_hits_new();
        struct comparing c = {wanted, lot, walk == kw_index_forward ? "forward" : "back"};
        struct kw_reader *r;

        ck_assert_int_eq(kw_hits_add(got, lot, span.from, span.to, which), 0);
        ck_assert_int_eq(kw_hits_add(wanted, lot, span.from, span.to, which), 0);
        ck_assert_int_eq(kw_reader_new(b->ledger, &r), 0);
        ck_assert_int_eq(trace(kw_reader_genealogy(r), wanted, NULL), 0);
        ck_assert_int_eq(walk(b->index, got), 0);
        ck_assert_msg(kw_hits_count(got) == kw_hits_count(wanted), "%s from %" PRId64 ": %zu lots, not %zu", c.way, lot,
                      kw_hits_count(got), kw_hits_count(wanted));
        kw_hits_each(got, same_hit, &c);
        kw_reader_free(r);
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

void beside_same(struct beside *b)
{
        struct kw_query q;
        struct kw_error err = {0};
        struct kw_head head;

        ck_assert_int_eq(kw_ledger_look(b->ledger, &err), 0);
        ck_assert_int_eq(kw_ledger_head(b->ledger, &head, &err), 0);
        int rc = kw_index_check(b->index, b->ledger, &err);
        ck_assert_msg(rc == 0, "%d: %s", rc, err.text);
        ck_assert_int_eq(kw_index_take(b->index, head.size), 0);
        ck_assert_int_eq(kw_ask(b->ledger, &q, "SELECT id, length_mm FROM lot ORDER BY id", ""), 0);
        while (kw_next(b->ledger, &q) == 1)
                same_traces(b, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        kw_index_give(b->index);
        kw_ledger_done(b->ledger);
}
