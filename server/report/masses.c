/*
 * Balances of mass: the sums, and which balance a question asks for.
 */
#include "masses.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static bool same(const char *a, const char *b)
{
        return a == b || (a && b && strcmp(a, b) == 0);
}

/* Rows outlive the readers that gave their texts. */
static int keep(struct kw_mass_balance *b, const char **text)
{
        bool failed = false;

        *text = kw_arena_text(b->arena, *text, &failed);
        return failed ? -ENOMEM : 0;
}

int kw_mass_add(struct kw_mass_balance *b, const struct kw_mass_row *row)
{
        struct kw_mass_row *rows = b->rows.at, *at = NULL;

        for (size_t i = b->rows.n; i-- > 0 && !at;) {
                if (rows[i].side == row->side && same(rows[i].what, row->what) && same(rows[i].code, row->code) &&
                    same(rows[i].type, row->type) && same(rows[i].kind, row->kind))
                        at = &rows[i];
        }
        b->sum_g[row->side] += row->mass_g;
        if (!at) {
                at = kw_list_more(b->arena, &b->rows, sizeof(*at));
                if (!at)
                        return -ENOMEM;
                *at = *row;
                return keep(b, &at->what) || keep(b, &at->type) || keep(b, &at->code) || keep(b, &at->kind) ? -ENOMEM
                                                                                                            : 0;
        }
        at->lots += row->lots;
        at->length_mm += row->length_mm;
        at->mass_g += row->mass_g;
        at->computed_g += row->computed_g;
        return 0;
}

int64_t kw_mass_lot_part(const struct kw_lot_row *lot, int64_t from, int64_t to)
{
        const struct kw_mass whole = {0, lot->length_mm, lot->mass_g};

        return lot->mass_g == KW_NONE ? 0 : kw_mass_part(&whole, from, to);
}

int64_t kw_mass_computed(const struct kw_lot_row *lot, int64_t g)
{
        return lot->mass_from && strcmp(lot->mass_from, "weighed") == 0 ? 0 : g;
}

int kw_mass_lost(struct kw_mass_balance *b, const struct kw_run_row *run, int64_t in_g, int64_t out_g)
{
        struct kw_mass_run *row = kw_list_more(b->arena, &b->runs, sizeof(*row));

        if (!row)
                return -ENOMEM;
        *row = (struct kw_mass_run){.id = run->id,
                                    .in_g = in_g,
                                    .out_g = out_g,
                                    .allowed_g = kw_share(in_g, run->map.tolerance_ppm, KW_PPM)};
        b->allowed_g += row->allowed_g;
        return 0;
}

/* --- the question -------------------------------------------------------------------------------------- */

static int ask(struct kw_mass_balance *b, struct kw_ledger *ledger, struct kw_months *months,
               const struct kw_balance_question *q, struct kw_error *err)
{
        const struct kw_period in = {q->since, q->until};

        if (!q->type[0])
                return kw_balance_of_time(b, ledger, months, NULL, &in);
        if (strcmp(q->type, "run") == 0)
                return kw_balance_of_run(b, q->code, err);
        if (strcmp(q->type, "lot") == 0)
                return kw_balance_of_lot(b, q->code, err);
        if (strcmp(q->type, "heat") == 0)
                return kw_balance_of_heat(b, q->code, err);
        if (strcmp(q->type, "machine") == 0) {
                struct kw_thing_row thing;
                int rc = kw_read_thing(b->r, "machine", q->code, &thing, err);

                return rc ? rc : kw_balance_of_time(b, ledger, months, q->code, &in);
        }
        return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "no-balance", KW_VALUES(KW_WORD("type", q->type)),
                              "there is no balance of a %s: only of a run, lot, heat, machine or month", q->type);
}

static bool is_timed(const struct kw_balance_question *q)
{
        return !q->type[0] || strcmp(q->type, "machine") == 0;
}

static int answer(struct kw_ledger *ledger, struct kw_months *months, const struct kw_balance_question *q,
                  struct kw_buf *out, struct kw_error *err)
{
        struct kw_mass_balance b = {0};
        char origin[64];
        const struct kw_mass_question asked = {
                .origin = q->type[0] ? origin : NULL, .timed = is_timed(q), .in = {q->since, q->until}, .csv = q->csv};
        struct kw_head head;
        int rc = kw_ledger_head(ledger, &head, err);

        snprintf(origin, sizeof(origin), "%s:%s", q->type, q->code);
        if (rc == 0)
                rc = kw_reader_new(ledger, &b.r);
        if (rc)
                return rc;
        b.arena = kw_reader_arena(b.r);
        rc = ask(&b, ledger, months, q, err);
        if (rc == 0)
                rc = kw_mass_write(&b, &asked, &head, out);
        if (rc != -EINPROGRESS)
                rc = kw_finish(b.r, out, rc, err);
        kw_reader_free(b.r);
        return rc;
}

int kw_answer_masses(struct kw_ledger *ledger, struct kw_months *months, const struct kw_balance_question *q,
                     struct kw_buf *out, struct kw_error *err)
{
        struct kw_months *held = NULL;
        int rc = 0;

        if (months && is_timed(q)) {
                rc = kw_months_hold(months, ledger, err);
                held = rc == 0 ? months : NULL;
        }
        if (rc == 0 || rc == -EAGAIN)
                rc = answer(ledger, held, q, out, err);
        if (held)
                kw_months_give(held);
        return rc;
}
