/*
 * JSON from outside, read: the strict scan, the library's tree, and no name twice in an object.
 *
 * Names are compared as they read, not as they are spelt ("a" and "\u0061" are one name), so this is done on the tree.
 */
#include "json_scan.h"

#include "pointer.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

const struct kw_json_limits kw_json_entry_limits = {.bytes = 2U << 20, .nodes = 100000};

static int check_names(const cJSON *json, struct kw_pointer *p, struct kw_error *err);

static int check_own_names(const cJSON *object, struct kw_pointer *p, struct kw_error *err)
{
        const cJSON **members;
        size_t n;
        int rc = kw_json_sorted(object, &members, &n);

        for (size_t i = 1; rc == 0 && i < n; i++) {
                char name[KW_EXCERPT];

                if (strcmp(members[i - 1]->string, members[i]->string) != 0)
                        continue;
                kw_pointer_name(p, members[i]->string);
                rc = kw_refuse(err, KW_NOT_JSON, p->text, "\"%s\" stands twice in the same object.",
                               kw_excerpt(members[i]->string, name));
        }
        free(members);
        return rc;
}

/* Recursion is bounded: the scan has let nothing through that is deeper than KW_JSON_DEPTH. */
static int check_names(const cJSON *json, struct kw_pointer *p, struct kw_error *err)
{
        const cJSON *child;
        size_t item = 0;
        int rc = cJSON_IsObject(json) ? check_own_names(json, p, err) : 0;

        for (child = json->child; rc == 0 && child; child = child->next, item++) {
                struct kw_mark back;

                if (!child->child)
                        continue;
                back = child->string ? kw_pointer_name(p, child->string) : kw_pointer_item(p, item);
                rc = check_names(child, p, err);
                kw_pointer_back(p, back);
        }
        return rc;
}

int kw_json_read(const char *text, size_t n, const struct kw_json_limits *limits, cJSON **out, struct kw_error *err)
{
        struct kw_pointer p = kw_pointer_at("");
        cJSON *json;
        int rc = kw_json_scan(text, n, limits, err);

        if (rc)
                return rc;
        json = cJSON_ParseWithLength(text, n);
        if (!json)
                return -ENOMEM; /* there is no other reason left */
        rc = check_names(json, &p, err);
        if (rc) {
                cJSON_Delete(json);
                return rc;
        }
        *out = json;
        return 0;
}

const cJSON *kw_json_get(const cJSON *object, const char *name)
{
        return cJSON_GetObjectItemCaseSensitive(object, name);
}

int64_t kw_json_int(const cJSON *object, const char *name, int64_t otherwise)
{
        const cJSON *member = kw_json_get(object, name);

        return cJSON_IsNumber(member) ? (int64_t)member->valuedouble : otherwise;
}

const char *kw_json_text(const cJSON *object, const char *name)
{
        return cJSON_GetStringValue(kw_json_get(object, name));
}
