/*
 * What the index says of a lot beside its genealogy.
 */
#include "layout.h"

#include <errno.h>
#include <string.h>

uint32_t kw_base_run(const struct base *b, int64_t seq)
{
        uint32_t lo = 0, hi = b->n_runs;

        while (lo < hi) {
                uint32_t mid = lo + (hi - lo) / 2;

                if (b->runs[mid].seq < seq)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        return lo < b->n_runs && b->runs[lo].seq == seq ? lo : NONE;
}

/* The first received lot with a number or entry of at least @least. */
static uint32_t received_from(const struct base *b, int64_t least, bool by_seq)
{
        uint32_t lo = 0, hi = b->n_received;

        while (lo < hi) {
                uint32_t mid = lo + (hi - lo) / 2;

                if ((by_seq ? b->received[mid].seq : b->received[mid].lot) < least)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        return lo;
}

uint32_t kw_base_number(const struct base *b, int64_t id)
{
        int64_t seq = id / IDS, at = id % IDS - 1;
        uint32_t run;

        if (id <= 0 || seq > (int64_t)b->head.size) /* what is recorded now is never in it */
                return NONE;
        if (at < 0) {
                uint32_t i = received_from(b, seq, true);

                return i < b->n_received && b->received[i].seq == seq ? b->received[i].lot : NONE;
        }
        run = kw_base_run(b, seq);
        if (run == NONE || at >= b->runs[run].packs || b->packs[b->runs[run].pack + at].lot == NO_LOT)
                return NONE;
        return b->packs[b->runs[run].pack + at].lot;
}

int64_t kw_base_id(const struct base *b, uint32_t lot)
{
        uint32_t at = b->pack_of[lot];

        if (at != NONE) {
                const struct run_rec *run = &b->runs[b->packs[at].run];

                return (int64_t)run->seq * IDS + 1 + (at - run->pack);
        }
        at = received_from(b, lot, false);
        return at < b->n_received && b->received[at].lot == lot ? (int64_t)b->received[at].seq * IDS : 0;
}

/* Lots are mostly asked about in the order in which they lie. */
static uint32_t number(const struct base *b, int64_t id, uint32_t hint)
{
        return hint < b->n_lots && kw_base_id(b, hint) == id ? hint : kw_base_number(b, id);
}

static const char *text(const struct base *b, uint32_t at)
{
        return at == NONE ? NULL : (const char *)b->section[SEC_TEXTS] + at;
}

int kw_index_lot(struct kw_index *ix, int64_t id, uint32_t hint, struct kw_index_lot *out)
{
        const struct base *b = &ix->body.base;
        uint32_t lot = number(b, id, hint);
        const struct sort_rec *sort;
        const struct pack_rec *pack;
        uint32_t mass;

        if (lot == NONE)
                return -ENOENT;
        out->number = lot;
        if (!(b->flags[lot] & FACT_ROW))
                return -ENOENT;
        pack = &b->packs[b->pack_of[lot]];
        sort = (const struct sort_rec *)b->section[SEC_SORTS] + ((const uint16_t *)b->section[SEC_SORT_OF])[lot];
        mass = ((const uint32_t *)b->section[SEC_MASS])[lot];
        out->length_mm = pack->s1 - pack->s0;
        out->s0 = pack->s0;
        out->run = (int64_t)b->runs[pack->run].seq * IDS;
        out->depth = b->runs[pack->run].depth;
        out->at = ((const int64_t *)b->section[SEC_RUN_TIME])[pack->run];
        out->mass_g = mass == NONE ? -1 : (int64_t)mass;
        out->diameter_um = sort->diameter_um == NONE ? -1 : (int64_t)sort->diameter_um;
        out->tensile_kpa = sort->tensile_kpa == NONE ? -1 : (int64_t)sort->tensile_kpa;
        out->kind = text(b, sort->kind);
        out->mass_from = text(b, sort->mass_from);
        out->construction = text(b, sort->construction);
        out->grade = text(b, sort->grade);
        kw_codes_get(b->section[SEC_CODE_AT], b->section[SEC_CODES], lot, out->code);
        return 0;
}

int kw_index_run_code(struct kw_index *ix, int64_t lot, uint32_t hint, char code[KW_CODE_MAX + 1])
{
        const struct base *b = &ix->body.base;
        uint32_t at = number(b, lot, hint);

        if (at == NONE || !(b->flags[at] & FACT_ROW))
                return -ENOENT;
        kw_codes_get(b->section[SEC_RUN_CODE_AT], b->section[SEC_RUN_CODES], b->packs[b->pack_of[at]].run, code);
        return 0;
}

/* The first record of the lot in a section in order of lots, each of @size bytes beginning with the lot. */
static const void *first_of(const struct base *b, enum section s, size_t size, uint32_t lot)
{
        const char *at = b->section[s];
        uint64_t lo = 0, hi = b->head.n[s];

        while (lo < hi) {
                uint64_t mid = lo + (hi - lo) / 2;

                if (*(const uint32_t *)(at + mid * size) < lot)
                        lo = mid + 1;
                else
                        hi = mid;
        }
        return lo < b->head.n[s] && *(const uint32_t *)(at + lo * size) == lot ? at + lo * size : NULL;
}

/* @out: what was taken of it, appended */
static int claims(const struct body *x, uint32_t lot, struct kw_index_state *said, struct kw_spans *out)
{
        struct feeds_view feeds = kw_feeds_of(x, lot);
        const struct base *b = &x->base;
        const struct taken_rec *end = (const struct taken_rec *)b->section[SEC_TAKEN] + b->head.n[SEC_TAKEN];

        for (uint32_t i = 0; i < feeds.n; i++)
                if (kw_spans_add(out, feeds.at[i].from, feeds.at[i].to) < 0)
                        return -ENOMEM;
        said->fed = feeds.n > 0;
        if (!(b->flags[lot] & FACT_TAKEN))
                return 0;
        for (const struct taken_rec *t = first_of(b, SEC_TAKEN, sizeof(*t), lot); t && t < end && t->lot == lot; t++) {
                said->scrapped = said->scrapped || t->scrap;
                if (kw_spans_add(out, t->from, t->to) < 0)
                        return -ENOMEM;
        }
        return 0;
}

static bool any_far(const struct body *x, uint32_t lot)
{
        struct feeds_view feeds = kw_feeds_of(x, lot);

        for (uint32_t i = 0; i < feeds.n; i++)
                if (feeds.at[i].far)
                        return true;
        return false;
}

int kw_index_state(struct kw_index *ix, int64_t id, uint32_t hint, struct kw_index_state *out, struct kw_spans *taken)
{
        const struct base *b = &ix->body.base;
        const struct consignment_rec *to = b->section[SEC_CONSIGNMENTS];
        uint32_t lot = number(b, id, hint);
        const struct placed_rec *place;
        const struct sent_rec *sent;

        if (lot == NONE || !(b->flags[lot] & FACT_STATE) || any_far(&ix->body, lot))
                return -ENOENT;
        *out = (struct kw_index_state){.certified = b->flags[lot] & FACT_CERTIFIED, .held = b->flags[lot] & FACT_HELD};
        place = b->flags[lot] & FACT_PLACED ? first_of(b, SEC_PLACED, sizeof(*place), lot) : NULL;
        out->location = place ? text(b, place->text) : NULL;
        sent = b->flags[lot] & FACT_SENT ? first_of(b, SEC_SENT, sizeof(*sent), lot) : NULL;
        if (sent) {
                out->consignment = text(b, to[sent->consignment].code);
                out->consignee = text(b, to[sent->consignment].consignee);
                out->dispatched = to[sent->consignment].at;
        }
        return claims(&ix->body, lot, out, taken);
}
