/*
 * What needs attention: holds that are open, failed tests that nobody acted on, and what is in stock.
 */
#include "reader.h"
#include "tree.h"

#include "kinwire/index.h"
#include "kinwire/quality.h"

#include <errno.h>

#define SMALL 5000 /* entries; the stock of so small a ledger is summed up from its tables in a moment */

/* --- failed tests ------------------------------------------------------------------------------------- */

struct failed {
        int64_t lot, at;
        const char *code;
};

/* A failed test asks for something to be done as long as its lot is there and not barred, and no retests made it good.
 */
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
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT t.lot, t.at, t.code FROM test t LEFT JOIN spec s ON s.id = t.spec WHERE t.verdict = 'fail'"
                " AND NOT ifnull((WITH RECURSIVE again (id, passed) AS"
                " (SELECT id, verdict IS 'pass' FROM test WHERE retest_of = t.id"
                " UNION SELECT r.id, r.verdict IS 'pass' FROM again a JOIN test r ON r.retest_of = a.id)"
                " SELECT count(*) >= ifnull(s.retests, ?1) AND min(passed) FROM again), 0)"
                " ORDER BY t.at DESC, t.code",
                "i", (int64_t)KW_RETESTS);

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

/* From the index that is held. Return: -ENOENT when the tables are to be asked. */
static int stock_of_index(struct kw_reader *r, struct kw_list *list)
{
        struct kw_index_stock sums[KW_INDEX_KINDS];
        int rc = r->index ? kw_index_stock(r->index, r->ledger, sums) : -ENOENT;

        for (size_t i = 0; rc == 0 && i < KW_INDEX_KINDS; i++) {
                struct kw_stock_row *row;

                if (!sums[i].lots)
                        continue;
                row = kw_list_more(&r->arena, list, sizeof(*row));
                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_stock_row){.kind = sums[i].kind,
                                                     .lots = sums[i].lots,
                                                     .left_mm = sums[i].left_mm,
                                                     .left_g = sums[i].lots == sums[i].weighed ? sums[i].left_g
                                                                                               : KW_NONE};
        }
        return rc;
}

static int stock_of_tables(struct kw_reader *r, struct kw_list *list)
{
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
                struct kw_stock_row *row = kw_list_more(&r->arena, list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_stock_row){.kind = kw_keep_text(r, &q, 0, &failed),
                                                     .lots = kw_int(&q, 1),
                                                     .left_mm = kw_int(&q, 2),
                                                     .left_g = kw_int(&q, 3) ? kw_int(&q, 4) : KW_NONE};
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

/* There is an index for this ledger, but it is not held: it will be, and whoever asks need not wait for the tables. */
static int may_wait(struct kw_reader *r)
{
        int64_t size;
        int rc = r->ledger->index && !r->index ? kw_ledger_size(r->ledger, &size) : -ENOENT;

        return rc ? rc : size > SMALL ? -EAGAIN : -ENOENT;
}

int kw_read_stock(struct kw_reader *r, const struct kw_stock_row **out, size_t *n)
{
        struct kw_list list = {0};
        int rc = stock_of_index(r, &list);

        if (rc == -ENOENT)
                rc = may_wait(r);
        if (rc == -ENOENT)
                rc = stock_of_tables(r, &list);
        *out = list.at;
        *n = list.n;
        return rc;
}
