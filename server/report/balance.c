/*
 * The balance of a lot: its length against what was taken and what is left, and the mass that went into the run that
 * made it against what came out.
 *
 * A length's mass is its share of its lot's. Scrap was not weighed: it is taken to be as heavy for its length as the
 * lots of the same run are together.
 */
#include "put.h"

#include "kinwire/metal.h"

#include <errno.h>

/* A sum that is not known as soon as one part of it is not. */
static void add(int64_t *sum, int64_t part)
{
        *sum = *sum == KW_NONE || part == KW_NONE ? KW_NONE : *sum + part;
}

static int put_taken(struct kw_reader *r, const struct kw_lot_row *lot, int64_t *taken_mm, struct kw_buf *out)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "feed",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "dispatch"};
        const struct kw_claim_row *claims;
        size_t n;
        int rc = kw_read_claims(r, lot, &claims, &n);

        *taken_mm = 0;
        kw_put_array(out, "taken");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                int64_t length = claims[i].to - claims[i].from;

                *taken_mm += length;
                kw_put_object(out, NULL);
                kw_put_string(out, "what", what[claims[i].what]);
                kw_put_string(out, "code", claims[i].what == KW_CLAIM_SCRAP ? NULL : claims[i].code);
                kw_put_int(out, "length_mm", length);
                kw_put_number(out, "mass_g", kw_part_mass(lot, length));
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_in(struct kw_reader *r, const struct kw_run_row *run, int64_t *in_g, struct kw_buf *out)
{
        int rc = 0;

        *in_g = 0;
        kw_put_array(out, "in");
        for (size_t l = 0; rc == 0 && l < run->map.n_lines; l++) {
                for (size_t f = 0; rc == 0 && f < run->map.lines[l].n_feeds; f++) {
                        const struct kw_feed *feed = &run->map.lines[l].feeds[f];
                        const struct kw_lot_row *lot;
                        int64_t mass;

                        rc = kw_read_lot(r, feed->lot, &lot);
                        if (rc || !lot)
                                break;
                        mass = kw_part_mass(lot, feed->to - feed->from);
                        add(in_g, mass);
                        kw_put_object(out, NULL);
                        kw_put_string(out, "lot", lot->code);
                        kw_put_int(out, "length_mm", feed->to - feed->from);
                        kw_put_number(out, "mass_g", mass);
                        kw_put_object_end(out);
                }
        }
        kw_put_array_end(out);
        return rc;
}

/* Mass and length of the lots of a run whose mass is known. */
struct weighed {
        int64_t g, mm;
};

static int weigh(struct kw_reader *r, const struct kw_run_row *run, struct weighed *w)
{
        int rc = 0;

        *w = (struct weighed){0, 0};
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_lot_row *lot = NULL;

                if (run->map.packages[i].lot)
                        rc = kw_read_lot(r, run->map.packages[i].lot, &lot);
                if (rc == 0 && lot && lot->mass_g != KW_NONE) {
                        w->g += lot->mass_g;
                        w->mm += lot->length_mm;
                }
        }
        return rc;
}

static int put_out(struct kw_reader *r, const struct kw_run_row *run, int64_t *out_g, struct kw_buf *out)
{
        struct weighed weighed;
        int rc = weigh(r, run, &weighed);

        *out_g = 0;
        kw_put_array(out, "out");
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_package *package = &run->map.packages[i];
                const struct kw_lot_row *lot = NULL;
                int64_t length = package->s1 - package->s0, mass;

                if (package->lot)
                        rc = kw_read_lot(r, package->lot, &lot);
                if (rc)
                        break;
                mass = lot ? lot->mass_g : weighed.mm > 0 ? kw_share(weighed.g, length, weighed.mm) : KW_NONE;
                add(out_g, mass);
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", lot ? lot->code : NULL);
                kw_put_string(out, "kind", lot ? lot->kind : "scrap");
                kw_put_int(out, "length_mm", length);
                kw_put_number(out, "mass_g", mass);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_made_by(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_run_row *run;
        int64_t in_g = 0, out_g = 0;
        int rc = kw_read_run(r, lot->run, &run);

        if (rc)
                return rc;
        if (!run) {
                kw_put_null(out, "made_by");
                return 0;
        }
        kw_put_object(out, "made_by");
        kw_put_string(out, "run", run->code);
        rc = put_in(r, run, &in_g, out);
        kw_put_number(out, "in_g", in_g);
        if (rc == 0)
                rc = put_out(r, run, &out_g, out);
        kw_put_number(out, "out_g", out_g);
        kw_put_number(out, "unaccounted_g", in_g == KW_NONE || out_g == KW_NONE ? KW_NONE : in_g - out_g);
        kw_put_object_end(out);
        return rc;
}

static int answer(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_lot_row *lot;
        struct kw_lot_state state;
        int64_t taken_mm;
        int rc = kw_read_lot_named(r, code, &lot, err);

        if (rc == 0)
                rc = kw_read_state(r, lot, &state);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_number(out, "mass_g", lot->mass_g);
        rc = put_taken(r, lot, &taken_mm, out);
        kw_put_int(out, "left_mm", state.left_mm);
        kw_put_number(out, "left_g", kw_part_mass(lot, state.left_mm));
        kw_put_int(out, "unaccounted_mm", lot->length_mm - taken_mm - state.left_mm);
        if (rc == 0)
                rc = put_made_by(r, lot, out);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_balance(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_of(ledger, lot, answer, out, err);
}
