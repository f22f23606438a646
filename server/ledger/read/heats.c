/*
 * The heats in a length: by its place, not by who shared a run with it.
 */
#include "reader.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct collecting {
        struct kw_reader *r;
        struct kw_list codes;
};

static int add_heat(void *ctx, struct kw_hit *hit)
{
        struct collecting *c = ctx;
        const struct kw_lot_row *lot = NULL;
        const char *code = NULL, **row;
        int rc = hit->depth ? 0 : kw_read_lot(c->r, hit->lot, &lot);

        if (rc == 0 && lot && lot->heat)
                rc = kw_read_code(c->r, KW_NAMED_HEAT, lot->heat, &code);
        if (rc || !code)
                return rc;
        row = kw_list_more(&c->r->arena, &c->codes, sizeof(*row));
        if (!row)
                return -ENOMEM;
        *row = code;
        return 0;
}

static int by_code(const void *a, const void *b)
{
        return strcmp(*(const char *const *)a, *(const char *const *)b);
}

int kw_read_heats_of(struct kw_reader *r, struct kw_hits *hits, const char *const **codes, size_t *n)
{
        struct collecting c = {.r = r};
        const char **list;
        size_t kept = 0;
        int rc = kw_trace_back(&r->genealogy, hits, NULL);

        if (rc == 0)
                rc = kw_hits_each(hits, add_heat, &c);
        list = c.codes.at;
        if (rc == 0 && c.codes.n)
                qsort(list, c.codes.n, sizeof(*list), by_code);
        for (size_t i = 0; rc == 0 && i < c.codes.n; i++)
                if (!kept || strcmp(list[kept - 1], list[i]) != 0)
                        list[kept++] = list[i];
        *codes = list;
        *n = kept;
        return rc;
}

int kw_read_heats_in(struct kw_reader *r, const struct kw_lot_row *lot, const char *const **codes, size_t *n)
{
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? kw_hits_add(hits, lot->id, 0, lot->length_mm, KW_CERTAIN) : -ENOMEM;

        if (rc == 0)
                rc = kw_read_heats_of(r, hits, codes, n);
        kw_hits_free(hits);
        return rc;
}
