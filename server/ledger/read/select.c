/*
 * Selecting entries for an export: those that concern a lot, a thing or a month, and what they need.
 */
#include "select.h"

#include "reader.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* --- the bits --------------------------------------------------------------------------------- */

int kw_selection_new(int64_t size, struct kw_selection *out)
{
        *out = (struct kw_selection){.size = size, .bits = calloc((size_t)size / 8 + 1, 1)};
        return out->bits ? 0 : -ENOMEM;
}

int kw_selection_copy(const struct kw_selection *s, struct kw_selection *out)
{
        int rc = kw_selection_new(s->size, out);

        if (rc)
                return rc;
        memcpy(out->bits, s->bits, (size_t)s->size / 8 + 1);
        out->n = s->n;
        return 0;
}

void kw_selection_free(struct kw_selection *s)
{
        free(s->bits);
        *s = (struct kw_selection){0};
}

bool kw_selected(const struct kw_selection *s, int64_t seq)
{
        return seq > 0 && seq <= s->size && (s->bits[seq / 8] >> (seq % 8) & 1);
}

void kw_select(struct kw_selection *s, int64_t seq)
{
        if (seq < 1 || seq > s->size || kw_selected(s, seq))
                return;
        s->bits[seq / 8] = (unsigned char)(s->bits[seq / 8] | 1 << (seq % 8));
        s->n++;
}

int64_t kw_selected_next(const struct kw_selection *s, int64_t seq)
{
        for (seq++; seq <= s->size; seq++) {
                if (seq % 8 == 0 && !s->bits[seq / 8])
                        seq += 7;
                else if (kw_selected(s, seq))
                        return seq;
        }
        return 0;
}

/* --- what concerns something -------------------------------------------------------------------- */

/* Select what a started statement gives. */
static int take(struct kw_reader *r, struct kw_query *q, int rc, struct kw_selection *s)
{
        while (rc == 0 && (rc = kw_next(r->ledger, q)) == 1) {
                kw_select(s, kw_int(q, 0));
                rc = 0;
        }
        kw_end(q);
        return rc;
}

int kw_select_times(struct kw_reader *r, const char *since, const char *until, struct kw_selection *s)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT seq FROM entry WHERE at >= ?1 AND at < ?2", "tt", since, until);

        return take(r, &q, rc, s);
}

int kw_select_thing(struct kw_reader *r, const char *type, const char *code, struct kw_selection *s)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT seq FROM thing WHERE type = ?1 AND code = ?2"
                        " UNION SELECT seq FROM note WHERE type = ?1 AND code = ?2",
                        "tt", type, code);

        return take(r, &q, rc, s);
}

int kw_select_lot(struct kw_reader *r, int64_t lot, struct kw_selection *s)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT seq FROM lot WHERE id = ?1"
                        " UNION SELECT seq FROM test WHERE lot = ?1"
                        " UNION SELECT seq FROM taken WHERE lot = ?1"
                        " UNION SELECT seq FROM batch_lot WHERE lot = ?1"
                        " UNION SELECT seq FROM hold_span WHERE lot = ?1 AND run = 0"
                        " UNION SELECT seq FROM release_span WHERE lot = ?1"
                        " UNION SELECT h.seq FROM hold_span x JOIN hold h ON h.id = x.hold WHERE x.lot = ?1"
                        " UNION SELECT seq FROM certificate_reel WHERE lot = ?1"
                        " UNION SELECT seq FROM consignment_lot WHERE lot = ?1"
                        " UNION SELECT seq FROM place WHERE lot = ?1"
                        " UNION SELECT n.seq FROM lot l JOIN note n ON n.type = 'lot' AND n.code = l.code"
                        "  WHERE l.id = ?1"
                        " UNION SELECT n.seq FROM lot l JOIN run x ON x.id = l.run"
                        "  JOIN note n ON n.type = 'run' AND n.code = x.code WHERE l.id = ?1",
                        "i", lot);

        return take(r, &q, rc, s);
}

/* --- what was put right ------------------------------------------------------------------------- */

static const struct kw_json_limits leaf_limits = {.bytes = (size_t)8 << 20, .nodes = 400000};

static bool names(const cJSON *json, bool (*wanted)(void *ctx, const char *code), void *ctx)
{
        const cJSON *item;

        if (cJSON_IsString(json))
                return strlen(json->valuestring) <= KW_CODE_MAX && wanted(ctx, json->valuestring);
        if (cJSON_IsObject(json) || cJSON_IsArray(json)) {
                cJSON_ArrayForEach(item, json)
                {
                        if (names(item, wanted, ctx))
                                return true;
                }
        }
        return false;
}

int kw_select_put_right(struct kw_reader *r, bool (*wanted)(void *ctx, const char *code), void *ctx,
                        struct kw_selection *s)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT seq, leaf FROM entry WHERE seq IN (SELECT target FROM correction) ORDER BY seq", "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                const char *leaf = kw_text(&q, 1);
                cJSON *json = NULL;

                rc = 0;
                if (kw_selected(s, kw_int(&q, 0)))
                        continue;
                rc = kw_json_read(leaf, strlen(leaf), &leaf_limits, &json, NULL);
                if (rc == 0 && names(kw_json_get(json, "body"), wanted, ctx))
                        kw_select(s, kw_int(&q, 0));
                cJSON_Delete(json);
                rc = rc > 0 ? -EIO : rc;
        }
        kw_end(&q);
        return rc;
}

/* --- what an entry needs ------------------------------------------------------------------------ */

#define NEEDS                                                                                                         \
        "SELECT target FROM correction WHERE seq = ?1"                                                                \
        " UNION SELECT y.seq FROM test x JOIN spec y ON y.id = x.spec WHERE x.seq = ?1"                               \
        " UNION SELECT y.seq FROM test x JOIN instrument y ON y.code = x.instrument AND y.seq < x.seq WHERE x.seq = " \
        "?1"                                                                                                          \
        " UNION SELECT y.seq FROM test x JOIN test y ON y.id = x.retest_of WHERE x.seq = ?1"                          \
        " UNION SELECT seq FROM correction WHERE target = ?1"                                                         \
        " UNION SELECT h.seq FROM lot l JOIN heat h ON h.id = l.heat WHERE l.id BETWEEN ?1 * 4096 AND ?1 * 4096 + "   \
        "4095"                                                                                                        \
        " UNION SELECT x.seq FROM lot l JOIN supply x ON x.id = l.supply WHERE l.id BETWEEN ?1 * 4096 AND ?1 * 4096 " \
        "+ 4095"                                                                                                      \
        " UNION SELECT t.seq FROM lot l JOIN thing t ON t.type = 'order' AND t.code = l.ord"                          \
        "  WHERE l.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095"                                                         \
        " UNION SELECT t.seq FROM run x JOIN thing t ON t.type = 'order' AND t.code = x.ord"                          \
        "  WHERE x.id = ?1 * 4096"                                                                                    \
        " UNION SELECT b.seq FROM run x JOIN batch b ON b.id = x.batch WHERE x.id = ?1 * 4096"                        \
        " UNION SELECT y.seq FROM run x JOIN run_supply z ON z.seq = x.seq AND z.run = x.id"                          \
        "  JOIN supply y ON y.id = z.supply WHERE x.id = ?1 * 4096"                                                   \
        " UNION SELECT l.seq FROM run x JOIN feed f ON f.run = x.id JOIN lot l ON l.id = f.lot"                       \
        "  WHERE x.id = ?1 * 4096"                                                                                    \
        " UNION SELECT t.seq FROM overridden o JOIN thing t ON t.type = 'hold' AND t.code = o.hold"                   \
        "  WHERE o.run = ?1 * 4096"                                                                                   \
        " UNION SELECT run_seq FROM step WHERE seq = ?1"                                                              \
        " UNION SELECT seq FROM step WHERE run_seq = ?1"                                                              \
        " UNION SELECT l.seq FROM batch_lot x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                            \
        " UNION SELECT l.seq FROM taken x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                                \
        " UNION SELECT l.seq FROM test x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                                 \
        " UNION SELECT l.seq FROM hold_span x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1 AND x.run = 0"              \
        " UNION SELECT x.seq FROM hold h JOIN release x ON x.hold = h.id WHERE h.seq = ?1"                            \
        " UNION SELECT h.seq FROM release x JOIN hold h ON h.id = x.hold WHERE x.seq = ?1"                            \
        " UNION SELECT l.seq FROM release_span x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                         \
        " UNION SELECT l.seq FROM certificate_reel x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                     \
        " UNION SELECT t.seq FROM certificate_test x JOIN test t ON t.id = x.test WHERE x.seq = ?1"                   \
        " UNION SELECT x.seq FROM certificate c JOIN withdrawal x ON x.certificate = c.id WHERE c.seq = ?1"           \
        " UNION SELECT c.seq FROM withdrawal x JOIN certificate c ON c.id = x.certificate WHERE x.seq = ?1"           \
        " UNION SELECT x.seq FROM certificate c JOIN clearing x ON x.certificate = c.id WHERE c.seq = ?1"             \
        " UNION SELECT c.seq FROM clearing x JOIN certificate c ON c.id = x.certificate WHERE x.seq = ?1"             \
        " UNION SELECT o.seq FROM certificate c JOIN certificate o ON o.id = c.replaces WHERE c.seq = ?1"             \
        " UNION SELECT l.seq FROM consignment_lot x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                      \
        " UNION SELECT l.seq FROM place x JOIN lot l ON l.id = x.lot WHERE x.seq = ?1"                                \
        " UNION SELECT t.seq FROM note x JOIN thing t ON t.type = x.type AND t.code = x.code WHERE x.seq = ?1"

/* Of that, what a reader looks up, but not the making of lots that the entry only names beside others. */
#define BACKING                                                                                                      \
        "SELECT e.seq FROM entry e WHERE e.seq IN (" NEEDS                                                           \
        ") AND e.kind IN ('heat', 'supply', 'order', 'spec', 'instrument', 'hold', 'release', 'withdraw', 'clear', " \
        "'correct', 'void')"

/* What had been taken, when the entry was recorded, of the lots that it took from. */
#define EARLIER                                                                                             \
        "WITH mine (lot) AS (SELECT f.lot FROM run x JOIN feed f ON f.run = x.id WHERE x.id = ?1 * 4096"    \
        "  UNION SELECT lot FROM taken WHERE seq = ?1 UNION SELECT lot FROM batch_lot WHERE seq = ?1)"      \
        " SELECT f.seq FROM mine JOIN feed f ON f.lot = mine.lot WHERE f.seq < ?1"                          \
        " UNION SELECT t.seq FROM mine JOIN taken t ON t.lot = mine.lot WHERE t.seq < ?1"                   \
        " UNION SELECT f.seq FROM batch b JOIN batch_lot m ON m.batch = b.id JOIN feed f ON f.lot = m.lot"  \
        "  JOIN run x ON x.id = f.run WHERE b.seq = ?1 AND m.from_mm IS NULL AND x.at <= b.at"              \
        " UNION SELECT t.seq FROM batch b JOIN batch_lot m ON m.batch = b.id JOIN taken t ON t.lot = m.lot" \
        "  WHERE b.seq = ?1 AND m.from_mm IS NULL AND t.at <= b.at"

/* Whether a body takes "what is left", so that what others took before decides what it means. */
static bool takes_what_is_left(const cJSON *body)
{
        const cJSON *line, *feed, *item;

        cJSON_ArrayForEach(line, kw_json_get(body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (!kw_json_get(feed, "from_mm"))
                                return true;
                }
        }
        if (kw_json_get(body, "batch") && kw_json_get(body, "lots"))
                cJSON_ArrayForEach(item, kw_json_get(body, "lots"))
                {
                        if (!kw_json_get(item, "from_mm"))
                                return true;
                }
        if (kw_json_get(body, "body") && takes_what_is_left(kw_json_get(body, "body")))
                return true;
        return kw_json_get(body, "reason") && kw_json_get(body, "lot") && !kw_json_get(body, "from_mm");
}

static int needs_earlier(struct kw_reader *r, int64_t seq, bool *out)
{
        struct kw_query q;
        cJSON *json = NULL;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT leaf FROM entry WHERE seq = ?1 AND kind IN ('run', 'batch', 'scrap', 'correct')", "i",
                        seq);

        *out = false;
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                const char *leaf = kw_text(&q, 0);

                rc = kw_json_read(leaf, strlen(leaf), &leaf_limits, &json, NULL);
                *out = rc == 0 && takes_what_is_left(kw_json_get(json, "body"));
        }
        kw_end(&q);
        cJSON_Delete(json);
        return rc > 0 ? -EIO : rc;
}

static int add_needs(struct kw_reader *r, int64_t seq, struct kw_selection *s)
{
        struct kw_query q;
        bool earlier;
        int rc = kw_ask(r->ledger, &q, NEEDS, "i", seq);

        rc = take(r, &q, rc, s);
        if (rc == 0)
                rc = needs_earlier(r, seq, &earlier);
        if (rc || !earlier)
                return rc;
        rc = kw_ask(r->ledger, &q, EARLIER, "i", seq);
        return take(r, &q, rc, s);
}

static int add_backing(struct kw_reader *r, int64_t seq, struct kw_selection *s)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, BACKING, "i", seq);

        return take(r, &q, rc, s);
}

/* Needs mostly lie before what needs them, so the ledger is gone through from its end. */
static int close_by(struct kw_reader *r, struct kw_selection *s,
                    int (*add)(struct kw_reader *r, int64_t seq, struct kw_selection *s))
{
        struct kw_selection done;
        int rc = kw_selection_new(s->size, &done);

        while (rc == 0 && done.n < s->n) {
                for (int64_t seq = s->size; rc == 0 && seq > 0; seq--) {
                        if (!kw_selected(s, seq) || kw_selected(&done, seq))
                                continue;
                        kw_select(&done, seq);
                        rc = add(r, seq, s);
                }
        }
        kw_selection_free(&done);
        return rc;
}

int kw_select_close(struct kw_reader *r, struct kw_selection *s)
{
        return close_by(r, s, add_needs);
}

int kw_select_backing(struct kw_reader *r, struct kw_selection *s)
{
        return close_by(r, s, add_backing);
}

/* --- what an entry made ------------------------------------------------------------------------- */

int kw_read_lots_of_entry(struct kw_reader *r, int64_t seq, const int64_t **lots, size_t *n)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT id FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095 ORDER BY id",
                        "i", seq);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *id = kw_list_more(&r->arena, &list, sizeof(*id));

                rc = id ? 0 : -ENOMEM;
                if (id)
                        *id = kw_int(&q, 0);
        }
        kw_end(&q);
        *lots = list.at;
        *n = list.n;
        return rc;
}

int kw_read_run_of_entry(struct kw_reader *r, int64_t seq, int64_t *run)
{
        return kw_one(r->ledger, run, 0, "SELECT id FROM run WHERE id = ?1 * 4096", "i", seq);
}

int kw_selected_certificate(struct kw_reader *r, const struct kw_selection *s, int64_t *seq, const char **code)
{
        struct kw_query q;
        bool failed = false;
        int rc = kw_ask(r->ledger, &q, "SELECT seq, code FROM certificate WHERE seq > ?1 ORDER BY seq", "i", *seq);

        *seq = 0;
        *code = NULL;
        while (rc == 0 && !*code && (rc = kw_next(r->ledger, &q)) == 1) {
                rc = 0;
                if (!kw_selected(s, kw_int(&q, 0)))
                        continue;
                *seq = kw_int(&q, 0);
                *code = kw_keep_text(r, &q, 1, &failed);
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}
