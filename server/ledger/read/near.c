/*
 * Joints that lie nearer to each other in one strand than the order that a lot was made for, or its specification,
 * allows.
 */
#include "floor.h"
#include "quality.h"

#include "reader.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The distance that joints keep, and the strand that each lies in. */
struct strands {
        int64_t multiple, of_um;
        const struct kw_joint *joints;
        const char **names; /* by joint: the way down to where its strand was laid, "" when the lot is that strand */
        size_t *order;      /* joints by strand, and in each strand by their possible places */
        size_t n;
        struct kw_list near;
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
        *name = kw_arena_text(&r->arena, kw_buf_text(&text), &failed);
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

static int keep_pair(struct kw_reader *r, struct strands *s, size_t i, size_t k, bool surely)
{
        const struct kw_joint *a = &s->joints[i], *b = &s->joints[k];
        struct kw_near_row *row = kw_list_more(&r->arena, &s->near, sizeof(*row));
        int rc;

        if (!row)
                return -ENOMEM;
        *row = (struct kw_near_row){.strand = *s->names[i] ? s->names[i] : NULL,
                                    .gap_mm = a->nominal && b->nominal ? llabs(b->at_mm - a->at_mm) : KW_NONE,
                                    .surely = surely};
        rc = weld_of(r, a, &row->a);
        return rc ? rc : weld_of(r, b, &row->b);
}

static bool same_place(const struct kw_joint *a, const struct kw_joint *b)
{
        return a->place.run == b->place.run && a->place.line == b->place.line && a->place.feed == b->place.feed;
}

/* Within a strand, each joint with those that begin before its limit is out of reach. */
static int find_pairs(struct kw_reader *r, struct strands *s)
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
                                rc = keep_pair(r, s, s->order[x], s->order[y], near == KW_SURELY_NEAR);
                }
        return rc;
}

static int find_near(struct kw_reader *r, struct strands *s)
{
        int rc = 0;

        s->names = calloc(s->n + 1, sizeof(*s->names));
        s->order = calloc(s->n + 1, sizeof(*s->order));
        if (!s->names || !s->order)
                rc = -ENOMEM;
        for (size_t i = 0; rc == 0 && i < s->n; i++) {
                s->order[i] = i;
                rc = name_strand(r, &s->joints[i], &s->names[i]);
        }
        if (rc == 0) {
                qsort_r(s->order, s->n, sizeof(*s->order), by_strand, s);
                rc = find_pairs(r, s);
        }
        free(s->names);
        free(s->order);
        return rc;
}

static int find_distance(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_distance_row *d,
                         struct strands *s)
{
        const struct kw_order_row *order = NULL;
        const struct kw_run_row *run;
        const struct kw_spec_row *spec = NULL;
        int rc = kw_read_run(r, lot->run, &run);

        *d = (struct kw_distance_row){.of_um = KW_NONE, .gap_mm = KW_NONE};
        if (rc == 0 && run && run->order)
                rc = kw_read_order(r, run->order, &order);
        if (rc == 0 && order && order->joint_mm != KW_NONE) {
                d->order = order->code;
                d->entry = order->seq;
                d->gap_mm = s->multiple = order->joint_mm; /* so many times 1 mm */
                s->of_um = 1000;
                return 0;
        }
        if (rc == 0)
                rc = kw_read_spec_for(r, lot, &spec);
        if (rc || !spec)
                return rc;
        s->multiple = spec->joint_multiple;
        s->of_um = spec->joint_of_um != KW_NONE ? spec->joint_of_um : lot->diameter_um;
        if (s->multiple != KW_NONE && s->of_um != KW_NONE)
                *d = (struct kw_distance_row){.spec = spec,
                                              .entry = spec->seq,
                                              .of_um = s->of_um,
                                              .gap_mm = kw_joint_gap_mm(s->multiple, s->of_um)};
        return 0;
}

int kw_read_near(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_joints *joints,
                 struct kw_distance_row *distance, const struct kw_near_row **out, size_t *n)
{
        struct strands s = {.joints = joints->at, .n = joints->n};
        int rc = find_distance(r, lot, distance, &s);

        *out = NULL;
        *n = 0;
        if (rc || distance->gap_mm == KW_NONE)
                return rc;
        rc = find_near(r, &s);
        *out = s.near.at;
        *n = s.near.n;
        return rc;
}
