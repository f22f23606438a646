/*
 * The walk through a body by its shape: members, items and names; what is unknown, missing or of the wrong type.
 *
 * Members are taken in the order in which they were sent, then those that are missing in the order of the table, then
 * the rules between them. The first thing wrong ends the walk.
 */
#include "shape.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

int kw_walk_refuse(struct kw_walk *walk, enum kw_refusal what, const char *member, const char *as,
                   const struct kw_value *values, const char *fmt, ...)
{
        struct kw_pointer p = walk->pointer;
        char text[sizeof(walk->err->text)];
        va_list args;

        if (member)
                kw_pointer_name(&p, member);
        va_start(args, fmt);
        vsnprintf(text, sizeof(text), fmt, args);
        va_end(args);
        return kw_refuse_with(walk->err, what, p.text, as, values, "%s", text);
}

static int bad_type(struct kw_walk *walk, const char *as, const char *wanted)
{
        char label[KW_LABEL];

        return kw_walk_refuse(walk, KW_BAD_TYPE, NULL, as, NULL, "%s has to be %s.",
                              kw_pointer_label(&walk->pointer, label), wanted);
}

/* How many there are of @what ("items"), against the shape's range. */
static int check_count(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *value, const char *what)
{
        const int64_t n = cJSON_GetArraySize(value);
        char label[KW_LABEL];

        if (n >= shape->min && n <= shape->max)
                return 0;
        return kw_walk_refuse(walk, KW_OUT_OF_RANGE, NULL, "count",
                              KW_VALUES(KW_FIGURE("n", n), KW_FIGURE("min", shape->min), KW_FIGURE("max", shape->max)),
                              "%s has %" PRId64 " %s; it may have from %" PRId64 " to %" PRId64 ".",
                              kw_pointer_label(&walk->pointer, label), n, what, shape->min, shape->max);
}

static const struct kw_member *find_member(const struct kw_shape *shape, const char *name)
{
        for (const struct kw_member *m = shape->members; m->name; m++)
                if (strcmp(m->name, name) == 0)
                        return m;
        return NULL;
}

static int unknown_member(struct kw_walk *walk, const struct kw_shape *shape, const char *name)
{
        char excerpt[KW_EXCERPT], known[400];
        size_t n = 0;

        known[0] = '\0';
        for (const struct kw_member *m = shape->members; m->name && n < sizeof(known); m++) {
                const int more = snprintf(known + n, sizeof(known) - n, "%s%s", n ? ", " : "", m->name);

                n += more > 0 ? (size_t)more : 0;
        }
        return kw_walk_refuse(
                walk, KW_UNKNOWN_MEMBER, name, "says", KW_VALUES(KW_WORD("member", kw_excerpt(name, excerpt))),
                "There is no \"%s\" in %s; it may have: %s.", kw_excerpt(name, excerpt), shape->noun, known);
}

static int check_object(struct kw_walk *walk, const struct kw_shape *shape, cJSON *object)
{
        int rc;

        if (!cJSON_IsObject(object))
                return bad_type(walk, "object", "an object");
        if (shape->tag && kw_json_get(object, shape->tag))
                return check_object(walk, shape->tagged, object);
        for (cJSON *child = object->child, *next; child; child = next) {
                const struct kw_member *m = find_member(shape, child->string);
                struct kw_mark back;

                next = child->next;
                if (!m)
                        return unknown_member(walk, shape, child->string);
                back = kw_pointer_name(&walk->pointer, m->name);
                rc = kw_shape_check(walk, m->shape, object, child);
                if (rc)
                        return rc;
                kw_pointer_back(&walk->pointer, back);
        }
        for (const struct kw_member *m = shape->members; m->name; m++)
                if (m->need == KW_NEEDED && !kw_json_get(object, m->name))
                        return kw_walk_refuse(walk, KW_MISSING, m->name, "says", NULL,
                                              "\"%s\" is missing: %s needs %s.", m->name, shape->noun, m->says);
        return kw_shape_rules(walk, shape, object);
}

static int check_array(struct kw_walk *walk, const struct kw_shape *shape, cJSON *array)
{
        size_t item = 0;
        int rc;

        if (!cJSON_IsArray(array))
                return bad_type(walk, "array", "an array");
        rc = check_count(walk, shape, array, "items");
        for (cJSON *child = array->child, *next; rc == 0 && child; child = next, item++) {
                const struct kw_mark back = kw_pointer_item(&walk->pointer, item);

                next = child->next;
                rc = kw_shape_check(walk, shape->items, array, child);
                if (rc)
                        return rc;
                kw_pointer_back(&walk->pointer, back);
        }
        return rc ? rc : kw_shape_distinct(walk, shape, array);
}

static int check_map(struct kw_walk *walk, const struct kw_shape *shape, cJSON *map)
{
        char excerpt[KW_EXCERPT];
        int rc;

        if (!cJSON_IsObject(map))
                return bad_type(walk, "object", "an object");
        rc = check_count(walk, shape, map, "members");
        for (cJSON *child = map->child, *next; rc == 0 && child; child = next) {
                struct kw_mark back;

                next = child->next;
                if (!shape->name_ok(child->string))
                        return kw_walk_refuse(walk, KW_UNKNOWN_MEMBER, child->string, "name",
                                              KW_VALUES(KW_WORD("member", kw_excerpt(child->string, excerpt))),
                                              "\"%s\" is not %s.", kw_excerpt(child->string, excerpt), shape->names);
                back = kw_pointer_name(&walk->pointer, child->string);
                rc = kw_shape_check(walk, shape->items, map, child);
                if (rc)
                        return rc;
                kw_pointer_back(&walk->pointer, back);
        }
        return rc;
}

/* An item's plain code becomes {"lot": code}, or the other way round, as the normal form of its list has it. */
static int normalise_item(const struct kw_shape *shape, cJSON *parent, cJSON **value)
{
        const cJSON *text = cJSON_IsObject(*value) ? kw_json_get(*value, shape->stands_for) : *value;
        cJSON *other;

        if (shape->type == KW_SHAPE_OBJECT && cJSON_IsString(*value)) {
                other = cJSON_CreateObject();
                if (!cJSON_AddStringToObject(other, shape->stands_for, text->valuestring)) {
                        cJSON_Delete(other);
                        return -ENOMEM;
                }
        } else if (shape->type == KW_SHAPE_CODE && cJSON_IsString(text) && cJSON_GetArraySize(*value) == 1) {
                other = cJSON_CreateString(text->valuestring);
                if (!other)
                        return -ENOMEM;
        } else {
                return 0;
        }
        cJSON_ReplaceItemViaPointer(parent, *value, other);
        *value = other;
        return 0;
}

int kw_shape_check(struct kw_walk *walk, const struct kw_shape *shape, cJSON *parent, cJSON *value)
{
        int rc = shape->stands_for && parent ? normalise_item(shape, parent, &value) : 0;

        if (rc)
                return rc;
        switch (shape->type) {
        case KW_SHAPE_OBJECT:
                rc = check_object(walk, shape, value);
                break;
        case KW_SHAPE_ARRAY:
                rc = check_array(walk, shape, value);
                break;
        case KW_SHAPE_MAP:
                rc = check_map(walk, shape, value);
                break;
        case KW_SHAPE_BOOL:
                return cJSON_IsBool(value) ? 0 : bad_type(walk, "bool", "true or false");
        case KW_SHAPE_ANY:
                rc = cJSON_IsObject(value) ? 0 : bad_type(walk, "object", "an object");
                break;
        default:
                rc = kw_shape_scalar(walk, shape, value);
        }
        return rc == 0 && shape->also ? shape->also(walk, value) : rc;
}

int kw_body_check(const char *kind, cJSON *body, const char *pointer, struct kw_error *err)
{
        struct kw_walk walk = {.pointer = kw_pointer_at(pointer), .err = err};
        const struct kw_shape *shape = kw_kind_shape(kind);
        char excerpt[KW_EXCERPT];

        if (!shape)
                return kw_refuse(err, KW_NOT_ENTRY, pointer, "There is no kind of entry called \"%s\".",
                                 kw_excerpt(kind, excerpt));
        return kw_shape_check(&walk, shape, NULL, body);
}
