/*
 * Ledgers to read, each used by one thread at a time.
 *
 * One is opened when none is idle, so there are as many as threads that read at once; opening takes about a
 * millisecond.
 */
#include "server.h"

#include "kinwire/index.h"

#include <poll.h>

#define KEEP (sizeof((struct kw_readers *)0)->idle / sizeof(struct kw_ledger *))

int kw_reader_take(struct kw_http *http, struct kw_ledger **out, struct kw_error *err)
{
        struct kw_readers *readers = &http->readers;
        struct kw_ledger *ledger = NULL;
        int rc;

        pthread_mutex_lock(&readers->lock);
        if (readers->n)
                ledger = readers->idle[--readers->n];
        pthread_mutex_unlock(&readers->lock);
        if (!ledger) {
                rc = kw_ledger_open(http->ledger, KW_OPEN_READ, &ledger, err);
                if (rc)
                        return rc;
                kw_ledger_ask_index(ledger, http->index);
        }
        rc = kw_ledger_look(ledger, err);
        if (rc) {
                kw_ledger_close(ledger);
                return rc;
        }
        *out = ledger;
        return 0;
}

void kw_reader_give(struct kw_http *http, struct kw_ledger *ledger)
{
        struct kw_readers *readers = &http->readers;

        if (kw_past_give(http->past, ledger))
                return;
        kw_ledger_done(ledger);
        pthread_mutex_lock(&readers->lock);
        if (readers->n < KEEP) {
                readers->idle[readers->n++] = ledger;
                ledger = NULL;
        }
        pthread_mutex_unlock(&readers->lock);
        kw_ledger_close(ledger);
}

bool kw_still_wanted(void *ctx)
{
        const struct kw_wish *wish = ctx;
        struct pollfd client = {.fd = wish->peer ? wish->peer->fd : -1, .events = POLLRDHUP};

        return !atomic_load(&wish->http->stopping) && poll(&client, 1, 0) <= 0;
}

void kw_readers_close(struct kw_readers *readers)
{
        while (readers->n)
                kw_ledger_close(readers->idle[--readers->n]);
        pthread_mutex_destroy(&readers->lock);
}
