/*
 * The values that a sentence is said with, copied out of whatever they were read from.
 */
#include "kinwire/said.h"

#include <stdio.h>
#include <string.h>

void kw_text_trim(char *text)
{
        size_t n = strlen(text), start = n;

        while (start > 0 && ((unsigned char)text[start - 1] & 0xC0) == 0x80)
                start--;
        if (start == 0)
                return;

        unsigned char lead = (unsigned char)text[start - 1];
        size_t want = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
        if (n - (start - 1) < want)
                text[start - 1] = '\0';
}

void kw_said_add(struct kw_said *said, struct kw_value value)
{
        size_t left;

        if (!said || said->n == KW_SAID_MOST)
                return;
        left = sizeof(said->room) - said->used;
        if (value.text && left < 2)
                return;
        said->value[said->n].name = value.name;
        said->value[said->n].figure = value.figure;
        said->value[said->n].text = -1;
        if (value.text) {
                char *at = said->room + said->used;

                snprintf(at, left, "%s", value.text);
                kw_text_trim(at);
                said->value[said->n].text = (int16_t)said->used;
                said->used += strlen(at) + 1;
        }
        said->n++;
}

void kw_said_set(struct kw_said *said, const char *as, const struct kw_value *values)
{
        if (!said)
                return;
        said->as = as;
        said->n = said->used = 0;
        for (; values && values->name; values++)
                kw_said_add(said, *values);
}

const char *kw_said_text(const struct kw_said *said, size_t i)
{
        return said->value[i].text < 0 ? NULL : said->room + said->value[i].text;
}
