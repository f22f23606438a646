/*
 * Goods-in: heats, supplies, and the lots received of them.
 */
#include "work.h"

#include "kinwire/metal.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Counted length and weighed mass of one coil that differ by more than this are odd: common practice, no source. */
#define COIL_MASS_PPM 20000

int kw_apply_heat(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS;
        const char *code = kw_json_text(w->body, "heat");
        const cJSON *analysis = kw_json_get(w->body, "analysis_ppm");
        struct kw_buf text = {0};
        int rc = kw_define(w, "heat", code, "/body/heat", id);

        if (analysis)
                kw_json_canonical(analysis, &text);
        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO heat (id, seq, code, supplier, grade, mill_certificate, analysis)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                           "iittttt", id, w->seq, code, kw_json_text(w->body, "supplier"),
                           kw_json_text(w->body, "grade"), kw_json_text(w->body, "mill_certificate"),
                           analysis ? kw_buf_text(&text) : NULL);
        kw_buf_free(&text);
        return rc;
}

int kw_apply_supply(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS;
        const char *code = kw_json_text(w->body, "supply");
        int rc = kw_define(w, "supply", code, "/body/supply", id);

        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO supply (id, seq, code, what, supplier, supplier_lot) VALUES (?1, ?2, ?3, ?4, "
                           "?5, ?6)",
                           "iitttt", id, w->seq, code, kw_json_text(w->body, "what"), kw_json_text(w->body, "supplier"),
                           kw_json_text(w->body, "supplier_lot"));
        return rc;
}

/* What a delivery note says of a lot, and what follows from it. */
struct received {
        int64_t diameter_um, length_mm, mass_g; /* 0: not stated */
        const char *length_from, *mass_from;
};

static int complete(struct kw_work *w, const struct kw_lot_kind *kind, struct received *r)
{
        int64_t implied_g;

        r->diameter_um = kw_json_int(w->body, "diameter_um", 0);
        r->length_mm = kw_json_int(w->body, "length_mm", 0);
        r->mass_g = kw_json_int(w->body, "mass_g", 0);
        r->length_from = r->length_mm ? "counted" : "mass";
        r->mass_from = r->mass_g ? "weighed" : "diameter";
        if (!r->length_mm) {
                r->length_mm = kw_length_of_mass(r->mass_g, r->diameter_um);
                if (r->length_mm < 1 || r->length_mm > KW_LENGTH_MAX)
                        return kw_refuse_with(
                                w->err, KW_OUT_OF_RANGE, "/body/mass_g", "no-length",
                                KW_VALUES(KW_FIGURE("mass_g", r->mass_g), KW_FIGURE("diameter_um", r->diameter_um)),
                                "%" PRId64 " g at %" PRId64 " um gives no length that a lot can have", r->mass_g,
                                r->diameter_um);
        } else if (!r->mass_g) {
                if (kind->wire && r->diameter_um)
                        r->mass_g = kw_mass_of_length(r->length_mm, r->diameter_um);
                else
                        r->mass_from = NULL;
        } else if (kind->wire) {
                implied_g = kw_mass_of_length(r->length_mm, r->diameter_um);
                if (kw_beyond(r->mass_g, implied_g, COIL_MASS_PPM))
                        return kw_finding_with(
                                w, "length-mass", NULL,
                                KW_VALUES(KW_FIGURE("length_mm", r->length_mm),
                                          KW_FIGURE("diameter_um", r->diameter_um), KW_FIGURE("implied_g", implied_g),
                                          KW_FIGURE("mass_g", r->mass_g)),
                                "%.1f m at %.3f mm weighs %.1f kg at 7850 kg/m3, but %.1f kg is recorded",
                                (double)r->length_mm / 1000.0, (double)r->diameter_um / 1000.0,
                                (double)implied_g / 1000.0, (double)r->mass_g / 1000.0);
        }
        return 0;
}

static int insert_received(struct kw_work *w, int64_t id, const char *code, const char *kind, const struct received *r,
                           int64_t heat, int64_t supply)
{
        const cJSON *measured = kw_json_get(w->body, "measured_um");
        struct kw_buf text = {0};
        int64_t tensile;
        int rc;

        if (measured)
                kw_json_canonical(measured, &text);
        rc = kw_do(w->l,
                   "INSERT INTO lot (id, seq, code, kind, length_mm, length_from, mass_g, mass_from, diameter_um, "
                   "heat, supply,"
                   " depth, at, ord, measured, grade, tensile_kpa)"
                   " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, 0, ?12, ?13, ?14,"
                   " (SELECT grade FROM heat WHERE id = ?10), ?15)",
                   "iittitItIIIittI", id, w->seq, code, kind, r->length_mm, r->length_from,
                   r->mass_from ? &r->mass_g : NULL, r->mass_from, r->diameter_um ? &r->diameter_um : NULL,
                   heat ? &heat : NULL, supply ? &supply : NULL, w->at, kw_json_text(w->body, "order"),
                   measured ? kw_buf_text(&text) : NULL, kw_maybe(w->body, "tensile_grade_kpa", &tensile));
        kw_buf_free(&text);
        return rc;
}

int kw_apply_receive(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS, heat = 0, supply = 0;
        const char *code = kw_json_text(w->body, "lot"), *kind = kw_json_text(w->body, "kind");
        const char *heat_code = kw_json_text(w->body, "heat"), *supply_code = kw_json_text(w->body, "supply");
        const char *location = kw_json_text(w->body, "location");
        struct received r;
        int rc = 0;

        kind = kind ? kind : "rod";
        if (heat_code)
                rc = kw_need(w, "heat", heat_code, "/body/heat", &heat);
        if (rc == 0 && supply_code)
                rc = kw_need(w, "supply", supply_code, "/body/supply", &supply);
        if (rc == 0)
                rc = kw_define(w, "lot", code, "/body/lot", id);
        if (rc == 0)
                rc = complete(w, kw_lot_kind(kind), &r);
        if (rc == 0)
                rc = insert_received(w, id, code, kind, &r, heat, supply);
        if (rc == 0 && location)
                rc = kw_do(w->l, "INSERT INTO place (lot, seq, location) VALUES (?1, ?2, ?3)", "iit", id, w->seq,
                           location);
        return rc;
}
