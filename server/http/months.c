/*
 * Months summed up behind the server, so that a balance of all time need not be waited for: begun once the index stands
 * after the start of a large ledger, and whenever a question finds more stale than it should sum up itself.
 */
#include "server.h"

#include "kinwire/index.h"
#include "kinwire/months.h"

#include <errno.h>
#include <stdlib.h>
#include <time.h>

#define LARGE   20000 /* entries; a question sums up fewer by itself */
#define LOOK_MS 200   /* at whether the index stands */

struct kw_month_desk {
        struct kw_http *http;
        struct kw_months *months;
        struct kw_undone *undone;
        pthread_mutex_t lock; /* over what follows */
        pthread_cond_t wake;
        bool wanted, stop, running;
        pthread_t thread;
};

static void nap(int64_t ms)
{
        const struct timespec t = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};

        nanosleep(&t, NULL);
}

static bool stopping(struct kw_month_desk *d)
{
        bool stop;

        pthread_mutex_lock(&d->lock);
        stop = d->stop;
        pthread_mutex_unlock(&d->lock);
        return stop;
}

/* Somebody has asked since this was last looked at. */
static bool waited_for(struct kw_month_desk *d)
{
        bool wanted;

        pthread_mutex_lock(&d->lock);
        wanted = d->wanted;
        d->wanted = false;
        pthread_mutex_unlock(&d->lock);
        return wanted;
}

static bool index_stands(struct kw_month_desk *d)
{
        struct kw_index_figures figures;

        kw_index_figures(d->http->index, &figures);
        return figures.ready;
}

/* As long as nobody waits for it there is a rest after each step, half as long as that took. */
static void sum_up(struct kw_month_desk *d, struct kw_ledger *ledger)
{
        int rc = 1;

        while (rc == 1 && !stopping(d)) {
                struct kw_error err = {0};
                const int64_t began = kw_now_ms();

                rc = kw_months_step(d->months, ledger, &err);
                if (!waited_for(d))
                        nap((kw_now_ms() - began) / 2);
        }
}

static bool is_large(struct kw_ledger *ledger)
{
        struct kw_error err = {0};
        struct kw_head head;
        int rc = kw_ledger_look(ledger, &err);

        if (rc)
                return false;
        rc = kw_ledger_head(ledger, &head, &err);
        kw_ledger_done(ledger);
        return rc == 0 && head.size > LARGE;
}

static void *run(void *arg)
{
        struct kw_month_desk *d = arg;
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        bool go_on = true;

        if (kw_ledger_open(d->http->ledger, KW_OPEN_READ, &ledger, &err))
                return NULL;
        if (is_large(ledger)) {
                while (!stopping(d) && !index_stands(d))
                        nap(LOOK_MS);
                sum_up(d, ledger);
                if (!stopping(d))
                        kw_gap_desk_begin(d->http->gaps); /* one after the other: there is work for a mill meanwhile */
        }
        while (go_on) {
                pthread_mutex_lock(&d->lock);
                while (!d->wanted && !d->stop)
                        pthread_cond_wait(&d->wake, &d->lock);
                d->wanted = false;
                go_on = !d->stop;
                pthread_mutex_unlock(&d->lock);
                if (go_on)
                        sum_up(d, ledger);
        }
        kw_ledger_close(ledger);
        return NULL;
}

int kw_month_desk_new(struct kw_http *http, struct kw_month_desk **out)
{
        struct kw_month_desk *d = calloc(1, sizeof *d);
        int rc;

        if (!d)
                return -ENOMEM;
        d->http = http;
        pthread_mutex_init(&d->lock, NULL);
        pthread_cond_init(&d->wake, NULL);
        *out = d;
        rc = kw_undone_new(&d->undone);
        if (!rc)
                rc = kw_months_new(d->undone, NULL, &d->months);
        if (!rc)
                rc = -pthread_create(&d->thread, NULL, run, d);
        d->running = rc == 0;
        if (!rc)
                kw_writer_tell_undone(http->writer, d->undone);
        return rc;
}

void kw_month_desk_stop(struct kw_month_desk *d)
{
        if (!d || !d->running)
                return;
        pthread_mutex_lock(&d->lock);
        d->stop = true;
        pthread_cond_signal(&d->wake);
        pthread_mutex_unlock(&d->lock);
        pthread_join(d->thread, NULL);
        d->running = false;
}

void kw_month_desk_free(struct kw_month_desk *d)
{
        if (!d)
                return;
        kw_month_desk_stop(d);
        kw_months_free(d->months);
        kw_undone_free(d->undone);
        pthread_cond_destroy(&d->wake);
        pthread_mutex_destroy(&d->lock);
        free(d);
}

struct kw_months *kw_months_kept(struct kw_http *http)
{
        return http->months->months;
}

enum MHD_Result kw_reply_being_summed(struct kw_request *r)
{
        struct kw_month_desk *d = r->http->months;
        struct kw_months_figures figures;
        struct kw_buf out = {0};

        pthread_mutex_lock(&d->lock);
        d->wanted = true;
        pthread_cond_signal(&d->wake);
        pthread_mutex_unlock(&d->lock);
        kw_months_figures(d->months, &figures);
        kw_reply_header(r, MHD_HTTP_HEADER_RETRY_AFTER, "1");
        kw_put_object(&out, NULL);
        kw_put_int(&out, "size", figures.entries);
        kw_put_int(&out, "done", figures.fresh);
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_ACCEPTED, "application/json", &out);
}
