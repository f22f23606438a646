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

/* Answers are mostly numbers: written out by hand, since printf() is what would take the time. */
static void add_int(struct kw_buf *b, int64_t value)
{
        char digits[20];
        size_t at = sizeof(digits);
        uint64_t left = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;

        do {
                digits[--at] = (char)('0' + left % 10);
                left /= 10;
        } while (left);
        if (value < 0)
                digits[--at] = '-';
        kw_buf_add(b, digits + at, sizeof(digits) - at);
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
        static const char escaped[] = "\"\\\x01\x02\x03\x04\x05\x06\x07\b\t\n\v\f\r\x0e\x0f\x10\x11\x12\x13\x14\x15"
                                      "\x16\x17\x18\x19\x1a\x1b\x1c\x1d\x1e\x1f";

        return strcspn(text, escaped);
}

void kw_json_escape(struct kw_buf *b, const char *text)
{
        size_t n = plain_length(text);

        if (make_room(b, n + 2)) {
                b->at[b->n++] = '"';
                memcpy(b->at + b->n, text, n);
                b->n += n;
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
                kw_buf_add(b, ",", 1);
        b->comma = true;
        if (!name)
                return;
        kw_json_escape(b, name);
        kw_buf_add(b, ":", 1);
}

static void put_open(struct kw_buf *b, const char *name, const char *bracket)
{
        put_name(b, name);
        kw_buf_add(b, bracket, 1);
        b->comma = false;
}

static void put_close(struct kw_buf *b, const char *bracket)
{
        kw_buf_add(b, bracket, 1);
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
        put_name(b, name);
        kw_buf_add(b, "[", 1);
        add_int(b, from);
        kw_buf_add(b, ",", 1);
        add_int(b, to);
        kw_buf_add(b, "]", 1);
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
