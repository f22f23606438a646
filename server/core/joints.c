/*
 * Joints: where on a lot every join lies that was made in it or in anything it is made of.
 *
 * A bare joint is a point on the line it was made on. It is carried forward way by way: a way is a chain of runs with
 * the line by which each was entered, so that a bobbin split between two wires carries its joint into both. Along a way
 * the possible range is that of a trace, and beside it goes the nominal place, by proportion alone.
 *
 *   place  --map-->  s of the run that made it  --packages-->  lots  --feeds-->  v of the next run's line  --map-->  s
 * ..
 */
#include "kinwire/trace.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A growing list of runs. */
struct ids {
        int64_t *at;
        size_t n, cap;
};

struct search {
        const struct kw_genealogy *g;
        const struct kw_hits *family;
        int64_t lot;
        struct ids makers; /* the runs that made the family, in order */
        struct kw_joint_place place;
        struct kw_step *way; /* from the run that made the joint up to the run that is being looked at */
        size_t n_way, cap_way;
        struct kw_joints *out;
};

/* The nominal place, as long as the way carries it: on a run's output, or on the lot of @length that it came to lie on.
 */
struct nominal {
        bool there;
        int64_t at, lot, length;
};

/* --- lists ------------------------------------------------------------------------------------ */

/* Room for one more of @size: the list, moved perhaps, or NULL with all as it was. */
static void *grow(void *at, size_t n, size_t *cap, size_t size)
{
        if (n < *cap)
                return at;

        size_t more = *cap ? 2 * *cap : 8;
        void *moved = reallocarray(at, more, size);
        if (moved)
                *cap = more;
        return moved;
}

static int ids_add(struct ids *ids, int64_t id)
{
        int64_t *at = grow(ids->at, ids->n, &ids->cap, sizeof *at);

        if (!at)
                return -ENOMEM;
        ids->at = at;
        ids->at[ids->n++] = id;
        return 0;
}

static int by_id(const void *a, const void *b)
{
        int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

        return (x > y) - (x < y);
}

static void ids_order(struct ids *ids)
{
        size_t kept = 0;

        if (ids->n)
                qsort(ids->at, ids->n, sizeof *ids->at, by_id);
        for (size_t i = 0; i < ids->n; i++)
                if (kept == 0 || ids->at[i] != ids->at[kept - 1])
                        ids->at[kept++] = ids->at[i];
        ids->n = kept;
}

static bool ids_has(const struct ids *ids, int64_t id)
{
        return bsearch(&id, ids->at, ids->n, sizeof *ids->at, by_id) != NULL;
}

/* --- the nominal place ------------------------------------------------------------------------ */

/* A place on a boundary belongs to what begins there; the end of a run or of a lot belongs to what ends there. */
static bool holds(int64_t at, int64_t from, int64_t to, int64_t end)
{
        return from <= at && (at < to || (at == to && to == end));
}

static void nominal_to_package(const struct nominal *on_s, const struct kw_run *run, const struct kw_package *p,
                               struct nominal *on_lot)
{
        if (on_s->there && holds(on_s->at, p->s0, p->s1, run->length_mm))
                *on_lot = (struct nominal){true, on_s->at - p->s0, p->lot, p->s1 - p->s0};
}

static void nominal_to_line(const struct nominal *on_lot, const struct kw_feed *feed, const struct kw_line *line,
                            struct nominal *on_s)
{
        if (!on_lot->there || on_lot->lot != feed->lot || !holds(on_lot->at, feed->from, feed->to, on_lot->length))
                return;

        int64_t along = feed->off == KW_OFF_INNER ? on_lot->at - feed->from : feed->to - on_lot->at;
        *on_s = (struct nominal){.there = kw_map_known(line, feed->v0 + along),
                                 .at = kw_map_nominal(line, feed->v0 + along)};
}

/* --- the answer ------------------------------------------------------------------------------- */

static int emit_one(struct search *q, struct kw_span possible, const struct nominal *nominal)
{
        struct kw_joints *out = q->out;
        struct kw_joint *at = grow(out->at, out->n, &out->cap, sizeof *at);
        if (!at)
                return -ENOMEM;
        out->at = at;

        struct kw_step *steps = calloc(q->n_way, sizeof *steps);
        if (!steps)
                return -ENOMEM;
        for (size_t i = 0; i < q->n_way; i++)
                steps[i] = q->way[q->n_way - 1 - i];

        out->at[out->n++] = (struct kw_joint){.place = q->place,
                                              .nominal = nominal->there,
                                              .at_mm = nominal->there ? nominal->at : 0,
                                              .possible = possible,
                                              .steps = steps,
                                              .n_steps = q->n_way};
        return 0;
}

/* One joint for each piece of the possible range. The pieces are apart, so that one at most holds the nominal place. */
static int emit(struct search *q, const struct kw_spans *possible, const struct nominal *nominal)
{
        int r = 0;

        for (size_t i = 0; r == 0 && i < possible->n; i++) {
                struct nominal here = *nominal;

                here.there =
                        nominal->there && holds(nominal->at, possible->at[i].from, possible->at[i].to, nominal->at);
                r = emit_one(q, possible->at[i], &here);
        }
        return r;
}

/* --- the ways --------------------------------------------------------------------------------- */

static int carry(struct search *q, const struct kw_run *run, const struct kw_spans *s, const struct nominal *on_s);

static int carry_by_line(struct search *q, const struct kw_run *run, size_t line, const struct kw_spans *v,
                         const struct nominal *on_s)
{
        struct kw_step *way = grow(q->way, q->n_way, &q->cap_way, sizeof *way);
        if (!way)
                return -ENOMEM;
        q->way = way;

        struct kw_spans s = {0};
        int r = kw_map_forward(&run->lines[line], run->tolerance_ppm, v, KW_POSSIBLE, &s);
        if (r == 0) {
                kw_spans_unite(&s);
                q->way[q->n_way++] = (struct kw_step){run->id, line};
                r = carry(q, run, &s, on_s);
                q->n_way--;
        }
        kw_spans_free(&s);
        return r;
}

/* From the lots that the joint has reached into one line of a run that took some of them. */
static int enter_line(struct search *q, const struct kw_run *run, size_t line, const struct kw_hits *reached,
                      const struct nominal *on_lot)
{
        const struct kw_line *on = &run->lines[line];
        struct nominal on_s = {0};
        struct kw_spans v = {0};
        int r = 0;

        for (size_t i = 0; r == 0 && i < on->n_feeds; i++) {
                const struct kw_hit *hit = kw_hits_find(reached, on->feeds[i].lot);

                if (!hit)
                        continue;
                r = kw_feed_to_line(&on->feeds[i], &hit->reach.possible, &v);
                nominal_to_line(on_lot, &on->feeds[i], on, &on_s);
        }
        kw_spans_unite(&v);
        if (r == 0 && v.n)
                r = carry_by_line(q, run, line, &v, &on_s);
        kw_spans_free(&v);
        return r;
}

static int enter_run(struct search *q, int64_t id, const struct kw_hits *reached, const struct nominal *on_lot)
{
        const struct kw_run *run;
        int r = q->g->run(q->g->ctx, id, &run);

        for (size_t i = 0; r == 0 && i < run->n_lines; i++)
                r = enter_line(q, run, i, reached, on_lot);
        return r;
}

/* What the joint reaches of one package: the end of its way on the lot asked for, or a lot to be followed further. */
static int reach_package(struct search *q, const struct kw_package *p, const struct kw_spans *s,
                         const struct nominal *on_lot, struct kw_hits *reached)
{
        struct kw_spans possible = {0};
        int r = kw_spans_clip(s, p->s0, p->s1, p->s0, &possible);

        if (r == 0 && p->lot == q->lot) /* which has no kin among the packages beside it */
                r = emit(q, &possible, on_lot);
        else
                for (size_t i = 0; r == 0 && i < possible.n; i++)
                        r = kw_hits_add(reached, p->lot, possible.at[i].from, possible.at[i].to, KW_POSSIBLE);
        kw_spans_free(&possible);
        return r;
}

struct following {
        struct search *q;
        struct ids runs;
};

static int follow(void *ctx, struct kw_hit *hit)
{
        struct following *f = ctx;
        const struct kw_use *uses;
        size_t n;
        int r = f->q->g->uses(f->q->g->ctx, hit->lot, &uses, &n);

        for (size_t i = 0; r == 0 && i < n; i++)
                if (ids_has(&f->q->makers, uses[i].run) &&
                    kw_spans_meets(&hit->reach.possible, uses[i].from, uses[i].to))
                        r = ids_add(&f->runs, uses[i].run);
        return r;
}

/* Carries a joint on from the output of a run, which is the last of the way. */
static int carry(struct search *q, const struct kw_run *run, const struct kw_spans *s, const struct nominal *on_s)
{
        struct kw_hits *reached = kw_hits_new();
        struct following f = {.q = q};
        struct nominal on_lot = {0};
        int r = reached ? 0 : -ENOMEM;

        for (size_t i = 0; r == 0 && i < run->n_packages; i++) {
                const struct kw_package *p = &run->packages[i];

                if (p->lot == 0 || !kw_hits_find(q->family, p->lot))
                        continue;
                nominal_to_package(on_s, run, p, &on_lot);
                r = reach_package(q, p, s, &on_lot, reached);
        }
        if (r == 0)
                r = kw_hits_each(reached, follow, &f);
        ids_order(&f.runs);
        for (size_t i = 0; r == 0 && i < f.runs.n; i++)
                r = enter_run(q, f.runs.at[i], reached, &on_lot);
        free(f.runs.at);
        kw_hits_free(reached);
        return r;
}

/* --- the joints of the family ----------------------------------------------------------------- */

static int joints_of_run(struct search *q, const struct kw_run *run)
{
        int r = 0;

        for (size_t i = 0; r == 0 && i < run->n_lines; i++)
                for (size_t j = 1; r == 0 && j < run->lines[i].n_feeds; j++) {
                        int64_t place = run->lines[i].feeds[j].v0;
                        struct nominal on_s = {.there = kw_map_known(&run->lines[i], place),
                                               .at = kw_map_nominal(&run->lines[i], place)};
                        struct kw_span point = {place, place};
                        const struct kw_spans v = {&point, 1, 1};

                        q->place = (struct kw_joint_place){run->id, i, j};
                        r = carry_by_line(q, run, i, &v, &on_s);
                }
        return r;
}

static int add_maker(void *ctx, struct kw_hit *hit)
{
        struct search *q = ctx;
        int64_t run;
        uint32_t depth;
        int r = q->g->maker(q->g->ctx, hit->lot, &run, &depth);

        return r == 0 && run != 0 ? ids_add(&q->makers, run) : r;
}

static int compare_steps(const struct kw_joint *x, const struct kw_joint *y)
{
        for (size_t i = 0; i < x->n_steps && i < y->n_steps; i++) {
                const struct kw_step *a = &x->steps[i], *b = &y->steps[i];

                if (a->run != b->run)
                        return a->run < b->run ? -1 : 1;
                if (a->line != b->line)
                        return a->line < b->line ? -1 : 1;
        }
        return (x->n_steps > y->n_steps) - (x->n_steps < y->n_steps);
}

static int by_place(const void *a, const void *b)
{
        const struct kw_joint *x = a, *y = b;

        if (x->possible.from != y->possible.from)
                return x->possible.from < y->possible.from ? -1 : 1;
        int c = compare_steps(x, y);
        return c ? c : (x->place.feed > y->place.feed) - (x->place.feed < y->place.feed);
}

int kw_joints_on(const struct kw_genealogy *g, const struct kw_hits *family, int64_t lot, struct kw_joints *out)
{
        struct search q = {.g = g, .family = family, .lot = lot, .out = out};
        int r = kw_hits_each(family, add_maker, &q);

        ids_order(&q.makers);
        for (size_t i = 0; r == 0 && i < q.makers.n; i++) {
                const struct kw_run *run;

                r = g->run(g->ctx, q.makers.at[i], &run);
                if (r == 0)
                        r = joints_of_run(&q, run);
        }
        if (out->n)
                qsort(out->at, out->n, sizeof *out->at, by_place);
        free(q.makers.at);
        free(q.way);
        return r;
}

void kw_joints_free(struct kw_joints *joints)
{
        for (size_t i = 0; i < joints->n; i++)
                free(joints->at[i].steps);
        free(joints->at);
        *joints = (struct kw_joints){0};
}
