/*
 * Months summed up behind the server, so that a balance of all time need not be waited for: begun after the start of a
 * large ledger, from the file that the last start left, and gone on with whenever a question finds more stale than it
 * should sum up itself. The file is written again when all is summed up, soon after something was put right, and at the
 * end.
 */
#include "server.h"

#include "kinwire/index.h"
#include "kinwire/months.h"

#include <errno.h>
#include <stdlib.h>
#include <time.h>

#define SUFFIX ".months"
#define TICK_S 30    /* between looks at whether the file is worth writing */
#define GROWN  20000 /* entries that a start takes in without being noticed */

struct kw_month_desk {
        struct kw_http *http;
        struct kw_months *months;
        struct kw_undone *undone;
        atomic_bool stop;
        pthread_mutex_t lock; /* over what follows */
        pthread_cond_t wake;
        bool wanted, running;
        pthread_t thread;
};

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

/* As long as nobody waits for it there is a rest after each step, half as long as that took. */
static void sum_up(struct kw_month_desk *d, struct kw_ledger *ledger)
{
        int rc = 1;

        while (rc == 1 && !atomic_load(&d->stop)) {
                struct kw_error err = {0};
                const int64_t began = kw_now_ms();

                rc = kw_months_step(d->months, ledger, &err);
                if (rc == 1 && !waited_for(d))
                        kw_rest((kw_now_ms() - began) / 2, &d->stop);
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
        return rc == 0 && kw_is_large(head.size);
}

/* Of a small ledger there is nothing worth keeping; what little room is left on a disk is for entries. */
static void save(struct kw_month_desk *d, struct kw_ledger *ledger, int64_t grown)
{
        struct kw_error err = {0};

        if (is_large(ledger) && !kw_is_full(d->http))
                kw_note_unsaved(d->http, SUFFIX, kw_months_save(d->months, ledger, grown, &err));
}

/* What stands at the start: all but the months that the file does not have. Return: whether there are any. */
static bool begin(struct kw_month_desk *d, struct kw_ledger *ledger)
{
        struct kw_months_figures figures;
        struct kw_error err = {0};
        int rc = kw_ledger_look(ledger, &err);

        if (rc == 0)
                rc = kw_months_hold(d->months, ledger, &err);
        if (rc == 0)
                kw_months_give(d->months);
        kw_ledger_done(ledger);
        kw_note_fault(d->http, SUFFIX, kw_months_fault(d->months));
        kw_months_figures(d->months, &figures);
        return rc || figures.fresh < figures.entries;
}

static void after_start(struct kw_month_desk *d, struct kw_ledger *ledger)
{
        if (begin(d, ledger) && kw_await_index(d->http, &d->stop))
                sum_up(d, ledger);
        save(d, ledger, GROWN);
        if (!atomic_load(&d->stop))
                kw_gap_desk_begin(d->http->gaps); /* one after the other: there is work for a mill meanwhile */
}

/* Until it is wanted, or told to stop, or some time has gone by. */
static void wait_for_work(struct kw_month_desk *d)
{
        struct timespec until;

        clock_gettime(CLOCK_MONOTONIC, &until);
        until.tv_sec += TICK_S;
        pthread_mutex_lock(&d->lock);
        while (!d->wanted && !atomic_load(&d->stop))
                if (pthread_cond_timedwait(&d->wake, &d->lock, &until))
                        break;
        pthread_mutex_unlock(&d->lock);
}

static void *run(void *arg)
{
        struct kw_month_desk *d = arg;
        struct kw_error err = {0};
        struct kw_ledger *ledger;

        if (kw_ledger_open(d->http->ledger, KW_OPEN_READ, &ledger, &err))
                return NULL;
        kw_ledger_ask_index(ledger, d->http->index);
        if (is_large(ledger))
                after_start(d, ledger);
        while (!atomic_load(&d->stop)) {
                wait_for_work(d);
                if (waited_for(d))
                        sum_up(d, ledger);
                if (!atomic_load(&d->stop))
                        save(d, ledger, GROWN);
        }
        save(d, ledger, 1);
        kw_ledger_close(ledger);
        return NULL;
}

static int set_up_waking(struct kw_month_desk *d)
{
        pthread_condattr_t attr;
        int rc = pthread_condattr_init(&attr);

        if (rc)
                return -rc;
        pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
        pthread_mutex_init(&d->lock, NULL);
        rc = pthread_cond_init(&d->wake, &attr);
        pthread_condattr_destroy(&attr);
        return -rc;
}

int kw_month_desk_new(struct kw_http *http, struct kw_month_desk **out)
{
        struct kw_month_desk *d = calloc(1, sizeof *d);
        char *file = kw_file_beside(http, SUFFIX);
        int rc = d && file ? set_up_waking(d) : -ENOMEM;

        if (rc) {
                free(file);
                free(d);
                return rc;
        }
        d->http = http;
        *out = d;
        rc = kw_undone_new(&d->undone);
        if (!rc)
                rc = kw_months_new(d->undone, file, &d->months);
        free(file);
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
        atomic_store(&d->stop, true);
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
