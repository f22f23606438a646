/*
 * The entries as they are stored and hashed, one a line.
 *
 * An auditor hashes each line; `kinwire load` reads it, taking who logged it and when as information.
 */
#include "inside.h"

#include <errno.h>

#define AT_ONCE 500 /* entries */

struct lines {
        struct kw_export *x;
        struct kw_buf *out;
        size_t before;
};

static int put_line(void *ctx, const struct kw_stored *entry)
{
        struct lines *l = ctx;

        kw_buf_text_add(l->out, entry->leaf);
        kw_buf_add(l->out, "\n", 1);
        l->x->at = entry->seq;
        return l->out->n - l->before >= KW_PIECE ? -EAGAIN : 0;
}

/* Selected entries that follow one another are read together. */
static int64_t run_length(const struct kw_selection *s, int64_t first)
{
        int64_t n = 1;

        while (n < AT_ONCE && kw_selected(s, first + n))
                n++;
        return n;
}

int kw_entries_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        struct lines l = {x, out, out->n};
        int64_t first;
        int rc;

        while ((first = kw_selected_next(&x->entries, x->at))) {
                rc = kw_ledger_entries(x->ledger, first - 1, run_length(&x->entries, first), put_line, &l, err);
                if (rc == -EAGAIN)
                        return kw_selected_next(&x->entries, x->at) != 0;
                if (rc)
                        return rc;
                if (x->at < first)
                        return -EIO;
        }
        return 0;
}
