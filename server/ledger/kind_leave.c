/*
 * What leaves or moves: scrap, dispatch, moves; and notes.
 */
#include "work.h"

#include <stdio.h>
#include <string.h>

/* Take all that is left of a lot. */
static int take_all(struct kw_work *w, const struct kw_lot_here *lot, const char *what, const char *code,
                    const char *pointer)
{
        struct kw_take take = {.how = KW_TAKE_ALL, .off = KW_OFF_INNER};
        struct kw_spans pieces = {0};
        struct kw_stock stock;
        int rc = kw_stock_load(w->l, lot, &stock);

        if (rc)
                return rc;
        rc = kw_stock_take(&stock, &take, what, &pieces, w->err);
        if (rc > 0)
                kw_error_at(w->err, pointer);
        if (rc == 0 && strcmp(what, "dispatch") == 0)
                rc = kw_check_wish(w, lot, &pieces, &(struct kw_wish){KW_TO_SEND, NULL}, pointer);
        if (rc == 0)
                rc = kw_take_rows(w, lot->id, &pieces, what, code);
        kw_spans_free(&pieces);
        kw_stock_free(&stock);
        return rc;
}

static int scrap_part(struct kw_work *w, const struct kw_lot_here *lot)
{
        struct kw_stock stock;
        struct kw_span span;
        struct kw_spans pieces = {.at = &span, .n = 1, .cap = 1};
        int rc = kw_item_span(w, w->body, "/body", lot, &span, NULL);

        if (rc == 0)
                rc = kw_stock_load(w->l, lot, &stock);
        if (rc)
                return rc;
        rc = kw_stock_claim(&stock, span.from, span.to, "scrap", w->err);
        if (rc > 0)
                kw_error_at(w->err, "/body/from_mm");
        kw_stock_free(&stock);
        return rc ? rc : kw_take_rows(w, lot->id, &pieces, "scrap", NULL);
}

int kw_apply_scrap(struct kw_work *w)
{
        struct kw_lot_here lot;
        int rc = kw_need_lot(w, kw_json_text(w->body, "lot"), "/body/lot", &lot);

        if (rc)
                return rc;
        return kw_json_get(w->body, "from_mm") ? scrap_part(w, &lot) : take_all(w, &lot, "scrap", NULL, "/body/lot");
}

static int send(struct kw_work *w, int64_t consignment, const char *code, const cJSON *item, size_t i)
{
        char pointer[KW_ITEM_POINTER];
        struct kw_lot_here lot;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i);
        rc = kw_need_lot(w, item->valuestring, pointer, &lot);
        if (rc == 0)
                rc = take_all(w, &lot, "dispatch", code, pointer);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO consignment_lot (consignment, lot, seq) VALUES (?1, ?2, ?3)", "iii",
                           consignment, lot.id, w->seq);
        return rc;
}

int kw_apply_dispatch(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS;
        const char *code = kw_json_text(w->body, "consignment");
        const cJSON *item;
        size_t i = 0;
        int rc = kw_define(w, "consignment", code, "/body/consignment", id);

        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO consignment (id, seq, code, consignee, at) VALUES (?1, ?2, ?3, ?4, ?5)",
                           "iitti", id, w->seq, code, kw_json_text(w->body, "consignee"), w->at);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "lots"))
        {
                if (rc == 0)
                        rc = send(w, id, code, item, i++);
        }
        return rc;
}

int kw_apply_move(struct kw_work *w)
{
        char pointer[KW_ITEM_POINTER];
        struct kw_lot_here lot;
        const cJSON *item;
        size_t i = 0;
        int rc = 0;

        cJSON_ArrayForEach(item, kw_json_get(w->body, "lots"))
        {
                snprintf(pointer, sizeof(pointer), "/body/lots/%zu", i++);
                if (rc == 0)
                        rc = kw_need_lot(w, item->valuestring, pointer, &lot);
                if (rc == 0)
                        rc = kw_do(w->l, "INSERT OR REPLACE INTO place (lot, seq, location) VALUES (?1, ?2, ?3)", "iit",
                                   lot.id, w->seq, kw_json_text(w->body, "location"));
        }
        return rc;
}

/* A machine or an instrument is named by use; anything else has to be in the ledger. */
int kw_apply_note(struct kw_work *w)
{
        const char *about = kw_json_text(w->body, "about"), *colon = strchr(about, ':');
        char type[16];
        int64_t id;
        int rc = 0;

        snprintf(type, sizeof(type), "%.*s", (int)(colon - about), about);
        if (strcmp(type, "machine") != 0 && strcmp(type, "instrument") != 0)
                rc = kw_need(w, type, colon + 1, "/body/about", &id);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO note (seq, type, code, text, at) VALUES (?1, ?2, ?3, ?4, ?5)", "ittti",
                           w->seq, type, colon + 1, kw_json_text(w->body, "text"), w->at);
        return rc;
}
