/*
 * Which older entries came to say something else, for whoever keeps what was summed up of them.
 */
#include "period.h"

#include "../leaning.h"

#include "kinwire/undone.h"

#include <errno.h>
#include <stdlib.h>

int kw_any_put_right(struct kw_ledger *l, int64_t first, int64_t last)
{
        int64_t any = 0;
        int rc = kw_one(
                l, &any, 0,
                "SELECT EXISTS (SELECT 1 FROM entry WHERE kind IN ('correct', 'void') AND seq BETWEEN ?1 AND ?2)", "ii",
                first, last);

        return rc ? rc : any != 0;
}

/* The runs of which there are steps among these entries. */
static int read_runs(struct kw_ledger *l, int64_t first, int64_t last, struct kw_numbers *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT DISTINCT run_seq FROM step WHERE seq BETWEEN ?1 AND ?2", "ii", first, last);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_numbers_add(out, kw_int(&q, 0));
        kw_end(&q);
        return rc;
}

static int read_told(struct kw_undone *undone, int64_t from, int64_t to, struct kw_numbers *out)
{
        struct kw_numbers told = {0};
        int rc = kw_undone_take(undone, from, to, &told.at, &told.n);

        if (rc == 0)
                rc = kw_numbers_add_all(out, &told);
        free(told.at);
        return rc;
}

/* What leans on the runs that were gone on with was done again with them. */
static int read_leaning(struct kw_ledger *l, int64_t from, int64_t to, struct kw_numbers *out)
{
        struct kw_again *leaning = NULL;
        struct kw_numbers runs = {0};
        int rc = kw_any_put_right(l, from + 1, to);

        if (rc)
                return rc > 0 ? -ESTALE : rc;
        rc = read_runs(l, from + 1, to, &runs);
        for (size_t i = 0; rc == 0 && i < runs.n; i++)
                rc = kw_leaning(l, runs.at[i], &leaning);
        for (const struct kw_again *a = leaning; rc == 0 && a; a = a->hh.next)
                rc = kw_numbers_add(out, a->seq);
        kw_again_free(&leaning);
        free(runs.at);
        return rc;
}

/* Of what was before the writer's first word nobody told. */
static int read_since(struct kw_ledger *l, struct kw_undone *undone, int64_t from, int64_t to, struct kw_numbers *out)
{
        int64_t until = kw_undone_known(undone);
        int rc = 0;

        if (until < 0 || until > to)
                until = to;
        if (from < until)
                rc = read_leaning(l, from, until, out);
        return rc || until >= to ? rc : read_told(undone, from < until ? until : from, to, out);
}

int kw_each_changed(struct kw_ledger *l, struct kw_undone *undone, int64_t from, int64_t to, enum kw_told by,
                    int (*fn)(void *ctx, int64_t seq), void *ctx)
{
        struct kw_numbers changed = {0};
        int rc = by == KW_TOLD ? read_told(undone, from, to, &changed) : -ESTALE;

        if (by == KW_TOLD_BY_NOBODY)
                rc = read_leaning(l, from, to, &changed);
        else if (rc == -ESTALE)
                rc = read_since(l, undone, from, to, &changed);
        if (rc == 0)
                rc = read_runs(l, from + 1, to, &changed);
        for (size_t i = 0; rc == 0 && i < changed.n; i++)
                rc = fn(ctx, changed.at[i]);
        free(changed.at);
        return rc;
}
