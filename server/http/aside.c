/*
 * What takes long, set aside: in a thread of its own, so that the threads that answer everybody wait for none of it.
 *
 * How many there are at once is bounded where heavy requests are let in (limits.c). Each reads as long as somebody
 * still wants it; when the server stops nobody does, and it is waited for.
 */
#include "server.h"

#include <stdlib.h>

struct aside {
        struct kw_request *request;
        void (*work)(void *ctx);
        void *ctx;
};

void kw_asides_start(struct kw_asides *a)
{
        pthread_mutex_init(&a->lock, NULL);
        pthread_cond_init(&a->none, NULL);
}

static void begin(struct kw_asides *a)
{
        pthread_mutex_lock(&a->lock);
        a->n++;
        pthread_mutex_unlock(&a->lock);
}

static void end(struct kw_asides *a)
{
        pthread_mutex_lock(&a->lock);
        if (--a->n == 0)
                pthread_cond_broadcast(&a->none);
        pthread_mutex_unlock(&a->lock);
}

static void *run(void *arg)
{
        struct aside aside = *(struct aside *)arg;
        struct kw_asides *a = &aside.request->http->asides;

        free(arg);
        aside.work(aside.ctx);
        kw_request_resume(aside.request); /* it may be gone from here on */
        end(a);
        return NULL;
}

enum MHD_Result kw_aside(struct kw_request *r, void (*work)(void *ctx), void *ctx,
                         enum MHD_Result (*again)(struct kw_request *r))
{
        struct aside *aside = malloc(sizeof *aside);
        pthread_t thread;

        if (aside) {
                *aside = (struct aside){r, work, ctx};
                begin(&r->http->asides);
                kw_request_aside(r, again);
                if (pthread_create(&thread, NULL, run, aside) == 0)
                        pthread_detach(thread);
                else
                        run(aside);
                return MHD_YES;
        }
        work(ctx);
        return again(r);
}

void kw_asides_wait(struct kw_asides *a)
{
        pthread_mutex_lock(&a->lock);
        while (a->n)
                pthread_cond_wait(&a->none, &a->lock);
        pthread_mutex_unlock(&a->lock);
}

void kw_asides_end(struct kw_asides *a)
{
        pthread_cond_destroy(&a->none);
        pthread_mutex_destroy(&a->lock);
}
