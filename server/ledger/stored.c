/*
 * Entries as they stand in the store.
 */
#include "stored.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* A leaf is at most an entry with its envelope. */
const struct kw_json_limits kw_stored_limits = {SIZE_MAX, SIZE_MAX};

void kw_leaf_write(struct kw_buf *out, int64_t seq, const char *key, const char *kind, const char *at,
                   const char *logged, const char *by, const char *terminal, const char *body)
{
        /* the order of the names by UTF-16 code units: at body by key kind logged seq terminal */
        kw_put_object(out, NULL);
        kw_put_string(out, "at", at);
        kw_put_raw(out, "body", body);
        kw_put_string(out, "by", by);
        kw_put_string(out, "key", key);
        kw_put_string(out, "kind", kind);
        kw_put_string(out, "logged", logged);
        kw_put_int(out, "seq", seq);
        kw_put_string(out, "terminal", terminal);
        kw_put_object_end(out);
}

static int parse_leaf(struct kw_ledger *l, int64_t seq, cJSON **out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT leaf FROM entry WHERE seq = ?1", "i", seq);

        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1) {
                rc = kw_json_read(kw_text(&q, 0), (size_t)sqlite3_column_bytes(q.stmt, 0), &kw_stored_limits, out,
                                  NULL);
                rc = rc > 0 ? -EIO : rc;
        } else if (rc == 0) {
                rc = -ENOENT;
        }
        kw_end(&q);
        return rc;
}

static int what_stands(struct kw_ledger *l, struct kw_standing *s)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT body_seq, void FROM standing WHERE seq = ?1", "i", s->seq);

        s->body_seq = s->seq;
        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1) {
                s->body_seq = kw_int(&q, 0);
                s->is_void = kw_int(&q, 1) != 0;
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static int envelope(struct kw_ledger *l, struct kw_standing *s)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT key, kind, at FROM entry WHERE seq = ?1", "i", s->seq);

        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1) {
                snprintf(s->key, sizeof(s->key), "%s", kw_text(&q, 0));
                snprintf(s->kind, sizeof(s->kind), "%s", kw_text(&q, 1));
                rc = kw_stamp_read(kw_text(&q, 2), &s->at) ? -EIO : 0;
        } else if (rc == 0) {
                rc = -ENOENT;
        }
        kw_end(&q);
        return rc;
}

int kw_stored_load(struct kw_ledger *l, int64_t seq, struct kw_standing *out)
{
        int rc;

        memset(out, 0, sizeof(*out));
        out->seq = seq;
        rc = envelope(l, out);
        if (rc == 0)
                rc = what_stands(l, out);
        /* of a void entry its own body is given: that which voids it has none */
        if (rc == 0)
                rc = parse_leaf(l, out->is_void ? seq : out->body_seq, &out->leaf);
        /* the entry that puts it right may still be on its way into the store */
        if (rc == -ENOENT && out->body_seq != seq)
                rc = parse_leaf(l, seq, &out->leaf);
        if (rc)
                return rc;
        out->body = kw_json_get(out->leaf, "body");
        if (!out->is_void && strcmp(kw_json_text(out->leaf, "kind"), "correct") == 0)
                out->body = kw_json_get(out->body, "body");
        if (!out->body) {
                kw_standing_free(out);
                return -EIO;
        }
        return 0;
}

void kw_standing_free(struct kw_standing *s)
{
        cJSON_Delete(s->leaf);
        s->leaf = NULL;
        s->body = NULL;
}
