/*
 * What the members of one object, or the items of one array, have to do with each other.
 */
#include "shape.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static int refuse_pair(struct kw_walk *walk, const struct kw_rule *rule, bool a)
{
        return kw_walk_refuse(walk, KW_MISSING, a ? rule->b : rule->a, "pair",
                              KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "\"%s\" is missing: %s.",
                              a ? rule->b : rule->a, rule->says);
}

static int check_rule(struct kw_walk *walk, const struct kw_rule *rule, const cJSON *object)
{
        const cJSON *a = kw_json_get(object, rule->a), *b = kw_json_get(object, rule->b);

        switch (rule->kind) {
        case KW_RULE_PAIR:
                return !a == !b ? 0 : refuse_pair(walk, rule, a != NULL);
        case KW_RULE_APART:
                return a && b ? kw_walk_refuse(walk, KW_BAD_VALUE, rule->b, "not-both",
                                               KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "%s.",
                                               rule->says)
                              : 0;
        case KW_RULE_ONE:
                if (a && b)
                        return kw_walk_refuse(walk, KW_BAD_VALUE, rule->b, "not-both",
                                              KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "%s.",
                                              rule->says);
                return a || b ? 0
                              : kw_walk_refuse(walk, KW_MISSING, rule->a, "one",
                                               KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "%s.",
                                               rule->says);
        case KW_RULE_ANY:
                return a || b ? 0
                              : kw_walk_refuse(walk, KW_MISSING, rule->a, "any",
                                               KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "%s.",
                                               rule->says);
        case KW_RULE_RISING:
                if (!a || !b || a->valuedouble < b->valuedouble)
                        return 0;
                break;
        case KW_RULE_NOT_BEFORE: /* both are in one form by now, in which the order of texts is that of times */
                if (!a || !b || strcmp(a->valuestring, b->valuestring) <= 0)
                        return 0;
                break;
        case KW_RULE_END:
                return 0;
        }
        return kw_walk_refuse(walk, KW_BAD_ORDER, rule->b, rule->kind == KW_RULE_RISING ? "rising" : "in-time",
                              KW_VALUES(KW_WORD("a", rule->a), KW_WORD("b", rule->b)), "%s.", rule->says);
}

int kw_shape_rules(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *object)
{
        int rc = 0;

        for (const struct kw_rule *rule = shape->rules; rc == 0 && rule && rule->kind != KW_RULE_END; rule++)
                rc = check_rule(walk, rule, object);
        return rc;
}

struct placed {
        const char *text;
        size_t place;
};

static int compare_placed(const void *a, const void *b)
{
        const struct placed *left = a, *right = b;
        const int order = strcmp(left->text, right->text);

        return order ? order : (left->place > right->place) - (left->place < right->place);
}

int kw_first_twin(const char *const *texts, size_t n, size_t *twin)
{
        struct placed *sorted;

        *twin = n;
        if (n < 2)
                return 0;
        sorted = malloc(n * sizeof(*sorted));
        if (!sorted)
                return -ENOMEM;
        for (size_t i = 0; i < n; i++)
                sorted[i] = (struct placed){texts[i], i};
        qsort(sorted, n, sizeof(*sorted), compare_placed);
        for (size_t i = 1; i < n; i++)
                if (strcmp(sorted[i - 1].text, sorted[i].text) == 0 && sorted[i].place < *twin)
                        *twin = sorted[i].place;
        free(sorted);
        return 0;
}

int kw_shape_distinct(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *array)
{
        const size_t most = (size_t)cJSON_GetArraySize(array);
        const char **texts, *member = shape->distinct && *shape->distinct ? shape->distinct : NULL;
        size_t *items, n = 0, item = 0, twin;
        char label[KW_LABEL];
        int rc;

        if (!shape->distinct || most < 2)
                return 0;
        texts = calloc(most, sizeof(*texts));
        items = calloc(most, sizeof(*items));
        rc = texts && items ? 0 : -ENOMEM;
        for (const cJSON *child = array->child; rc == 0 && child; child = child->next, item++) {
                const char *text = member ? kw_json_text(child, member) : child->valuestring;

                if (!text)
                        continue;
                texts[n] = text;
                items[n++] = item;
        }
        if (rc == 0)
                rc = kw_first_twin(texts, n, &twin);
        if (rc == 0 && twin < n) {
                kw_pointer_label(&walk->pointer, label);
                kw_pointer_item(&walk->pointer, items[twin]);
                rc = kw_walk_refuse(walk, KW_BAD_VALUE, member, "twice", KW_VALUES(KW_WORD("text", texts[twin])),
                                    "%s stands twice in %s.", texts[twin], label);
        }
        free(texts);
        free(items);
        return rc;
}
