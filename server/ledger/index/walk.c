/*
 * A walk over the index: its memory, the hits by lot, and the queue of runs by depth.
 *
 * The scratch is kept between questions. What is as large as the number of runs is set back run by run as they are
 * taken, so that a question costs what it visits.
 */
#include "walk.h"

#include <string.h>

#define SLOTS 2048

int kw_more(void *array, uint32_t n, uint32_t *cap, size_t size)
{
        void **at = array, *bigger;
        uint32_t room = *cap ? 2 * *cap : 1024;

        if (n < *cap)
                return 0;
        bigger = reallocarray(*at, room, size);
        if (!bigger)
                return -ENOMEM;
        *at = bigger;
        *cap = room;
        return 0;
}

static int by_from(const void *a, const void *b)
{
        const struct kw_narrow *x = a, *y = b;

        return (x->from > y->from) - (x->from < y->from);
}

#define INSERT_MOST 128 /* sorted by insertion: what comes is mostly in order, and a call a comparison costs more */

/* What was gathered backwards is turned round. */
static void sort(struct kw_narrow *at, uint32_t n)
{
        if (at[0].from > at[n - 1].from)
                for (uint32_t i = 0, k = n - 1; i < k; i++, k--) {
                        struct kw_narrow one = at[i];

                        at[i] = at[k];
                        at[k] = one;
                }
        if (n > INSERT_MOST) {
                qsort(at, n, sizeof(*at), by_from);
                return;
        }
        for (uint32_t i = 1; i < n; i++) {
                struct kw_narrow one = at[i];
                uint32_t k = i;

                for (; k && at[k - 1].from > one.from; k--)
                        at[k] = at[k - 1];
                at[k] = one;
        }
}

static bool in_order(const struct kw_narrow *at, uint32_t n)
{
        for (uint32_t i = 1; i < n; i++)
                if (at[i].from < at[i - 1].from)
                        return false;
        return true;
}

void kw_narrow_unite(struct narrows *s, uint32_t first)
{
        uint32_t kept = first, apart = first + 1;

        while (apart < s->n && s->at[apart].from > s->at[apart - 1].to)
                apart++;
        if (apart >= s->n)
                return;
        if (!in_order(s->at + first, s->n - first))
                sort(s->at + first, s->n - first);
        for (uint32_t i = first + 1; i < s->n; i++) {
                if (s->at[i].from > s->at[kept].to)
                        s->at[++kept] = s->at[i];
                else if (s->at[i].to > s->at[kept].to)
                        s->at[kept].to = s->at[i].to;
        }
        s->n = kept + 1;
}

int kw_queue_run(struct kw_walk *w, uint32_t run, uint32_t depth)
{
        if (depth >= w->n_levels || run >= w->n_turns)
                return -EBADMSG;
        if (w->n_queue == w->cap_queue && kw_more(&w->queue, w->n_queue, &w->cap_queue, sizeof(*w->queue)) < 0)
                return -ENOMEM;
        w->queue[w->n_queue++] = (struct queued){run, w->levels[depth]};
        w->levels[depth] = w->n_queue;
        return 0;
}

int kw_level_out(struct kw_walk *w)
{
        uint32_t n = 0;

        for (uint32_t i = w->levels[w->level]; i; i = w->queue[i - 1].before)
                n++;
        while (n > w->cap_batch)
                if (kw_more(&w->batch, w->cap_batch, &w->cap_batch, sizeof(*w->batch)) < 0)
                        return -ENOMEM;
        w->n_batch = n;
        for (uint32_t i = w->levels[w->level]; i; i = w->queue[i - 1].before)
                w->batch[--n] = w->queue[i - 1].run;
        w->levels[w->level] = 0;
        return 0;
}

int kw_wait_room(struct kw_walk *w, uint32_t n)
{
        while (w->cap_waiting - w->n_waiting <= n) /* the first is not used */
                if (kw_more(&w->waiting, w->cap_waiting, &w->cap_waiting, sizeof(*w->waiting)) < 0)
                        return -ENOMEM;
        return 0;
}

/* --- hits ------------------------------------------------------------------------------------------- */

/* What was used of the slots is empty again; few are used at first, so that a small question stays within small caches.
 */
static void empty_slots(struct kw_walk *w, uint32_t n_slots)
{
        for (uint32_t i = 0; i < w->n_used; i++)
                w->slots[w->used[i]] = NONE;
        w->n_used = 0;
        w->n_slots = n_slots;
}

static void use_slot(struct kw_walk *w, uint32_t *slot, uint32_t hit)
{
        *slot = hit;
        w->used[w->n_used++] = (uint32_t)(slot - w->slots);
}

/* At most half of the slots are used. */
static int grow_slots(struct kw_walk *w, uint32_t n)
{
        uint32_t slots = w->n_slots ? w->n_slots : SLOTS;

        while (slots / 2 <= w->n_used + n)
                slots *= 2;
        if (slots == w->n_slots)
                return 0;
        if (slots > w->cap_slots) {
                uint32_t *used = reallocarray(w->used, slots, sizeof(*used)), *bigger;

                if (!used)
                        return -ENOMEM;
                w->used = used;
                bigger = reallocarray(w->slots, slots, sizeof(*bigger));
                if (!bigger)
                        return -ENOMEM;
                memset(bigger + w->cap_slots, 0xff, (slots - w->cap_slots) * sizeof(*bigger));
                w->slots = bigger;
                w->cap_slots = slots;
        }
        empty_slots(w, slots);
        for (uint32_t i = 0; i < w->n_hits; i++)
                use_slot(w, kw_hit_slot(w, w->hits[i].lot), i);
        return 0;
}

int kw_hits_room(struct kw_walk *w, uint32_t n)
{
        while (w->cap_hits - w->n_hits < n)
                if (kw_more(&w->hits, w->cap_hits, &w->cap_hits, sizeof(*w->hits)) < 0)
                        return -ENOMEM;
        return grow_slots(w, n);
}

int kw_hit_new(struct kw_walk *w, uint32_t lot, uint32_t depth, uint32_t at_possible, uint32_t at_certain)
{
        if (w->n_hits == w->cap_hits && kw_more(&w->hits, w->n_hits, &w->cap_hits, sizeof(*w->hits)) < 0)
                return -ENOMEM;
        w->hits[w->n_hits++] = (struct kw_walk_hit){.lot = lot,
                                                    .depth = depth,
                                                    .at_possible = at_possible,
                                                    .possible = at_certain - at_possible,
                                                    .at_certain = at_certain,
                                                    .certain = w->spans.n - at_certain};
        return 0;
}

static int copy(struct narrows *s, uint32_t at, uint32_t n)
{
        for (uint32_t i = 0; i < n; i++) {
                struct kw_narrow one = s->at[at + i];

                if (kw_narrow_add(s, one.from, one.to) < 0)
                        return -ENOMEM;
        }
        return 0;
}

int kw_hit_unite(struct kw_walk *w, struct kw_walk_hit *hit, uint32_t at_possible, uint32_t at_certain)
{
        struct narrows *s = &w->spans;
        uint32_t end = s->n, first = end, certain;

        if (copy(s, hit->at_possible, hit->possible) < 0 || copy(s, at_possible, at_certain - at_possible) < 0)
                return -ENOMEM;
        kw_narrow_unite(s, first);
        certain = s->n;
        if (copy(s, hit->at_certain, hit->certain) < 0 || copy(s, at_certain, end - at_certain) < 0)
                return -ENOMEM;
        kw_narrow_unite(s, certain);
        hit->at_possible = first;
        hit->possible = certain - first;
        hit->at_certain = certain;
        hit->certain = s->n - certain;
        return 0;
}

int kw_walk_begin(struct kw_walk *w)
{
        w->n_hits = w->n_seeds = w->n_entered = w->n_waiting = w->n_queue = w->spans.n = 0;
        w->most = UINT32_MAX;
        w->started = false;
        empty_slots(w, w->cap_slots ? SLOTS : 0);
        if (kw_more(&w->possible.at, 0, &w->possible.cap, sizeof(*w->possible.at)) < 0 ||
            kw_more(&w->certain.at, 0, &w->certain.cap, sizeof(*w->certain.at)) < 0)
                return -ENOMEM;
        return 0;
}

int kw_hit_keep(struct kw_walk *w, uint32_t lot, uint32_t depth, uint32_t at_possible, uint32_t at_certain)
{
        int rc = kw_hits_room(w, 1);
        uint32_t *slot;

        if (rc)
                return rc;
        slot = kw_hit_slot(w, lot);
        if (*slot != NONE)
                return kw_hit_unite(w, &w->hits[*slot], at_possible, at_certain);
        use_slot(w, slot, w->n_hits);
        return kw_hit_new(w, lot, depth, at_possible, at_certain);
}

int kw_walk_seed(struct kw_walk *w, uint32_t lot, struct kw_narrow span)
{
        const struct pack_rec *pack = kw_lot_pack(w->x, lot);
        uint32_t possible = w->spans.n, certain = possible + 1;

        if (kw_narrow_add(&w->spans, span.from, span.to) < 0 || kw_narrow_add(&w->spans, span.from, span.to) < 0)
                return -ENOMEM;
        return kw_hit_keep(w, lot, pack ? kw_pack_depth(w->x, pack) : 0, possible, certain);
}

const struct kw_walk_hit *kw_walk_hits(const struct kw_walk *w, size_t *n)
{
        *n = w->n_hits;
        return w->hits;
}

const struct kw_narrow *kw_walk_spans(const struct kw_walk *w)
{
        return w->spans.at;
}

void kw_walk_drop(struct kw_walk *w)
{
        memset(w->turns, 0, w->n_turns * sizeof(*w->turns));
        memset(w->levels, 0, w->n_levels * sizeof(*w->levels));
}

static int fit(struct kw_walk *w, uint32_t runs, uint32_t levels)
{
        if (runs > w->n_turns) {
                uint32_t *turns = calloc(runs + runs / 8, sizeof(*turns));

                if (!turns)
                        return -ENOMEM;
                free(w->turns);
                w->turns = turns;
                w->n_turns = runs + runs / 8;
        }
        if (levels > w->n_levels) {
                uint32_t *more = calloc(levels + 16, sizeof(*more));

                if (!more)
                        return -ENOMEM;
                free(w->levels);
                w->levels = more;
                w->n_levels = levels + 16;
        }
        return 0;
}

int kw_walk_fit(struct kw_walk *w, const struct body *x)
{
        w->x = x;
        return fit(w, kw_all_runs(x) + 1, x->depth_most + 2);
}

void kw_walk_free(struct kw_walk *w)
{
        if (!w)
                return;
        free(w->turns);
        free(w->levels);
        free(w->queue);
        free(w->batch);
        free(w->waiting);
        free(w->hits);
        free(w->spans.at);
        free(w->possible.at);
        free(w->certain.at);
        free(w->pieces[0]);
        free(w->pieces[1]);
        free(w->slots);
        free(w->used);
        free(w);
}
