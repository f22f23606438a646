/*
 * The index as one thing: held by traces, changed by the writer as it commits.
 */
#include "../leaning.h"
#include "walk.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#define SUFFIX  ".index"
#define TRIES   20
#define WAIT_NS 1000000

void kw_body_free(struct body *x)
{
        kw_base_free(&x->base);
        kw_delta_free(x->delta);
        kw_stock_drop(x->stock);
        *x = (struct body){0};
}

static int set_up_locks(struct kw_index *ix)
{
        pthread_rwlockattr_t attr;
        int rc = pthread_rwlockattr_init(&attr);

        if (rc)
                return -rc;
        /* else traces that overlap would keep the writer out, and whoever waits for its answer */
        pthread_rwlockattr_setkind_np(&attr, PTHREAD_RWLOCK_PREFER_WRITER_NONRECURSIVE_NP);
        rc = pthread_rwlock_init(&ix->lock, &attr);
        pthread_rwlockattr_destroy(&attr);
        pthread_mutex_init(&ix->keeper_lock, NULL);
        pthread_mutex_init(&ix->walks_lock, NULL);
        pthread_cond_init(&ix->wake, NULL);
        return -rc;
}

int kw_index_new(const char *path, struct kw_index **out)
{
        struct kw_index *ix = calloc(1, sizeof(*ix));
        size_t n = strlen(path) + sizeof(SUFFIX);
        int rc;

        if (!ix)
                return -ENOMEM;
        ix->followed = ix->followed_from = -1;
        ix->ledger = strdup(path);
        ix->file = malloc(n);
        rc = ix->ledger && ix->file ? set_up_locks(ix) : -ENOMEM;
        if (rc) {
                free(ix->ledger);
                free(ix->file);
                free(ix);
                return rc;
        }
        snprintf(ix->file, n, "%s" SUFFIX, path);
        *out = ix;
        return 0;
}

static void stop_thread(struct kw_index *ix)
{
        pthread_mutex_lock(&ix->keeper_lock);
        ix->stopping = true;
        pthread_cond_signal(&ix->wake);
        pthread_mutex_unlock(&ix->keeper_lock);
        if (ix->running)
                pthread_join(ix->thread, NULL);
}

void kw_index_free(struct kw_index *ix)
{
        if (!ix)
                return;
        stop_thread(ix);
        for (struct kw_walk *w = ix->walks, *next; w; w = next) {
                next = w->next;
                kw_walk_free(w);
        }
        kw_body_free(&ix->body);
        pthread_rwlock_destroy(&ix->lock);
        pthread_mutex_destroy(&ix->keeper_lock);
        pthread_mutex_destroy(&ix->walks_lock);
        pthread_cond_destroy(&ix->wake);
        free(ix->noted.at);
        free(ix->noted_lots.at);
        free(ix->ledger);
        free(ix->file);
        free(ix);
}

/* --- following ------------------------------------------------------------------------------------ */

/* Which entry's rows to read for one that came: its own, or those of the run that it is a step of. */
static int64_t whose_rows(const char *kind, int64_t seq, int64_t run_seq)
{
        if (run_seq)
                return run_seq;
        return strcmp(kind, "run") == 0 || strcmp(kind, "receive") == 0 || strcmp(kind, "open") == 0 ? seq : 0;
}

/* Kinds that speak of no lot but those that they make. */
static bool changes_state(const char *kind)
{
        static const char *const do_not[] = {"heat", "supply", "receive", "run", "batch", "note", "order"};

        for (size_t i = 0; i < sizeof(do_not) / sizeof(do_not[0]); i++)
                if (strcmp(kind, do_not[i]) == 0)
                        return false;
        return true;
}

/* What the rows of these entries, or the lots themselves, are about is not as it was. */
static int forget_states(struct body *x, struct kw_ledger *l, const struct kw_numbers *seqs,
                         const struct kw_numbers *lots)
{
        struct kw_numbers named = {0};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < seqs->n; i++)
                rc = kw_lots_named(l, seqs->at[i], &named);
        if (rc == 0)
                rc = kw_numbers_add_all(&named, lots);
        for (size_t i = 0; rc == 0 && i < named.n; i++) {
                kw_facts_not(&x->base, kw_base_number(&x->base, named.at[i]), FACT_STATE);
                rc = kw_stock_mark(x, named.at[i]);
        }
        free(named.at);
        return rc;
}

/*
 * Nobody told what these steps undid: with the run that each is a step of, all that leans on it was made again. What
 * leant on it then and does not now was put right since, and of that somebody told.
 */
static int read_leaning(struct body *x, struct kw_ledger *l, struct kw_again *leaning, struct kw_numbers *speak)
{
        int rc = 0;

        for (const struct kw_again *a = leaning; rc == 0 && a; a = a->hh.next) {
                rc = kw_delta_entry(x, l, a->seq);
                if (rc == 0)
                        rc = kw_numbers_add(speak, a->seq);
        }
        return rc;
}

int kw_body_catch_up(struct body *x, struct kw_ledger *l, int64_t size, int64_t told_from,
                     const struct kw_numbers *undone, const struct kw_numbers *undone_lots)
{
        struct kw_again *leaning = NULL;
        struct kw_numbers speak = {0};
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT entry.seq, entry.kind, ifnull(step.run_seq, 0) FROM entry LEFT JOIN step ON step.seq ="
                        " entry.seq WHERE entry.seq > ?1 AND entry.seq <= ?2 ORDER BY entry.seq",
                        "ii", x->size, size);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                int64_t seq = whose_rows(kw_text(&q, 1), kw_int(&q, 0), kw_int(&q, 2));

                rc = changes_state(kw_text(&q, 1)) ? kw_numbers_add(&speak, kw_int(&q, 0)) : 0;
                if (rc == 0 && seq)
                        rc = kw_delta_entry(x, l, seq);
                if (rc == 0 && kw_int(&q, 2) && kw_int(&q, 0) <= told_from)
                        rc = kw_leaning(l, kw_int(&q, 2), &leaning);
        }
        kw_end(&q);
        if (rc == 0)
                rc = read_leaning(x, l, leaning, &speak);
        kw_again_free(&leaning);
        for (size_t i = 0; rc == 0 && i < undone->n; i++)
                rc = kw_delta_entry(x, l, undone->at[i]);
        if (rc == 0)
                rc = kw_numbers_add_all(&speak, undone);
        if (rc == 0)
                rc = forget_states(x, l, &speak, undone_lots);
        free(speak.at);
        if (rc == 0)
                x->size = size;
        return rc;
}

static int note(struct kw_index *ix, const struct kw_ledger *l)
{
        int rc = kw_numbers_add_all(&ix->noted, &l->undone);

        return rc ? rc : kw_numbers_add_all(&ix->noted_lots, &l->undone_lots);
}

/* What another program wrote since the last commit here: a correction among it touched nobody knows what. */
static int check_foreign(struct kw_index *ix, struct kw_ledger *l)
{
        int64_t corrections = 0;
        int rc;

        if (ix->followed_from < 0 || l->begun > ix->followed) {
                ix->followed_from = l->begun;
                ix->noted.n = ix->noted_lots.n = 0;
        }
        if (!ix->ready || l->begun <= ix->body.size)
                return 0;
        rc = kw_one(l, &corrections, 0,
                    "SELECT count(*) FROM entry WHERE kind IN ('correct', 'void') AND seq > ?1 AND seq <= ?2", "ii",
                    ix->body.size, l->begun);
        return rc ? rc : corrections ? -ESTALE : 0;
}

/*
 * What another program wrote after that commit and before it was looked at: what corrections and steps of runs among it
 * undid, nobody told. What was noted for a body that is being built does not help it over them either.
 */
static int check_later(struct kw_index *ix, struct kw_ledger *l, int64_t size)
{
        int64_t undoing = 0;
        int rc;

        if (size <= l->ended)
                return 0;
        ix->followed_from = size;
        ix->noted.n = ix->noted_lots.n = 0;
        if (!ix->ready || size <= ix->body.size)
                return 0;
        rc = kw_one(l, &undoing, 0,
                    "SELECT count(*) FROM entry LEFT JOIN step ON step.seq = entry.seq WHERE entry.seq > ?1 AND"
                    " entry.seq <= ?2 AND (entry.kind IN ('correct', 'void') OR step.seq IS NOT NULL)",
                    "ii", l->ended, size);
        return rc ? rc : undoing ? -ESTALE : 0;
}

static int follow(struct kw_index *ix, struct kw_ledger *l)
{
        int64_t size;
        int rc = kw_one(l, &size, 0, "SELECT max(seq) FROM entry", "");

        if (rc == 0)
                rc = check_foreign(ix, l);
        if (rc == 0 && ix->noting)
                rc = note(ix, l);
        if (rc == 0)
                rc = check_later(ix, l, size);
        ix->followed = size;
        ix->not_in_file += size - l->begun + (int64_t)(l->undone.n ? KW_INDEX_FILE_LAG / 4 : 0);
        /* the first that is told of may lie behind what the index was built from meanwhile */
        if (rc || !ix->ready || size < ix->body.size)
                return rc;
        return kw_body_catch_up(&ix->body, l, size, l->begun, &l->undone, &l->undone_lots);
}

void kw_index_follow(struct kw_index *ix, struct kw_ledger *ledger)
{
        bool wake;
        int rc;

        pthread_rwlock_wrlock(&ix->lock);
        rc = ledger->looking ? 0 : kw_ledger_look(ledger, NULL);
        if (rc == 0)
                rc = follow(ix, ledger);
        kw_ledger_done(ledger);
        if (rc)
                ix->ready = false;
        wake = rc || ix->not_in_file > KW_INDEX_FILE_LAG;
        pthread_rwlock_unlock(&ix->lock);
        if (wake)
                kw_index_wake(ix);
}

/* --- holding it ----------------------------------------------------------------------------------- */

int kw_index_take(struct kw_index *ix, int64_t size)
{
        pthread_rwlock_rdlock(&ix->lock);
        if (ix->ready && (size < 0 || ix->body.size == size))
                return 0;
        pthread_rwlock_unlock(&ix->lock);
        return -EAGAIN;
}

void kw_index_give(struct kw_index *ix)
{
        pthread_rwlock_unlock(&ix->lock);
}

void kw_ledger_ask_index(struct kw_ledger *ledger, struct kw_index *ix)
{
        ledger->index = ix;
}

/* Where the index stands: -1 when it is not ready. */
static int64_t stands_at(struct kw_index *ix)
{
        int64_t size;

        pthread_rwlock_rdlock(&ix->lock);
        size = ix->ready ? ix->body.size : -1;
        pthread_rwlock_unlock(&ix->lock);
        return size;
}

struct kw_index *kw_ledger_take_index(struct kw_ledger *l)
{
        int64_t size;

        if (!l->index || kw_one(l, &size, 0, "SELECT max(seq) FROM entry", ""))
                return NULL;
        return kw_index_take(l->index, size) == 0 ? l->index : NULL;
}

struct kw_index *kw_ledger_hold_index(struct kw_ledger *l)
{
        const struct timespec wait = {.tv_nsec = WAIT_NS};
        struct kw_index *ix = l->index;
        int64_t size, there;

        for (int i = 0; ix && i < TRIES; i++) {
                if (kw_one(l, &size, 0, "SELECT max(seq) FROM entry", ""))
                        return NULL;
                if (kw_index_take(ix, size) == 0)
                        return ix;
                there = stands_at(ix);
                if (there < 0)
                        return NULL;
                if (there < size) { /* the writer is about to tell it */
                        nanosleep(&wait, NULL);
                } else {
                        kw_ledger_done(l);
                        if (kw_ledger_look(l, NULL))
                                return NULL;
                }
        }
        return NULL;
}

int kw_index_number(struct kw_index *ix, int64_t lot, uint32_t *number)
{
        *number = kw_lot_number(&ix->body, lot);
        return *number == NONE ? -ENOENT : 0;
}

int kw_walk_new(struct kw_index *ix, struct kw_walk **out)
{
        struct kw_walk *w = calloc(1, sizeof(*w));
        int rc = w ? kw_walk_fit(w, &ix->body) : -ENOMEM;

        if (rc) {
                kw_walk_free(w);
                return rc;
        }
        *out = w;
        return 0;
}

static int walk_take(struct kw_index *ix, struct kw_walk **out)
{
        struct kw_walk *w;

        pthread_mutex_lock(&ix->walks_lock);
        w = ix->walks;
        if (w)
                ix->walks = w->next;
        pthread_mutex_unlock(&ix->walks_lock);
        if (!w)
                return kw_walk_new(ix, out);
        *out = w;
        return kw_walk_fit(w, &ix->body);
}

static void walk_give(struct kw_index *ix, struct kw_walk *w)
{
        pthread_mutex_lock(&ix->walks_lock);
        w->next = ix->walks;
        ix->walks = w;
        pthread_mutex_unlock(&ix->walks_lock);
}

/* --- traces --------------------------------------------------------------------------------------- */

static int narrow(struct kw_walk *w, const struct kw_spans *spans)
{
        for (size_t i = 0; i < spans->n; i++) {
                struct kw_span s = spans->at[i];

                /* points are for joints alone, and these are not asked for here */
                if (s.from >= s.to || s.to > UINT32_MAX)
                        return -EOVERFLOW;
                if (kw_narrow_add(&w->spans, (uint32_t)s.from, (uint32_t)s.to) < 0)
                        return -ENOMEM;
        }
        return 0;
}

static int seed(void *ctx, struct kw_hit *hit)
{
        struct kw_walk *w = ctx;
        uint32_t lot = kw_lot_number(w->x, hit->lot), possible = w->spans.n;
        const struct pack_rec *pack;
        int rc;

        if (!hit->reach.possible.n)
                return 0;
        if (lot == NONE)
                return -EOVERFLOW;
        rc = narrow(w, &hit->reach.possible);
        uint32_t certain = w->spans.n;
        if (rc == 0)
                rc = narrow(w, &hit->reach.certain);
        pack = kw_lot_pack(w->x, lot);
        if (rc == 0)
                rc = kw_hit_keep(w, lot, pack ? kw_pack_depth(w->x, pack) : 0, possible, certain);
        return rc;
}

static int widen(struct kw_spans *out, const struct kw_narrow *at, uint32_t n)
{
        kw_spans_clear(out);
        for (uint32_t i = 0; i < n; i++)
                if (kw_spans_add(out, at[i].from, at[i].to) < 0)
                        return -ENOMEM;
        return 0;
}

static int hand_over(const struct kw_walk *w, struct kw_hits *hits)
{
        struct kw_spans certain = {0}, possible = {0};
        int rc = 0;

        for (uint32_t i = 0; rc == 0 && i < w->n_hits; i++) {
                const struct kw_walk_hit *h = &w->hits[i];
                struct kw_hit *hit = NULL;

                rc = widen(&certain, &w->spans.at[h->at_certain], h->certain);
                if (rc == 0)
                        rc = widen(&possible, &w->spans.at[h->at_possible], h->possible);
                if (rc == 0)
                        rc = kw_hits_unite(hits, kw_lot_id(w->x, h->lot), &certain, &possible, &hit);
                if (rc == 0)
                        hit->depth = h->depth;
        }
        kw_spans_free(&certain);
        kw_spans_free(&possible);
        return rc;
}

static int trace(struct kw_index *ix, struct kw_hits *hits, int (*walk)(struct kw_walk *w))
{
        struct kw_walk *w = NULL;
        int rc = walk_take(ix, &w);

        if (rc)
                return rc;
        rc = kw_walk_begin(w);
        if (kw_hits_most(hits) && kw_hits_most(hits) < UINT32_MAX)
                w->most = (uint32_t)kw_hits_most(hits); /* with those that it begins with, it may be more */
        if (rc == 0)
                rc = kw_hits_each(hits, seed, w);
        if (rc == 0)
                rc = walk(w);
        if (rc == 0)
                rc = hand_over(w, hits);
        walk_give(ix, w);
        return rc;
}

int kw_index_forward(struct kw_index *ix, struct kw_hits *hits)
{
        return trace(ix, hits, kw_walk_forward);
}

int kw_index_back(struct kw_index *ix, struct kw_hits *hits)
{
        return trace(ix, hits, kw_walk_back);
}

void kw_index_figures(struct kw_index *ix, struct kw_index_figures *out)
{
        pthread_rwlock_rdlock(&ix->lock);
        const struct base_head *head = &ix->body.base.head;

        *out = (struct kw_index_figures){.ready = ix->ready,
                                         .size = ix->body.size,
                                         .ready_us = ix->ready_us,
                                         .mapped = ix->body.base.mapped != NULL};
        if (ix->ready) {
                out->lots = head->n[SEC_FLAGS];
                out->runs = head->n[SEC_RUNS];
                out->feeds = head->n[SEC_FEEDS];
                out->packages = head->n[SEC_PACKS];
                out->bytes = kw_base_bytes(&ix->body.base) + kw_delta_bytes(ix->body.delta);
                out->added = kw_delta_count(ix->body.delta);
        }
        pthread_rwlock_unlock(&ix->lock);
}
