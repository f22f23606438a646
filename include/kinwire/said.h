#ifndef KINWIRE_SAID_H
#define KINWIRE_SAID_H
/*
 * What a sentence says, apart from its words.
 *
 * A finding and a refusal each have a sentence in English, written where the fact is known. Beside it stand the figures
 * and codes that are in it, so that a page can say the same in the reader's language and units: the words are the
 * page's (web/words/, under the code and @as), the values are these.
 *
 * A value's name ends in its unit, as names do everywhere here: "left_mm", "asked_um", "off_ppm". A value without a
 * unit is a plain number or a text: a code, a reason somebody gave.
 */
#include <stddef.h>
#include <stdint.h>

#define KW_SAID_MOST 9
#define KW_SAID_ROOM 400 /* bytes of all texts together; a longer one is cut */

/** One value. @text NULL: @figure. */
struct kw_value {
        const char *name;
        const char *text;
        int64_t figure;
};

#define KW_FIGURE(name, value)    \
        {                         \
                name, NULL, value \
        }
#define KW_WORD(name, text)   \
        {                     \
                name, text, 0 \
        }
/** KW_VALUES - a list for the functions that take one; ended by a value without a name. */
#define KW_VALUES(...)                \
        (const struct kw_value[])     \
        {                             \
                __VA_ARGS__,          \
                {                     \
                        NULL, NULL, 0 \
                }                     \
        }

/** @as: which of the sentences that its code has, NULL where it has but one. Names and @as are literals. */
struct kw_said {
        const char *as;
        size_t n, used;
        struct {
                const char *name;
                int64_t figure;
                int16_t text; /* where in @room; -1: it is the figure */
        } value[KW_SAID_MOST];
        char room[KW_SAID_ROOM];
};

/** kw_said_set - put in place of whatever was said before. @said may be NULL, and @values. */
void kw_said_set(struct kw_said *said, const char *as, const struct kw_value *values);
/** kw_said_add - one more value; what there is no room for is left out. */
void kw_said_add(struct kw_said *said, struct kw_value value);
/** kw_said_text - value @i when it is a text, else NULL. */
const char *kw_said_text(const struct kw_said *said, size_t i);

/** kw_text_trim - takes away what is left of a UTF-8 character at the end of a text that was cut to its room. */
void kw_text_trim(char *text);

#endif
