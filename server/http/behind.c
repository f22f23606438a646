/*
 * What is made behind the server, after its start and while it serves: gaps (gaps.c), months (months.c).
 *
 * Of a large ledger that takes minutes, so it waits until the index stands, which is made first and makes the rest
 * quicker, and what was made is kept in a file beside the ledger, for the next start.
 */
#include "server.h"

#include "kinwire/index.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define LARGE   20000 /* entries; what fewer are summed up for is waited for */
#define LOOK_MS 50    /* at whether the index stands, and whether to stop */

bool kw_is_large(int64_t entries)
{
        return entries > LARGE;
}

void kw_rest(int64_t ms, const atomic_bool *stop)
{
        const int64_t until = kw_now_ms() + ms;

        for (int64_t left = ms; left > 0 && !atomic_load(stop); left = until - kw_now_ms()) {
                const struct timespec t = {.tv_nsec = (left < LOOK_MS ? left : LOOK_MS) * 1000000};

                nanosleep(&t, NULL);
        }
}

bool kw_await_index(struct kw_http *http, const atomic_bool *stop)
{
        struct kw_index_figures figures = {0};

        for (;;) {
                kw_index_figures(http->index, &figures);
                if (figures.ready || atomic_load(stop))
                        return figures.ready;
                kw_rest(LOOK_MS, stop);
        }
}

char *kw_file_beside(const struct kw_http *http, const char *suffix)
{
        const size_t n = strlen(http->ledger) + strlen(suffix) + 1;
        char *file = malloc(n);

        if (file)
                snprintf(file, n, "%s%s", http->ledger, suffix);
        return file;
}

void kw_note_fault(struct kw_http *http, const char *suffix, const char *fault)
{
        if (fault)
                kw_note(http, KW_LOG_NOTICE, "%s%s is not used: %s; it is made again", http->ledger, suffix, fault);
}

void kw_note_unsaved(struct kw_http *http, const char *suffix, int rc)
{
        if (rc && rc != -EBUSY)
                kw_note(http, KW_LOG_WARNING, "%s%s could not be written, so the next start takes longer: %s",
                        http->ledger, suffix, rc < 0 ? strerror(-rc) : "the ledger can't be read");
}
