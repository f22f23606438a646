/*
 * Where a trace starts: for each type of thing, the lengths that a suspicion about it touches first (design: model.md,
 * "What a trace can start from").
 */
#include "reader.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

/* --- pieces that several origins share -------------------------------------------------------------- */

int kw_lot_hits(struct kw_reader *r, int64_t lot, enum kw_which which, struct kw_hits *out)
{
        const struct kw_lot_row *row;
        int rc = kw_read_lot(r, lot, &row);

        return rc || !row ? rc : kw_hits_add(out, lot, 0, row->length_mm, which);
}

int kw_run_hits(struct kw_reader *r, int64_t run, enum kw_which which, struct kw_hits *out)
{
        const struct kw_run_row *row;
        int rc = kw_read_run(r, run, &row);

        for (size_t i = 0; rc == 0 && row && i < row->map.n_packages; i++) {
                const struct kw_package *package = &row->map.packages[i];

                if (package->lot)
                        rc = kw_hits_add(out, package->lot, 0, package->s1 - package->s0, which);
        }
        return rc;
}

/* Hand every id that @sql gives for @id to @each. The ids are read before the first is handed over. */
static int each_id(struct kw_reader *r, const char *sql, int64_t id,
                   int (*each)(struct kw_reader *, int64_t, enum kw_which, struct kw_hits *), struct kw_hits *out)
{
        struct kw_list ids = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, sql, "i", id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *one = kw_list_more(&r->arena, &ids, sizeof(*one));

                rc = one ? 0 : -ENOMEM;
                if (one)
                        *one = kw_int(&q, 0);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < ids.n; i++)
                rc = each(r, ((int64_t *)ids.at)[i], KW_CERTAIN, out);
        return rc;
}

int kw_heat_coils(struct kw_reader *r, int64_t heat, struct kw_hits *out)
{
        return each_id(r, "SELECT id FROM lot WHERE heat = ?1", heat, kw_lot_hits, out);
}

/* --- a batch ------------------------------------------------------------------------------------------ */

/* The length of a lot that a batch treated. */
struct treated {
        int64_t lot;
        int64_t from, to; /* KW_NONE: what was left of it */
        int64_t at, seq;  /* of the batch */
};

static int add_treated(struct kw_reader *r, const struct treated *t, enum kw_which which, struct kw_hits *out)
{
        const struct kw_lot_row *lot;
        struct kw_spans left = {0};
        int rc;

        if (t->from != KW_NONE)
                return kw_hits_add(out, t->lot, t->from, t->to, which);
        rc = kw_read_lot(r, t->lot, &lot);
        if (rc == 0 && lot)
                rc = kw_read_left_before(r, lot, t->at, t->seq, &left);
        for (size_t i = 0; rc == 0 && i < left.n; i++)
                rc = kw_hits_add(out, t->lot, left.at[i].from, left.at[i].to, which);
        kw_spans_free(&left);
        return rc;
}

int kw_treated_hits(struct kw_reader *r, int64_t batch, enum kw_which which, struct kw_hits *out)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT l.lot, l.from_mm, l.to_mm, coalesce(b.started, b.at), b.seq"
                        " FROM batch_lot l JOIN batch b ON b.id = l.batch WHERE l.batch = ?1",
                        "i", batch);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct treated *t = kw_list_more(&r->arena, &list, sizeof(*t));

                rc = t ? 0 : -ENOMEM;
                if (t)
                        *t = (struct treated){.lot = kw_int(&q, 0),
                                              .from = kw_int_or(&q, 1, KW_NONE),
                                              .to = kw_int_or(&q, 2, KW_NONE),
                                              .at = kw_int(&q, 3),
                                              .seq = kw_int(&q, 4)};
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = add_treated(r, (struct treated *)list.at + i, which, out);
        return rc;
}

static int from_batch(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                      struct kw_error *err)
{
        int rc = kw_treated_hits(r, id, KW_CERTAIN, out);

        (void)o;
        (void)err;
        return rc ? rc : each_id(r, "SELECT id FROM run WHERE batch = ?1", id, kw_run_hits, out);
}

/* --- a weld -------------------------------------------------------------------------------------------- */

static int from_weld(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                     struct kw_error *err)
{
        int64_t run_id = 0, line_ord = 0, v = 0, half = 0;
        const struct kw_run_row *run;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT run, line, v, affected_mm FROM weld WHERE id = ?1", "i", id);

        (void)o;
        (void)err;
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                run_id = kw_int(&q, 0);
                line_ord = kw_int(&q, 1);
                v = kw_int(&q, 2);
                half = kw_int(&q, 3);
        }
        kw_end(&q);
        if (rc >= 0)
                rc = kw_read_run(r, run_id, &run);
        if (rc || !run)
                return rc;
        for (size_t i = 0; i < run->map.n_lines; i++) {
                if (run->lines[i].ord == line_ord)
                        return kw_weld_spans(&run->map, i, v, half, out);
        }
        return 0;
}

/* --- lots by one statement --------------------------------------------------------------------------------- */

static int from_heat(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                     struct kw_error *err)
{
        (void)o;
        (void)err;
        return kw_heat_coils(r, id, out);
}

static int from_supply(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                       struct kw_error *err)
{
        int rc = each_id(r, "SELECT run FROM run_supply WHERE supply = ?1", id, kw_run_hits, out);

        (void)o;
        (void)err;
        return rc ? rc : each_id(r, "SELECT id FROM lot WHERE supply = ?1", id, kw_lot_hits, out);
}

static int from_run(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                    struct kw_error *err)
{
        (void)o;
        (void)err;
        return kw_run_hits(r, id, KW_CERTAIN, out);
}

static int from_lot(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                    struct kw_error *err)
{
        const struct kw_lot_row *lot;
        int rc;

        if (!o->part)
                return kw_lot_hits(r, id, KW_CERTAIN, out);
        rc = kw_read_lot(r, id, &lot);
        if (rc || !lot)
                return rc;
        if (o->from_mm < 0 || o->to_mm > lot->length_mm || o->from_mm >= o->to_mm)
                return kw_refuse_with(err, KW_OUT_OF_RANGE, "", "interval",
                                      KW_VALUES(KW_WORD("lot", lot->code), KW_FIGURE("length_mm", lot->length_mm),
                                                KW_FIGURE("from_mm", o->from_mm), KW_FIGURE("to_mm", o->to_mm)),
                                      "%s is %" PRId64 " mm long; %" PRId64 " to %" PRId64 " is not a length on it",
                                      lot->code, lot->length_mm, o->from_mm, o->to_mm);
        return kw_hits_add(out, id, o->from_mm, o->to_mm, KW_CERTAIN);
}

static int from_test(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                     struct kw_error *err)
{
        const struct kw_lot_row *row = NULL;
        int64_t lot = 0, at_mm = KW_NONE;
        bool bad = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT lot, at_mm, verdict = 'fail' FROM test WHERE id = ?1", "i", id);

        (void)o;
        (void)err;
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                lot = kw_int(&q, 0);
                at_mm = kw_int_or(&q, 1, KW_NONE);
                bad = kw_int_or(&q, 2, 0) != 0;
        }
        kw_end(&q);
        if (rc >= 0)
                rc = kw_lot_hits(r, lot, KW_CERTAIN, out);
        if (rc == 0 && bad)
                rc = kw_read_lot(r, lot, &row);
        return rc || !row || !row->run ? rc : kw_failed_test_hits(r, id, row, at_mm, out);
}

static int from_certificate(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                            struct kw_error *err)
{
        (void)o;
        (void)err;
        return each_id(r, "SELECT lot FROM certificate_reel WHERE certificate = ?1", id, kw_lot_hits, out);
}

static int from_consignment(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                            struct kw_error *err)
{
        (void)o;
        (void)err;
        return each_id(r, "SELECT lot FROM consignment_lot WHERE consignment = ?1", id, kw_lot_hits, out);
}

/* What it barred, released or not. */
static int from_hold(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                     struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT lot, from_mm, to_mm FROM hold_span WHERE hold = ?1", "i", id);

        (void)o;
        (void)err;
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1)
                rc = kw_hits_add(out, kw_int(&q, 0), kw_int(&q, 1), kw_int(&q, 2), KW_CERTAIN);
        kw_end(&q);
        return rc;
}

/* --- windows ------------------------------------------------------------------------------------------------- */

static int from_machine(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                        struct kw_error *err)
{
        (void)id;
        return kw_machine_hits(r, o, out, err);
}

static int from_instrument(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                           struct kw_error *err)
{
        struct kw_list lots = {0};
        struct kw_query q;
        int64_t any;
        int rc = kw_one(r->ledger, &any, 0, "SELECT 1 FROM test WHERE instrument = ?1 LIMIT 1", "t", o->code);

        (void)id;
        if (rc == 0 && !any)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "instrument", KW_VALUES(KW_WORD("code", o->code)),
                                      "no instrument %s is named in any test", o->code);
        if (rc)
                return rc;
        rc = kw_ask(r->ledger, &q, "SELECT lot FROM test WHERE instrument = ?1 AND at >= ?2 AND at <= ?3", "tii",
                    o->code, o->since, o->until);
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *lot = kw_list_more(&r->arena, &lots, sizeof(*lot));

                rc = lot ? 0 : -ENOMEM;
                if (lot)
                        *lot = kw_int(&q, 0);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < lots.n; i++)
                rc = kw_lot_hits(r, ((int64_t *)lots.at)[i], KW_CERTAIN, out);
        return rc;
}

/* --- the table --------------------------------------------------------------------------------------------------- */

static const struct {
        const char *type;
        bool named_only; /* no entry makes it: it is known by being named in others */
        int (*spans)(struct kw_reader *r, const struct kw_origin *o, int64_t id, struct kw_hits *out,
                     struct kw_error *err);
} origins[] = {
        {"heat", false, from_heat},
        {"lot", false, from_lot},
        {"run", false, from_run},
        {"batch", false, from_batch},
        {"weld", false, from_weld},
        {"test", false, from_test},
        {"certificate", false, from_certificate},
        {"consignment", false, from_consignment},
        {"supply", false, from_supply},
        {"hold", false, from_hold},
        {"machine", true, from_machine},
        {"instrument", true, from_instrument},
};

static size_t row_of(const char *type)
{
        size_t n = sizeof(origins) / sizeof(*origins);

        for (size_t i = 0; i < n; i++) {
                if (strcmp(origins[i].type, type) == 0)
                        return i;
        }
        return n;
}

bool kw_origin_known(const char *type)
{
        return row_of(type) < sizeof(origins) / sizeof(*origins);
}

int kw_origin_spans(struct kw_reader *r, const struct kw_origin *origin, struct kw_hits *out, struct kw_error *err)
{
        size_t row = row_of(origin->type);
        int64_t id = 0;
        int rc;

        if (!kw_origin_known(origin->type))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "start", KW_VALUES(KW_WORD("text", origin->type)),
                                      "a trace can't start from a %s", origin->type);
        if (!origins[row].named_only) {
                rc = kw_thing_id(r->ledger, origin->type, origin->code, &id);
                if (rc == 0 && !id)
                        return kw_refuse_with(err, KW_NOT_FOUND, "", "says",
                                              KW_VALUES(KW_WORD("type", origin->type), KW_WORD("code", origin->code)),
                                              "no %s %s is known", origin->type, origin->code);
                if (rc)
                        return rc;
        }
        return origins[row].spans(r, origin, id, out, err);
}
