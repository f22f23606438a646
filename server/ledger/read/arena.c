/*
 * The arena of one question: chunks that only grow and are freed together.
 */
#include "arena.h"

#include <errno.h>
#include <stdalign.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CHUNK ((size_t)64 * 1024)

struct kw_arena_chunk {
        struct kw_arena_chunk *next;
        size_t used, size;
        alignas(max_align_t) char bytes[];
};

void kw_arena_free(struct kw_arena *arena)
{
        while (arena->chunks) {
                struct kw_arena_chunk *gone = arena->chunks;

                arena->chunks = gone->next;
                free(gone);
        }
}

void *kw_arena_get(struct kw_arena *arena, size_t n)
{
        struct kw_arena_chunk *chunk = arena->chunks;
        size_t need = (n + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t);
        void *out;

        if (!chunk || chunk->size - chunk->used < need) {
                size_t size = need > CHUNK ? need : CHUNK;

                chunk = calloc(1, sizeof(*chunk) + size);
                if (!chunk)
                        return NULL;
                chunk->size = size;
                chunk->next = arena->chunks;
                arena->chunks = chunk;
        }
        out = chunk->bytes + chunk->used;
        chunk->used += need;
        return out;
}

const char *kw_arena_words(struct kw_arena *arena, const char *fmt, va_list ap)
{
        va_list again;
        char *out = NULL;
        int n;

        va_copy(again, ap);
        n = vsnprintf(NULL, 0, fmt, again);
        va_end(again);
        if (n >= 0)
                out = kw_arena_get(arena, (size_t)n + 1);
        if (out)
                vsnprintf(out, (size_t)n + 1, fmt, ap);
        return out;
}

const char *kw_arena_text(struct kw_arena *arena, const char *text, bool *failed)
{
        size_t n;
        char *out;

        if (!text)
                return NULL;
        n = strlen(text) + 1;
        out = kw_arena_get(arena, n);
        if (!out) {
                *failed = true;
                return NULL;
        }
        memcpy(out, text, n);
        return out;
}

int kw_arena_spans(struct kw_arena *arena, const struct kw_spans *s, struct kw_spans *out)
{
        *out = (struct kw_spans){0};
        if (!s->n)
                return 0;
        out->at = kw_arena_get(arena, s->n * sizeof(*s->at));
        if (!out->at)
                return -ENOMEM;
        memcpy(out->at, s->at, s->n * sizeof(*s->at));
        out->n = s->n;
        return 0;
}

void *kw_list_more(struct kw_arena *arena, struct kw_list *list, size_t size)
{
        if (list->n == list->cap) {
                size_t more = list->cap ? list->cap * 2 : 4;
                void *bigger = kw_arena_get(arena, more * size);

                if (!bigger)
                        return NULL;
                if (list->n)
                        memcpy(bigger, list->at, list->n * size);
                list->at = bigger;
                list->cap = more;
        }
        return (char *)list->at + list->n++ * size;
}
