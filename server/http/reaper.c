/*
 * Deadlines of connections.
 *
 * The library's own timeout is about silence: a client that drips a byte a second never runs into it. Here each
 * connection has one moment by which what it is doing is to be over; a thread shuts down the sockets of those that are
 * past it. It never closes one: the library does, and says so before the descriptor can be used again.
 *
 * Nor does the library (0.9.75) notice that a client hung up before its request was whole, or after: until its timeout
 * the connection holds a descriptor, and where there are few of them nobody else is let in.
 *
 * A reply that keeps a view of the ledger open keeps the write-ahead log from being put away. When the log has grown
 * too long, those that have had theirs for a while are cut as well, so that one slow reader never fills the disk.
 */
#include "server.h"

#include <poll.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <time.h>

#define TICK_MS      250
#define FIRST_WITHIN 10000               /* ms from connecting to a whole request */
#define LOG_MAX      (INT64_C(64) << 20) /* bytes of write-ahead log with which views may stay open */
#define VIEW_WITHIN  5000                /* ms for which each may even then */

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

/*
 * Whether the client that is to send something is gone, and has left nothing that is still to be read. It is looked at
 * twice: what it sent last may have been read this moment.
 */
static bool hung_up(struct kw_peer *p)
{
        struct pollfd look = {.fd = p->fd, .events = POLLRDHUP};
        int unread = 0;

        if (p->owes && poll(&look, 1, 0) == 1 && ioctl(p->fd, FIONREAD, &unread) == 0 && !unread)
                p->gone++;
        else
                p->gone = 0;
        return p->gone > 1;
}

/* Return: how many of them were in the log's way. */
static int cut_overdue(struct kw_reaper *reaper, bool log_is_long)
{
        int64_t now = kw_now_ms();
        int views = 0;

        for (struct kw_peer *p = reaper->peers; p; p = p->next) {
                bool in_the_way = log_is_long && p->view && now - p->view > VIEW_WITHIN;
                bool gone = hung_up(p);
                if (p->due > now && !in_the_way && !gone)
                        continue;
                shutdown(p->fd, SHUT_RDWR);
                p->due = INT64_MAX;
                p->view = 0;
                p->owes = false;
                reaper->cut += !gone;
                views += in_the_way;
        }
        return views;
}

static void *reap(void *arg)
{
        struct kw_reaper *reaper = arg;

        pthread_mutex_lock(&reaper->lock);
        while (!reaper->stopping) {
                struct timespec until;
                int64_t ms = kw_now_ms() + TICK_MS;
                int views;

                until.tv_sec = (time_t)(ms / 1000);
                until.tv_nsec = (long)(ms % 1000) * 1000000;
                pthread_cond_timedwait(&reaper->wake, &reaper->lock, &until);
                views = cut_overdue(reaper, kw_log_bytes(reaper->http) > LOG_MAX);
                if (!views)
                        continue;
                /* said without the lock: whoever takes the line may be slow, and nobody else is to wait for that */
                pthread_mutex_unlock(&reaper->lock);
                kw_note(reaper->http, KW_LOG_WARNING,
                        "the write-ahead log is long: %d slow exports were cut so that it can be put away", views);
                pthread_mutex_lock(&reaper->lock);
        }
        pthread_mutex_unlock(&reaper->lock);
        return NULL;
}

int kw_reaper_start(struct kw_reaper *reaper, struct kw_http *http)
{
        pthread_condattr_t monotonic;
        int rc;

        reaper->http = http;
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
        peer->owes = true;
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

static void set(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms, bool owes)
{
        if (!peer)
                return;
        pthread_mutex_lock(&reaper->lock);
        peer->due = ms < 0 ? INT64_MAX : kw_now_ms() + ms;
        peer->owes = owes;
        peer->gone = 0;
        pthread_mutex_unlock(&reaper->lock);
}

void kw_peer_within(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms)
{
        set(reaper, peer, ms, false);
}

void kw_peer_owes(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms)
{
        set(reaper, peer, ms, true);
}

void kw_peer_views(struct kw_reaper *reaper, struct kw_peer *peer, bool views)
{
        if (!peer)
                return;
        pthread_mutex_lock(&reaper->lock);
        peer->view = views ? kw_now_ms() : 0;
        pthread_mutex_unlock(&reaper->lock);
}
