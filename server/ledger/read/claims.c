/*
 * Where a lot went: every claim on its length, with what took it.
 */
#include "reader.h"

#include <errno.h>
#include <string.h>

static enum kw_claim_kind kind_of(const char *what)
{
        if (strcmp(what, "feed") == 0)
                return KW_CLAIM_FEED;
        if (strcmp(what, "sample") == 0)
                return KW_CLAIM_SAMPLE;
        return strcmp(what, "scrap") == 0 ? KW_CLAIM_SCRAP : KW_CLAIM_DISPATCH;
}

/* The reason of a scrap entry stands in its body only. */
static int read_reason(struct kw_reader *r, struct kw_claim_row *claim)
{
        struct kw_entry_row entry;
        const char *body;
        cJSON *json = NULL;
        bool failed = false;
        int rc = kw_read_entry(r, claim->seq, &entry, NULL);

        if (rc == 0)
                rc = kw_read_standing_body(r, &entry, &body);
        if (rc || !body)
                return rc < 0 ? rc : 0;
        rc = kw_json_read(body, strlen(body), &kw_json_entry_limits, &json, NULL);
        if (rc == 0)
                claim->reason = kw_arena_text(&r->arena, kw_json_text(json, "reason"), &failed);
        cJSON_Delete(json);
        return failed || rc == -ENOMEM ? -ENOMEM : 0;
}

int kw_read_claims(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_claim_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT 'feed', f.from_mm AS first, f.to_mm, coalesce(r.started, r.at), r.seq, r.code, r.id, l.label,"
                "  f.inner FROM feed f JOIN run r ON r.id = f.run JOIN line l ON l.run = f.run AND l.ord = f.line"
                "  WHERE f.lot = ?1"
                " UNION ALL"
                " SELECT what, from_mm, to_mm, at, seq, code, 0, NULL, 0 FROM taken WHERE lot = ?1 ORDER BY first",
                "i", lot->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_claim_row *claim = kw_list_more(&r->arena, &list, sizeof(*claim));

                rc = claim ? 0 : -ENOMEM;
                if (claim)
                        *claim = (struct kw_claim_row){.what = kind_of(kw_text(&q, 0)),
                                                       .from = kw_int(&q, 1),
                                                       .to = kw_int(&q, 2),
                                                       .at = kw_int(&q, 3),
                                                       .seq = kw_int(&q, 4),
                                                       .code = kw_keep_text(r, &q, 5, &failed),
                                                       .run = kw_int(&q, 6),
                                                       .line = kw_keep_text(r, &q, 7, &failed),
                                                       .inner = kw_int(&q, 8) != 0};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++) {
                struct kw_claim_row *claim = (struct kw_claim_row *)list.at + i;

                if (claim->what == KW_CLAIM_SCRAP)
                        rc = read_reason(r, claim);
        }
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}
