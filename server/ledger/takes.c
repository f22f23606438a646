/*
 * Which lots an entry takes from.
 *
 * A run takes from the lots that are fed, scrap, a sample and a dispatch from the lots they name, a release that
 * condemns from what it frees, and a run under way from all that was loaded on it.
 */
#include "takes.h"

#include <errno.h>
#include <string.h>

typedef int (*take_fn)(void *ctx, const char *code);

static int each_in_body(const cJSON *body, take_fn fn, void *ctx)
{
        const cJSON *line, *feed, *item;
        const char *lot = kw_json_text(body, "lot");
        int rc = lot ? fn(ctx, lot) : 0;

        cJSON_ArrayForEach(line, kw_json_get(body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (rc == 0)
                                rc = fn(ctx, kw_json_text(feed, "lot"));
                }
        }
        cJSON_ArrayForEach(item, kw_json_get(body, "lots"))
        {
                if (rc == 0)
                        rc = fn(ctx, cJSON_IsString(item) ? item->valuestring : kw_json_text(item, "lot"));
        }
        return rc;
}

static int each_loaded(struct kw_ledger *l, int64_t run_seq, take_fn fn, void *ctx)
{
        struct kw_spans loads = {0};
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT seq FROM step WHERE run_seq = ?1 AND kind = 'load' ORDER BY seq", "i", run_seq);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_spans_add(&loads, kw_int(&q, 0), kw_int(&q, 0));
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < loads.n; i++) {
                struct kw_standing load = {0};

                rc = kw_stored_load(l, loads.at[i].from, &load);
                if (rc == 0 && !load.is_void)
                        rc = each_in_body(load.body, fn, ctx);
                else if (rc == -ENOENT)
                        rc = 0; /* it is on its way in */
                kw_standing_free(&load);
        }
        kw_spans_free(&loads);
        return rc;
}

static int each(struct kw_ledger *l, const struct kw_standing *s, take_fn fn, void *ctx)
{
        static const char *const takers[] = {"run", "scrap", "test", "dispatch", "release"};

        if (strcmp(s->kind, "open") == 0)
                return each_loaded(l, s->seq, fn, ctx);
        for (size_t i = 0; i < sizeof(takers) / sizeof(takers[0]); i++)
                if (strcmp(s->kind, takers[i]) == 0)
                        return each_in_body(s->body, fn, ctx);
        return 0;
}

struct members {
        const cJSON *of;
};

static int is_member(void *ctx, const char *code)
{
        return kw_json_get(((const struct members *)ctx)->of, code) != NULL;
}

int kw_takes_meet(struct kw_ledger *l, const struct kw_standing *s, const cJSON *codes)
{
        struct members members = {codes};

        return codes->child ? each(l, s, is_member, &members) : 0;
}

static int make_member(void *ctx, const char *code)
{
        if (kw_json_get(ctx, code))
                return 0;
        return cJSON_AddTrueToObject(ctx, code) ? 0 : -ENOMEM;
}

int kw_takes_add(struct kw_ledger *l, const struct kw_standing *s, cJSON *codes)
{
        return each(l, s, make_member, codes);
}
