/*
 * What needs attention: holds that are open, failed tests that nobody acted on, and what is in stock.
 */
#include "reader.h"

#include <errno.h>

/* --- holds ------------------------------------------------------------------------------------------ */

/* A lot under a hold while its spans are being read. */
struct under {
        int64_t lot;
        struct kw_spans spans;
};

static int read_barred(struct kw_reader *r, int64_t hold, struct kw_list *lots)
{
        struct under *last = NULL;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT s.lot, s.from_mm, s.to_mm FROM hold_span s JOIN lot l ON l.id = s.lot WHERE s.hold = ?1"
                        " ORDER BY l.code, s.from_mm",
                        "i", hold);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                if (!last || last->lot != kw_int(&q, 0)) {
                        last = kw_list_more(&r->arena, lots, sizeof(*last));
                        if (!last) {
                                rc = -ENOMEM;
                                break;
                        }
                        last->lot = kw_int(&q, 0);
                }
                rc = kw_spans_add(&last->spans, kw_int(&q, 1), kw_int(&q, 2));
        }
        kw_end(&q);
        return rc;
}

static int read_freed_spans(struct kw_reader *r, int64_t hold, int64_t lot, struct kw_spans *out)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT from_mm, to_mm FROM release_span WHERE lot = ?1 AND hold = ?2", "ii",
                        lot, hold);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1)
                rc = kw_spans_add(out, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        kw_spans_unite(out);
        return rc;
}

/* How much of @open is still there. */
static int measure_left(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_spans *open, int64_t *out)
{
        struct kw_spans left = {0}, both = {0};
        int rc = kw_read_left(r, lot, &left);

        if (rc == 0)
                rc = kw_spans_both(&left, open, &both);
        *out = kw_spans_total(&both);
        kw_spans_free(&left);
        kw_spans_free(&both);
        return rc;
}

static int take_held(struct kw_reader *r, int64_t hold, struct under *under, struct kw_held_row *out)
{
        struct kw_spans freed = {0}, open = {0};
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(r, under->lot, &lot);

        if (rc == 0)
                rc = read_freed_spans(r, hold, under->lot, &freed);
        kw_spans_unite(&under->spans);
        if (rc == 0)
                rc = kw_spans_minus(&under->spans, &freed, &open);
        if (rc == 0 && lot && open.n)
                rc = measure_left(r, lot, &open, &out->left_mm);
        if (rc == 0)
                rc = kw_arena_spans(&r->arena, &open, &out->open);
        out->lot = lot ? lot->code : NULL;
        kw_spans_free(&freed);
        kw_spans_free(&open);
        return rc;
}

static int read_held(struct kw_reader *r, struct kw_hold_whole_row *hold)
{
        struct kw_list lots = {0}, rows = {0};
        int rc = read_barred(r, hold->id, &lots);

        for (size_t i = 0; i < lots.n; i++) {
                struct under *under = (struct under *)lots.at + i;
                struct kw_held_row *row = rc ? NULL : kw_list_more(&r->arena, &rows, sizeof(*row));

                if (rc == 0)
                        rc = row ? take_held(r, hold->id, under, row) : -ENOMEM;
                if (rc == 0 && row->open.n)
                        hold->open = true;
                kw_spans_free(&under->spans);
        }
        hold->lots = rows.at;
        hold->n_lots = rows.n;
        return rc;
}

static int read_releases(struct kw_reader *r, struct kw_hold_whole_row *hold)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT seq, at, disposition, reason FROM release WHERE hold = ?1 ORDER BY seq",
                        "i", hold->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_freed_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_freed_row){.seq = kw_int(&q, 0),
                                                     .at = kw_int(&q, 1),
                                                     .disposition = kw_keep_text(r, &q, 2, &failed),
                                                     .reason = kw_keep_text(r, &q, 3, &failed)};
        }
        kw_end(&q);
        hold->freed = list.at;
        hold->n_freed = list.n;
        return failed ? -ENOMEM : rc;
}

static int order_holds(struct kw_reader *r, const struct kw_list *read, struct kw_list *out)
{
        const struct kw_hold_whole_row *rows = read->at;

        for (int open = 1; open >= 0; open--) {
                for (size_t i = 0; i < read->n; i++) {
                        struct kw_hold_whole_row *row;

                        if (rows[i].open != (open == 1))
                                continue;
                        row = kw_list_more(&r->arena, out, sizeof(*row));
                        if (!row)
                                return -ENOMEM;
                        *row = rows[i];
                }
        }
        return 0;
}

int kw_read_holds(struct kw_reader *r, const struct kw_hold_whole_row **out, size_t *n)
{
        struct kw_list list = {0}, ordered = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT id, at, code, reason FROM hold ORDER BY seq DESC", "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_hold_whole_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_hold_whole_row){.id = kw_int(&q, 0),
                                                          .at = kw_int(&q, 1),
                                                          .code = kw_keep_text(r, &q, 2, &failed),
                                                          .reason = kw_keep_text(r, &q, 3, &failed)};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++) {
                struct kw_hold_whole_row *row = (struct kw_hold_whole_row *)list.at + i;

                rc = read_held(r, row);
                if (rc == 0)
                        rc = read_releases(r, row);
        }
        if (rc == 0)
                rc = order_holds(r, &list, &ordered);
        *out = ordered.at;
        *n = ordered.n;
        return failed ? -ENOMEM : rc;
}

/* --- failed tests ------------------------------------------------------------------------------------- */

struct failed {
        int64_t lot, at;
        const char *code;
};

/* A failed test asks for something to be done as long as its lot is there and not barred. */
static int take_failed(struct kw_reader *r, const struct failed *test, struct kw_list *out)
{
        const struct kw_lot_row *lot;
        struct kw_lot_state state = {0};
        struct kw_failed_row *row;
        int rc = kw_read_lot(r, test->lot, &lot);

        if (rc == 0 && lot)
                rc = kw_read_state(r, lot, &state);
        if (rc || !lot || !state.left_mm || state.n_holds)
                return rc;
        row = kw_list_more(&r->arena, out, sizeof(*row));
        if (!row)
                return -ENOMEM;
        *row = (struct kw_failed_row){.test = test->code, .lot = lot->code, .at = test->at};
        return 0;
}

int kw_read_failed(struct kw_reader *r, const struct kw_failed_row **out, size_t *n)
{
        struct kw_list tests = {0}, list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT lot, at, code FROM test WHERE verdict = 'fail' ORDER BY at DESC, code",
                        "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct failed *test = kw_list_more(&r->arena, &tests, sizeof(*test));

                rc = test ? 0 : -ENOMEM;
                if (test)
                        *test = (struct failed){kw_int(&q, 0), kw_int(&q, 1), kw_keep_text(r, &q, 2, &failed)};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < tests.n; i++)
                rc = take_failed(r, (struct failed *)tests.at + i, &list);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- stock ----------------------------------------------------------------------------------------------- */

int kw_read_stock(struct kw_reader *r, const struct kw_stock_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "WITH stock AS MATERIALIZED (SELECT kind, length_mm, mass_g, length_mm"
                "   - ifnull((SELECT sum(to_mm - from_mm) FROM feed WHERE lot = lot.id), 0)"
                "   - ifnull((SELECT sum(to_mm - from_mm) FROM taken WHERE lot = lot.id), 0) AS left_mm FROM lot)"
                " SELECT kind, count(*), sum(left_mm), count(*) = count(mass_g),"
                "  sum((2 * mass_g * left_mm + length_mm) / (2 * length_mm)) FROM stock"
                " WHERE left_mm > 0 GROUP BY kind",
                "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_stock_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_stock_row){.kind = kw_keep_text(r, &q, 0, &failed),
                                                     .lots = kw_int(&q, 1),
                                                     .left_mm = kw_int(&q, 2),
                                                     .left_g = kw_int(&q, 3) ? kw_int(&q, 4) : KW_NONE};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}
