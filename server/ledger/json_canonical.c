/*
 * Canonical JSON, RFC 8785: one text for one value, so that a hash can be taken of it.
 *
 * Members stand in the order of their names' UTF-16 code units. On UTF-8 that is the order of the bytes, except that
 * characters beyond U+FFFF (lead bytes F0 to F4, surrogates D800 to DFFF in UTF-16) come before U+E000 to U+FFFF (lead
 * bytes EE and EF).
 */
#include "json_scan.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

static bool high_bmp(unsigned char lead)
{
        return lead == 0xee || lead == 0xef;
}

static int compare_utf16(const char *left, const char *right)
{
        const unsigned char *a = (const unsigned char *)left, *b = (const unsigned char *)right;

        while (*a && *a == *b) {
                a++;
                b++;
        }
        if (*a >= 0xf0 && high_bmp(*b))
                return -1;
        if (*b >= 0xf0 && high_bmp(*a))
                return 1;
        return (*a > *b) - (*a < *b);
}

static int compare_members(const void *a, const void *b)
{
        const cJSON *const *left = a, *const *right = b;

        return compare_utf16((*left)->string, (*right)->string);
}

int kw_json_sorted(const cJSON *object, const cJSON ***out, size_t *n)
{
        const cJSON **members, *member;
        size_t count = 0;

        *out = NULL;
        *n = 0;
        for (member = object->child; member; member = member->next)
                count++;
        if (count == 0)
                return 0;
        members = malloc(count * sizeof(*members));
        if (!members)
                return -ENOMEM;
        for (member = object->child; member; member = member->next)
                members[(*n)++] = member;
        qsort(members, count, sizeof(*members), compare_members);
        *out = members;
        return 0;
}

static void put_value(struct kw_buf *out, const char *name, const cJSON *json);

static void put_object(struct kw_buf *out, const char *name, const cJSON *json)
{
        const cJSON **members;
        size_t n;

        if (kw_json_sorted(json, &members, &n) != 0) {
                out->failed = true;
                return;
        }
        kw_put_object(out, name);
        for (size_t i = 0; i < n; i++)
                put_value(out, members[i]->string, members[i]);
        kw_put_object_end(out);
        free(members);
}

static void put_array(struct kw_buf *out, const char *name, const cJSON *json)
{
        kw_put_array(out, name);
        for (const cJSON *item = json->child; item; item = item->next)
                put_value(out, NULL, item);
        kw_put_array_end(out);
}

static void put_number(struct kw_buf *out, const char *name, double value)
{
        if (!(fabs(value) <= (double)KW_JSON_INT_MAX) || value != (double)(int64_t)value) {
                out->failed = true; /* not one of ours: better no text than one that hashes differently elsewhere */
                return;
        }
        kw_put_int(out, name, (int64_t)value);
}

static void put_value(struct kw_buf *out, const char *name, const cJSON *json)
{
        if (cJSON_IsObject(json))
                put_object(out, name, json);
        else if (cJSON_IsArray(json))
                put_array(out, name, json);
        else if (cJSON_IsString(json))
                kw_put_string(out, name, json->valuestring);
        else if (cJSON_IsNumber(json))
                put_number(out, name, json->valuedouble);
        else if (cJSON_IsBool(json))
                kw_put_bool(out, name, cJSON_IsTrue(json));
        else if (cJSON_IsNull(json))
                kw_put_null(out, name);
        else
                out->failed = true;
}

void kw_json_canonical(const cJSON *json, struct kw_buf *out)
{
        out->comma = false; /* what stands before it is the caller's affair */
        put_value(out, NULL, json);
}
