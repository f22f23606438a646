/*
 * What may stand on a label: the sizes, the English words, and texts that show what they are.
 *
 * Control characters have no shape, are not allowed in XML, and some printers act on them. Characters that turn the
 * direction of writing can make a text look like another one. Both are refused.
 */
#include "kinwire/entry.h"
#include "scene.h"

#include <stdio.h>
#include <string.h>

static const struct kw_label_size_row sizes[KW_LABEL_SIZES] = {
        [KW_LABEL_100X60] = {"100x60", 100000, 60000},
        [KW_LABEL_100X150] = {"100x150", 100000, 150000},
        [KW_LABEL_ROLL62] = {"62", 62000, 0},
};

const struct kw_label_words kw_label_english = {
        .what = {[KW_LABEL_LOT] = "Lot",
                 [KW_LABEL_WELD] = "Weld",
                 [KW_LABEL_BATCH] = "Batch",
                 [KW_LABEL_REEL] = "Reel"},
        .rope = "Rope number",
        .heat = "Heat",
        .size = "Size",
        .grade = "Grade",
        .length = "Length",
        .date = "Date",
        .who = "By",
};

const struct kw_label_size_row *kw_label_size_row(enum kw_label_size size)
{
        return &sizes[size];
}

int kw_label_size_read(const char *name, enum kw_label_size *out, struct kw_error *err)
{
        for (int i = 0; i < KW_LABEL_SIZES; i++) {
                if (strcmp(name, sizes[i].name) == 0) {
                        *out = (enum kw_label_size)i;
                        return 0;
                }
        }
        return kw_refuse_with(err, KW_BAD_VALUE, NULL, "label-size", NULL,
                              "a label's size is 100x60, 100x150 or 62 (mm)");
}

static bool turns_writing(gunichar c)
{
        return c == 0x61c || c == 0x200e || c == 0x200f || (c >= 0x202a && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069);
}

/* Line and paragraph separators would break a line that has its place; U+FFFE and U+FFFF are not XML. */
static bool can_be_printed(gunichar c)
{
        return !g_unichar_iscntrl(c) && !turns_writing(c) && c != 0x2028 && c != 0x2029 && (c & 0xfffe) != 0xfffe;
}

static int check_text(const char *text, size_t at, const char *name, struct kw_error *err)
{
        char pointer[64];

        if (!text)
                return 0;
        snprintf(pointer, sizeof pointer, "/%zu/%s", at, name);
        if (strlen(text) > KW_LABEL_TEXT_MAX)
                return kw_refuse(err, KW_BAD_VALUE, pointer, "a text on a label has at most %d bytes",
                                 KW_LABEL_TEXT_MAX);
        if (!g_utf8_validate(text, -1, NULL))
                return kw_refuse(err, KW_BAD_VALUE, pointer, "the text is not UTF-8");
        for (const char *c = text; *c; c = g_utf8_next_char(c)) {
                if (!can_be_printed(g_utf8_get_char(c)))
                        return kw_refuse(err, KW_BAD_VALUE, pointer,
                                         "the text has the character U+%04X, which a label can't show",
                                         (unsigned)g_utf8_get_char(c));
        }
        return 0;
}

static int check_words(const struct kw_label_words *words, size_t at, struct kw_error *err)
{
        const char *const all[] = {words->rope,    words->heat,    words->size,   words->grade,
                                   words->length,  words->date,    words->who,    words->what[0],
                                   words->what[1], words->what[2], words->what[3]};
        int r = 0;

        for (size_t i = 0; !r && i < sizeof all / sizeof *all; i++)
                r = check_text(all[i], at, "words", err);
        return r;
}

int kw_label_check(const struct kw_label *label, size_t at, struct kw_error *err)
{
        const struct {
                const char *name, *text;
        } texts[] = {
                {"kind", label->kind}, {"rope", label->rope},   {"heat", label->heat},
                {"size", label->size}, {"grade", label->grade}, {"length", label->length},
                {"date", label->date}, {"who", label->who},     {"warning", label->warning},
        };
        char pointer[64];
        int r = 0;

        snprintf(pointer, sizeof pointer, "/%zu/code", at);
        if (!label->code || !kw_code_ok(label->code))
                return kw_refuse(err, KW_BAD_CODE, pointer, "a code has 1 to 40 characters out of A-Z 0-9 . / -");
        for (size_t i = 0; !r && i < sizeof texts / sizeof *texts; i++)
                r = check_text(texts[i].text, at, texts[i].name, err);
        for (size_t i = 0; !r && label->caution && label->caution[i]; i++)
                r = check_text(label->caution[i], at, "caution", err);
        if (!r && label->words)
                r = check_words(label->words, at, err);
        if (r)
                return r;
        snprintf(pointer, sizeof pointer, "/%zu/rope", at);
        if (label->what == KW_LABEL_REEL && (!label->rope || !*label->rope))
                return kw_refuse(err, KW_MISSING, pointer, "the label of reel %s needs its rope number", label->code);
        return 0;
}

int kw_labels_check(const struct kw_label *labels, size_t n, struct kw_error *err)
{
        if (n == 0)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "there is no label to print");
        if (n > KW_LABELS_MAX)
                return kw_refuse(err, KW_TOO_LARGE, NULL, "at most %d labels go into one document", KW_LABELS_MAX);
        for (size_t i = 0; i < n; i++) {
                int r = kw_label_check(&labels[i], i, err);

                if (r)
                        return r;
        }
        return 0;
}
