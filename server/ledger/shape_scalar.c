/*
 * Single values of a body: whole numbers, codes, texts, times, keys, origins and choices.
 */
#include "shape.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Refusals begin with where the walk stands. */
#define refuse(walk, what, as, values, fmt, ...)                \
        kw_walk_refuse(walk, what, NULL, as, values, "%s " fmt, \
                       kw_pointer_label(&(walk)->pointer, (char[KW_LABEL]){0}), __VA_ARGS__)

static int check_integer(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *value)
{
        int64_t n;

        if (!cJSON_IsNumber(value))
                return refuse(walk, KW_BAD_TYPE, "number", NULL, "has to be %s.",
                              "a whole number, without quotation marks");
        n = (int64_t)value->valuedouble;
        if (n >= shape->min && n <= shape->max)
                return 0;
        return refuse(walk, KW_OUT_OF_RANGE, "number",
                      KW_VALUES(KW_FIGURE("n", n), KW_FIGURE("min", shape->min), KW_FIGURE("max", shape->max)),
                      "is %" PRId64 "; it has to be from %" PRId64 " to %" PRId64 ".", n, shape->min, shape->max);
}

static int check_code(struct kw_walk *walk, char *text)
{
        char excerpt[KW_EXCERPT];

        if (kw_code_upper(text))
                return 0;
        return refuse(walk, KW_BAD_CODE, "says", KW_VALUES(KW_WORD("text", kw_excerpt(text, excerpt))),
                      "is \"%s\"; a code is 1 to %d characters out of A-Z 0-9 . / -", kw_excerpt(text, excerpt),
                      KW_CODE_MAX);
}

/* C0 and C1 control characters and DEL; on UTF-8 that is known to be well-formed. */
static bool is_control(const unsigned char *c, bool prose)
{
        if (prose && (*c == '\n' || *c == '\t'))
                return false;
        return *c < 0x20 || *c == 0x7f || (c[0] == 0xc2 && c[1] < 0xa0);
}

static int check_text(struct kw_walk *walk, const struct kw_shape *shape, const char *text)
{
        int64_t characters = 0;

        for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
                if (is_control(c, shape->type == KW_SHAPE_PROSE))
                        return refuse(walk, KW_BAD_VALUE, shape->type == KW_SHAPE_PROSE ? "control" : "one-line", NULL,
                                      "has a control character in it%s.",
                                      shape->type == KW_SHAPE_PROSE ? "" : "; it has to stay on one line");
                if ((*c & 0xc0) != 0x80)
                        characters++;
        }
        if (characters >= shape->min && characters <= shape->max)
                return 0;
        if (characters == 0)
                return refuse(walk, KW_OUT_OF_RANGE, "empty", NULL, "%s", "is empty.");
        return refuse(walk, KW_OUT_OF_RANGE, "characters",
                      KW_VALUES(KW_FIGURE("n", characters), KW_FIGURE("min", shape->min), KW_FIGURE("max", shape->max)),
                      "is %" PRId64 " characters long; it may have from %" PRId64 " to %" PRId64 ".", characters,
                      shape->min, shape->max);
}

static int check_time(struct kw_walk *walk, char *text)
{
        char excerpt[KW_EXCERPT], stamp[KW_STAMP_LEN + 1];
        int64_t seconds;

        if (kw_stamp_read(text, &seconds) != 0)
                return refuse(walk, KW_BAD_TIME, "says", KW_VALUES(KW_WORD("text", kw_excerpt(text, excerpt))),
                              "is \"%s\"; a time is written as in 2026-03-04T09:12:00Z, "
                              "or with +01:00 in place of Z.",
                              kw_excerpt(text, excerpt));
        kw_stamp_write(seconds, stamp);
        memcpy(text, stamp, sizeof(stamp)); /* no text of RFC 3339 is shorter than that */
        return 0;
}

const char *kw_choice(const struct kw_shape *shape, size_t i)
{
        return shape->listed ? shape->listed(i) : shape->choices[i];
}

const char *kw_choices_text(const struct kw_shape *shape, char *text, size_t room)
{
        const char *choice = kw_choice(shape, 0), *next;
        size_t n = 0;

        text[0] = '\0';
        for (size_t i = 1; choice && n < room; choice = next, i++) {
                int more;

                next = kw_choice(shape, i);
                more = snprintf(text + n, room - n, "%s%s", i == 1 ? "" : next ? ", " : " or ", choice);
                n += more > 0 ? (size_t)more : 0;
        }
        return text;
}

static bool is_choice(const struct kw_shape *shape, const char *text, size_t n)
{
        const char *choice;

        for (size_t i = 0; (choice = kw_choice(shape, i)); i++)
                if (strlen(choice) == n && memcmp(choice, text, n) == 0)
                        return true;
        return false;
}

static int check_choice(struct kw_walk *walk, const struct kw_shape *shape, const char *text)
{
        char excerpt[KW_EXCERPT], choices[300];

        if (is_choice(shape, text, strlen(text)))
                return 0;
        return refuse(walk, KW_BAD_VALUE, "choice", KW_VALUES(KW_WORD("text", kw_excerpt(text, excerpt))),
                      "is \"%s\"; it has to be %s.", kw_excerpt(text, excerpt),
                      kw_choices_text(shape, choices, sizeof(choices)));
}

static int check_origin(struct kw_walk *walk, const struct kw_shape *shape, char *text)
{
        char excerpt[KW_EXCERPT], choices[300];
        char *colon = strchr(text, ':');

        if (!colon || !is_choice(shape, text, (size_t)(colon - text)))
                return refuse(walk, KW_BAD_VALUE, "origin", KW_VALUES(KW_WORD("text", kw_excerpt(text, excerpt))),
                              "is \"%s\"; it has to name a thing, as in lot:BB-12, by one of %s.",
                              kw_excerpt(text, excerpt), kw_choices_text(shape, choices, sizeof(choices)));
        return check_code(walk, colon + 1);
}

static int check_key(struct kw_walk *walk, char *text)
{
        char excerpt[KW_EXCERPT];

        if (kw_key_lower(text))
                return 0;
        return refuse(walk, KW_BAD_VALUE, "key", KW_VALUES(KW_WORD("text", kw_excerpt(text, excerpt))),
                      "is \"%s\"; an entry is named by its key, a UUID.", kw_excerpt(text, excerpt));
}

int kw_shape_scalar(struct kw_walk *walk, const struct kw_shape *shape, cJSON *value)
{
        if (shape->type == KW_SHAPE_INTEGER)
                return check_integer(walk, shape, value);
        if (shape->type == KW_SHAPE_SETTING && cJSON_IsNumber(value))
                return 0;
        if (!cJSON_IsString(value))
                return refuse(
                        walk, KW_BAD_TYPE, shape->type == KW_SHAPE_SETTING ? "setting" : "text", NULL, "has to be %s.",
                        shape->type == KW_SHAPE_SETTING ? "a whole number or a text" : "a text, in quotation marks");
        switch (shape->type) {
        case KW_SHAPE_CODE:
                return check_code(walk, value->valuestring);
        case KW_SHAPE_TIME:
                return check_time(walk, value->valuestring);
        case KW_SHAPE_KEY:
                return check_key(walk, value->valuestring);
        case KW_SHAPE_ORIGIN:
                return check_origin(walk, shape, value->valuestring);
        case KW_SHAPE_CHOICE:
                return check_choice(walk, shape, value->valuestring);
        default:
                return check_text(walk, shape, value->valuestring);
        }
}
