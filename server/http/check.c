/*
 * Verifying over HTTP: a thread of its own, one at a time, since it may take minutes.
 *
 * A struct kw_check is shared by its thread, the request that waits for it and the server, and freed by the last of
 * them. When the server stops, the request is answered without a result and the thread is left to end with the process:
 * it only reads.
 */
#include "server.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct found {
        int rc;
        int64_t wrong, ms;
        struct kw_head head;
        struct kw_error err;
};

struct kw_check {
        char *path;           /* the thread's */
        pthread_mutex_t lock; /* over what follows */
        int users;
        struct kw_request *request; /* to be resumed; NULL when none waits */
        bool finished;
        struct found found;
};

void kw_check_free(struct kw_check *c)
{
        int users;

        if (!c)
                return;
        pthread_mutex_lock(&c->lock);
        users = --c->users;
        pthread_mutex_unlock(&c->lock);
        if (users)
                return;
        pthread_mutex_destroy(&c->lock);
        free(c->path);
        free(c);
}

static void verify(const char *path, struct found *found)
{
        struct kw_ledger *ledger;
        int64_t before = kw_now_ms();

        found->rc = kw_ledger_open(path, KW_OPEN_READ, &ledger, &found->err);
        if (found->rc)
                return;
        found->rc = kw_ledger_look(ledger, &found->err);
        if (!found->rc) {
                found->rc = kw_ledger_head(ledger, &found->head, &found->err);
                if (!found->rc)
                        found->rc = kw_ledger_verify(ledger, NULL, NULL, &found->wrong, &found->err);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        found->ms = kw_now_ms() - before;
}

/* Whoever waits goes on. The caller has the lock. */
static void let_go(struct kw_check *c)
{
        if (c->request)
                kw_request_resume(c->request);
        c->request = NULL;
}

static void *run(void *arg)
{
        struct kw_check *c = arg;
        struct found found = {0};

        verify(c->path, &found);
        pthread_mutex_lock(&c->lock);
        c->found = found;
        c->finished = true;
        let_go(c);
        pthread_mutex_unlock(&c->lock);
        kw_check_free(c);
        return NULL;
}

void kw_check_abandon(struct kw_http *http)
{
        struct kw_check *c;

        pthread_mutex_lock(&http->lock);
        c = http->check;
        http->check = NULL;
        pthread_mutex_unlock(&http->lock);
        if (!c)
                return;
        pthread_mutex_lock(&c->lock);
        let_go(c);
        pthread_mutex_unlock(&c->lock);
        kw_check_free(c);
}

/* --- the request ------------------------------------------------------------------------------ */

static enum MHD_Result reply_found(struct kw_request *r)
{
        struct kw_check *c = r->check;
        struct kw_error err = {0};
        struct kw_buf out = {0};
        char root[KW_HASH_HEX];
        struct found found;
        bool finished;

        pthread_mutex_lock(&c->lock);
        found = c->found;
        finished = c->finished;
        pthread_mutex_unlock(&c->lock);
        if (!finished)
                return kw_reply_problem(r, kw_refuse_with(&err, KW_BUSY, NULL, "stopping", NULL, "kinwire is stopping"),
                                        &err);
        if (found.rc && found.rc != KW_BAD_VALUE)
                return kw_reply_problem(r, found.rc, &found.err);

        kw_put_object(&out, NULL);
        kw_put_bool(&out, "ok", !found.rc);
        if (found.rc) {
                kw_put_int(&out, "wrong", found.wrong);
                kw_put_string(&out, "text", found.err.text);
        } else {
                kw_hash_hex(&found.head.root, root);
                kw_put_int(&out, "size", found.head.size);
                kw_put_string(&out, "root", root);
                kw_put_int(&out, "ms", found.ms);
        }
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
}

static struct kw_check *new_check(struct kw_request *r)
{
        struct kw_check *c = calloc(1, sizeof *c);

        if (c)
                c->path = strdup(r->http->ledger);
        if (!c || !c->path) {
                free(c);
                return NULL;
        }
        pthread_mutex_init(&c->lock, NULL);
        c->request = r;
        c->users = 3; /* the thread, the request, the server */
        return c;
}

/* The check that runs is over, or there is none. The caller has the server's lock. */
static bool is_free(struct kw_http *http)
{
        bool finished = true;

        if (http->check) {
                pthread_mutex_lock(&http->check->lock);
                finished = http->check->finished;
                pthread_mutex_unlock(&http->check->lock);
        }
        return finished;
}

/* Put @c in the place of one that is over. Return: 0; KW_BUSY. */
static int enter(struct kw_http *http, struct kw_check *c, struct kw_error *err)
{
        struct kw_check *over = NULL;
        int rc = 0;

        pthread_mutex_lock(&http->lock);
        if (atomic_load(&http->stopping) || !is_free(http)) {
                rc = kw_refuse_with(err, KW_BUSY, NULL, "verifying", NULL,
                                    "the ledger is being verified already; ask again later");
        } else {
                over = http->check;
                http->check = c;
        }
        pthread_mutex_unlock(&http->lock);
        kw_check_free(over);
        return rc;
}

enum MHD_Result kw_answer_verify(struct kw_request *r)
{
        struct kw_check *c = new_check(r);
        struct kw_error err = {0};
        pthread_t thread;
        int rc;

        if (!c)
                return kw_reply_problem(r, -ENOMEM, NULL);
        rc = enter(r->http, c, &err);
        if (rc) {
                c->users = 1; /* nobody else has seen it */
                kw_check_free(c);
                return kw_reply_problem(r, rc, &err);
        }
        r->check = c;
        kw_request_aside(r, reply_found);
        rc = pthread_create(&thread, NULL, run, c);
        if (rc == 0) {
                pthread_detach(thread);
                return MHD_YES;
        }
        pthread_mutex_lock(&c->lock);
        c->finished = true;
        c->found.rc = -rc;
        let_go(c);
        pthread_mutex_unlock(&c->lock);
        kw_check_free(c); /* for the thread that there isn't */
        return MHD_YES;
}
