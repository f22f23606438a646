#ifndef KW_TESTS_FAILING_H
#define KW_TESTS_FAILING_H
/*
 * The n-th allocation fails. A program that includes this, once, and is linked with --wrap for malloc, calloc, realloc,
 * reallocarray and free sends its allocations through one counter; others (a library's) can be counted with fails() and
 * held as well.
 *
 *      calls = 0; fail_at = n;     the n-th from here on fails
 *      fail_at = 0;                none does
 *      held                        blocks that were given out and not freed
 */
#include <stdbool.h>
#include <stdlib.h>

static _Atomic long calls, fail_at, held; /* by whatever thread */

static bool fails(void)
{
        return fail_at && ++calls == fail_at;
}

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
void *__real_reallocarray(void *p, size_t n, size_t size);
void __real_free(void *p);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);
void *__wrap_reallocarray(void *p, size_t n, size_t size);
void __wrap_free(void *p);

void *__wrap_malloc(size_t n)
{
        void *p = fails() ? NULL : __real_malloc(n);

        held += p != NULL;
        return p;
}

void *__wrap_calloc(size_t n, size_t size)
{
        void *p = fails() ? NULL : __real_calloc(n, size);

        held += p != NULL;
        return p;
}

void *__wrap_realloc(void *old, size_t n)
{
        void *p = fails() ? NULL : __real_realloc(old, n);

        held += p != NULL && !old;
        return p;
}

void *__wrap_reallocarray(void *old, size_t n, size_t size)
{
        void *p = fails() ? NULL : __real_reallocarray(old, n, size);

        held += p != NULL && !old;
        return p;
}

void __wrap_free(void *p)
{
        held -= p != NULL;
        __real_free(p);
}

#endif
