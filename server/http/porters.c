/*
 * Porters: two threads that look at secrets, so that the threads that answer never wait for a hash.
 *
 * Hashing takes 64 MiB each, so two at a time bound what a flood of sign-ins can take; sixteen wait, and who comes
 * after them is told to come again.
 */
#include "server.h"

#include <errno.h>
#include <stdlib.h>

#define PORTERS     2
#define WAITING_MAX 16

struct kw_porters {
        pthread_mutex_t lock;
        pthread_cond_t more;
        struct kw_request *first, **last;
        size_t waiting;
        bool stopping;
        pthread_t threads[PORTERS];
        size_t n;
};

static struct kw_request *next(struct kw_porters *p)
{
        struct kw_request *r;

        pthread_mutex_lock(&p->lock);
        while (!p->first && !p->stopping)
                pthread_cond_wait(&p->more, &p->lock);
        r = p->first;
        if (r) {
                p->first = kw_form_waiting(r)->next;
                if (!p->first)
                        p->last = &p->first;
                p->waiting--;
        }
        pthread_mutex_unlock(&p->lock);
        return r;
}

static void *work(void *arg)
{
        struct kw_porters *p = arg;
        struct kw_request *r;

        while ((r = next(p))) {
                struct kw_waiting *w = kw_form_waiting(r);

                if (atomic_load(&r->http->stopping))
                        w->rc = kw_refuse_with(&w->err, KW_BUSY, NULL, "stopping", NULL, "kinwire is stopping");
                else
                        w->rc = w->work(r, &w->out, &w->err);
                kw_request_resume(r);
        }
        return NULL;
}

int kw_porters_new(struct kw_porters **out)
{
        struct kw_porters *p = calloc(1, sizeof *p);
        int rc = 0;

        if (!p)
                return -ENOMEM;
        pthread_mutex_init(&p->lock, NULL);
        pthread_cond_init(&p->more, NULL);
        p->last = &p->first;
        for (; p->n < PORTERS && rc == 0; p->n += rc == 0)
                rc = pthread_create(&p->threads[p->n], NULL, work, p);
        *out = p;
        return -rc;
}

void kw_porters_stop(struct kw_porters *p)
{
        if (!p)
                return;
        pthread_mutex_lock(&p->lock);
        p->stopping = true;
        pthread_cond_broadcast(&p->more);
        pthread_mutex_unlock(&p->lock);
        for (; p->n; p->n--)
                pthread_join(p->threads[p->n - 1], NULL);
}

void kw_porters_free(struct kw_porters *p)
{
        if (!p)
                return;
        kw_porters_stop(p);
        pthread_cond_destroy(&p->more);
        pthread_mutex_destroy(&p->lock);
        free(p);
}

static enum MHD_Result reply(struct kw_request *r)
{
        struct kw_waiting *w = kw_form_waiting(r);

        return w->rc ? kw_reply_problem(r, w->rc, &w->err) : kw_reply(r, MHD_HTTP_OK, "application/json", &w->out);
}

/* Return: whether it was taken into the queue. The request may be gone when this returns true. */
static bool enter(struct kw_porters *p, struct kw_request *r)
{
        bool taken;

        pthread_mutex_lock(&p->lock);
        taken = !p->stopping && p->waiting < WAITING_MAX;
        if (taken) {
                *p->last = r;
                p->last = &kw_form_waiting(r)->next;
                p->waiting++;
                pthread_cond_signal(&p->more);
        }
        pthread_mutex_unlock(&p->lock);
        return taken;
}

enum MHD_Result kw_porters_do(struct kw_request *r, kw_work todo)
{
        struct kw_waiting *w = kw_form_waiting(r);
        struct kw_error err = {0};

        if (r->http->open)
                return kw_reply_problem(r,
                                        kw_refuse_with(&err, KW_NOT_ALLOWED, NULL, "open", NULL,
                                                       "this server runs with --open: nobody signs in"),
                                        &err);
        w->work = todo;
        kw_request_aside(r, reply);
        if (enter(r->http->porters, r))
                return MHD_YES;
        w->rc = kw_refuse_with(&w->err, KW_BUSY, NULL, "doors", NULL,
                               "too many are signing in just now; try again in a moment");
        kw_request_resume(r);
        return MHD_YES;
}
