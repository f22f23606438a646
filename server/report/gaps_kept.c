/*
 * Gaps in a file beside the ledger.
 *
 *      by which measures, how long it took | kinds: name, gaps, metres | what was sold | months | gaps | their order
 *
 * They are those of the ledger's size that the file says, whatever was recorded since, and say so where they are given.
 */
#include "gaps.h"

#include "kinwire/kept.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define FORM "gaps 1" /* and what is a gap and how it weighs: another number for other gaps of the same entries */

static void keep_row(const struct kw_gaps *g, size_t i, struct kw_buf *out)
{
        const struct kw_gap_row *row = &g->list.rows[i];

        kw_kept_put_int(out, (int64_t)row->kind);
        kw_kept_put_text(out, row->type);
        kw_kept_put_text(out, row->code);
        kw_kept_put_text(out, row->detail);
        kw_kept_put_int(out, row->seq);
        kw_kept_put_int(out, row->figure);
        kw_kept_put_array(out, &g->weights[i], sizeof(g->weights[i]));
}

static void keep(const struct kw_gaps *g, int64_t took_ms, struct kw_buf *out)
{
        kw_kept_put_int(out, g->asked.long_mm);
        kw_kept_put_int(out, g->asked.late_s);
        kw_kept_put_int(out, took_ms);
        kw_kept_put_int(out, (int64_t)g->kinds);
        for (size_t k = 0; k < g->kinds; k++) {
                kw_kept_put_text(out, kw_gap_kind(k));
                kw_kept_put_array(out, &g->totals[k], sizeof(g->totals[k]));
        }
        kw_kept_put_int(out, g->sold_mm);
        kw_kept_put_int(out, g->under_any_mm);
        kw_kept_put_int(out, g->under_broken_mm);
        kw_kept_put_int(out, (int64_t)g->n_months);
        kw_kept_put_array(out, g->months, g->n_months * sizeof(*g->months));
        kw_kept_put_int(out, (int64_t)g->list.n);
        for (size_t i = 0; i < g->list.n; i++)
                keep_row(g, i, out);
        kw_kept_put_array(out, g->order, g->list.n * sizeof(*g->order));
}

int kw_gaps_save(const struct kw_gaps *g, struct kw_ledger *ledger, const char *file, int64_t took_ms)
{
        struct kw_buf out = {0};
        int rc;

        keep(g, took_ms, &out);
        rc = kw_kept_save(file, FORM, ledger, g->head.size, &out);
        kw_buf_free(&out);
        return rc;
}

/* --- and back --------------------------------------------------------------------------------------- */

static const char *text_of(struct kw_gaps *g, struct kw_kept *k, bool *failed)
{
        return kw_arena_text(kw_reader_arena(g->reader), kw_kept_text(k), failed);
}

static void kinds_of(struct kw_gaps *g, struct kw_kept *k)
{
        const size_t n = kw_kept_count(k, sizeof(int64_t));

        while (kw_gap_kind(g->kinds))
                g->kinds++;
        k->failed = k->failed || n != g->kinds;
        for (size_t i = 0; i < n && !k->failed; i++) {
                const char *name = kw_kept_text(k);

                k->failed = k->failed || !name || strcmp(name, kw_gap_kind(i)) != 0;
                kw_kept_array(k, &g->totals[i], sizeof(g->totals[i]));
        }
}

static int months_of(struct kw_gaps *g, struct kw_kept *k)
{
        g->sold_mm = kw_kept_int(k);
        g->under_any_mm = kw_kept_int(k);
        g->under_broken_mm = kw_kept_int(k);
        g->n_months = kw_kept_count(k, sizeof(*g->months));
        g->months = calloc(g->n_months + 1, sizeof(*g->months));
        if (!g->months)
                return -ENOMEM;
        kw_kept_array(k, g->months, g->n_months * sizeof(*g->months));
        return 0;
}

static int row_of(struct kw_gaps *g, size_t i, struct kw_kept *k)
{
        struct kw_gap_row *row = &g->list.rows[i];
        bool failed = false;

        row->kind = (size_t)kw_kept_int(k);
        k->failed = k->failed || row->kind >= g->kinds;
        row->type = text_of(g, k, &failed);
        row->code = text_of(g, k, &failed);
        row->detail = text_of(g, k, &failed);
        row->seq = kw_kept_int(k);
        row->figure = kw_kept_int(k);
        kw_kept_array(k, &g->weights[i], sizeof(g->weights[i]));
        return failed ? -ENOMEM : 0;
}

static int rows_of(struct kw_gaps *g, struct kw_kept *k)
{
        const size_t n = kw_kept_count(k, sizeof(struct kw_gap_weight));
        int rc = 0;

        g->list.rows = calloc(n + 1, sizeof(*g->list.rows));
        g->weights = calloc(n + 1, sizeof(*g->weights));
        g->order = calloc(n + 1, sizeof(*g->order));
        if (!g->list.rows || !g->weights || !g->order)
                return -ENOMEM;
        g->list.n = g->list.cap = n;
        for (size_t i = 0; rc == 0 && i < n && !k->failed; i++)
                rc = row_of(g, i, k);
        kw_kept_array(k, g->order, n * sizeof(*g->order));
        for (size_t i = 0; i < n && !k->failed; i++)
                k->failed = g->order[i] >= n;
        return rc;
}

static int take_over(struct kw_gaps *g, struct kw_ledger *ledger, struct kw_kept *k, int64_t *took_ms)
{
        struct kw_error err = {0};
        int rc = kw_reader_new(ledger, &g->reader);

        g->head.size = k->size;
        if (rc == 0)
                rc = kw_ledger_root(ledger, k->size, &g->head.root, &err);
        if (rc)
                return rc > 0 ? -EIO : rc;
        g->asked.long_mm = kw_kept_int(k);
        g->asked.late_s = kw_kept_int(k);
        *took_ms = kw_kept_int(k);
        kinds_of(g, k);
        rc = months_of(g, k);
        if (rc == 0)
                rc = rows_of(g, k);
        return rc ? rc : kw_kept_whole(k) ? 0 : -EIO;
}

int kw_gaps_open(const char *file, struct kw_ledger *ledger, struct kw_gaps **out, int64_t *took_ms, const char **why)
{
        struct kw_gaps *g;
        struct kw_kept k;
        int rc = kw_kept_open(file, FORM, ledger, &k, why);

        if (rc)
                return rc;
        g = calloc(1, sizeof(*g));
        rc = g ? take_over(g, ledger, &k, took_ms) : -ENOMEM;
        kw_kept_close(&k);
        if (rc) {
                *why = rc == -EIO ? "it is damaged" : NULL;
                kw_gaps_free(g);
                return rc;
        }
        *out = g;
        return 0;
}
