/*
 * A growing run of bytes, and the writing of JSON into it.
 *
 * Strings are escaped as RFC 8785 section 3.2.2.2 says, wherever they go: what is hashed and what is answered look
 * alike.
 */
#include "kinwire/buf.h"

#include "kinwire/said.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void kw_buf_free(struct kw_buf *b)
{
        free(b->at);
        *b = (struct kw_buf){0};
}

void kw_buf_clear(struct kw_buf *b)
{
        b->n = 0;
        b->failed = false;
        b->comma = false;
}

/* Room for @more bytes and the NUL after them. */
static bool make_room(struct kw_buf *b, size_t more)
{
        size_t cap = b->cap ? b->cap : 256;
        char *at;

        if (b->failed)
                return false;
        if (b->at && more < b->cap - b->n)
                return true;
        if (more >= SIZE_MAX / 2 - b->n) {
                b->failed = true;
                return false;
        }
        while (cap - b->n <= more)
                cap *= 2;
        at = realloc(b->at, cap);
        if (!at) {
                b->failed = true;
                return false;
        }
        b->at = at;
        b->cap = cap;
        return true;
}

void kw_buf_add(struct kw_buf *b, const void *bytes, size_t n)
{
        if (n == 0 || !make_room(b, n))
                return;
        memcpy(b->at + b->n, bytes, n);
        b->n += n;
}

static void add_char(struct kw_buf *b, char c)
{
        if (make_room(b, 1))
                b->at[b->n++] = c;
}

void kw_buf_text_add(struct kw_buf *b, const char *text)
{
        kw_buf_add(b, text, strlen(text));
}

void kw_buf_printf(struct kw_buf *b, const char *fmt, ...)
{
        va_list args;
        int n;

        va_start(args, fmt);
        n = vsnprintf(NULL, 0, fmt, args);
        va_end(args);
        if (n < 0) {
                b->failed = true;
                return;
        }
        if (!make_room(b, (size_t)n))
                return;
        va_start(args, fmt);
        vsnprintf(b->at + b->n, (size_t)n + 1, fmt, args);
        va_end(args);
        b->n += (size_t)n;
}

#define INT_MOST 20 /* characters of an integer */

/* Answers are mostly numbers: written out by hand, since printf() is what would take the time. @to has room for
 * INT_MOST; gives what is behind the number. */
static char *put_digits(char *to, int64_t value)
{
        char digits[INT_MOST];
        size_t at = sizeof(digits);
        uint64_t left = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;

        do {
                digits[--at] = (char)('0' + left % 10);
                left /= 10;
        } while (left);
        if (value < 0)
                digits[--at] = '-';
        memcpy(to, digits + at, sizeof(digits) - at);
        return to + sizeof(digits) - at;
}

static void add_int(struct kw_buf *b, int64_t value)
{
        if (make_room(b, INT_MOST))
                b->n = (size_t)(put_digits(b->at + b->n, value) - b->at);
}

const char *kw_buf_text(struct kw_buf *b)
{
        if (!make_room(b, 0))
                return "";
        b->at[b->n] = '\0';
        return b->at;
}

/* The two letters of a short escape, or NULL. */
static const char *short_escape(unsigned char c)
{
        switch (c) {
        case '"':
                return "\\\"";
        case '\\':
                return "\\\\";
        case '\b':
                return "\\b";
        case '\t':
                return "\\t";
        case '\n':
                return "\\n";
        case '\f':
                return "\\f";
        case '\r':
                return "\\r";
        default:
                return NULL;
        }
}

/* How many bytes from @text on need no escape. */
static size_t plain_length(const char *text)
{
        const unsigned char *at = (const unsigned char *)text;

        while (*at > 0x1f && *at != '"' && *at != '\\')
                at++;
        return (size_t)(at - (const unsigned char *)text);
}

void kw_json_escape(struct kw_buf *b, const char *text)
{
        size_t n = plain_length(text);

        if (make_room(b, n + 2)) {
                b->at[b->n++] = '"';
                memcpy(b->at + b->n, text, n);
                b->n += n;
                if (!text[n]) {
                        b->at[b->n++] = '"';
                        return;
                }
        }
        while (text[n]) {
                const char *escape = short_escape((unsigned char)text[n]);

                if (escape)
                        kw_buf_add(b, escape, 2);
                else
                        kw_buf_printf(b, "\\u%04x", (unsigned char)text[n]);
                text += n + 1;
                n = plain_length(text);
                kw_buf_add(b, text, n);
        }
        kw_buf_add(b, "\"", 1);
}

/* What comes before a value: a comma where one is due, and the member's name. */
static void put_name(struct kw_buf *b, const char *name)
{
        if (b->comma)
                add_char(b, ',');
        b->comma = true;
        if (!name)
                return;
        kw_json_escape(b, name);
        add_char(b, ':');
}

static void put_open(struct kw_buf *b, const char *name, const char *bracket)
{
        put_name(b, name);
        add_char(b, *bracket);
        b->comma = false;
}

static void put_close(struct kw_buf *b, const char *bracket)
{
        add_char(b, *bracket);
        b->comma = true;
}

void kw_put_object(struct kw_buf *b, const char *name)
{
        put_open(b, name, "{");
}

void kw_put_object_end(struct kw_buf *b)
{
        put_close(b, "}");
}

void kw_put_array(struct kw_buf *b, const char *name)
{
        put_open(b, name, "[");
}

void kw_put_array_end(struct kw_buf *b)
{
        put_close(b, "]");
}

void kw_put_string(struct kw_buf *b, const char *name, const char *value)
{
        put_name(b, name);
        if (value)
                kw_json_escape(b, value);
        else
                kw_buf_add(b, "null", 4);
}

void kw_put_int(struct kw_buf *b, const char *name, int64_t value)
{
        put_name(b, name);
        add_int(b, value);
}

void kw_put_bool(struct kw_buf *b, const char *name, bool value)
{
        kw_put_raw(b, name, value ? "true" : "false");
}

void kw_put_null(struct kw_buf *b, const char *name)
{
        kw_put_raw(b, name, "null");
}

void kw_put_raw(struct kw_buf *b, const char *name, const char *json)
{
        put_name(b, name);
        kw_buf_text_add(b, json);
}

void kw_put_span(struct kw_buf *b, const char *name, int64_t from, int64_t to)
{
        char *at;

        put_name(b, name);
        if (!make_room(b, 2 * INT_MOST + 3))
                return;
        at = b->at + b->n;
        *at++ = '[';
        at = put_digits(at, from);
        *at++ = ',';
        at = put_digits(at, to);
        *at++ = ']';
        b->n = (size_t)(at - b->at);
}

void kw_put_said(struct kw_buf *b, const char *name, const struct kw_said *said)
{
        kw_put_object(b, name);
        if (said->as)
                kw_put_string(b, "as", said->as);
        for (size_t i = 0; i < said->n; i++) {
                const char *text = kw_said_text(said, i);

                if (text)
                        kw_put_string(b, said->value[i].name, text);
                else
                        kw_put_int(b, said->value[i].name, said->value[i].figure);
        }
        kw_put_object_end(b);
}
