/*
 * The strength of a rope from its own wires: which wires lie in it, what their tests say, what that adds up to, and
 * beside it what the catalogue gives for its class and what the rope itself was tested to.
 */
#include "put.h"

#include "kinwire/metal.h"
#include "kinwire/process.h"
#include "ledger/read/quality.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define CUTS_MOST 8 /* a reel that was cut from a reel that was wound from a reel ... */

/* Rope grades of EN 12385-4, kPa. */
static const int64_t grades[] = {1570000, 1770000, 1960000, 2160000};

static int is_wire(void *ctx, int64_t lot, bool *wire)
{
        const struct kw_lot_row *row;
        int rc = kw_read_lot(ctx, lot, &row);

        if (rc == 0 && row)
                *wire = kw_lot_kind(row->kind)->wire;
        return rc;
}

static int put_wire(struct kw_reader *r, const struct kw_wire_in *in, struct kw_wire_part *part, struct kw_buf *out)
{
        struct kw_wire_strength strength;
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(r, in->lot, &lot);

        if (rc == 0)
                rc = kw_read_wire_strength(r, lot, &strength);
        if (rc)
                return rc;
        *part = (struct kw_wire_part){.breaking_n = strength.breaking_n,
                                      .diameter_um = lot->diameter_um == KW_NONE ? 0 : lot->diameter_um,
                                      .share_ppb = in->share_ppb,
                                      .length_mm = in->length_mm};
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_int(out, "wires_milli", (in->share_ppb + 500000) / 1000000);
        kw_put_int(out, "length_mm", in->length_mm);
        kw_put_number(out, "breaking_n", strength.breaking_n);
        kw_put_string(out, "from", strength.from);
        kw_put_texts(out, "tests", strength.tests, strength.n_tests);
        kw_put_object_end(out);
        return 0;
}

static void put_aggregate(const struct kw_lot_row *lot, const struct kw_aggregate *a, struct kw_buf *out)
{
        kw_put_int(out, "wires_milli", a->wires_milli);
        kw_put_int(out, "tested_milli", a->tested_milli);
        kw_put_int(out, "aggregate_n", a->force_n);
        kw_put_number(out, "area_um2", a->area_um2);
        kw_put_number(out, "mass_g", a->mass_g);
        kw_put_number(out, "mass_g_km", a->mass_g == KW_NONE ? KW_NONE : kw_share(a->mass_g, 1000000, lot->length_mm));
}

static void put_catalogue(const struct kw_lot_row *lot, struct kw_buf *out)
{
        static const char *const cores[] = {
                [KW_FIBRE_CORE] = "fibre", [KW_ROPE_CORE] = "rope", [KW_STRAND_CORE] = "strand"};
        enum kw_rope_core core;
        const struct kw_rope_class *c = kw_rope_class_of(lot->construction, &core);
        const struct kw_rope_factors *f = c ? &c->with[core] : NULL;

        if (!c || lot->diameter_um == KW_NONE) {
                kw_put_null(out, "catalogue");
                return;
        }
        kw_put_object(out, "catalogue");
        kw_put_string(out, "class", c->name);
        kw_put_string(out, "core", cores[core]);
        kw_put_string(out, "source", c->source);
        kw_put_bool(out, "from_memory", c->known == KW_RECALLED);
        kw_put_number(out, "area_um2", kw_rope_area_um2(f, lot->diameter_um));
        kw_put_number(out, "mass_g_km", kw_rope_mass_g_km(f, lot->diameter_um));
        kw_put_array(out, "minimum");
        for (size_t i = 0; f->k != KW_NO_FIGURE && i < sizeof(grades) / sizeof(*grades); i++) {
                kw_put_object(out, NULL);
                kw_put_int(out, "grade_kpa", grades[i]);
                kw_put_int(out, "force_n", kw_minimum_force_n(f, lot->diameter_um, grades[i]));
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
}

/* What a reel was cut or wound from, where that is one lot; NULL otherwise. */
static int cut_from(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_lot_row **out)
{
        const struct kw_run_row *run;
        int rc = kw_read_run(r, lot->run, &run);

        *out = NULL;
        if (rc || !run || kw_process(run->process)->ratio != KW_RATIO_SAME || run->map.n_lines != 1 ||
            run->map.lines[0].n_feeds != 1)
                return rc;
        return kw_read_lot(r, run->map.lines[0].feeds[0].lot, out);
}

static bool put_tests_of(const struct kw_lot_row *lot, const struct kw_test_row *tests, size_t n,
                         const struct kw_aggregate *a, struct kw_buf *out)
{
        bool whole = a->wires_milli > 0 && a->tested_milli == a->wires_milli, any = false;

        for (size_t i = 0; i < n; i++)
                for (size_t k = 0; k < tests[i].n_results; k++) {
                        int64_t force = tests[i].results[k].value;

                        if (strcmp(tests[i].results[k].property, "breaking_n") != 0)
                                continue;
                        any = true;
                        kw_put_object(out, NULL);
                        kw_put_string(out, "test", tests[i].code);
                        kw_put_string(out, "lot", lot->code);
                        kw_put_time(out, "at", tests[i].at);
                        kw_put_int(out, "breaking_n", force);
                        kw_put_number(out, "realisation_ppm", whole ? kw_realisation_ppm(force, a->force_n) : KW_NONE);
                        kw_put_object_end(out);
                }
        return any;
}

/*
 * The rope's own tests to destruction, or where it has none those of the rope that it was cut from; the realisation
 * only where every wire has a force.
 */
static int put_tested(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_aggregate *a,
                      struct kw_buf *out)
{
        const struct kw_test_row *tests;
        bool any = false;
        size_t n;
        int rc = 0;

        kw_put_array(out, "tested");
        for (int steps = 0; rc == 0 && lot && !any && steps < CUTS_MOST; steps++) {
                rc = kw_read_tests_of(r, lot->id, &tests, &n);
                any = rc == 0 && put_tests_of(lot, tests, n, a, out);
                if (rc == 0)
                        rc = cut_from(r, lot, &lot);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_strength(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_wires *wires,
                        struct kw_buf *out)
{
        struct kw_wire_part *parts = calloc(wires->n + 1, sizeof(*parts));
        struct kw_aggregate a;
        int rc = parts ? 0 : -ENOMEM;

        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_string(out, "construction", lot->construction);
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_array(out, "wires");
        for (size_t i = 0; rc == 0 && i < wires->n; i++)
                rc = put_wire(r, &wires->at[i], &parts[i], out);
        kw_put_array_end(out);
        if (rc == 0) {
                kw_aggregate_of(parts, wires->n, &a);
                put_aggregate(lot, &a, out);
                put_catalogue(lot, out);
                rc = put_tested(r, lot, &a, out);
        }
        kw_put_object_end(out);
        free(parts);
        return rc;
}

static int answer(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_lot_row *lot;
        struct kw_wires wires = {0};
        int rc = kw_read_lot_named(r, code, &lot, err);

        if (rc == 0)
                rc = kw_wires_in(kw_reader_genealogy(r), lot->id, lot->length_mm, is_wire, r, &wires);
        if (rc == 0)
                rc = put_strength(r, lot, &wires, out);
        kw_wires_free(&wires);
        return rc;
}

int kw_answer_strength(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_of(ledger, code, answer, out, err);
}
