#ifndef KINWIRE_TRACE_H
#define KINWIRE_TRACE_H
/*
 * The trace: which metres of which lots an origin touches, certain and possible.
 *
 * The engine sees the genealogy through struct kw_genealogy alone, so that it runs on SQLite, on an
 * index in memory or on any other store without change. Runs are taken in order of depth, so that
 * every run follows the runs that made its inputs; each is taken once.
 */
#include "kinwire/runmap.h"

/** A run that took [from, to] of a lot. One row a feed. */
struct kw_use {
        int64_t run;
        uint32_t depth;
        int64_t from, to;
};

/** What the engine may ask. Each returns 0 or a negative errno; what it hands out stays valid as long as @ctx. */
struct kw_genealogy {
        void *ctx;
        /* every feed taken from the lot, in order of from */
        int (*uses)(void *ctx, int64_t lot, const struct kw_use **uses, size_t *n);
        /* the run that made the lot; run 0 for a lot received from outside */
        int (*maker)(void *ctx, int64_t lot, int64_t *run, uint32_t *depth);
        int (*run)(void *ctx, int64_t run, const struct kw_run **out);
};

/** Affected spans of one lot. */
struct kw_hit {
        int64_t lot;
        uint32_t depth; /* of the run that made it; 0: received */
        struct kw_reach reach;
};

/** A set of hits by lot. Make with kw_hits_new(), free with kw_hits_free(). */
struct kw_hits;
struct kw_hits *kw_hits_new(void);
void kw_hits_free(struct kw_hits *hits);
size_t kw_hits_count(const struct kw_hits *hits);
/** kw_hits_bound - take @most lots and no more (0: any number); what would add another fails with -E2BIG. */
void kw_hits_bound(struct kw_hits *hits, size_t most);
/** kw_hits_most - that bound. */
size_t kw_hits_most(const struct kw_hits *hits);
/** kw_hits_find - NULL when the lot is not in the set. */
struct kw_hit *kw_hits_find(const struct kw_hits *hits, int64_t lot);
/**
 * kw_hits_add - unite [from, to] into the lot's certain and possible (KW_CERTAIN) or only its possible spans
 * (KW_POSSIBLE). Return: 0; -ENOMEM, -E2BIG with @hits unchanged.
 */
int kw_hits_add(struct kw_hits *hits, int64_t lot, int64_t from, int64_t to, enum kw_which which);
/**
 * kw_hits_unite - unite @certain and @possible (both in order) into the lot's spans
 * @out: receives the hit; may be NULL
 *
 * Return: 0; -ENOMEM, -E2BIG with @hits unchanged.
 */
int kw_hits_unite(struct kw_hits *hits, int64_t lot, const struct kw_spans *certain, const struct kw_spans *possible,
                  struct kw_hit **out);
/**
 * kw_hits_each - calls @fn for each hit in no particular order; stops and returns what @fn returns if not 0. @fn must not
 * add to the set.
 */
int kw_hits_each(const struct kw_hits *hits, int (*fn)(void *ctx, struct kw_hit *hit), void *ctx);

/**
 * kw_trace_forward - extend @hits by all that was made of them
 * kw_trace_back    - extend @hits by all that they were made of
 * @g:    the genealogy
 * @hits: on entry the origin's spans; on return the answer, the origin's lots among it, with depths filled in
 * @within: NULL, or a set of lots: only runs' packages (forward) or feeds (back) that are in it are followed
 *
 * Hits whose possible spans come out empty are not in the answer.
 *
 * Return: 0; -ENOMEM; -E2BIG, more lots than @hits may take; -EBADMSG when a run is not deeper than one that made its
 * inputs, so that the store must be damaged; what the genealogy returned. After a failure @hits is good for
 * kw_hits_free() only.
 */
int kw_trace_forward(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within);
int kw_trace_back(const struct kw_genealogy *g, struct kw_hits *hits, const struct kw_hits *within);

/**
 * kw_ancestry - every lot from which a forward trace can reach @lot, itself among them, as hits (membership only: the spans
 * are not meaningful). What makeup and joints restrict themselves to.
 * @out: an empty set
 *
 * It may hold a few lots more: a lot belongs to it when what a run took of it may come out on any part of a lot that does.
 * What @lot is made of, to the millimetre, is kw_trace_back()'s answer.
 * Return: as kw_trace_back().
 */
int kw_ancestry(const struct kw_genealogy *g, int64_t lot, struct kw_hits *out);

/**
 * kw_weld_spans - the packages' spans of a run for the metal beside a place on a line
 * @run, @line: which line of which run
 * @v:     the joint's place on the line
 * @half:  mm on either side (the design's affected_mm); 0: the bare joint, whose spans may be points
 * @hits:  receives them
 *
 * Return: 0; -ENOMEM.
 */
int kw_weld_spans(const struct kw_run *run, size_t line, int64_t v, int64_t half, struct kw_hits *hits);

/**
 * kw_output_spans - hand spans on the run's output s to its packages
 * @s:     spans in order on s
 * @which: as for kw_hits_add(): what is certain is possible too
 *
 * Return: 0; -ENOMEM.
 */
int kw_output_spans(const struct kw_run *run, const struct kw_spans *s, enum kw_which which, struct kw_hits *hits);

enum kw_verdict { KW_VERDICT_NONE, KW_VERDICT_POSSIBLE, KW_VERDICT_CERTAIN };
/** kw_verdict_of - certain if any of it is certain, else possible if any is possible. */
enum kw_verdict kw_verdict_of(const struct kw_reach *reach);

/* --- makeup ----------------------------------------------------------------------------------- */

/**
 * kw_makeup - where along @lot one group of its ancestors lies
 * @g, @family: the genealogy, and kw_ancestry() of @lot
 * @sources, @n: the group, e.g. the coils of one heat: whole, certain; those outside the family are passed over
 * @out: receives the spans on @lot; empty when the group does not reach it. When @lot is itself one of the group, they are
 *       [0, KW_LENGTH_MAX], for the caller to cut to the lot's length
 *
 * Return: as kw_trace_forward(), with @out untouched on failure. Free with kw_reach_free().
 */
int kw_makeup(const struct kw_genealogy *g, const struct kw_hits *family, int64_t lot, const int64_t *sources, size_t n,
              struct kw_reach *out);

/* --- joints ----------------------------------------------------------------------------------- */

/** A join to be followed: @feed is the feed that it stands before (from 1). */
struct kw_joint_place {
        int64_t run;
        size_t line;
        size_t feed;
};

/** One step of a joint's way: a run and the line on which it went in, counted from the lot asked for. */
struct kw_step {
        int64_t run;
        size_t line;
};

struct kw_joint {
        struct kw_joint_place place;
        bool nominal; /* whether the nominal place lies on the lot asked for */
        int64_t at_mm;
        struct kw_span possible;
        struct kw_step *steps; /* from the lot asked for back to the run that made the joint, that run included */
        size_t n_steps;
};

struct kw_joints {
        struct kw_joint *at;
        size_t n, cap;
};

/**
 * kw_joints_on - every joint that reaches @lot, once for each way that it takes (a bobbin split between two wires carries
 * its joint into both)
 * @family: kw_ancestry() of @lot
 * @out:    in order of possible.from, then of steps; free with kw_joints_free()
 *
 * A way is a chain of runs and the lines by which they were entered. The possible range is that of a trace of the bare joint
 * along that way; where it is interrupted, it is given as one joint a piece, of which at most one has the nominal place.
 *
 * The nominal place goes by proportion alone (kw_map_nominal()) from run to run. On a boundary it belongs to what begins
 * there, at the end of a run or of a lot to what ends there.
 *
 * Return: as kw_trace_forward(); after a failure @out holds some of the joints.
 */
int kw_joints_on(const struct kw_genealogy *g, const struct kw_hits *family, int64_t lot, struct kw_joints *out);
void kw_joints_free(struct kw_joints *joints);

#endif
