/*
 * The joints on a lot: where every weld lies, on which wire of which strand, and how surely; and which of them lie
 * nearer to each other in a strand than the lot's specification allows.
 */
#include "put.h"

#include "ledger/read/quality.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

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

/* The distance that joints keep, and the strand that each lies in. */
struct strands {
        int64_t multiple, of_um;
        const struct kw_joint *joints;
        const char **names; /* by joint: the way down to where its strand was laid, "" when the lot is that strand */
        size_t *order;      /* joints by strand, and in each strand by their possible places */
        size_t n;
};

/*
 * "close 3": the lines by which the strand came in. Of runs with one line it does not say anything: a strand stays a
 * strand when it is wound.
 */
static int name_strand(struct kw_reader *r, const struct kw_joint *joint, const char **name)
{
        struct kw_buf text = {0};
        bool failed = false;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < joint->n_steps; i++) {
                const struct kw_run_row *run;

                rc = kw_read_run(r, joint->steps[i].run, &run);
                if (rc || !run || strcmp(run->process, "strand") == 0)
                        break;
                if (run->map.n_lines > 1)
                        kw_buf_printf(&text, "%s%s %s", text.n ? ", " : "", run->process,
                                      run->map.lines[joint->steps[i].line].label);
        }
        *name = kw_arena_text(kw_reader_arena(r), kw_buf_text(&text), &failed);
        failed = failed || text.failed;
        kw_buf_free(&text);
        return rc == 0 && failed ? -ENOMEM : rc;
}

static int by_strand(const void *a, const void *b, void *ctx)
{
        const struct strands *s = ctx;
        const size_t *x = a, *y = b;
        int order = strcmp(s->names[*x], s->names[*y]);

        return order ? order : (*x > *y) - (*x < *y);
}

static int weld_of(struct kw_reader *r, const struct kw_joint *joint, const char **weld)
{
        const struct kw_run_row *run;
        const char *made_by;
        int rc = kw_read_run(r, joint->place.run, &run);

        *weld = NULL;
        return rc || !run ? rc : kw_read_weld_before(r, run, joint->place.line, joint->place.feed, weld, &made_by);
}

static int put_pair(struct kw_reader *r, const struct strands *s, size_t i, size_t k, bool surely, struct kw_buf *out)
{
        const struct kw_joint *a = &s->joints[i], *b = &s->joints[k];
        const char *weld_a, *weld_b;
        int rc = weld_of(r, a, &weld_a);

        if (rc == 0)
                rc = weld_of(r, b, &weld_b);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "a", weld_a);
        kw_put_string(out, "b", weld_b);
        kw_put_string(out, "strand", *s->names[i] ? s->names[i] : NULL);
        kw_put_number(out, "gap_mm", a->nominal && b->nominal ? llabs(b->at_mm - a->at_mm) : KW_NONE);
        kw_put_string(out, "sure", surely ? "surely" : "possibly");
        kw_put_object_end(out);
        return 0;
}

static bool same_place(const struct kw_joint *a, const struct kw_joint *b)
{
        return a->place.run == b->place.run && a->place.line == b->place.line && a->place.feed == b->place.feed;
}

/* Within a strand, each joint with those that begin before its limit is out of reach. */
static int put_pairs(struct kw_reader *r, const struct strands *s, struct kw_buf *out)
{
        const int64_t gap = kw_joint_gap_mm(s->multiple, s->of_um);
        int rc = 0;

        for (size_t x = 0; x < s->n; x++)
                for (size_t y = x + 1; rc == 0 && y < s->n; y++) {
                        const struct kw_joint *a = &s->joints[s->order[x]], *b = &s->joints[s->order[y]];
                        enum kw_nearness near;

                        if (strcmp(s->names[s->order[x]], s->names[s->order[y]]) != 0 ||
                            b->possible.from - a->possible.to >= gap)
                                break;
                        near = kw_joints_near(a->possible, b->possible, s->multiple, s->of_um);
                        if (near != KW_NOT_NEAR && !same_place(a, b))
                                rc = put_pair(r, s, s->order[x], s->order[y], near == KW_SURELY_NEAR, out);
                }
        return rc;
}

static int put_near(struct kw_reader *r, const struct kw_joints *joints, int64_t multiple, int64_t of_um,
                    struct kw_buf *out)
{
        struct strands s = {.multiple = multiple, .of_um = of_um, .joints = joints->at, .n = joints->n};
        int rc = 0;

        s.names = calloc(s.n + 1, sizeof(*s.names));
        s.order = calloc(s.n + 1, sizeof(*s.order));
        if (!s.names || !s.order)
                rc = -ENOMEM;
        for (size_t i = 0; rc == 0 && i < s.n; i++) {
                s.order[i] = i;
                rc = name_strand(r, &joints->at[i], &s.names[i]);
        }
        if (rc == 0) {
                qsort_r(s.order, s.n, sizeof(*s.order), by_strand, &s);
                rc = put_pairs(r, &s, out);
        }
        free(s.names);
        free(s.order);
        return rc;
}

/* What the lot's specification says of the distance; null where there is none, or no diameter to count in. */
static int put_distance(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_joints *joints,
                        struct kw_buf *out)
{
        const struct kw_spec_row *spec;
        int64_t of_um;
        int rc = kw_read_spec_for(r, lot, &spec);

        if (rc)
                return rc;
        of_um = spec && spec->joint_of_um != KW_NONE ? spec->joint_of_um : lot->diameter_um;
        if (!spec || spec->joint_multiple == KW_NONE || of_um == KW_NONE) {
                kw_put_null(out, "distance");
                kw_put_array(out, "near");
                kw_put_array_end(out);
                return 0;
        }
        kw_put_object(out, "distance");
        kw_put_string(out, "spec", spec->code);
        kw_put_int(out, "version", spec->version);
        kw_put_int(out, "multiple", spec->joint_multiple);
        kw_put_int(out, "of_um", of_um);
        kw_put_int(out, "gap_mm", kw_joint_gap_mm(spec->joint_multiple, of_um));
        kw_put_object_end(out);
        kw_put_array(out, "near");
        rc = put_near(r, joints, spec->joint_multiple, of_um, out);
        kw_put_array_end(out);
        return rc;
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
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer(r, lot, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}
