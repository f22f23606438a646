#ifndef KINWIRE_BUF_H
#define KINWIRE_BUF_H
/*
 * A growing run of bytes, and the writing of JSON into it.
 *
 * A failed allocation is remembered in @failed and everything after it is ignored, so that a writer checks once,
 * at the end. kw_buf_text() is NUL-terminated, though @n does not count the NUL.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct kw_buf {
        char *at;
        size_t n, cap;
        bool failed;
        bool comma; /* JSON: whether the next member or element needs a comma before it */
};

void kw_buf_free(struct kw_buf *b);
void kw_buf_clear(struct kw_buf *b);
void kw_buf_add(struct kw_buf *b, const void *bytes, size_t n);
void kw_buf_text_add(struct kw_buf *b, const char *text);
void kw_buf_printf(struct kw_buf *b, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
/** kw_buf_text - the bytes with a NUL after them; "" when nothing was added or an allocation failed. */
const char *kw_buf_text(struct kw_buf *b);

/* JSON. @name NULL: an element of an array, else a member of an object. Strings are UTF-8, escaped as RFC 8785 says. */
void kw_put_object(struct kw_buf *b, const char *name);
void kw_put_object_end(struct kw_buf *b);
void kw_put_array(struct kw_buf *b, const char *name);
void kw_put_array_end(struct kw_buf *b);
/** kw_put_string - NULL gives null. */
void kw_put_string(struct kw_buf *b, const char *name, const char *value);
void kw_put_int(struct kw_buf *b, const char *name, int64_t value);
void kw_put_bool(struct kw_buf *b, const char *name, bool value);
void kw_put_null(struct kw_buf *b, const char *name);
/** kw_put_raw - a value that is JSON already. */
void kw_put_raw(struct kw_buf *b, const char *name, const char *json);
/** kw_put_span - [from,to] */
void kw_put_span(struct kw_buf *b, const char *name, int64_t from, int64_t to);
struct kw_said;
/** kw_put_said - {"as":..., name: value, ...}; empty where nothing was said. */
void kw_put_said(struct kw_buf *b, const char *name, const struct kw_said *said);
/** kw_json_escape - the string with its quotation marks, escaped as RFC 8785 section 3.2.2.2 says. */
void kw_json_escape(struct kw_buf *b, const char *text);

#endif
