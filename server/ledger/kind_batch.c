/*
 * Batches: several lots treated together, with what was treated of each.
 */
#include "work.h"

#include <stdio.h>

static int treat(struct kw_work *w, int64_t batch, const cJSON *item, size_t i)
{
        char pointer[KW_ITEM_POINTER], at[KW_ITEM_POINTER + 8];
        struct kw_lot_here lot;
        struct kw_span span;
        bool whole;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i);
        snprintf(at, sizeof(at), "%s/lot", pointer);
        rc = kw_need_lot(w, kw_json_text(item, "lot"), at, &lot);
        if (rc == 0)
                rc = kw_item_span(w, item, pointer, &lot, &span, &whole);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO batch_lot (batch, lot, from_mm, to_mm, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                           "iiIIi", batch, lot.id, whole ? NULL : &span.from, whole ? NULL : &span.to, w->seq);
        return rc;
}

int kw_apply_batch(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS, started, ended;
        const char *code = kw_json_text(w->body, "batch");
        const cJSON *item;
        size_t i = 0;
        int rc = kw_define(w, "batch", code, "/body/batch", id);

        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO batch (id, seq, code, process, machine, started, ended, at)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                           "iitttIIi", id, w->seq, code, kw_json_text(w->body, "process"),
                           kw_json_text(w->body, "machine"), kw_seconds(w->body, "started", &started),
                           kw_seconds(w->body, "ended", &ended), w->at);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "lots"))
        {
                if (rc == 0)
                        rc = treat(w, id, item, i++);
        }
        return rc;
}
