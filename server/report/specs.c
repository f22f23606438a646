/*
 * What tests are judged by: specifications with their versions.
 */
#include "put.h"

#include "ledger/read/quality.h"

static void put_spec(const struct kw_spec_row *spec, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "spec", spec->code);
        kw_put_int(out, "version", spec->version);
        kw_put_bool(out, "stands", spec->stands);
        kw_put_string(out, "what", spec->what);
        kw_put_string(out, "grade", spec->grade);
        kw_put_string(out, "construction", spec->construction);
        kw_put_number(out, "diameter_from_um", spec->from_um);
        kw_put_number(out, "diameter_below_um", spec->below_um);
        kw_put_number(out, "tensile_grade_kpa", spec->tensile_kpa);
        kw_put_object(out, "limits");
        for (size_t i = 0; i < spec->n_limits; i++) {
                kw_put_object(out, spec->limits[i].property);
                kw_put_number(out, "min", spec->limits[i].limit.min);
                kw_put_number(out, "max", spec->limits[i].limit.max);
                kw_put_object_end(out);
        }
        kw_put_object_end(out);
        kw_put_raw(out, "tests", spec->tests);
        kw_put_number(out, "retests", spec->retests);
        kw_put_number(out, "joint_multiple", spec->joint_multiple);
        kw_put_number(out, "joint_of_um", spec->joint_of_um);
        kw_put_string(out, "heats", spec->heats);
        kw_put_raw(out, "tolerance_ppm", spec->tolerance ? spec->tolerance : "{}");
        kw_put_string(out, "source", spec->source);
        kw_put_int(out, "entry", spec->seq);
        kw_put_time(out, "at", spec->at);
        kw_put_object_end(out);
}

int kw_answer_specs(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_spec_row *specs;
        struct kw_reader *r = NULL;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = kw_read_specs(r, &specs, &n);
        kw_put_object(out, NULL);
        kw_put_array(out, "specs");
        for (size_t i = 0; rc == 0 && i < n; i++)
                put_spec(&specs[i], out);
        kw_put_array_end(out);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}
