#ifndef KW_INDEX_WALK_H
#define KW_INDEX_WALK_H
/* What the two walks share: hits, spans, and the runs to be taken, by depth. */
#include "layout.h"

#include <errno.h>
#include <stdlib.h>

/* A feed to be carried through its run (forward), or a package (back: feed is NULL), for a hit. */
struct waiting {
        const void *rec;
        uint32_t hit, next;
};

/*
 * Of each run: the first that waits for it, one too many; 0: none, and it is in no level. WHOLE: it is affected from
 * end to end, certainly, and nothing more needs to wait for it.
 */
#define WHOLE UINT32_MAX

/* A run to be taken, and the one of its depth that was queued before it, one too many; 0: none. */
struct queued {
        uint32_t run, before;
};

/* A span in a piece that is shared by several feeds. */
struct in_piece {
        const struct feed_rec *feed;
        uint32_t from, to;
};

struct narrows {
        struct kw_narrow *at;
        uint32_t n, cap;
};

struct kw_walk {
        struct kw_walk *next; /* of those that are idle */
        const struct body *x;
        uint32_t *turns, n_turns;
        uint32_t *levels, n_levels, level; /* the last that was queued of each depth, one too many */
        bool started;
        struct queued *queue;
        uint32_t n_queue, cap_queue;
        uint32_t *batch; /* runs of the level that is being taken */
        uint32_t n_batch, cap_batch;
        struct waiting *waiting;
        uint32_t n_waiting, cap_waiting;
        struct kw_walk_hit *hits;
        uint32_t n_hits, cap_hits, n_seeds, n_entered;
        uint32_t most;                  /* lots beyond the seeds; where there are more, nobody wants the answer */
        uint32_t seed_least, seed_most; /* the lots of the seeds lie between */
        struct narrows spans;           /* of all hits */
        struct narrows possible, certain;
        struct in_piece *pieces[2];
        uint32_t n_pieces[2], cap_pieces[2];
        uint32_t *slots; /* hits by lot: of the seeds (forward), of all (back) */
        uint32_t n_slots, cap_slots;
        uint32_t *used; /* which slots are */
        uint32_t n_used;
};

enum { PIECES_CERTAIN, PIECES_POSSIBLE };

/** kw_more - room for one more of @size bytes. Return: 0; -ENOMEM. */
int kw_more(void *array, uint32_t n, uint32_t *cap, size_t size);

/** kw_narrow_room - room for @n more. Return: 0; -ENOMEM. */
static inline int kw_narrow_room(struct narrows *s, uint32_t n)
{
        while (s->cap - s->n < n)
                if (kw_more(&s->at, s->cap, &s->cap, sizeof(*s->at)) < 0)
                        return -ENOMEM;
        return 0;
}

static inline int kw_narrow_add(struct narrows *s, uint32_t from, uint32_t to)
{
        if (s->n == s->cap && kw_more(&s->at, s->n, &s->cap, sizeof(*s->at)) < 0)
                return -ENOMEM;
        s->at[s->n++] = (struct kw_narrow){from, to};
        return 0;
}

/** kw_walk_bound - Return: 0; -E2BIG when there are more lots than are wanted. */
static inline int kw_walk_bound(const struct kw_walk *w)
{
        return w->n_hits - w->n_seeds > w->most ? -E2BIG : 0;
}

/** kw_wait - let a feed or a package wait for its run. There is room. */
static inline void kw_wait(struct kw_walk *w, uint32_t run, const void *rec, uint32_t hit)
{
        w->waiting[++w->n_waiting] = (struct waiting){rec, hit, w->turns[run]};
        w->turns[run] = w->n_waiting;
}

/** kw_hit_slot - the slot of a lot's hit; *slot is NONE when it has none. */
static inline uint32_t *kw_hit_slot(struct kw_walk *w, uint32_t lot)
{
        uint32_t at = (uint32_t)(((uint64_t)lot * UINT64_C(0x9E3779B97F4A7C15)) >> 32) & (w->n_slots - 1);

        while (w->slots[at] != NONE && w->hits[w->slots[at]].lot != lot)
                at = (at + 1) & (w->n_slots - 1);
        return &w->slots[at];
}

/** kw_narrow_unite - put in order from @first on: sorted, what touches united. */
void kw_narrow_unite(struct narrows *s, uint32_t first);
/** kw_wait_room - room for @n more that wait; kw_hits_room - for @n more hits. Return: 0; -ENOMEM. */
int kw_wait_room(struct kw_walk *w, uint32_t n);
int kw_hits_room(struct kw_walk *w, uint32_t n);
/** kw_queue_run - the run is to be taken at its depth. Return: 0; -EBADMSG for a run or a depth that there is not. */
int kw_queue_run(struct kw_walk *w, uint32_t run, uint32_t depth);
/** kw_level_out - the runs of the present level out of the queue into the batch, as they came. Return: 0; -ENOMEM. */
int kw_level_out(struct kw_walk *w);
/** kw_hit_keep - a new hit with the spans added at the end, or these united into the lot's hit. Return: 0; -ENOMEM. */
int kw_hit_keep(struct kw_walk *w, uint32_t lot, uint32_t depth, uint32_t at_possible, uint32_t at_certain);
/** kw_hit_new - a hit that is found by no lot. */
int kw_hit_new(struct kw_walk *w, uint32_t lot, uint32_t depth, uint32_t at_possible, uint32_t at_certain);
/** kw_hit_unite - unite spans that were added at the end into a hit that is there. Return: 0; -ENOMEM. */
int kw_hit_unite(struct kw_walk *w, struct kw_walk_hit *hit, uint32_t at_possible, uint32_t at_certain);
/** kw_walk_fit - look at a body, with room for its runs. Return: 0; -ENOMEM. */
int kw_walk_fit(struct kw_walk *w, const struct body *x);
/** kw_walk_drop - forget what waits, after a failure. */
void kw_walk_drop(struct kw_walk *w);

#define PPM UINT64_C(1000000)

/* By how much @s is uncertain in the piece. */
static inline uint32_t kw_unsure(const struct feed_rec *f, uint32_t ppm, uint32_t s)
{
        uint32_t below = s - f->s0, above = f->s1 - s;

        return (uint32_t)(((uint64_t)ppm * (below < above ? below : above) + PPM - 1) / PPM);
}

static inline uint32_t kw_scale_down(uint32_t at, uint32_t by, uint32_t of)
{
        return (uint32_t)((uint64_t)at * by / of);
}

static inline uint32_t kw_scale_up(uint32_t at, uint32_t by, uint32_t of)
{
        return (uint32_t)(((uint64_t)at * by + of - 1) / of);
}

#endif
