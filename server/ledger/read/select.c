/*
 * Selecting entries for an export: those that concern a lot, a thing or a month. What these need is in needs.c.
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
                rc = kw_json_read(leaf, strlen(leaf), &kw_leaf_limits, &json, NULL);
                if (rc == 0 && names(kw_json_get(json, "body"), wanted, ctx))
                        kw_select(s, kw_int(&q, 0));
                cJSON_Delete(json);
                rc = rc > 0 ? -EIO : rc;
        }
        kw_end(&q);
        return rc;
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
