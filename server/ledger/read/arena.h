#ifndef KW_READ_ARENA_H
#define KW_READ_ARENA_H
/*
 * An arena: memory that lives as long as one question and is freed in one go.
 *
 * What is read for an answer (codes, runs with their feeds, spans) is never freed piece by piece, so nobody has to keep
 * account of it. Everything handed out is zeroed and aligned for any type.
 */
#include "kinwire/spans.h"

#include <stdarg.h>

struct kw_arena_chunk;

/** All zero is a valid empty arena; free with kw_arena_free(). */
struct kw_arena {
        struct kw_arena_chunk *chunks;
};

void kw_arena_free(struct kw_arena *arena);
/** kw_arena_get - @n zeroed bytes, NULL when there is no memory. */
void *kw_arena_get(struct kw_arena *arena, size_t n);
/** kw_arena_words - what vprintf would write; NULL when there is no memory. */
const char *kw_arena_words(struct kw_arena *arena, const char *fmt, va_list ap) __attribute__((format(printf, 2, 0)));
/** kw_arena_text - a copy of @text. NULL gives NULL; with *@failed set when there is no memory. */
const char *kw_arena_text(struct kw_arena *arena, const char *text, bool *failed);
/** kw_arena_spans - a copy of @s that must not be freed or added to. Return: 0; -ENOMEM. */
int kw_arena_spans(struct kw_arena *arena, const struct kw_spans *s, struct kw_spans *out);
/** A growing array in an arena. All zero is a valid empty one. */
struct kw_list {
        void *at;
        size_t n, cap;
};
/**
 * kw_list_more - room for one more element of @size bytes
 * Return: the new last element, zeroed; NULL when there is no memory. Earlier elements may have moved.
 */
void *kw_list_more(struct kw_arena *arena, struct kw_list *list, size_t size);

#endif
