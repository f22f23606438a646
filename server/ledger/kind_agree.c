/*
 * Agreements: a second person's word that metal of a hold may be disposed of so.
 *
 * It is for one release by somebody else (agreed.c), of the hold whole or of the lots that it names.
 */
#include "agreed.h"

#include <stdio.h>

static int agree_item(struct kw_work *w, int64_t hold, const cJSON *item, size_t i)
{
        char pointer[KW_ITEM_POINTER], at[KW_ITEM_POINTER + 8];
        struct kw_lot_here lot;
        struct kw_span span;
        int64_t barred = 0;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i);
        snprintf(at, sizeof(at), "%s/lot", pointer);
        rc = kw_need_lot(w, kw_json_text(item, "lot"), at, &lot);
        if (rc == 0)
                rc = kw_item_span(w, item, pointer, &lot, &span, NULL);
        if (rc == 0)
                rc = kw_one(w->l, &barred, 0,
                            "SELECT 1 FROM hold_span WHERE hold = ?1 AND lot = ?2 AND from_mm < ?4 AND to_mm > ?3",
                            "iiii", hold, lot.id, span.from, span.to);
        if (rc == 0 && !barred)
                rc = kw_refuse_with(w->err, KW_NOT_OPEN, at, "not-barred-there",
                                    KW_VALUES(KW_WORD("hold", kw_json_text(w->body, "hold")), KW_WORD("lot", lot.code)),
                                    "hold %s does not bar %s there", kw_json_text(w->body, "hold"), lot.code);
        if (rc)
                return rc;
        return kw_do(w->l, "INSERT INTO agreement_span (hold, lot, from_mm, to_mm, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                     "iiiii", hold, lot.id, span.from, span.to, w->seq);
}

int kw_apply_agree(struct kw_work *w)
{
        const cJSON *item;
        char room[KW_WORKS];
        int64_t hold;
        size_t i = 0;
        int rc = kw_need(w, "hold", kw_json_text(w->body, "hold"), "/body/hold", &hold);

        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO agreement (seq, hold, disposition, reason, grade, works, at)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                           "iittttI", w->seq, hold, kw_json_text(w->body, "disposition"),
                           kw_json_text(w->body, "reason"), kw_json_text(w->body, "grade"), kw_works(w->body, room),
                           &w->at);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "lots"))
        {
                if (rc == 0)
                        rc = agree_item(w, hold, item, i++);
        }
        return rc;
}
