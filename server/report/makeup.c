/*
 * The makeup of a lot: along its length, which heats or which earlier lots it is made of, from where to where.
 */
#include "put.h"

#include "kinwire/process.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A group of ancestors that is followed as one: the coils of a heat, or a single lot. */
struct part {
        int64_t heat, supply, lot; /* what the group is known by; 0 where that is not it */
        const char *code;          /* to order by */
        const struct kw_lot_row *one;
        struct kw_source_row source;
        struct kw_list lots; /* ids */
        struct kw_reach reach;
};

struct makeup {
        struct kw_reader *r;
        const char *kind; /* of lot; NULL: every kind, or heats are wanted */
        bool by_heat;
        const struct kw_lot_row *whole; /* the lot asked about */
        struct kw_list parts;
};

static bool is_wanted(const struct makeup *m, const struct kw_lot_row *lot)
{
        if (m->by_heat)
                return lot->run == 0;
        if (lot->id == m->whole->id)
                return false;
        return !m->kind || strcmp(lot->kind, m->kind) == 0;
}

static struct part *part_of(struct makeup *m, const struct kw_lot_row *lot)
{
        const struct part key = {.heat = m->by_heat ? lot->heat : 0,
                                 .supply = m->by_heat && !lot->heat ? lot->supply : 0,
                                 .lot = m->by_heat ? 0 : lot->id};
        struct part *parts = m->parts.at, *part;

        for (size_t i = 0; i < m->parts.n && m->by_heat; i++) {
                if (parts[i].heat == key.heat && parts[i].supply == key.supply)
                        return &parts[i];
        }
        part = kw_list_more(kw_reader_arena(m->r), &m->parts, sizeof(*part));
        if (part) {
                *part = key;
                part->one = lot;
        }
        return part;
}

static int sort_in(void *ctx, struct kw_hit *hit)
{
        struct makeup *m = ctx;
        const struct kw_lot_row *lot;
        struct part *part;
        int64_t *id;
        int rc = kw_read_lot(m->r, hit->lot, &lot);

        if (rc || !lot || !is_wanted(m, lot))
                return rc;
        part = part_of(m, lot);
        id = part ? kw_list_more(kw_reader_arena(m->r), &part->lots, sizeof(*id)) : NULL;
        if (!id)
                return -ENOMEM;
        *id = lot->id;
        return 0;
}

static int fill(struct makeup *m, const struct kw_hits *family, struct part *part)
{
        int rc = kw_read_source(m->r, part->one, &part->source);

        part->code = part->one->code;
        if (m->by_heat)
                part->code = part->source.heat ? part->source.heat : part->source.supply ? part->source.supply : "";
        if (rc == 0 && m->whole->run)
                return kw_makeup(kw_reader_genealogy(m->r), family, m->whole->id, part->lots.at, part->lots.n,
                                 &part->reach);
        /* received: it is its own source */
        if (rc == 0)
                rc = kw_spans_add(&part->reach.certain, 0, m->whole->length_mm);
        if (rc == 0)
                rc = kw_spans_add(&part->reach.possible, 0, m->whole->length_mm);
        return rc;
}

static int by_place(const void *a, const void *b)
{
        const struct part *x = a, *y = b;
        int64_t x0 = x->reach.possible.n ? x->reach.possible.at[0].from : INT64_MAX;
        int64_t y0 = y->reach.possible.n ? y->reach.possible.at[0].from : INT64_MAX;

        return x0 != y0 ? (x0 < y0 ? -1 : 1) : strcmp(x->code, y->code);
}

static void put_part(const struct makeup *m, const struct part *part, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        if (m->by_heat) {
                kw_put_string(out, "heat", part->source.heat);
                kw_put_string(out, "supply", part->source.supply);
                kw_put_string(out, "supplier", part->source.supplier);
                kw_put_string(out, "grade", part->source.grade);
        } else {
                kw_put_string(out, "lot", part->one->code);
                kw_put_string(out, "kind", part->one->kind);
        }
        kw_put_spans(out, "certain", &part->reach.certain);
        kw_put_spans(out, "possible", &part->reach.possible);
        kw_put_object_end(out);
}

static void put_makeup(const struct makeup *m, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct part *parts = m->parts.at;

        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_string(out, "by", m->by_heat ? "heat" : "lot");
        if (m->kind)
                kw_put_string(out, "kind", m->kind);
        kw_put_array(out, "parts");
        for (size_t i = 0; i < m->parts.n; i++) {
                if (parts[i].reach.possible.n)
                        put_part(m, &parts[i], out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
}

static int answer(struct makeup *m, const char *code, struct kw_hits *family, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_lot_row *lot;
        int rc = kw_read_lot_named(m->r, code, &lot, err);

        if (rc)
                return rc;
        m->whole = lot;
        rc = kw_ancestry(kw_reader_genealogy(m->r), lot->id, family);
        if (rc == 0)
                rc = kw_hits_each(family, sort_in, m);
        for (size_t i = 0; rc == 0 && i < m->parts.n; i++)
                rc = fill(m, family, (struct part *)m->parts.at + i);
        if (rc == 0) {
                if (m->parts.n)
                        qsort(m->parts.at, m->parts.n, sizeof(struct part), by_place);
                put_makeup(m, lot, out);
        }
        for (size_t i = 0; i < m->parts.n; i++)
                kw_reach_free(&((struct part *)m->parts.at + i)->reach);
        return rc;
}

int kw_answer_makeup(struct kw_ledger *ledger, const char *lot, const char *by, const char *kind, struct kw_buf *out,
                     struct kw_error *err)
{
        struct makeup m = {.by_heat = strcmp(by, "heat") == 0, .kind = kind};
        struct kw_hits *family;
        int rc;

        if (!m.by_heat && strcmp(by, "lot") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "choice", KW_VALUES(KW_WORD("text", by)),
                                      "a makeup is by heat or by lot, not by '%.40s'", by);
        if (kind && !kw_lot_kind(kind))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "choice", KW_VALUES(KW_WORD("text", kind)),
                                      "'%.40s' is not a kind of lot", kind);
        family = kw_hits_new();
        rc = family ? kw_reader_new(ledger, &m.r) : -ENOMEM;
        if (rc == 0) {
                rc = answer(&m, lot, family, out, err);
                rc = kw_finish(m.r, out, rc, err);
        }
        kw_hits_free(family);
        kw_reader_free(m.r);
        return rc;
}
