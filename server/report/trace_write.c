/*
 * A trace on its way out: which rows are wanted, and how much goes out at a time.
 */
#include "trace.h"

#include <errno.h>
#include <string.h>

#define PIECE ((size_t)64 * 1024)

const char *kw_direction_text(enum kw_direction direction)
{
        static const char *const text[] = {[KW_FORWARD] = "forward", [KW_BACK] = "back", [KW_KIN] = "kin"};

        return text[direction];
}

const char *kw_verdict_text(enum kw_verdict verdict)
{
        static const char *const text[] = {
                [KW_VERDICT_NONE] = "none", [KW_VERDICT_POSSIBLE] = "possible", [KW_VERDICT_CERTAIN] = "certain"};

        return text[verdict];
}

/* The first row after the lot @after; past the end when there is no such lot. */
static size_t first_after(const struct kw_trace_answer *a, const char *after)
{
        for (size_t i = 0; after && i < a->n_rows; i++) {
                if (strcmp(a->rows[i].lot->code, after) == 0)
                        return i + 1;
        }
        return after ? a->n_rows : 0;
}

void kw_trace_page(const struct kw_trace_writer *w, size_t *from, size_t *to)
{
        const size_t n = w->answer->n_rows;

        *from = first_after(w->answer, w->after);
        *to = w->limit && w->limit < n - *from ? *from + w->limit : n;
}

const struct kw_trace_row *kw_trace_row_next(struct kw_trace_writer *w)
{
        if (w->given == 0)
                w->next = first_after(w->answer, w->after);
        if (w->next >= w->answer->n_rows || (w->limit && w->given >= w->limit))
                return NULL;
        w->given++;
        return &w->answer->rows[w->next++];
}

const char *kw_trace_more(const struct kw_trace_writer *w)
{
        if (!w->limit || !w->given || w->next >= w->answer->n_rows)
                return NULL;
        return w->answer->rows[w->next - 1].lot->code;
}

bool kw_trace_piece_full(const struct kw_buf *out, size_t before)
{
        return out->failed || out->n - before >= PIECE;
}

int kw_trace_write(struct kw_trace_writer *w, struct kw_buf *out)
{
        static int (*const write[])(struct kw_trace_writer *, struct kw_buf *) = {[KW_AS_JSON] = kw_trace_write_json,
                                                                                  [KW_AS_CSV] = kw_trace_write_csv,
                                                                                  [KW_AS_TABLE] = kw_trace_write_table};
        int more = write[w->as](w, out);

        return out->failed ? -ENOMEM : more;
}
