/*
 * Who came in and who was refused, as entries of kind access.
 *
 * A flood of refusals must not make the ledger grow without bound. They are gathered by what, whom and where: the first
 * is an entry at once, those that follow within a quarter of an hour are counted into one. No more than ROWS gatherings
 * run at a time, and no more than FIRSTS of them begin with an entry in an hour; what is beyond that is counted
 * together. What the disk has no room for stays counted until there is. So an hour brings at most 4 * ROWS + FIRSTS
 * entries of refusals, whatever is sent.
 */
#include "server.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define ROWS   64
#define FIRSTS 60
#define GATHER 900  /* s */
#define HOUR   3600 /* s */
#define AGAIN  5    /* s until what there was no room for is tried again */

/* --- one entry, now --------------------------------------------------------------------------- */

struct told {
        struct kw_job job;
        pthread_mutex_t lock;
        pthread_cond_t done;
        bool is_done;
};

static void job_done(struct kw_job *job)
{
        struct told *t = job->ctx;

        pthread_mutex_lock(&t->lock);
        t->is_done = true;
        pthread_cond_signal(&t->done);
        pthread_mutex_unlock(&t->lock);
}

static void put_text(struct kw_buf *out, const char *name, const char *value)
{
        if (value && value[0])
                kw_put_string(out, name, value);
}

static void write_body(const struct kw_said_access *said, struct kw_buf *out)
{
        char since[KW_STAMP_LEN + 1];

        kw_put_object(out, "body");
        kw_put_string(out, "what", said->what);
        put_text(out, "person", said->person);
        put_text(out, "terminal", said->terminal);
        put_text(out, "token", said->token);
        put_text(out, "why", said->why);
        if (said->count > 1)
                kw_put_int(out, "count", said->count);
        if (said->since) {
                kw_stamp_write(said->since, since);
                kw_put_string(out, "since", since);
        }
        kw_put_object_end(out);
}

/* By the same strict way in as any other entry. */
static int make_draft(const struct kw_said_access *said, struct kw_draft *draft, struct kw_error *err)
{
        struct kw_buf text = {0};
        char key[KW_KEY_LEN + 1];
        int rc;

        kw_key_new(key);
        kw_put_object(&text, NULL);
        kw_put_string(&text, "key", key);
        kw_put_string(&text, "kind", "access");
        write_body(said, &text);
        kw_put_object_end(&text);
        rc = text.failed ? -ENOMEM : kw_draft_read(kw_buf_text(&text), text.n, draft, err);
        kw_buf_free(&text);
        return rc;
}

static int submit_and_wait(struct kw_http *http, struct told *t)
{
        int rc = KW_BUSY;

        pthread_mutex_lock(&http->lock);
        if (http->writer)
                rc = kw_writer_submit(http->writer, &t->job);
        pthread_mutex_unlock(&http->lock);
        if (rc)
                return kw_refuse_with(&t->job.err, KW_BUSY, NULL, "recording", NULL,
                                      "kinwire can't record this now; try again in a moment");
        pthread_mutex_lock(&t->lock);
        while (!t->is_done)
                pthread_cond_wait(&t->done, &t->lock);
        pthread_mutex_unlock(&t->lock);
        return t->job.rc;
}

static const char *or_dash(const char *text)
{
        return text && *text ? text : "-";
}

static bool is_sign_in(const char *what)
{
        return strcmp(what, "sign-in") == 0;
}

/* A line for whoever watches the journal. What is said here came from outside; no secret does. */
static void tell(struct kw_http *http, const struct kw_said_access *said, enum kw_level level)
{
        kw_note(http, level, "%s: %s at %s: %s", said->what, or_dash(said->person), or_dash(said->terminal),
                or_dash(said->why));
}

int kw_say_access(struct kw_http *http, const char *by, const char *terminal, const struct kw_said_access *said,
                  struct kw_error *err)
{
        struct kw_receipt receipt = {0};
        struct kw_draft draft;
        struct told t = {.job = {.drafts = &draft,
                                 .n = 1,
                                 .by = by,
                                 .terminal = terminal && terminal[0] ? terminal : "WEB",
                                 .receipts = &receipt,
                                 .done = job_done}};
        int rc = make_draft(said, &draft, err);

        if (rc)
                return rc;
        t.job.ctx = &t;
        pthread_mutex_init(&t.lock, NULL);
        pthread_cond_init(&t.done, NULL);
        rc = submit_and_wait(http, &t);
        if (rc == 0 && is_sign_in(said->what))
                tell(http, said, KW_LOG_INFO);
        if (rc > 0 && err)
                *err = t.job.err;
        pthread_cond_destroy(&t.done);
        pthread_mutex_destroy(&t.lock);
        free(receipt.json);
        kw_draft_free(&draft);
        return rc;
}

/* --- refusals, gathered ----------------------------------------------------------------------- */

struct row {
        char what[24], person[KW_CODE_MAX + 1], terminal[KW_CODE_MAX + 1], token[KW_CODE_MAX + 1], why[201];
        int64_t count, since; /* not recorded yet; since when, s since 1970 */
        int64_t due;          /* s on the monotonic clock */
        bool used;
};

struct kw_refusals {
        struct kw_http *http;
        pthread_mutex_t lock;
        pthread_cond_t more;
        pthread_t thread;
        bool running, stopping;
        struct row rows[ROWS];
        struct row rest; /* what no row was left for */
        int firsts;      /* entries at once in this hour */
        int64_t hour;
};

static int64_t now_s(void)
{
        return kw_now_ms() / 1000;
}

static const char *or_none(const char *text)
{
        return text ? text : "";
}

static bool is_same(const struct row *row, const struct kw_said_access *said)
{
        return strcmp(row->what, said->what) == 0 && strcmp(row->person, or_none(said->person)) == 0 &&
               strcmp(row->terminal, or_none(said->terminal)) == 0 && strcmp(row->token, or_none(said->token)) == 0 &&
               strcmp(row->why, or_none(said->why)) == 0;
}

static bool may_be_first(struct kw_refusals *f, int64_t now)
{
        if (now - f->hour >= HOUR) {
                f->hour = now;
                f->firsts = 0;
        }
        return f->firsts < FIRSTS;
}

static void begin_row(struct kw_refusals *f, struct row *row, const struct kw_said_access *said, int64_t now)
{
        bool first = may_be_first(f, now);

        *row = (struct row){.used = true, .due = first ? now : now + GATHER};
        f->firsts += first;
        snprintf(row->what, sizeof row->what, "%s", said->what);
        snprintf(row->person, sizeof row->person, "%s", or_none(said->person));
        snprintf(row->terminal, sizeof row->terminal, "%s", or_none(said->terminal));
        snprintf(row->token, sizeof row->token, "%s", or_none(said->token));
        snprintf(row->why, sizeof row->why, "%s", or_none(said->why));
}

/* The row for it: its own, a new one, or the rest. The caller has the lock. */
static struct row *row_for(struct kw_refusals *f, const struct kw_said_access *said, int64_t now)
{
        const struct kw_said_access rest = {.what = "refused", .why = "too many at once to be told apart"};
        struct row *free_one = NULL;

        for (size_t i = 0; i < ROWS; i++) {
                if (f->rows[i].used && is_same(&f->rows[i], said))
                        return &f->rows[i];
                if (!f->rows[i].used && !free_one)
                        free_one = &f->rows[i];
        }
        if (free_one) {
                begin_row(f, free_one, said, now);
                return free_one;
        }
        if (!f->rest.used)
                begin_row(f, &f->rest, &rest, now);
        return &f->rest;
}

void kw_refusal_note(struct kw_http *http, const struct kw_said_access *said)
{
        struct kw_refusals *f = http->refusals;
        struct row *row;

        if (strcmp(said->what, "refused") == 0)
                tell(http, said, KW_LOG_INFO);
        else if (strcmp(said->what, "locked") == 0)
                tell(http, said, KW_LOG_WARNING);
        if (!f)
                return;
        pthread_mutex_lock(&f->lock);
        row = row_for(f, said, now_s());
        if (!row->count++)
                row->since = (int64_t)time(NULL);
        pthread_cond_signal(&f->more);
        pthread_mutex_unlock(&f->lock);
}

void kw_sign_in_unrecorded(struct kw_http *http, const struct kw_said_access *said)
{
        struct kw_refusals *f = http->refusals;
        struct row *row;

        kw_note(http, KW_LOG_WARNING, "%s: %s at %s: to read only, for want of room on the disk to record it",
                said->what, or_dash(said->person), or_dash(said->terminal));
        if (!f)
                return;
        pthread_mutex_lock(&f->lock);
        row = row_for(f, said, now_s());
        if (row != &f->rest) { /* that would say that it was refused */
                if (!row->count++)
                        row->since = (int64_t)time(NULL);
                row->due = now_s() + AGAIN;
        }
        pthread_mutex_unlock(&f->lock);
}

/* Take what is due out of a row. Return: whether there is something to record. The caller has the lock. */
static bool take_due(struct row *row, int64_t now, bool all, struct row *out)
{
        if (!row->used || (row->due > now && !all))
                return false;
        if (!row->count) {
                row->used = false; /* quiet for a whole time of gathering */
                return false;
        }
        *out = *row;
        row->count = 0;
        row->due = now + GATHER;
        return true;
}

static bool next_due(struct kw_refusals *f, bool all, struct row *out)
{
        int64_t now = now_s();

        for (size_t i = 0; i < ROWS; i++) {
                if (take_due(&f->rows[i], now, all, out))
                        return true;
        }
        return take_due(&f->rest, now, all, out);
}

/* Return: whether it is in the ledger, or never will be. */
static bool record(struct kw_http *http, const struct row *row)
{
        const bool late = row->count > 1 || is_sign_in(row->what);
        const struct kw_said_access said = {row->what, row->person, row->terminal,        row->token,
                                            row->why,  row->count,  late ? row->since : 0};
        struct kw_error err = {0};
        int rc = kw_say_access(http, is_sign_in(row->what) ? row->person : "server", row->terminal, &said, &err);

        if (rc == KW_DISK_FULL)
                return false;
        if (rc)
                kw_say(http, "%lld refusals (%s %s) could not be recorded: %s", (long long)row->count, row->what,
                       row->person, err.text);
        else if (is_sign_in(row->what))
                kw_session_recorded(http->sessions, row->person, row->terminal);
        return true;
}

/* What there was no room for is counted on in its row, and tried again when the thread looks next. The lock is held. */
static void put_back(struct kw_refusals *f, const struct row *row)
{
        const struct kw_said_access said = {row->what, row->person, row->terminal, row->token, row->why, 0, 0};
        struct row *to = row_for(f, &said, now_s());

        if (!to->count || row->since < to->since)
                to->since = row->since;
        to->count += row->count;
        to->due = now_s() + AGAIN;
}

static void *run(void *arg)
{
        struct kw_refusals *f = arg;
        struct timespec until;
        struct row due;
        bool done;

        pthread_mutex_lock(&f->lock);
        for (;;) {
                if (next_due(f, f->stopping, &due)) {
                        pthread_mutex_unlock(&f->lock);
                        done = record(f->http, &due);
                        pthread_mutex_lock(&f->lock);
                        if (!done && !f->stopping)
                                put_back(f, &due);
                        continue;
                }
                if (f->stopping)
                        break;
                clock_gettime(CLOCK_MONOTONIC, &until);
                until.tv_sec += AGAIN;
                pthread_cond_timedwait(&f->more, &f->lock, &until);
        }
        pthread_mutex_unlock(&f->lock);
        return NULL;
}

int kw_refusals_new(struct kw_http *http, struct kw_refusals **out)
{
        struct kw_refusals *f = calloc(1, sizeof *f);
        pthread_condattr_t clock;
        int rc;

        if (!f)
                return -ENOMEM;
        f->http = http;
        f->hour = now_s();
        pthread_mutex_init(&f->lock, NULL);
        pthread_condattr_init(&clock);
        pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
        pthread_cond_init(&f->more, &clock);
        pthread_condattr_destroy(&clock);
        rc = pthread_create(&f->thread, NULL, run, f);
        f->running = rc == 0;
        *out = f;
        return -rc;
}

void kw_refusals_stop(struct kw_refusals *f)
{
        if (!f)
                return;
        pthread_mutex_lock(&f->lock);
        f->stopping = true;
        pthread_cond_signal(&f->more);
        pthread_mutex_unlock(&f->lock);
        if (f->running)
                pthread_join(f->thread, NULL);
        f->running = false;
}

void kw_refusals_free(struct kw_refusals *f)
{
        if (!f)
                return;
        kw_refusals_stop(f);
        pthread_cond_destroy(&f->more);
        pthread_mutex_destroy(&f->lock);
        free(f);
}
