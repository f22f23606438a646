/*
 * The strict scanner: what may be JSON in a ledger, decided before the library sees a byte of it.
 *
 * One pass over the text, no copy. Where the scan stands is kept as a stack of frames, one a container; a pointer is
 * made of them only for a refusal. A number that is well-formed but not a whole number in range is remembered, and
 * refused once the rest has proven to be JSON: a slip in the data is not a fault of the program that sent it.
 */
#include "json_scan.h"

#include "pointer.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct frame {
        bool object;
        size_t item;      /* an array's: number of the item */
        const char *name; /* an object's: the member's name with its quotation marks, NULL before the first */
        size_t name_bytes;
};

struct scan {
        const char *at, *end, *start;
        const struct kw_json_limits *limits;
        size_t nodes;
        struct frame frames[KW_JSON_DEPTH];
        size_t depth;
        int number; /* KW_BAD_TYPE once a number was met that cannot be kept, or -ENOMEM */
        struct kw_error *err;
};

static const char no_value[] = "a value has to be an object, an array, a string, a number, true, false or null";

static int scan_value(struct scan *s);

/* The pointer to where the scan stands. Names are unescaped by the library, one at a time: they are valid by now. */
static int find_place(const struct scan *s, struct kw_pointer *p)
{
        *p = kw_pointer_at("");
        for (size_t i = 0; i < s->depth; i++) {
                const struct frame *f = &s->frames[i];
                cJSON *name;

                if (!f->object) {
                        kw_pointer_item(p, f->item);
                        continue;
                }
                if (!f->name)
                        break;
                name = cJSON_ParseWithLength(f->name, f->name_bytes);
                if (!name)
                        return -ENOMEM;
                kw_pointer_name(p, name->valuestring);
                cJSON_Delete(name);
        }
        return 0;
}

static int __attribute__((format(printf, 2, 3))) not_json(const struct scan *s, const char *fmt, ...)
{
        struct kw_pointer p;
        const int rc = find_place(s, &p);
        char what[160];
        va_list args;

        if (rc)
                return rc;
        va_start(args, fmt);
        vsnprintf(what, sizeof(what), fmt, args);
        va_end(args);
        return kw_refuse(s->err, KW_NOT_JSON, p.text, "This is not JSON as a ledger takes it: %s (byte %zu).", what,
                         (size_t)(s->at - s->start) + 1);
}

static void skip_space(struct scan *s)
{
        while (s->at < s->end && (*s->at == ' ' || *s->at == '\t' || *s->at == '\n' || *s->at == '\r'))
                s->at++;
}

static bool take(struct scan *s, char c)
{
        if (s->at == s->end || *s->at != c)
                return false;
        s->at++;
        return true;
}

/* --- strings ------------------------------------------------------------------------------------ */

/* Four hex digits at s->at, or -1. */
static int32_t hex4(struct scan *s)
{
        int32_t n = 0;

        if (s->end - s->at < 4)
                return -1;
        for (int i = 0; i < 4; i++, s->at++) {
                const char c = *s->at;

                if (c >= '0' && c <= '9')
                        n = n * 16 + (c - '0');
                else if ((c | 0x20) >= 'a' && (c | 0x20) <= 'f')
                        n = n * 16 + ((c | 0x20) - 'a' + 10);
                else
                        return -1;
        }
        return n;
}

/* After the backslash. */
static int scan_escape(struct scan *s)
{
        int32_t unit;

        if (s->at == s->end || *s->at == '\0' || !strchr("\"\\/bfnrtu", *s->at))
                return not_json(s, "a backslash has to be followed by one of \" \\ / b f n r t u");
        if (*s->at++ != 'u')
                return 0;
        unit = hex4(s);
        if (unit < 0)
                return not_json(s, "\\u has to be followed by four hex digits");
        if (unit == 0)
                return not_json(s, "the character U+0000 cannot be kept");
        if (unit < 0xd800 || unit > 0xdfff)
                return 0;
        if (unit > 0xdbff || !take(s, '\\') || !take(s, 'u') || (unit = hex4(s)) < 0xdc00 || unit > 0xdfff)
                return not_json(s, "half of a surrogate pair stands alone");
        return 0;
}

/*
 * Bytes of the UTF-8 character that begins with @lead >= 0x80, and the range of its second byte, which is narrower than
 * 80..BF where overlong forms, surrogates and what lies beyond U+10FFFF would begin (Unicode, table 3-7). 0: none
 * begins so.
 */
static size_t utf8_length(unsigned char lead, unsigned char *low, unsigned char *high)
{
        *low = lead == 0xe0 ? 0xa0 : lead == 0xf0 ? 0x90 : 0x80;
        *high = lead == 0xed ? 0x9f : lead == 0xf4 ? 0x8f : 0xbf;
        if (lead >= 0xc2 && lead <= 0xdf)
                return 2;
        if (lead >= 0xe0 && lead <= 0xef)
                return 3;
        return lead >= 0xf0 && lead <= 0xf4 ? 4 : 0;
}

static int scan_utf8(struct scan *s)
{
        const unsigned char *c = (const unsigned char *)s->at;
        unsigned char low, high;
        const size_t n = utf8_length(c[0], &low, &high);
        bool good = n != 0 && n <= (size_t)(s->end - s->at) && c[1] >= low && c[1] <= high;

        for (size_t i = 2; good && i < n; i++)
                good = c[i] >= 0x80 && c[i] <= 0xbf;
        if (!good)
                return not_json(s, "the text is not well-formed UTF-8");
        s->at += n;
        return 0;
}

static int scan_string(struct scan *s)
{
        int rc = 0;

        s->at++; /* the opening quotation mark */
        while (rc == 0) {
                const unsigned char c = s->at < s->end ? (unsigned char)*s->at : '\0';

                if (s->at == s->end)
                        return not_json(s, "a string is not closed");
                if (c < 0x20)
                        return not_json(s, "a control character in a string has to be written as an escape");
                if (c >= 0x80) {
                        rc = scan_utf8(s);
                        continue;
                }
                s->at++;
                if (c == '"')
                        return 0;
                if (c == '\\')
                        rc = scan_escape(s);
        }
        return rc;
}

/* --- numbers and names of values ------------------------------------------------------------------- */

static size_t skip_digits(struct scan *s)
{
        const char *from = s->at;

        while (s->at < s->end && *s->at >= '0' && *s->at <= '9')
                s->at++;
        return (size_t)(s->at - from);
}

/* The first number that cannot be kept; a later fault in the syntax overrides it. */
static void bad_number(struct scan *s, const char *from, const char *why)
{
        char text[KW_EXCERPT], label[KW_LABEL], copy[64];
        size_t n = (size_t)(s->at - from);
        struct kw_pointer p;

        if (s->number)
                return;
        s->number = find_place(s, &p);
        if (s->number)
                return;
        n = n < sizeof(copy) - 1 ? n : sizeof(copy) - 1;
        memcpy(copy, from, n);
        copy[n] = '\0';
        s->number = kw_refuse(s->err, KW_BAD_TYPE, p.text, "%s is %s: %s.", kw_pointer_label(&p, label),
                              kw_excerpt(copy, text), why);
}

static int scan_number(struct scan *s)
{
        const char *from = s->at, *digits;
        const bool minus = take(s, '-');
        bool whole = true;
        size_t n;

        digits = s->at;
        n = skip_digits(s);
        if (n == 0)
                return not_json(s, "%s", minus ? "a minus sign has to be followed by digits" : no_value);
        if (n > 1 && *digits == '0')
                return not_json(s, "a number cannot begin with 0");
        if (take(s, '.')) {
                whole = false;
                if (skip_digits(s) == 0)
                        return not_json(s, "a decimal point has to be followed by digits");
        }
        if (take(s, 'e') || take(s, 'E')) {
                whole = false;
                if (!take(s, '+'))
                        take(s, '-');
                if (skip_digits(s) == 0)
                        return not_json(s, "an exponent has to have digits");
        }
        if (!whole)
                bad_number(s, from, "only whole numbers are kept, without a decimal point or an exponent");
        else if (n > 16 || (n == 16 && memcmp(digits, "9007199254740991", 16) > 0))
                bad_number(s, from, "whole numbers are kept up to 9007199254740991");
        else if (minus && *digits == '0')
                bad_number(s, from, "zero has no sign");
        return 0;
}

static int scan_word(struct scan *s, const char *word)
{
        const size_t n = strlen(word);

        if ((size_t)(s->end - s->at) < n || memcmp(s->at, word, n) != 0)
                return not_json(s, "%s", no_value);
        s->at += n;
        return 0;
}

/* --- containers ------------------------------------------------------------------------------------ */

static int scan_member(struct scan *s, struct frame *f)
{
        const char *name = s->at;
        int rc;

        f->name = NULL;
        if (s->at == s->end || *s->at != '"')
                return not_json(s, "a member has to begin with its name in quotation marks");
        rc = scan_string(s);
        if (rc)
                return rc;
        f->name = name;
        f->name_bytes = (size_t)(s->at - name);
        skip_space(s);
        if (!take(s, ':'))
                return not_json(s, "a colon has to follow a member's name");
        return scan_value(s);
}

/* An object or an array, from its opening bracket to its closing one. */
static int scan_container(struct scan *s, bool object)
{
        const char close = object ? '}' : ']';
        struct frame *f = &s->frames[s->depth];
        int rc;

        if (s->depth == KW_JSON_DEPTH)
                return not_json(s, "brackets nest deeper than %d", KW_JSON_DEPTH);
        s->at++;
        skip_space(s);
        if (take(s, close))
                return 0;
        *f = (struct frame){.object = object};
        s->depth++;
        for (;; f->item++) {
                skip_space(s);
                rc = object ? scan_member(s, f) : scan_value(s);
                if (rc)
                        return rc;
                if (take(s, ','))
                        continue;
                if (!take(s, close))
                        return not_json(s, "a comma or %c has to come next", close);
                s->depth--;
                return 0;
        }
}

/* A value with the white space round it. */
static int scan_value(struct scan *s)
{
        int rc;

        skip_space(s);
        if (++s->nodes > s->limits->nodes)
                return kw_refuse(s->err, KW_TOO_LARGE, "", "There are more than %zu values in this entry.",
                                 s->limits->nodes);
        switch (s->at < s->end ? *s->at : '\0') {
        case '{':
        case '[':
                rc = scan_container(s, *s->at == '{');
                break;
        case '"':
                rc = scan_string(s);
                break;
        case 't':
                rc = scan_word(s, "true");
                break;
        case 'f':
                rc = scan_word(s, "false");
                break;
        case 'n':
                rc = scan_word(s, "null");
                break;
        default:
                rc = scan_number(s);
        }
        if (rc == 0)
                skip_space(s);
        return rc;
}

int kw_json_scan(const char *text, size_t n, const struct kw_json_limits *limits, struct kw_error *err)
{
        struct scan s = {.at = text, .start = text, .end = text + n, .limits = limits, .err = err};
        int rc;

        if (n > limits->bytes)
                return kw_refuse(err, KW_TOO_LARGE, "", "An entry may be %zu bytes long; this is %zu.", limits->bytes,
                                 n);
        if (n >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
                return not_json(&s, "it begins with a byte order mark");
        rc = scan_value(&s);
        if (rc)
                return rc;
        if (s.at != s.end)
                return not_json(&s, "something follows after its end");
        return s.number;
}
