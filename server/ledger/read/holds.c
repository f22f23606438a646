/*
 * Holds as they stand: what is barred still, what was released as what, and who agreed.
 */
#include "holds.h"

#include "reader.h"

#include <errno.h>
#include <string.h>

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
        out->lot = lot;
        out->open_mm = kw_spans_total(&open);
        if (rc == 0)
                rc = kw_arena_spans(&r->arena, &open, &out->open);
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

/* --- releases and agreements -------------------------------------------------------------------------- */

/* Of a statement whose columns are those of a disposition, in the order of its row, and last the entry beside it. */
static int read_disposed(struct kw_reader *r, const char *sql, int64_t hold, struct kw_list *out)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, sql, "i", hold);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_disposed_row *row = kw_list_more(&r->arena, out, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_disposed_row){.seq = kw_int(&q, 0),
                                                        .at = kw_int(&q, 1),
                                                        .disposition = kw_keep_text(r, &q, 2, &failed),
                                                        .reason = kw_keep_text(r, &q, 3, &failed),
                                                        .by = kw_keep_text(r, &q, 4, &failed),
                                                        .grade = kw_keep_text(r, &q, 5, &failed),
                                                        .works = kw_keep_text(r, &q, 6, &failed),
                                                        .other = kw_int(&q, 7)};
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

static int read_releases(struct kw_reader *r, struct kw_hold_whole_row *hold)
{
        struct kw_list list = {0};
        int rc = read_disposed(r,
                               "SELECT l.seq, l.at, l.disposition, l.reason, e.by, l.grade, l.works, l.agreed"
                               " FROM release l JOIN entry e ON e.seq = l.seq WHERE l.hold = ?1 ORDER BY l.seq",
                               hold->id, &list);

        hold->releases = list.at;
        hold->n_releases = list.n;
        return rc;
}

static int read_parts(struct kw_reader *r, struct kw_disposed_row *agreement)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT l.code, s.from_mm, s.to_mm FROM agreement_span s JOIN lot l ON l.id = s.lot"
                        " WHERE s.seq = ?1 ORDER BY l.code, s.from_mm",
                        "i", agreement->seq);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_part_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_part_row){kw_keep_text(r, &q, 0, &failed), {kw_int(&q, 1), kw_int(&q, 2)}};
        }
        kw_end(&q);
        agreement->parts = list.at;
        agreement->n_parts = list.n;
        return failed ? -ENOMEM : rc;
}

static int read_agreements(struct kw_reader *r, struct kw_hold_whole_row *hold)
{
        struct kw_list list = {0};
        int rc = read_disposed(r,
                               "SELECT a.seq, a.at, a.disposition, a.reason, e.by, a.grade, a.works,"
                               " (SELECT min(seq) FROM release WHERE agreed = a.seq) FROM agreement a"
                               " JOIN entry e ON e.seq = a.seq WHERE a.hold = ?1 ORDER BY a.seq",
                               hold->id, &list);

        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = read_parts(r, (struct kw_disposed_row *)list.at + i);
        hold->agreements = list.at;
        hold->n_agreements = list.n;
        return rc;
}

static int read_failed(struct kw_reader *r, struct kw_hold_whole_row *hold)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT t.code FROM hold_span s JOIN test t ON t.lot = s.lot"
                        " WHERE s.hold = ?1 AND t.verdict = 'fail' ORDER BY t.seq LIMIT 1",
                        "i", hold->id);

        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                hold->failed = kw_keep_text(r, &q, 0, &failed);
                rc = 0;
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

/* --- a page of them ------------------------------------------------------------------------------------ */

#define HOLD                                                                                                         \
        "SELECT h.id, h.seq, h.at, h.code, h.reason, e.by, h.decides, h.question, h.trace FROM hold h JOIN entry e " \
        "ON "                                                                                                        \
        "e.seq = h.seq WHERE "

static int take_hold(struct kw_reader *r, struct kw_query *q, struct kw_hold_whole_row *row)
{
        bool failed = false;

        *row = (struct kw_hold_whole_row){.id = kw_int(q, 0),
                                          .seq = kw_int(q, 1),
                                          .at = kw_int(q, 2),
                                          .code = kw_keep_text(r, q, 3, &failed),
                                          .reason = kw_keep_text(r, q, 4, &failed),
                                          .by = kw_keep_text(r, q, 5, &failed),
                                          .decides = kw_keep_text(r, q, 6, &failed),
                                          .question = kw_keep_text(r, q, 7, &failed),
                                          .trace = kw_keep_text(r, q, 8, &failed)};
        return failed ? -ENOMEM : 0;
}

static int fill(struct kw_reader *r, struct kw_hold_whole_row *row)
{
        int rc = read_held(r, row);

        if (rc == 0)
                rc = read_releases(r, row);
        if (rc == 0)
                rc = read_agreements(r, row);
        return rc ? rc : read_failed(r, row);
}

/*
 * The next hold before @before that may be in such a state. What was released of a hold is never more than it bars, and
 * as much where nothing is barred any more, so that two sums tell most of those that are closed from the others.
 */
static int next_hold(struct kw_reader *r, enum kw_hold_state state, int64_t before, struct kw_hold_whole_row *row,
                     bool *found)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        HOLD "h.id < ?1 AND (?2 = 0 OR"
                             " (SELECT sum(to_mm - from_mm) FROM hold_span s WHERE s.hold = h.id) >"
                             " (SELECT ifnull(sum(to_mm - from_mm), 0) FROM release_span s WHERE s.hold = h.id))"
                             " ORDER BY h.id DESC LIMIT 1",
                        "ii", before, (int64_t)(state == KW_HOLD_OPEN));

        *found = false;
        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                *found = true;
                rc = take_hold(r, &q, row);
        }
        kw_end(&q);
        return rc;
}

int kw_read_holds(struct kw_reader *r, enum kw_hold_state state, int64_t before, size_t limit,
                  const struct kw_hold_whole_row **out, size_t *n, int64_t *next)
{
        int64_t at = before ? before * KW_HOLD_IDS : INT64_MAX;
        struct kw_list list = {0};
        bool found = true;
        int rc = 0;

        *next = 0;
        while (rc == 0 && found) {
                struct kw_hold_whole_row hold, *row;

                rc = next_hold(r, state, at, &hold, &found);
                if (rc || !found)
                        break;
                at = hold.id;
                rc = fill(r, &hold);
                if (rc || (state != KW_HOLD_ANY && hold.open != (state == KW_HOLD_OPEN)))
                        continue;
                if (list.n == limit) {
                        *next = ((const struct kw_hold_whole_row *)list.at)[limit - 1].seq;
                        break;
                }
                row = kw_list_more(&r->arena, &list, sizeof(*row));
                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = hold;
        }
        *out = list.at;
        *n = list.n;
        return rc;
}

int kw_read_hold(struct kw_reader *r, const char *code, const struct kw_hold_whole_row **out)
{
        struct kw_hold_whole_row *row = kw_arena_get(&r->arena, sizeof(*row));
        struct kw_query q;
        int64_t id;
        int rc = row ? kw_thing_id(r->ledger, "hold", code, &id) : -ENOMEM;

        *out = NULL;
        if (rc || !id)
                return rc;
        rc = kw_ask(r->ledger, &q, HOLD "h.id = ?1", "i", id);
        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1)
                rc = take_hold(r, &q, row);
        kw_end(&q);
        if (rc == 0)
                rc = fill(r, row);
        *out = row;
        return rc;
}
