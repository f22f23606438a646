/*
 * What happened in a time, for balances over a month or a shift.
 */
#include "period.h"

#include "reader.h"

#include <errno.h>
#include <string.h>

static int take_ids(struct kw_reader *r, struct kw_query *q, int rc, const int64_t **out, size_t *n)
{
        struct kw_list list = {0};

        while (rc == 0 && (rc = kw_next(r->ledger, q)) == 1) {
                int64_t *id = kw_list_more(&r->arena, &list, sizeof(*id));

                rc = id ? 0 : -ENOMEM;
                if (id)
                        *id = kw_int(q, 0);
        }
        kw_end(q);
        *out = list.at;
        *n = list.n;
        return rc;
}

int kw_read_runs_in(struct kw_reader *r, const char *machine, const struct kw_period *in, const int64_t **out,
                    size_t *n)
{
        struct kw_query q;
        int rc;

        if (machine)
                rc = kw_ask(r->ledger, &q,
                            "SELECT id FROM run WHERE machine = ?3 AND coalesce(ended, at) >= ?1"
                            " AND coalesce(ended, at) < ?2 ORDER BY id",
                            "iit", in->since, in->until, machine);
        else
                rc = kw_ask(r->ledger, &q,
                            "SELECT id FROM run WHERE coalesce(ended, at) >= ?1 AND coalesce(ended, at) < ?2"
                            " ORDER BY id",
                            "ii", in->since, in->until);
        return take_ids(r, &q, rc, out, n);
}

int kw_read_received_in(struct kw_reader *r, const struct kw_period *in, const int64_t **out, size_t *n)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT l.id FROM entry e JOIN lot l ON l.id BETWEEN e.seq * 4096 AND e.seq * 4096 + 4095"
                        " WHERE e.kind = 'receive' AND l.at >= ?1 AND l.at < ?2 ORDER BY l.id",
                        "ii", in->since, in->until);

        return take_ids(r, &q, rc, out, n);
}

static int take_taken(struct kw_reader *r, struct kw_query *q, int rc, const struct kw_taken_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;

        while (rc == 0 && (rc = kw_next(r->ledger, q)) == 1) {
                struct kw_taken_row *row = kw_list_more(&r->arena, &list, sizeof(*row));
                const char *what = kw_text(q, 3);

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_taken_row){.lot = kw_int(q, 0),
                                                     .from = kw_int(q, 1),
                                                     .to = kw_int(q, 2),
                                                     .at = kw_int(q, 5),
                                                     .what = strcmp(what, "sample") == 0  ? KW_CLAIM_SAMPLE
                                                             : strcmp(what, "scrap") == 0 ? KW_CLAIM_SCRAP
                                                                                          : KW_CLAIM_DISPATCH,
                                                     .code = kw_keep_text(r, q, 4, &failed)};
        }
        kw_end(q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

int kw_read_taken_in(struct kw_reader *r, const struct kw_period *in, const struct kw_taken_row **out, size_t *n)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT lot, from_mm, to_mm, what, code, at FROM taken WHERE at >= ?1 AND at < ?2"
                        " ORDER BY seq, lot, from_mm",
                        "ii", in->since, in->until);

        return take_taken(r, &q, rc, out, n);
}

int kw_read_taken_by(struct kw_reader *r, int64_t seq, const struct kw_taken_row **out, size_t *n)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT lot, from_mm, to_mm, what, code, at FROM taken WHERE seq = ?1 ORDER BY lot, from_mm",
                        "i", seq);

        return take_taken(r, &q, rc, out, n);
}

/* --- by entry -------------------------------------------------------------------------------------------- */

int kw_each_counted(struct kw_ledger *ledger, int64_t first, int64_t last,
                    int (*fn)(void *ctx, int64_t seq, enum kw_counts what, int64_t at), void *ctx)
{
        static const char *const by[] = {
                [KW_COUNTS_RUN] = "SELECT seq, coalesce(ended, at) FROM run"
                                  " WHERE id BETWEEN ?1 * 4096 AND ?2 * 4096 + 4095",
                [KW_COUNTS_RECEIVED] = "SELECT e.seq, l.at FROM entry e CROSS JOIN lot l ON l.id = e.seq * 4096"
                                       " WHERE e.kind = 'receive' AND e.seq BETWEEN ?1 AND ?2",
                [KW_COUNTS_TAKEN] = "SELECT seq, at FROM taken WHERE seq BETWEEN ?1 AND ?2",
        };
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < sizeof(by) / sizeof(*by); i++) {
                struct kw_query q;

                rc = kw_ask(ledger, &q, by[i], "ii", first, last);
                while (rc == 0 && (rc = kw_next(ledger, &q)) == 1)
                        rc = fn(ctx, kw_int(&q, 0), (enum kw_counts)i, kw_int(&q, 1));
                kw_end(&q);
        }
        return rc;
}

int kw_read_run_name(struct kw_reader *r, int64_t id, struct kw_run_name *out)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT code, process, machine FROM run WHERE id = ?1", "i", id);

        *out = (struct kw_run_name){0};
        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                out->code = kw_keep_text(r, &q, 0, &failed);
                out->process = kw_keep_text(r, &q, 1, &failed);
                out->machine = kw_keep_text(r, &q, 2, &failed);
                rc = 0;
        } else if (rc == 0) {
                rc = -EIO;
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}
