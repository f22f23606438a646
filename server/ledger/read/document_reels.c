/*
 * The reels in a certificate's document: what each is, for whom, which heats lie where on it, its joints and strength.
 */
#include "certify_inside.h"

#include "../work.h"

#include "kinwire/process.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define PLACES_MOST 8 /* of a heat on a reel */

/* --- which heats lie where --------------------------------------------------------------------------------------- */

static void put_places(struct kw_buf *out, const struct kw_spans *spans)
{
        if (spans->n > PLACES_MOST)
                return;
        kw_put_array(out, "places");
        for (size_t i = 0; i < spans->n; i++)
                kw_put_span(out, NULL, spans->at[i].from, spans->at[i].to);
        kw_put_array_end(out);
}

/* A heat on a reel: how much of its length surely and possibly, and where possibly. */
static int put_part(struct kw_writing *w, const struct kw_lot_row *reel, const struct kw_hits *family, int64_t heat,
                    struct kw_list *coils)
{
        struct kw_reach reach = {0};
        const char *code;
        int rc = kw_read_code(w->r, KW_NAMED_HEAT, heat, &code);

        coils->n = 0;
        for (size_t i = 0; rc == 0 && i < w->n_within; i++)
                if (w->within[i].lot->heat == heat && !w->within[i].lot->run)
                        rc = kw_writing_keep(w, coils, w->within[i].lot->id);
        if (rc == 0 && reel->run)
                rc = kw_makeup(&w->r->genealogy, family, reel->id, coils->at, coils->n, &reach);
        else if (rc == 0 && reel->heat == heat)
                rc = kw_spans_add(&reach.certain, 0, reel->length_mm) ||
                                     kw_spans_add(&reach.possible, 0, reel->length_mm)
                             ? -ENOMEM
                             : 0;
        if (rc == 0 && reach.possible.n) {
                kw_put_object(w->out, NULL);
                kw_put_string(w->out, "heat", code);
                kw_put_int(w->out, "entry", heat / KW_IDS);
                kw_put_int(w->out, "certain_mm", kw_spans_total(&reach.certain));
                kw_put_int(w->out, "possible_mm", kw_spans_total(&reach.possible));
                put_places(w->out, &reach.possible);
                kw_put_object_end(w->out);
        }
        kw_reach_free(&reach);
        return rc;
}

static int put_makeup(struct kw_writing *w, const struct kw_lot_row *reel, const struct kw_hits *family)
{
        struct kw_list coils = {0};
        int rc = 0;

        kw_put_array(w->out, "heats");
        for (size_t i = 0; rc == 0 && i < w->heats.n; i++)
                rc = put_part(w, reel, family, ((int64_t *)w->heats.at)[i], &coils);
        kw_put_array_end(w->out);
        return rc;
}

/* --- the reels --------------------------------------------------------------------------------------------------- */

static int put_order(struct kw_writing *w, const struct kw_lot_row *reel)
{
        const struct kw_run_row *run;
        const char *code = reel->order;
        struct kw_query q;
        int rc = kw_read_run(w->r, reel->run, &run);

        if (rc == 0 && run && run->order)
                code = run->order;
        if (rc || !code)
                return rc;
        kw_put_object(w->out, "order");
        kw_put_string(w->out, "order", code);
        rc = kw_ask(w->r->ledger, &q, "SELECT customer, seq FROM work_order WHERE code = ?1", "t", code);
        if (rc == 0 && (rc = kw_next(w->r->ledger, &q)) == 1) {
                kw_put_text_if(w->out, "customer", kw_text(&q, 0));
                kw_put_int(w->out, "entry", kw_int(&q, 1));
                rc = kw_writing_keep(w, &w->rests, kw_int(&q, 1));
        }
        kw_end(&q);
        kw_put_object_end(w->out);
        return rc;
}

static int put_sending(struct kw_writing *w, const struct kw_lot_row *reel)
{
        struct kw_lot_state state;
        int rc = kw_read_state(w->r, reel, &state);

        if (rc || !state.consignment)
                return rc;
        kw_put_object(w->out, "sent");
        kw_put_string(w->out, "consignment", state.consignment);
        kw_put_string(w->out, "consignee", state.consignee);
        kw_put_object_end(w->out);
        return 0;
}

/* A weld that reaches the reel by several ways counts once a way: in each wire that it lies in. */
static int put_joints(struct kw_writing *w, const struct kw_lot_row *reel, const struct kw_hits *family)
{
        struct kw_joints on = {0};
        struct kw_distance_row distance;
        const struct kw_near_row *near;
        size_t n = 0;
        int rc = kw_joints_on(&w->r->genealogy, family, reel->id, &on);

        if (rc == 0)
                rc = kw_read_near(w->r, reel, &on, &distance, &near, &n);
        if (rc == 0) {
                kw_put_object(w->out, "joints");
                kw_put_int(w->out, "count", (int64_t)on.n);
                if (distance.gap_mm != KW_NONE) {
                        kw_put_int(w->out, "distance_mm", distance.gap_mm);
                        kw_put_int(w->out, "near", (int64_t)n);
                        kw_put_int(w->out, "entry", distance.entry);
                }
                kw_put_object_end(w->out);
        }
        kw_joints_free(&on);
        return rc;
}

static int is_wire(void *ctx, int64_t lot, bool *wire)
{
        const struct kw_lot_row *row;
        int rc = kw_read_lot(ctx, lot, &row);

        if (rc == 0 && row)
                *wire = kw_lot_kind(row->kind)->wire;
        return rc;
}

static int weigh_wire(struct kw_reader *r, const struct kw_wire_in *in, struct kw_wire_part *part)
{
        struct kw_wire_strength strength;
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(r, in->lot, &lot);

        if (rc == 0)
                rc = kw_read_wire_strength(r, lot, &strength);
        if (rc == 0)
                *part = (struct kw_wire_part){.breaking_n = strength.breaking_n,
                                              .diameter_um = lot->diameter_um == KW_NONE ? 0 : lot->diameter_um,
                                              .share_ppb = in->share_ppb,
                                              .length_mm = in->length_mm};
        return rc;
}

/* The sum over its own wires, where all of them were tested; a rod or a wire is not the sum of anything. */
static int put_strength(struct kw_writing *w, const struct kw_lot_row *reel)
{
        struct kw_wires wires = {0};
        struct kw_wire_part *parts = NULL;
        struct kw_aggregate a = {0};
        int rc = 0;

        if (kw_lot_kind(reel->kind)->wire)
                return 0;
        rc = kw_wires_in(&w->r->genealogy, reel->id, reel->length_mm, is_wire, w->r, &wires);
        if (rc == 0) {
                parts = calloc(wires.n + 1, sizeof(*parts));
                rc = parts ? 0 : -ENOMEM;
        }
        for (size_t i = 0; rc == 0 && i < wires.n; i++)
                rc = weigh_wire(w->r, &wires.at[i], &parts[i]);
        if (rc == 0)
                kw_aggregate_of(parts, wires.n, &a);
        if (rc == 0 && a.wires_milli) {
                kw_put_object(w->out, "wires");
                kw_put_int(w->out, "wires_milli", a.wires_milli);
                kw_put_int(w->out, "tested_milli", a.tested_milli);
                if (a.tested_milli == a.wires_milli)
                        kw_put_int(w->out, "aggregate_n", a.force_n);
                kw_put_number_if(w->out, "area_um2", a.area_um2);
                kw_put_object_end(w->out);
        }
        free(parts);
        kw_wires_free(&wires);
        return rc;
}

static int put_spec(struct kw_writing *w, const struct kw_lot_row *reel)
{
        const struct kw_spec_row *spec;
        int rc = kw_read_spec_for(w->r, reel, &spec);

        if (rc || !spec)
                return rc;
        kw_put_object(w->out, "spec");
        kw_put_string(w->out, "spec", spec->code);
        kw_put_int(w->out, "version", spec->version);
        kw_put_int(w->out, "entry", spec->seq);
        kw_put_text_if(w->out, "source", spec->source);
        for (size_t i = 0; i < spec->n_limits; i++)
                if (strcmp(spec->limits[i].property, "breaking_n") == 0)
                        kw_put_number_if(w->out, "minimum_n", spec->limits[i].limit.min);
        kw_put_object_end(w->out);
        return kw_writing_keep(w, &w->rests, spec->seq);
}

static int put_reel(struct kw_writing *w, const struct kw_lot_row *reel)
{
        struct kw_hits *family = kw_hits_new();
        int rc = family ? kw_ancestry(&w->r->genealogy, reel->id, family) : -ENOMEM;

        kw_put_object(w->out, NULL);
        kw_put_string(w->out, "reel", reel->code);
        kw_put_int(w->out, "entry", reel->seq);
        kw_put_string(w->out, "kind", reel->kind);
        kw_put_text_if(w->out, "construction", reel->construction);
        kw_put_text_if(w->out, "grade", reel->grade);
        kw_put_number_if(w->out, "diameter_um", reel->diameter_um);
        kw_put_int(w->out, "length_mm", reel->length_mm);
        kw_put_number_if(w->out, "mass_g", reel->mass_g);
        if (rc == 0)
                rc = put_order(w, reel);
        if (rc == 0)
                rc = put_sending(w, reel);
        if (rc == 0)
                rc = put_spec(w, reel);
        if (rc == 0)
                rc = put_makeup(w, reel, family);
        if (rc == 0)
                rc = put_joints(w, reel, family);
        if (rc == 0)
                rc = put_strength(w, reel);
        kw_put_object_end(w->out);
        kw_hits_free(family);
        return rc;
}

int kw_put_document_reels(struct kw_writing *w)
{
        int rc = 0;

        kw_put_array(w->out, "reels");
        for (size_t i = 0; rc == 0 && i < w->n_reels; i++)
                rc = put_reel(w, w->reels[i]);
        kw_put_array_end(w->out);
        return rc;
}
