/*
 * What must not be used: lengths under an open hold, and lengths whose release allows less than was asked for.
 */
#include "work.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- open holds -------------------------------------------------------------------------------- */

static int open_spans(struct kw_spans *held, struct kw_spans *freed, struct kw_spans *open)
{
        kw_spans_unite(held);
        kw_spans_unite(freed);
        kw_spans_clear(open);
        return kw_spans_minus(held, freed, open);
}

int kw_each_open_hold(struct kw_ledger *l, int64_t lot, int (*fn)(void *ctx, int64_t hold, const struct kw_spans *open),
                      void *ctx)
{
        struct kw_spans held = {0}, freed = {0}, open = {0};
        struct kw_query q;
        int64_t hold = 0;
        int rc = kw_ask(l, &q,
                        "SELECT hold, from_mm, to_mm, 0 FROM hold_span WHERE lot = ?1 UNION ALL"
                        " SELECT hold, from_mm, to_mm, 1 FROM release_span WHERE lot = ?1 ORDER BY 1",
                        "i", lot);
        int more = 1;

        /* one hold's rows after the other; the last is closed by the end of the rows */
        while (rc == 0 && more) {
                more = kw_next(l, &q);
                if (more < 0) {
                        rc = more;
                        break;
                }
                if (hold && (!more || kw_int(&q, 0) != hold)) {
                        rc = open_spans(&held, &freed, &open);
                        if (rc == 0 && open.n)
                                rc = fn(ctx, hold, &open);
                        kw_spans_clear(&held);
                        kw_spans_clear(&freed);
                }
                if (rc == 0 && more) {
                        hold = kw_int(&q, 0);
                        rc = kw_spans_add(kw_int(&q, 3) ? &freed : &held, kw_int(&q, 1), kw_int(&q, 2));
                }
        }
        kw_end(&q);
        kw_spans_free(&held);
        kw_spans_free(&freed);
        kw_spans_free(&open);
        return rc;
}

struct barred {
        struct kw_work *w;
        const struct kw_lot_here *lot;
        const struct kw_spans *wanted;
        const struct kw_wish *wish;
        const char *pointer;
};

static const char *const verbs[] = {[KW_TO_FEED] = "fed", [KW_TO_SEND] = "sent", [KW_TO_CERTIFY] = "certified"};

static int refuse_barred(void *ctx, int64_t hold, const struct kw_spans *open)
{
        struct barred *b = ctx;
        struct kw_spans both = {0};
        struct kw_query q;
        int rc = kw_spans_both(open, b->wanted, &both);

        if (rc == 0 && both.n) {
                rc = kw_ask(b->w->l, &q, "SELECT code, reason FROM hold WHERE id = ?1", "i", hold);
                if (rc == 0)
                        rc = kw_next(b->w->l, &q);
                if (rc == 1)
                        rc = kw_refuse_with(
                                b->w->err, KW_ON_HOLD, b->pointer, verbs[b->wish->purpose],
                                KW_VALUES(KW_WORD("lot", b->lot->code), KW_WORD("hold", kw_text(&q, 0)),
                                          KW_FIGURE("from_mm", both.at[0].from), KW_FIGURE("to_mm", both.at[0].to),
                                          KW_WORD("reason", kw_text(&q, 1))),
                                "%s is on hold %s from %" PRId64 " to %" PRId64 " mm and can't be %s: %.200s",
                                b->lot->code, kw_text(&q, 0), both.at[0].from, both.at[0].to, verbs[b->wish->purpose],
                                kw_text(&q, 1));
                kw_end(&q);
        }
        kw_spans_free(&both);
        return rc;
}

/* @wanted less what the entry's earlier body had taken of the lot. */
static int less_exempt(const struct kw_work *w, int64_t lot, const struct kw_spans *wanted, struct kw_spans *out)
{
        struct kw_spans exempt = {0};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < w->n_exempt; i++)
                if (w->exempt[i].lot == lot)
                        rc = kw_spans_add(&exempt, w->exempt[i].from, w->exempt[i].to);
        kw_spans_unite(&exempt);
        if (rc == 0)
                rc = kw_spans_minus(wanted, &exempt, out);
        kw_spans_free(&exempt);
        return rc;
}

/* --- what a release allows ----------------------------------------------------------------------- */

/* A row: where, the disposition, the processes stated, the hold's code, the reason. */
static int refuse_disposed(struct barred *b, struct kw_query *q)
{
        const struct kw_disposition *d = kw_disposition(kw_text(q, 2));
        const char *stated = kw_text(q, 3);
        struct kw_span where = {kw_int(q, 0), kw_int(q, 1)};
        const struct kw_spans row = {.at = &where, .n = 1};
        struct kw_spans both = {0};
        int rc;

        if (!d || kw_disposition_may(d, b->wish->purpose, b->wish->process, stated))
                return 0;
        rc = kw_spans_both(&row, b->wanted, &both);
        if (rc == 0 && both.n)
                rc = kw_refuse_with(b->w->err, KW_TO_REWORK, b->pointer, verbs[b->wish->purpose],
                                    KW_VALUES(KW_WORD("lot", b->lot->code), KW_WORD("hold", kw_text(q, 4)),
                                              KW_FIGURE("from_mm", both.at[0].from), KW_FIGURE("to_mm", both.at[0].to),
                                              KW_WORD("into", stated ? stated : ""),
                                              KW_WORD("process", b->wish->process ? b->wish->process : ""),
                                              KW_WORD("reason", kw_text(q, 5))),
                                    "%s is to be worked again from %" PRId64 " to %" PRId64 " mm (hold %s: %s%s), and "
                                    "can't be %s%s%s before: %.200s",
                                    b->lot->code, both.at[0].from, both.at[0].to, kw_text(q, 4),
                                    stated ? "only by " : "not by cutting", stated ? stated : "",
                                    verbs[b->wish->purpose], b->wish->process ? " into " : "",
                                    b->wish->process ? b->wish->process : "", kw_text(q, 5));
        kw_spans_free(&both);
        return rc;
}

/* Of scrapped metal nothing is left to use: only what has to be worked again is asked for. */
static int check_disposed(struct barred *b)
{
        struct kw_query q;
        int rc = kw_ask(b->w->l, &q,
                        "SELECT s.from_mm, s.to_mm, r.disposition, r.works, h.code, r.reason FROM release_span s"
                        " JOIN release r ON r.seq = s.seq AND r.disposition = 'rework' JOIN hold h ON h.id = s.hold"
                        " WHERE s.lot = ?1 ORDER BY s.seq, s.from_mm",
                        "i", b->lot->id);

        while (rc == 0 && (rc = kw_next(b->w->l, &q)) == 1)
                rc = refuse_disposed(b, &q);
        kw_end(&q);
        return rc;
}

int kw_check_wish(struct kw_work *w, const struct kw_lot_here *lot, const struct kw_spans *wanted,
                  const struct kw_wish *wish, const char *pointer)
{
        struct kw_spans judged = {0};
        struct barred b = {w, lot, &judged, wish, pointer};
        int64_t held;
        int rc;

        if (!w->judge)
                return 0;
        /* few lots were ever held, and everything that is fed, cut or sent is asked about */
        rc = kw_one(w->l, &held, 0, "SELECT 1 FROM hold_span WHERE lot = ?1", "i", lot->id);
        if (rc || !held)
                return rc;
        rc = less_exempt(w, lot->id, wanted, &judged);
        if (rc == 0)
                rc = kw_each_open_hold(w->l, lot->id, refuse_barred, &b);
        if (rc == 0)
                rc = check_disposed(&b);
        kw_spans_free(&judged);
        return rc;
}

/* --- another grade --------------------------------------------------------------------------------- */

int kw_grade_here(struct kw_work *w, int64_t lot, const struct kw_span *part, char grade[KW_GRADE])
{
        struct kw_query q;
        int rc = kw_ask(w->l, &q,
                        "SELECT coalesce((SELECT r.grade FROM release_span s JOIN release r ON r.seq = s.seq"
                        " WHERE s.lot = ?1 AND r.grade IS NOT NULL AND s.seq < ?2 AND s.from_mm < ?4 AND s.to_mm > ?3"
                        " ORDER BY s.seq DESC LIMIT 1), grade) FROM lot WHERE id = ?1",
                        "iiii", lot, w->seq, part ? part->from : 0, part ? part->to : INT64_MAX);

        if (rc == 0)
                rc = kw_next(w->l, &q);
        snprintf(grade, KW_GRADE, "%s", rc == 1 && kw_text(&q, 0) ? kw_text(&q, 0) : "");
        kw_end(&q);
        return rc < 0 ? rc : 0;
}
