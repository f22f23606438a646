/*
 * What needs attention now.
 */
#include "put.h"

#include "ledger/read/holds.h"

#include "kinwire/index.h"
#include "kinwire/process.h"

#include <errno.h>
#include <string.h>

#define FINDINGS_NEWEST 20
#define ENTRIES_NEWEST  10
#define HOLDS_NEWEST    200

/* --- what needs attention ------------------------------------------------------------------------------- */

static int put_open_holds(struct kw_reader *r, struct kw_buf *out)
{
        const struct kw_hold_whole_row *holds;
        size_t n;
        int64_t next;
        int rc = kw_read_holds(r, KW_HOLD_OPEN, 0, HOLDS_NEWEST, &holds, &n, &next);

        kw_put_array(out, "holds");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                int64_t lots = 0, left_mm = 0;

                for (size_t k = 0; k < holds[i].n_lots; k++) {
                        lots += holds[i].lots[k].open.n > 0;
                        left_mm += holds[i].lots[k].left_mm;
                }
                kw_put_object(out, NULL);
                kw_put_string(out, "hold", holds[i].code);
                kw_put_string(out, "reason", holds[i].reason);
                kw_put_time(out, "at", holds[i].at);
                kw_put_int(out, "lots", lots);
                kw_put_int(out, "left_mm", left_mm);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_failed(struct kw_reader *r, struct kw_buf *out)
{
        const struct kw_failed_row *failed;
        size_t n;
        int rc = kw_read_failed(r, &failed, &n);

        kw_put_array(out, "failed_tests");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "test", failed[i].test);
                kw_put_string(out, "lot", failed[i].lot);
                kw_put_time(out, "at", failed[i].at);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_newest_findings(struct kw_reader *r, struct kw_buf *out)
{
        const struct kw_finding_row *findings;
        size_t n;
        int rc = kw_read_findings(r, FINDINGS_NEWEST, &findings, &n);

        if (rc == 0)
                kw_put_findings(out, findings, n, true);
        return rc;
}

static void put_stock_of(const struct kw_stock_row *stock, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "kind", stock->kind);
        kw_put_int(out, "lots", stock->lots);
        kw_put_int(out, "left_mm", stock->left_mm);
        kw_put_number(out, "left_g", stock->left_g);
        kw_put_object_end(out);
}

struct stock {
        bool known; /* else the index that sums it up is being made, and it can be asked for again */
        const struct kw_stock_row *rows;
        size_t n;
};

/* In the order in which metal goes through the mill. */
static void put_stock(const struct stock *stock, struct kw_buf *out)
{
        if (!stock->known) {
                kw_put_null(out, "stock");
                return;
        }
        kw_put_array(out, "stock");
        for (const struct kw_lot_kind *kind = kw_lot_kinds; kind->name; kind++) {
                for (size_t i = 0; i < stock->n; i++) {
                        if (strcmp(stock->rows[i].kind, kind->name) == 0)
                                put_stock_of(&stock->rows[i], out);
                }
        }
        kw_put_array_end(out);
}

/* Asked for first, while the index is held, so that the writer need not wait for the rest. */
static int read_stock(struct kw_reader *r, struct kw_ledger *ledger, struct stock *stock)
{
        struct kw_index *index = kw_ledger_hold_index(ledger);
        int rc;

        kw_reader_hold(r, index);
        rc = kw_read_stock(r, &stock->rows, &stock->n);
        kw_reader_hold(r, NULL);
        if (index)
                kw_index_give(index);
        stock->known = rc == 0;
        return rc == -EAGAIN ? 0 : rc;
}

static int put_last(struct kw_reader *r, struct kw_buf *out)
{
        const struct kw_entries_wanted wanted = {.limit = ENTRIES_NEWEST};
        const struct kw_entry_row *entries;
        size_t n;
        int64_t next;
        int rc = kw_read_entries(r, &wanted, &entries, &n, &next);

        kw_put_array(out, "last");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                const char *about;

                rc = kw_entry_about(r, &entries[i], &about);
                if (rc)
                        break;
                kw_put_object(out, NULL);
                kw_put_int(out, "seq", entries[i].seq);
                kw_put_string(out, "kind", entries[i].kind);
                kw_put_string(out, "at", entries[i].at);
                kw_put_string(out, "by", entries[i].by);
                kw_put_string(out, "what", about);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

int kw_answer_attention(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        struct stock stock = {0};
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = read_stock(r, ledger, &stock);
        kw_put_object(out, NULL);
        if (rc == 0)
                rc = put_open_holds(r, out);
        if (rc == 0)
                rc = put_failed(r, out);
        if (rc == 0)
                rc = put_newest_findings(r, out);
        if (rc == 0)
                put_stock(&stock, out);
        if (rc == 0)
                rc = put_last(r, out);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}
