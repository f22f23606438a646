/*
 * Holds: lengths that must not be used, and their release.
 */
#include "agreed.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static int bar(struct kw_work *w, int64_t hold, int64_t lot, const struct kw_span *span, int64_t run)
{
        return kw_do(w->l,
                     "INSERT INTO hold_span (hold, lot, from_mm, to_mm, run, seq) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                     "iiiiii", hold, lot, span->from, span->to, run, w->seq);
}

/*
 * A run that was put right while this hold was open, to have taken held metal, says so itself: its packages are on the
 * hold, though its place in the ledger is before it.
 */
static int bar_overridden(struct kw_work *w, int64_t hold, const char *code, int64_t lot, const struct kw_span *span)
{
        return kw_do(w->l,
                     "INSERT INTO hold_span (hold, lot, from_mm, to_mm, run, seq)"
                     " SELECT DISTINCT ?1, package.lot, 0, package.s1 - package.s0, o.run, ?2 FROM overridden o"
                     " JOIN feed ON feed.run = o.run JOIN package ON package.run = o.run"
                     " WHERE o.hold = ?6 AND feed.lot = ?3 AND feed.from_mm < ?5 AND feed.to_mm > ?4"
                     " AND package.lot <> 0 AND NOT EXISTS"
                     " (SELECT 1 FROM hold_span h WHERE h.hold = ?1 AND h.lot = package.lot AND h.run = o.run)",
                     "iiiiit", hold, w->seq, lot, span->from, span->to, code);
}

static int hold_item(struct kw_work *w, int64_t hold, const char *code, const cJSON *item, size_t i)
{
        char pointer[KW_ITEM_POINTER], at[KW_ITEM_POINTER + 8];
        struct kw_lot_here lot;
        struct kw_span span;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i);
        snprintf(at, sizeof(at), "%s/lot", pointer);
        rc = kw_need_lot(w, kw_json_text(item, "lot"), at, &lot);
        if (rc == 0)
                rc = kw_item_span(w, item, pointer, &lot, &span, NULL);
        if (rc == 0)
                rc = bar(w, hold, lot.id, &span, 0);
        return rc ? rc : bar_overridden(w, hold, code, lot.id, &span);
}

/* The question is about something there is; a machine or an instrument is there by its name. */
static int check_origin(struct kw_work *w, const char *origin)
{
        const char *colon = strchr(origin, ':');
        char type[16];
        int64_t id;

        snprintf(type, sizeof(type), "%.*s", (int)(colon - origin), origin);
        if (strcmp(type, "machine") == 0 || strcmp(type, "instrument") == 0)
                return 0;
        return kw_need(w, type, colon + 1, "/body/trace/origin", &id);
}

/* That the ledger had that root at that size is what makes the answer one that can be had again. */
static int check_trace(struct kw_work *w, const cJSON *trace)
{
        int64_t size = kw_json_int(trace, "size", 0), now;
        struct kw_hash root;
        char hex[KW_HASH_HEX];
        int rc = check_origin(w, kw_json_text(trace, "origin"));

        if (rc == 0)
                rc = kw_ledger_size(w->l, &now);
        if (rc == 0 && size > now)
                rc = kw_refuse_with(w->err, KW_OUT_OF_RANGE, "/body/trace/size", "ledger-size",
                                    KW_VALUES(KW_FIGURE("entries", now), KW_FIGURE("size", size)),
                                    "the ledger has %" PRId64 " entries; it was not of size %" PRId64 " yet", now,
                                    size);
        if (rc == 0)
                rc = kw_ledger_root(w->l, size, &root, w->err);
        if (rc)
                return rc;
        kw_hash_hex(&root, hex);
        if (strcmp(hex, kw_json_text(trace, "root")) == 0)
                return 0;
        return kw_refuse_with(w->err, KW_BAD_VALUE, "/body/trace/root", "other-root",
                              KW_VALUES(KW_FIGURE("size", size)),
                              "at size %" PRId64 " the ledger had the root %s, not this one", size, hex);
}

static int insert_hold(struct kw_work *w, int64_t id, const char *code)
{
        const cJSON *trace = kw_json_get(w->body, "trace");
        struct kw_buf text = {0};
        int rc = trace && w->judge ? check_trace(w, trace) : 0;

        if (rc)
                return rc;
        if (trace)
                kw_json_canonical(trace, &text);
        rc = text.failed ? -ENOMEM
                         : kw_do(w->l,
                                 "INSERT INTO hold (id, seq, code, reason, at, decides, question, trace)"
                                 " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                                 "iittittt", id, w->seq, code, kw_json_text(w->body, "reason"), w->at,
                                 kw_json_text(w->body, "decides"), kw_json_text(w->body, "question"),
                                 trace ? kw_buf_text(&text) : NULL);
        kw_buf_free(&text);
        return rc;
}

int kw_apply_hold(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS;
        const char *code = kw_json_text(w->body, "hold");
        const cJSON *item;
        size_t i = 0;
        int rc = kw_define(w, "hold", code, "/body/hold", id);

        if (rc == 0)
                rc = insert_hold(w, id, code);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "lots"))
        {
                if (rc == 0)
                        rc = hold_item(w, id, code, item, i++);
        }
        return rc;
}

/* --- release ---------------------------------------------------------------------------------- */

struct freeing {
        struct kw_work *w;
        int64_t hold, lot;
        const char *code, *disposition;
        const struct kw_span *part; /* NULL: all of it */
        int64_t freed_mm;
        char failed[KW_CODE_MAX + 1]; /* a test that failed on what was freed */
};

/* Condemned metal is taken as scrap, as far as it is still there. */
static int condemn(struct freeing *f, const struct kw_spans *freed)
{
        struct kw_spans left = {0}, gone = {0};
        struct kw_lot_here lot;
        struct kw_stock stock = {0};
        int rc = kw_lot_by_id(f->w->l, f->lot, &lot);

        if (rc == 0)
                rc = kw_stock_load(f->w->l, &lot, &stock);
        if (rc == 0)
                rc = kw_stock_left(&stock, &left);
        if (rc == 0)
                rc = kw_spans_both(&left, freed, &gone);
        if (rc == 0)
                rc = kw_take_rows(f->w, f->lot, &gone, "scrap", f->code);
        kw_spans_free(&left);
        kw_spans_free(&gone);
        kw_stock_free(&stock);
        return rc;
}

/*
 * What of the lot the release can free: all that its hold barred before it. A run that was put right after the release
 * brought its packages under the hold after it.
 */
static int barred_before(struct freeing *f, struct kw_spans *open)
{
        struct kw_spans held = {0}, freed = {0};
        struct kw_query q;
        int rc = kw_ask(f->w->l, &q,
                        "SELECT from_mm, to_mm, 0 FROM hold_span WHERE hold = ?1 AND lot = ?2 AND ?3 >"
                        " ifnull((SELECT body_seq FROM standing WHERE standing.seq = hold_span.run / 4096), "
                        "hold_span.run / 4096)"
                        " UNION ALL SELECT from_mm, to_mm, 1 FROM release_span WHERE hold = ?1 AND lot = ?2",
                        "iii", f->hold, f->lot, f->w->seq);

        while (rc == 0 && (rc = kw_next(f->w->l, &q)) == 1)
                rc = kw_spans_add(kw_int(&q, 2) ? &freed : &held, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        kw_spans_unite(&held);
        kw_spans_unite(&freed);
        if (rc == 0)
                rc = kw_spans_minus(&held, &freed, open);
        kw_spans_free(&held);
        kw_spans_free(&freed);
        return rc;
}

/* The first test that failed on the lot before the release. */
static int find_failed(struct freeing *f)
{
        struct kw_query q;
        int rc;

        if (f->failed[0])
                return 0;
        rc = kw_ask(f->w->l, &q,
                    "SELECT code FROM test WHERE lot = ?1 AND verdict = 'fail' AND seq < ?2 ORDER BY seq LIMIT 1", "ii",
                    f->lot, f->w->seq);
        if (rc == 0)
                rc = kw_next(f->w->l, &q);
        if (rc == 1)
                snprintf(f->failed, sizeof(f->failed), "%s", kw_text(&q, 0));
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

static int free_lot(struct freeing *f)
{
        struct kw_spans open = {0}, freed = {0};
        int rc = barred_before(f, &open);

        if (rc == 0 && f->part)
                rc = kw_spans_clip(&open, f->part->from, f->part->to, 0, &freed);
        else if (rc == 0)
                rc = kw_spans_merge(&freed, &open);
        for (size_t i = 0; rc == 0 && i < freed.n; i++)
                rc = kw_do(f->w->l,
                           "INSERT INTO release_span (hold, lot, from_mm, to_mm, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                           "iiiii", f->hold, f->lot, freed.at[i].from, freed.at[i].to, f->w->seq);
        if (rc == 0 && strcmp(f->disposition, "scrap") == 0)
                rc = condemn(f, &freed);
        if (rc == 0 && freed.n)
                rc = find_failed(f);
        f->freed_mm += kw_spans_total(&freed);
        kw_spans_free(&freed);
        kw_spans_free(&open);
        return rc;
}

static int release_item(struct freeing *f, const cJSON *item, size_t i)
{
        char pointer[KW_ITEM_POINTER], at[KW_ITEM_POINTER + 8];
        struct kw_lot_here lot;
        struct kw_span span;
        int64_t before = f->freed_mm;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i);
        snprintf(at, sizeof(at), "%s/lot", pointer);
        rc = kw_need_lot(f->w, kw_json_text(item, "lot"), at, &lot);
        if (rc == 0)
                rc = kw_item_span(f->w, item, pointer, &lot, &span, NULL);
        if (rc)
                return rc;
        f->lot = lot.id;
        f->part = &span;
        rc = free_lot(f);
        f->part = NULL;
        if (rc == 0 && f->freed_mm == before)
                rc = kw_refuse_with(f->w->err, KW_NOT_OPEN, at, "not-barred",
                                    KW_VALUES(KW_WORD("hold", f->code), KW_WORD("lot", lot.code),
                                              KW_FIGURE("from_mm", span.from), KW_FIGURE("to_mm", span.to)),
                                    "hold %s does not bar %s from %" PRId64 " to %" PRId64 " mm", f->code, lot.code,
                                    span.from, span.to);
        return rc;
}

static int collect_lots(struct kw_work *w, int64_t hold, struct kw_spans *lots)
{
        struct kw_query q;
        int rc = kw_ask(w->l, &q, "SELECT DISTINCT lot FROM hold_span WHERE hold = ?1 ORDER BY lot", "i", hold);

        while (rc == 0 && (rc = kw_next(w->l, &q)) == 1)
                rc = kw_spans_add(lots, kw_int(&q, 0), kw_int(&q, 0));
        kw_end(&q);
        return rc;
}

/* The lots are collected first: what is freed must not disturb the rows that are being read. */
static int release_all(struct freeing *f)
{
        struct kw_spans lots = {0};
        int rc = collect_lots(f->w, f->hold, &lots);

        for (size_t i = 0; rc == 0 && i < lots.n; i++) {
                f->lot = lots.at[i].from;
                rc = free_lot(f);
        }
        kw_spans_free(&lots);
        if (rc == 0 && !f->freed_mm)
                rc = kw_refuse_with(f->w->err, KW_NOT_OPEN, "/body/hold", "hold", KW_VALUES(KW_WORD("hold", f->code)),
                                    "hold %s is not open any more", f->code);
        return rc;
}

static int insert_release(struct freeing *f)
{
        struct kw_work *w = f->w;
        char room[KW_WORKS];
        int64_t agreed;

        return kw_do(w->l,
                     "INSERT INTO release (seq, hold, disposition, reason, at, grade, works, agreed)"
                     " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                     "iittittI", w->seq, f->hold, f->disposition, kw_json_text(w->body, "reason"), w->at,
                     kw_json_text(w->body, "grade"), kw_works(w->body, room), kw_maybe(w->body, "agreed", &agreed));
}

int kw_apply_release(struct kw_work *w)
{
        struct freeing f = {
                .w = w, .code = kw_json_text(w->body, "hold"), .disposition = kw_json_text(w->body, "disposition")};
        const cJSON *lots = kw_json_get(w->body, "lots"), *item;
        size_t i = 0;
        int rc = kw_need(w, "hold", f.code, "/body/hold", &f.hold);

        if (rc == 0)
                rc = insert_release(&f);
        if (rc == 0 && !lots)
                rc = release_all(&f);
        cJSON_ArrayForEach(item, lots)
        {
                if (rc == 0)
                        rc = release_item(&f, item, i++);
        }
        return rc ? rc : kw_check_agreed(w, f.hold, f.failed[0] ? f.failed : NULL);
}
