/*
 * The joints on a lot: where every weld lies, on which wire of which strand, and how surely; and which of them lie
 * nearer to each other in a strand than the lot's specification allows.
 */
#include "put.h"

#include "ledger/read/quality.h"

#include <errno.h>

/* "close 3": a step is told where there was more than one line to go in by. */
static int put_path(struct kw_reader *r, const struct kw_joint *joint, struct kw_buf *out)
{
        int rc = 0;

        kw_put_array(out, "path");
        for (size_t i = 0; rc == 0 && i < joint->n_steps; i++) {
                const struct kw_run_row *run;
                struct kw_buf text = {0};

                rc = kw_read_run(r, joint->steps[i].run, &run);
                if (rc || !run || run->map.n_lines < 2)
                        continue;
                kw_buf_printf(&text, "%s %s", run->process, run->map.lines[joint->steps[i].line].label);
                kw_put_string(out, NULL, kw_buf_text(&text));
                out->failed = out->failed || text.failed;
                kw_buf_free(&text);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_joint(struct kw_reader *r, const struct kw_joint *joint, struct kw_buf *out)
{
        const struct kw_run_row *run;
        const char *weld = NULL, *made_by = NULL;
        int rc = kw_read_run(r, joint->place.run, &run);

        if (rc == 0 && run)
                rc = kw_read_weld_before(r, run, joint->place.line, joint->place.feed, &weld, &made_by);
        if (rc || !run)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "weld", weld);
        kw_put_string(out, "made_by", made_by);
        kw_put_string(out, "made_in", run->code);
        kw_put_string(out, "machine", run->machine);
        kw_put_time(out, "at", run->started != KW_NONE ? run->started : run->at);
        rc = put_path(r, joint, out);
        kw_put_number(out, "at_mm", joint->nominal ? joint->at_mm : KW_NONE);
        kw_put_span(out, "possible", joint->possible.from, joint->possible.to);
        kw_put_object_end(out);
        return rc;
}

/* --- joints too near to each other ------------------------------------------------------------------------ */

static void put_pair(const struct kw_near_row *near, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "a", near->a);
        kw_put_string(out, "b", near->b);
        kw_put_string(out, "strand", near->strand);
        kw_put_number(out, "gap_mm", near->gap_mm);
        kw_put_string(out, "sure", near->surely ? "surely" : "possibly");
        kw_put_object_end(out);
}

/* Null where nobody says how far joints are apart, or there is no diameter to count in. */
static int put_distance(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_joints *joints,
                        struct kw_buf *out)
{
        struct kw_distance_row d;
        const struct kw_near_row *near;
        size_t n;
        int rc = kw_read_near(r, lot, joints, &d, &near, &n);

        if (rc)
                return rc;
        if (d.gap_mm == KW_NONE) {
                kw_put_null(out, "distance");
        } else {
                kw_put_object(out, "distance");
                kw_put_string(out, "order", d.order);
                kw_put_string(out, "spec", d.spec ? d.spec->code : NULL);
                kw_put_number(out, "version", d.spec ? d.spec->version : KW_NONE);
                kw_put_number(out, "multiple", d.spec ? d.spec->joint_multiple : KW_NONE);
                kw_put_number(out, "of_um", d.of_um);
                kw_put_int(out, "gap_mm", d.gap_mm);
                kw_put_object_end(out);
        }
        kw_put_array(out, "near");
        for (size_t i = 0; i < n; i++)
                put_pair(&near[i], out);
        kw_put_array_end(out);
        return 0;
}

static int answer(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_lot_row *lot;
        struct kw_joints joints = {0};
        struct kw_hits *family;
        int rc = kw_read_lot_named(r, code, &lot, err);

        if (rc)
                return rc;
        family = kw_hits_new();
        rc = family ? kw_ancestry(kw_reader_genealogy(r), lot->id, family) : -ENOMEM;
        if (rc == 0)
                rc = kw_joints_on(kw_reader_genealogy(r), family, lot->id, &joints);
        if (rc == 0) {
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", lot->code);
                kw_put_int(out, "length_mm", lot->length_mm);
                kw_put_array(out, "joints");
                for (size_t i = 0; rc == 0 && i < joints.n; i++)
                        rc = put_joint(r, &joints.at[i], out);
                kw_put_array_end(out);
                if (rc == 0)
                        rc = put_distance(r, lot, &joints, out);
                kw_put_object_end(out);
        }
        kw_joints_free(&joints);
        kw_hits_free(family);
        return rc;
}

int kw_answer_joints(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_of(ledger, lot, answer, out, err);
}
