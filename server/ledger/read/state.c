/*
 * What has become of a lot: what was taken of it, what is left, and where it is.
 *
 * Left is the lot's length minus every claim on it: feeds of runs, samples, scrap, dispatch. No two claims overlap, the
 * append sees to that.
 */
#include "reader.h"

#include "kinwire/index.h"

#include <errno.h>
#include <string.h>

const char *kw_lot_is_text(enum kw_lot_is is)
{
        static const char *const text[] = {
                [KW_LOT_IN_STOCK] = "in-stock",     [KW_LOT_CONSUMED] = "consumed", [KW_LOT_SCRAPPED] = "scrapped",
                [KW_LOT_DISPATCHED] = "dispatched", [KW_LOT_ON_HOLD] = "on-hold",
        };

        return text[is];
}

/* --- what is left ------------------------------------------------------------------------------- */

struct taken {
        struct kw_spans spans;
        bool scrap;
};

static int read_taken(struct kw_reader *r, int64_t lot, struct taken *taken)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT from_mm, to_mm, what = 'scrap' FROM taken WHERE lot = ?1", "i", lot);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                taken->scrap = taken->scrap || kw_int(&q, 2);
                rc = kw_spans_add(&taken->spans, kw_int(&q, 0), kw_int(&q, 1));
        }
        kw_end(&q);
        return rc;
}

/* @claimed is put in order. */
static int whole_minus(const struct kw_lot_row *lot, struct kw_spans *claimed, struct kw_spans *left)
{
        struct kw_span all = {0, lot->length_mm};
        const struct kw_spans whole = {.at = &all, .n = lot->length_mm > 0 ? 1 : 0};

        kw_spans_unite(claimed);
        return kw_spans_minus(&whole, claimed, left);
}

/* @some_taken: false where it is known that nothing but runs took of it */
static int read_left(struct kw_reader *r, const struct kw_lot_row *lot, bool some_taken, struct kw_spans *left,
                     bool *fed, bool *scrapped)
{
        struct taken taken = {0};
        const struct kw_use *uses;
        size_t n;
        int rc = kw_read_uses(r, lot->id, &uses, &n);

        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = kw_spans_add(&taken.spans, uses[i].from, uses[i].to);
        if (rc == 0 && some_taken)
                rc = read_taken(r, lot->id, &taken);
        if (rc == 0)
                rc = whole_minus(lot, &taken.spans, left);
        *fed = rc == 0 && n > 0;
        *scrapped = taken.scrap;
        kw_spans_free(&taken.spans);
        return rc;
}

int kw_read_left(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_spans *out)
{
        bool fed, scrapped;

        return read_left(r, lot, true, out, &fed, &scrapped);
}

int kw_read_left_before(struct kw_reader *r, const struct kw_lot_row *lot, int64_t at, int64_t seq,
                        struct kw_spans *out)
{
        struct kw_spans claimed = {0};
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT f.from_mm, f.to_mm, coalesce(r.started, r.at) AS time, r.seq AS number"
                "  FROM feed f JOIN run r ON r.id = f.run"
                "  WHERE f.lot = ?1 AND (time < ?2 OR (time = ?2 AND number < ?3))"
                " UNION ALL"
                " SELECT from_mm, to_mm, at, seq FROM taken WHERE lot = ?1 AND (at < ?2 OR (at = ?2 AND seq < ?3))",
                "iii", lot->id, at, seq);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1)
                rc = kw_spans_add(&claimed, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        if (rc == 0)
                rc = whole_minus(lot, &claimed, out);
        kw_spans_free(&claimed);
        return rc;
}

/* --- holds -------------------------------------------------------------------------------------- */

static int add_span(struct kw_spans *to, struct kw_query *q, int column)
{
        return kw_spans_add(to, kw_int(q, column), kw_int(q, column + 1));
}

static int keep_spans(struct kw_reader *r, struct kw_spans *s)
{
        struct kw_spans kept;
        int rc = kw_arena_spans(&r->arena, s, &kept);

        kw_spans_free(s);
        *s = kept;
        return rc;
}

/* What each release freed of this lot. Rows come by release, then by span. */
static int read_freed(struct kw_reader *r, int64_t lot, struct kw_hold_row *hold, struct kw_spans *freed)
{
        struct kw_list list = {0};
        struct kw_freed_row *row = NULL;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT s.from_mm, s.to_mm, e.seq, e.at, e.disposition, e.reason, e.grade, e.works"
                        " FROM release_span s JOIN release e ON e.seq = s.seq"
                        " WHERE s.lot = ?1 AND s.hold = ?2 ORDER BY e.seq, s.from_mm",
                        "ii", lot, hold->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                if (!row || row->seq != kw_int(&q, 2)) {
                        rc = row ? keep_spans(r, &row->spans) : 0;
                        row = kw_list_more(&r->arena, &list, sizeof(*row));
                        if (!row || rc) {
                                rc = -ENOMEM;
                                break;
                        }
                        row->seq = kw_int(&q, 2);
                        row->at = kw_int(&q, 3);
                        row->disposition = kw_keep_text(r, &q, 4, &failed);
                        row->reason = kw_keep_text(r, &q, 5, &failed);
                        row->grade = kw_keep_text(r, &q, 6, &failed);
                        row->works = kw_keep_text(r, &q, 7, &failed);
                }
                rc = add_span(&row->spans, &q, 0) || add_span(freed, &q, 0) ? -ENOMEM : 0;
        }
        kw_end(&q);
        if (row && keep_spans(r, &row->spans))
                rc = -ENOMEM;
        hold->freed = list.at;
        hold->n_freed = list.n;
        return failed ? -ENOMEM : rc;
}

static int finish_hold(struct kw_reader *r, int64_t lot, struct kw_hold_row *hold)
{
        struct kw_spans freed = {0}, open = {0};
        int rc = read_freed(r, lot, hold, &freed);

        if (rc == 0) {
                kw_spans_unite(&hold->spans);
                kw_spans_unite(&freed);
                rc = kw_spans_minus(&hold->spans, &freed, &open);
        }
        if (rc == 0)
                rc = kw_arena_spans(&r->arena, &open, &hold->open);
        kw_spans_free(&freed);
        kw_spans_free(&open);
        if (keep_spans(r, &hold->spans) && rc == 0)
                rc = -ENOMEM;
        return rc;
}

int kw_read_holds_on(struct kw_reader *r, int64_t lot, const struct kw_hold_row **out, size_t *n)
{
        struct kw_list list = {0};
        struct kw_hold_row *hold = NULL;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT s.from_mm, s.to_mm, h.id, h.at, h.code, h.reason FROM hold_span s JOIN hold h ON h.id = s.hold"
                " WHERE s.lot = ?1 ORDER BY h.code, s.from_mm",
                "i", lot);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                if (!hold || hold->id != kw_int(&q, 2)) {
                        hold = kw_list_more(&r->arena, &list, sizeof(*hold));
                        if (!hold) {
                                rc = -ENOMEM;
                                break;
                        }
                        hold->id = kw_int(&q, 2);
                        hold->at = kw_int(&q, 3);
                        hold->code = kw_keep_text(r, &q, 4, &failed);
                        hold->reason = kw_keep_text(r, &q, 5, &failed);
                }
                rc = add_span(&hold->spans, &q, 0);
        }
        kw_end(&q);
        hold = list.at;
        for (size_t i = 0; i < list.n; i++) {
                int one = finish_hold(r, lot, &hold[i]);

                rc = rc ? rc : one;
        }
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- the state that every row says ---------------------------------------------------------------- */

static int read_sending(struct kw_reader *r, int64_t lot, struct kw_lot_state *out)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT c.code, c.consignee, c.at FROM consignment_lot l JOIN consignment c ON c.id = l.consignment"
                " WHERE l.lot = ?1",
                "i", lot);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                out->consignment = kw_keep_text(r, &q, 0, &failed);
                out->consignee = kw_keep_text(r, &q, 1, &failed);
                out->dispatched = kw_int_or(&q, 2, KW_NONE);
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

/* What there is to be said of a lot: most have none of it, and an answer has thousands of lots. */
struct there_is {
        bool taken, sent, certified, held;
        bool fed, scrapped; /* something of it */
};

static int look_round(struct kw_reader *r, int64_t lot, struct kw_lot_state *out, struct there_is *there)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT (SELECT location FROM place WHERE lot = ?1 ORDER BY seq DESC LIMIT 1),"
                " EXISTS (SELECT 1 FROM taken WHERE lot = ?1), EXISTS (SELECT 1 FROM consignment_lot WHERE lot = ?1),"
                " EXISTS (SELECT 1 FROM certificate_reel WHERE lot = ?1), EXISTS (SELECT 1 FROM hold_span WHERE lot ="
                " ?1)",
                "i", lot);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                out->location = kw_keep_text(r, &q, 0, &failed);
                *there = (struct there_is){.taken = kw_int(&q, 1) != 0,
                                           .sent = kw_int(&q, 2) != 0,
                                           .certified = kw_int(&q, 3) != 0,
                                           .held = kw_int(&q, 4) != 0};
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

static int read_papers(struct kw_reader *r, int64_t lot, struct kw_lot_state *out)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT c.code FROM certificate_reel l JOIN certificate c ON c.id = l.certificate WHERE l.lot = ?1"
                " AND NOT EXISTS (SELECT 1 FROM withdrawal w WHERE w.certificate = c.id)"
                " AND NOT EXISTS (SELECT 1 FROM certificate n WHERE n.replaces = c.id) ORDER BY c.code",
                "i", lot);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                const char **code = kw_list_more(&r->arena, &list, sizeof(*code));

                rc = code ? 0 : -ENOMEM;
                if (code)
                        *code = kw_keep_text(r, &q, 0, &failed);
        }
        kw_end(&q);
        out->certificates = list.at;
        out->n_certificates = list.n;
        return failed ? -ENOMEM : rc;
}

/* The codes of holds that are open on the lot, and whether one of them meets what is left. */
static int read_bars(struct kw_reader *r, int64_t lot, const struct kw_spans *left, struct kw_lot_state *out,
                     bool *barred)
{
        const struct kw_hold_row *holds;
        struct kw_list list = {0};
        size_t n;
        int rc = kw_read_holds_on(r, lot, &holds, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const char **code;

                if (!holds[i].open.n)
                        continue;
                code = kw_list_more(&r->arena, &list, sizeof(*code));
                if (!code)
                        return -ENOMEM;
                *code = holds[i].code;
                for (size_t k = 0; k < holds[i].open.n && !*barred; k++)
                        *barred = kw_spans_meets(left, holds[i].open.at[k].from, holds[i].open.at[k].to);
        }
        out->holds = list.at;
        out->n_holds = list.n;
        return rc;
}

/* As the index has it. Return: 0; -ENOENT; -ENOMEM. */
static int said_state(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_lot_state *out,
                      struct there_is *there, struct kw_spans *left)
{
        struct kw_spans taken = {0};
        struct kw_index_state said;
        bool failed = false;
        int rc = -ENOENT;

        if (r->index)
                rc = kw_index_state(r->index, lot->id, kw_number_of_lot(r, lot->id), &said, &taken);
        if (rc == 0) {
                out->location = kw_keep_said(r, said.location, &failed);
                out->consignment = kw_keep_said(r, said.consignment, &failed);
                out->consignee = kw_keep_said(r, said.consignee, &failed);
                if (said.consignment)
                        out->dispatched = said.dispatched;
                *there = (struct there_is){
                        .certified = said.certified, .held = said.held, .fed = said.fed, .scrapped = said.scrapped};
                rc = whole_minus(lot, &taken, left);
        }
        kw_spans_free(&taken);
        return failed ? -ENOMEM : rc;
}

static int ask_state(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_lot_state *out,
                     struct there_is *there, struct kw_spans *left)
{
        int rc = look_round(r, lot->id, out, there);

        if (rc == 0)
                rc = read_left(r, lot, there->taken, left, &there->fed, &there->scrapped);
        if (rc == 0 && there->sent)
                rc = read_sending(r, lot->id, out);
        return rc;
}

int kw_read_state(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_lot_state *out)
{
        struct kw_spans left = {0};
        struct there_is there = {0};
        bool barred = false;
        int rc;

        *out = (struct kw_lot_state){.dispatched = KW_NONE};
        rc = said_state(r, lot, out, &there, &left);
        if (rc == -ENOENT)
                rc = ask_state(r, lot, out, &there, &left);
        if (rc == 0 && out->consignment)
                kw_spans_clear(&left);
        if (rc == 0 && there.certified)
                rc = read_papers(r, lot->id, out);
        if (rc == 0 && there.held)
                rc = read_bars(r, lot->id, &left, out, &barred);
        if (rc == 0)
                rc = kw_arena_spans(&r->arena, &left, &out->left);
        out->left_mm = kw_spans_total(&out->left);
        if (!out->left_mm)
                out->location = NULL;
        if (out->consignment)
                out->is = KW_LOT_DISPATCHED;
        else if (!left.n)
                out->is = there.scrapped && !there.fed ? KW_LOT_SCRAPPED : KW_LOT_CONSUMED;
        else
                out->is = barred ? KW_LOT_ON_HOLD : KW_LOT_IN_STOCK;
        kw_spans_free(&left);
        return rc;
}
