/*
 * What the server says in the body of a load before it is recorded: which intervals it takes, and the name of its weld.
 */
#include "steps.h"

#include "work.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static int set_taken(cJSON *body, const struct kw_spans *pieces)
{
        cJSON *taken;

        cJSON_DeleteItemFromObjectCaseSensitive(body, "taken");
        taken = cJSON_AddArrayToObject(body, "taken");
        for (size_t i = 0; taken && i < pieces->n; i++) {
                cJSON *interval = cJSON_CreateArray(), *from = NULL, *to = NULL;

                if (!interval || !cJSON_AddItemToArray(taken, interval))
                        return -ENOMEM;
                from = cJSON_CreateNumber((double)pieces->at[i].from);
                to = cJSON_CreateNumber((double)pieces->at[i].to);
                if (!from || !to || !cJSON_AddItemToArray(interval, from) || !cJSON_AddItemToArray(interval, to))
                        return -ENOMEM;
        }
        return taken ? 0 : -ENOMEM;
}

/* What the body that is put right had taken of the lot is there again. */
static void free_old(struct kw_stock *stock, const cJSON *old)
{
        const cJSON *interval;

        cJSON_ArrayForEach(interval, kw_json_get(old, "taken"))
        {
                int64_t from = (int64_t)interval->child->valuedouble, to = (int64_t)interval->child->next->valuedouble;
                size_t kept = 0;

                for (size_t i = 0; i < stock->n; i++)
                        if (stock->claims[i].from < from || stock->claims[i].to > to)
                                stock->claims[kept++] = stock->claims[i];
                stock->n = kept;
        }
}

static void read_take(const cJSON *body, struct kw_take *take)
{
        const char *off = kw_json_text(body, "off");

        memset(take, 0, sizeof(*take));
        take->off = off && strcmp(off, "inner") == 0 ? KW_OFF_INNER : KW_OFF_OUTER;
        if (kw_json_get(body, "from_mm")) {
                take->how = KW_TAKE_SPAN;
                take->from = kw_json_int(body, "from_mm", 0);
                take->to = kw_json_int(body, "to_mm", 0);
        } else if (kw_json_get(body, "take_mm")) {
                take->how = KW_TAKE_LENGTH;
                take->length = kw_json_int(body, "take_mm", 0);
        }
}

static int say_taken(struct kw_work *w, cJSON *body, const cJSON *old)
{
        struct kw_stock stock;
        struct kw_spans pieces = {0};
        struct kw_lot_here lot;
        struct kw_take take;
        int rc = kw_need_lot(w, kw_json_text(body, "lot"), "/body/lot", &lot);

        if (rc == 0)
                rc = kw_stock_load(w->l, &lot, &stock);
        if (rc)
                return rc;
        if (old && strcmp(kw_json_text(old, "lot"), lot.code) == 0)
                free_old(&stock, old);
        read_take(body, &take);
        rc = kw_stock_take(&stock, &take, "this load", &pieces, w->err);
        if (rc > 0)
                kw_error_at(w->err, take.how == KW_TAKE_SPAN     ? "/body/from_mm"
                                    : take.how == KW_TAKE_LENGTH ? "/body/take_mm"
                                                                 : "/body/lot");
        if (rc == 0)
                rc = set_taken(body, &pieces);
        kw_spans_free(&pieces);
        kw_stock_free(&stock);
        return rc;
}

/* Whether something is on the line before it. */
static int is_later(struct kw_ledger *l, const cJSON *body, bool *later)
{
        int64_t feeds;
        int rc = kw_one(
                l, &feeds, 0,
                "SELECT count(*) FROM run JOIN line ON line.run = run.id JOIN feed ON feed.run = run.id"
                " AND feed.line = line.ord WHERE run.id = (SELECT id FROM thing WHERE type = 'run' AND code = ?1)"
                " AND line.label = ?2",
                "tt", kw_json_text(body, "run"), kw_json_text(body, "line"));

        *later = feeds > 0;
        return rc;
}

int kw_load_say(struct kw_ledger *l, cJSON *body, const char *key, const cJSON *old, struct kw_error *err)
{
        struct kw_work w = {.l = l, .body = body, .err = err};
        char code[16];
        bool later = false;
        int rc = say_taken(&w, body, old);

        if (rc || kw_json_get(body, "weld"))
                return rc;
        if (old)
                later = kw_json_get(old, "weld") != NULL;
        else
                rc = is_later(l, body, &later);
        if (rc || !later)
                return rc;
        kw_weld_name(key, 1, code);
        return cJSON_AddStringToObject(body, "weld", code) ? 0 : -ENOMEM;
}

static int adopt(cJSON *body, const cJSON *stored, const char *name)
{
        const cJSON *said = kw_json_get(stored, name);
        cJSON *copy;

        cJSON_DeleteItemFromObjectCaseSensitive(body, name);
        if (!said)
                return 0;
        copy = cJSON_Duplicate(said, 1);
        if (copy && cJSON_AddItemToObject(body, name, copy))
                return 0;
        cJSON_Delete(copy);
        return -ENOMEM;
}

int kw_load_adopt(cJSON *body, const cJSON *stored)
{
        int rc = adopt(body, stored, "taken");

        return rc || kw_json_get(body, "weld") ? rc : adopt(body, stored, "weld");
}
