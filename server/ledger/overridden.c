/*
 * Which holds a run with an override was recorded in spite of.
 *
 * They are written into the body when it is recorded, so that doing the entry again, at its place before or after those
 * holds, gives the same packages the same holds.
 */
#include "overridden.h"

#include "work.h"

#include <errno.h>
#include <string.h>

int kw_overridden_set(cJSON *run_body, const cJSON *holds)
{
        cJSON *override = cJSON_GetObjectItemCaseSensitive(run_body, "override"), *copy;

        cJSON_DeleteItemFromObjectCaseSensitive(override, "holds");
        if (!holds)
                return 0;
        copy = cJSON_Duplicate(holds, 1);
        if (!copy || !cJSON_AddItemToObject(override, "holds", copy)) {
                cJSON_Delete(copy);
                return -ENOMEM;
        }
        return 0;
}

struct saying {
        struct kw_ledger *l;
        cJSON *holds;
};

/* Put in order of code, once each. */
static int add_hold(void *ctx, int64_t hold, const struct kw_spans *open)
{
        struct saying *s = ctx;
        struct kw_query q;
        cJSON *at, *text = NULL;
        int where = 0, rc = kw_ask(s->l, &q, "SELECT code FROM hold WHERE id = ?1", "i", hold);

        (void)open;
        if (rc == 0)
                rc = kw_next(s->l, &q);
        if (rc == 1) {
                rc = 0;
                cJSON_ArrayForEach(at, s->holds)
                {
                        int order = strcmp(at->valuestring, kw_text(&q, 0));

                        if (order == 0)
                                goto there;
                        if (order > 0)
                                break;
                        where++;
                }
                text = cJSON_CreateString(kw_text(&q, 0));
                if (!text || !cJSON_InsertItemInArray(s->holds, where, text)) {
                        cJSON_Delete(text);
                        rc = -ENOMEM;
                }
        }
there:
        kw_end(&q);
        return rc;
}

int kw_overridden_say(struct kw_ledger *l, cJSON *run_body)
{
        struct saying s = {l, NULL};
        const cJSON *line, *feed;
        int64_t lot;
        int rc = 0;

        if (!kw_json_get(run_body, "override"))
                return 0;
        s.holds = cJSON_CreateArray();
        if (!s.holds)
                return -ENOMEM;
        cJSON_ArrayForEach(line, kw_json_get(run_body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (rc == 0)
                                rc = kw_thing_id(l, "lot", kw_json_text(feed, "lot"), &lot);
                        if (rc == 0 && lot)
                                rc = kw_each_open_hold(l, lot, add_hold, &s);
                }
        }
        if (rc == 0)
                rc = kw_overridden_set(run_body, s.holds->child ? s.holds : NULL);
        cJSON_Delete(s.holds);
        return rc;
}
