/*
 * The teller's thread and the two views it takes turns with: one that it is at, and one that waits.
 */
#include "teller.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>

#define VIEWS 2

struct kw_teller {
        const char *path;
        struct kw_index *index;
        void (*answer)(void *ctx, struct kw_job *group);
        void *ctx;
        struct view {
                struct kw_ledger *reader;
                struct kw_job *group;
        } views[VIEWS];
        struct kw_ledger *tidier;
        pthread_t thread;
        pthread_mutex_t lock; /* over what follows */
        pthread_cond_t asked, told;
        unsigned first, n; /* views that are taken, in turn */
        enum { TIDY_NOT_ASKED, TIDY_ASKED, TIDY_UNDER_WAY, TIDY_DONE } tidy;
        bool open, stopping;
};

enum next { STOP, TELL, TIDY };

/* What to do now, and the view to tell of. */
static enum next wait_for_work(struct kw_teller *t, struct view **v)
{
        enum next what;

        pthread_mutex_lock(&t->lock);
        while (!t->n && t->tidy != TIDY_ASKED && !t->stopping)
                pthread_cond_wait(&t->asked, &t->lock);
        what = t->n ? TELL : t->stopping ? STOP : TIDY;
        if (what == TIDY)
                t->tidy = TIDY_UNDER_WAY;
        *v = &t->views[t->first];
        pthread_mutex_unlock(&t->lock);
        return what;
}

static void give_back(struct kw_teller *t)
{
        pthread_mutex_lock(&t->lock);
        t->first = (t->first + 1) % VIEWS;
        t->n--;
        pthread_cond_signal(&t->told);
        pthread_mutex_unlock(&t->lock);
}

/* Here and not by whoever starts it, who would have to wait while a ledger is looked through. */
static bool open_views(struct kw_teller *t)
{
        struct kw_error err = {0};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < VIEWS; i++)
                rc = kw_ledger_open(t->path, KW_OPEN_READ, &t->views[i].reader, &err);
        if (rc == 0)
                rc = kw_ledger_open(t->path, KW_OPEN_READ, &t->tidier, &err);
        pthread_mutex_lock(&t->lock);
        t->open = rc == 0;
        pthread_mutex_unlock(&t->lock);
        return rc == 0;
}

static void tidy(struct kw_teller *t)
{
        kw_ledger_tidy_beside(t->tidier);
        pthread_mutex_lock(&t->lock);
        t->tidy = TIDY_DONE;
        pthread_cond_signal(&t->told);
        pthread_mutex_unlock(&t->lock);
}

static void *work(void *arg)
{
        struct kw_teller *t = arg;
        struct view *v;
        enum next what;

        if (!open_views(t))
                return NULL;
        while ((what = wait_for_work(t, &v)) != STOP) {
                if (what == TIDY) {
                        tidy(t);
                        continue;
                }
                kw_index_follow(t->index, v->reader);
                t->answer(t->ctx, v->group);
                give_back(t);
        }
        return NULL;
}

/* --- the contract ----------------------------------------------------------------------------- */

static void drop(struct kw_teller *t)
{
        for (size_t i = 0; i < VIEWS; i++)
                kw_ledger_close(t->views[i].reader);
        kw_ledger_close(t->tidier);
        pthread_mutex_destroy(&t->lock);
        pthread_cond_destroy(&t->asked);
        pthread_cond_destroy(&t->told);
        free(t);
}

int kw_teller_new(const char *path, struct kw_index *index, void (*answer)(void *ctx, struct kw_job *group), void *ctx,
                  struct kw_teller **out)
{
        struct kw_teller *t = calloc(1, sizeof(*t));
        int rc;

        if (!t)
                return -ENOMEM;
        t->path = path;
        t->index = index;
        t->answer = answer;
        t->ctx = ctx;
        pthread_mutex_init(&t->lock, NULL);
        pthread_cond_init(&t->asked, NULL);
        pthread_cond_init(&t->told, NULL);
        rc = -pthread_create(&t->thread, NULL, work, t);
        if (rc)
                drop(t);
        else
                *out = t;
        return rc;
}

void kw_teller_free(struct kw_teller *t)
{
        if (!t)
                return;
        pthread_mutex_lock(&t->lock);
        t->stopping = true;
        pthread_cond_signal(&t->asked);
        pthread_mutex_unlock(&t->lock);
        pthread_join(t->thread, NULL);
        drop(t);
}

/* Until at most @most views are taken. Only the writer takes, so that it stays so until he does. */
static void wait_for(struct kw_teller *t, unsigned most)
{
        pthread_mutex_lock(&t->lock);
        while (t->n > most)
                pthread_cond_wait(&t->told, &t->lock);
        pthread_mutex_unlock(&t->lock);
}

bool kw_teller_take(struct kw_teller *t, const struct kw_ledger *writer, struct kw_job *group)
{
        struct view *v = NULL;

        wait_for(t, VIEWS - 1);
        pthread_mutex_lock(&t->lock);
        if (t->open && t->tidy != TIDY_UNDER_WAY)
                v = &t->views[(t->first + t->n) % VIEWS];
        pthread_mutex_unlock(&t->lock);
        if (!v || kw_ledger_look_after(v->reader, writer, NULL)) {
                wait_for(t, 0);
                return false;
        }
        v->group = group;
        pthread_mutex_lock(&t->lock);
        t->n++;
        pthread_cond_signal(&t->asked);
        pthread_mutex_unlock(&t->lock);
        return true;
}

bool kw_teller_tidies(struct kw_teller *t)
{
        bool does;

        pthread_mutex_lock(&t->lock);
        does = t->open && t->tidy != TIDY_DONE;
        if (does && t->tidy == TIDY_NOT_ASKED) {
                t->tidy = TIDY_ASKED;
                pthread_cond_signal(&t->asked);
        } else if (!does) {
                t->tidy = TIDY_NOT_ASKED;
        }
        pthread_mutex_unlock(&t->lock);
        return does;
}

bool kw_teller_busy(struct kw_teller *t)
{
        bool busy;

        pthread_mutex_lock(&t->lock);
        busy = t->n > 0;
        pthread_mutex_unlock(&t->lock);
        return busy;
}

void kw_teller_wait(struct kw_teller *t)
{
        pthread_mutex_lock(&t->lock);
        while (t->n || t->tidy == TIDY_UNDER_WAY)
                pthread_cond_wait(&t->told, &t->lock);
        pthread_mutex_unlock(&t->lock);
}
