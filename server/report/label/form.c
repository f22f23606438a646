/*
 * The forms of the three sizes, and which text goes into which field.
 */
#include "form.h"

#include <stddef.h>

static const struct kw_form forms[KW_LABEL_SIZES] = {
        [KW_LABEL_100X60] =
                {
                        .margin = 2500,
                        .edge = 500,
                        .gap = 1000,
                        .bars = 11000,
                        .matrix = 23000,
                        .head = 2800,
                        .code = 8000,
                        .split = 3400,
                        .caption = 1900,
                        .value = 4000,
                        .value_least = 1900,
                        .row = 9500,
                        .caution = 2150,
                        .caution_least = 1750,
                        .caution_room = 10000,
                        .warning = 1,
                        .rows = 3,
                        .above = 0,
                        .row_of =
                                {
                                        {2, {{KW_FIELD_ROPE, 2}, {KW_FIELD_HEAT, 2}}},
                                        {3, {{KW_FIELD_SIZE, 2}, {KW_FIELD_GRADE, 1}, {KW_FIELD_LENGTH, 1}}},
                                        {2, {{KW_FIELD_DATE, 2}, {KW_FIELD_WHO, 2}}},
                                },
                },
        [KW_LABEL_100X150] =
                {
                        .margin = 4000,
                        .edge = 3000,
                        .gap = 2000,
                        .stand = 142000,
                        .bars = 22000,
                        .matrix = 38000,
                        .head = 4500,
                        .code = 12000,
                        .split = 4200,
                        .caption = 2600,
                        .value = 6000,
                        .value_least = 2400,
                        .row = 14000,
                        .caution = 3400,
                        .caution_least = 2400,
                        .caution_room = 32000,
                        .warning = 3,
                        .rows = 7,
                        .above = 2,
                        .row_of =
                                {
                                        {1, {{KW_FIELD_ROPE, 1}}},
                                        {1, {{KW_FIELD_HEAT, 1}}},
                                        {1, {{KW_FIELD_SIZE, 1}}},
                                        {1, {{KW_FIELD_GRADE, 1}}},
                                        {1, {{KW_FIELD_LENGTH, 1}}},
                                        {1, {{KW_FIELD_DATE, 1}}},
                                        {1, {{KW_FIELD_WHO, 1}}},
                                },
                },
        [KW_LABEL_ROLL62] =
                {
                        .margin = 2000,
                        .edge = 500,
                        .gap = 1200,
                        .stand = 130000,
                        .bars = 12000,
                        .matrix = 20000,
                        .head = 3000,
                        .code = 8000,
                        .split = 3800,
                        .caption = 1900,
                        .value = 3400,
                        .value_least = 2000,
                        .caution = 2300,
                        .caution_least = 2000,
                        .caution_room = 100000,
                        .warning = 4,
                        .rows = 6,
                        .above = 2,
                        .row_of =
                                {
                                        {1, {{KW_FIELD_ROPE, 1}}},
                                        {1, {{KW_FIELD_HEAT, 1}}},
                                        {1, {{KW_FIELD_SIZE, 1}}},
                                        {1, {{KW_FIELD_GRADE, 1}}},
                                        {1, {{KW_FIELD_LENGTH, 1}}},
                                        {2, {{KW_FIELD_DATE, 1}, {KW_FIELD_WHO, 1}}},
                                },
                },
};

/* Where a label keeps each field, and where the words keep its caption. */
static const struct {
        size_t text, caption;
} places[] = {
        [KW_FIELD_ROPE] = {offsetof(struct kw_label, rope), offsetof(struct kw_label_words, rope)},
        [KW_FIELD_HEAT] = {offsetof(struct kw_label, heat), offsetof(struct kw_label_words, heat)},
        [KW_FIELD_SIZE] = {offsetof(struct kw_label, size), offsetof(struct kw_label_words, size)},
        [KW_FIELD_GRADE] = {offsetof(struct kw_label, grade), offsetof(struct kw_label_words, grade)},
        [KW_FIELD_LENGTH] = {offsetof(struct kw_label, length), offsetof(struct kw_label_words, length)},
        [KW_FIELD_DATE] = {offsetof(struct kw_label, date), offsetof(struct kw_label_words, date)},
        [KW_FIELD_WHO] = {offsetof(struct kw_label, who), offsetof(struct kw_label_words, who)},
};

static const char *text_at(const void *base, size_t offset)
{
        const char *text = *(const char *const *)((const char *)base + offset);

        return text && *text ? text : NULL;
}

const struct kw_form *kw_form_of(enum kw_label_size size)
{
        return &forms[size];
}

const char *kw_field_of(const struct kw_label *label, enum kw_field field)
{
        return text_at(label, places[field].text);
}

const char *kw_caption_of(const struct kw_label *label, enum kw_field field)
{
        const char *caption = label->words ? text_at(label->words, places[field].caption) : NULL;

        return caption ? caption : text_at(&kw_label_english, places[field].caption);
}

const char *kw_heading_of(const struct kw_label *label)
{
        if (label->kind && *label->kind)
                return label->kind;
        if (label->words && label->words->what[label->what])
                return label->words->what[label->what];
        return kw_label_english.what[label->what];
}
