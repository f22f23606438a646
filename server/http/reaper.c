/*
 * Deadlines of connections.
 *
 * The library's own timeout is about silence: a client that drips a byte a second never runs into it. Here each
 * connection has one moment by which what it is doing is to be over; a thread shuts down the sockets of those that are
 * past it. It never closes one: the library does, and says so before the descriptor can be used again.
 */
#include "server.h"

#include <stdlib.h>
#include <sys/socket.h>
#include <time.h>

#define TICK_MS      250
#define FIRST_WITHIN 10000 /* ms from connecting to a whole request */

int64_t kw_now_us(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

int64_t kw_now_ms(void)
{
        return kw_now_us() / 1000;
}

static void cut_overdue(struct kw_reaper *reaper)
{
        int64_t now = kw_now_ms();

        for (struct kw_peer *p = reaper->peers; p; p = p->next) {
                if (p->due > now)
                        continue;
                shutdown(p->fd, SHUT_RDWR);
                p->due = INT64_MAX;
                reaper->cut++;
        }
}

static void *reap(void *arg)
{
        struct kw_reaper *reaper = arg;

        pthread_mutex_lock(&reaper->lock);
        while (!reaper->stopping) {
                struct timespec until;
                int64_t ms = kw_now_ms() + TICK_MS;

                until.tv_sec = (time_t)(ms / 1000);
                until.tv_nsec = (long)(ms % 1000) * 1000000;
                pthread_cond_timedwait(&reaper->wake, &reaper->lock, &until);
                cut_overdue(reaper);
        }
        pthread_mutex_unlock(&reaper->lock);
        return NULL;
}

int kw_reaper_start(struct kw_reaper *reaper)
{
        pthread_condattr_t monotonic;
        int rc;

        pthread_mutex_init(&reaper->lock, NULL);
        pthread_condattr_init(&monotonic);
        pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
        pthread_cond_init(&reaper->wake, &monotonic);
        pthread_condattr_destroy(&monotonic);
        rc = pthread_create(&reaper->thread, NULL, reap, reaper);
        reaper->running = rc == 0;
        return -rc;
}

void kw_reaper_stop(struct kw_reaper *reaper)
{
        if (!reaper->running)
                return;
        pthread_mutex_lock(&reaper->lock);
        reaper->stopping = true;
        pthread_cond_signal(&reaper->wake);
        pthread_mutex_unlock(&reaper->lock);
        pthread_join(reaper->thread, NULL);
        pthread_cond_destroy(&reaper->wake);
        pthread_mutex_destroy(&reaper->lock);
        reaper->running = false;
}

int64_t kw_reaper_cut(struct kw_reaper *reaper)
{
        int64_t cut;

        pthread_mutex_lock(&reaper->lock);
        cut = reaper->cut;
        pthread_mutex_unlock(&reaper->lock);
        return cut;
}

int64_t kw_reaper_open(struct kw_reaper *reaper)
{
        int64_t open;

        pthread_mutex_lock(&reaper->lock);
        open = reaper->open;
        pthread_mutex_unlock(&reaper->lock);
        return open;
}

struct kw_peer *kw_peer_new(struct kw_reaper *reaper, int fd)
{
        struct kw_peer *peer = calloc(1, sizeof *peer);

        if (!peer)
                return NULL;
        peer->fd = fd;
        peer->due = kw_now_ms() + FIRST_WITHIN;
        pthread_mutex_lock(&reaper->lock);
        peer->next = reaper->peers;
        if (peer->next)
                peer->next->prev = peer;
        reaper->peers = peer;
        reaper->open++;
        pthread_mutex_unlock(&reaper->lock);
        return peer;
}

void kw_peer_free(struct kw_reaper *reaper, struct kw_peer *peer)
{
        if (!peer)
                return;
        pthread_mutex_lock(&reaper->lock);
        reaper->open--;
        if (peer->prev)
                peer->prev->next = peer->next;
        else
                reaper->peers = peer->next;
        if (peer->next)
                peer->next->prev = peer->prev;
        pthread_mutex_unlock(&reaper->lock);
        free(peer);
}

void kw_peer_within(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms)
{
        if (!peer)
                return;
        pthread_mutex_lock(&reaper->lock);
        peer->due = ms < 0 ? INT64_MAX : kw_now_ms() + ms;
        pthread_mutex_unlock(&reaper->lock);
}
