/*
 * The one writer: a thread that takes jobs from a bounded queue and commits them in groups.
 *
 *      submit -> [ job job job ... ] -> begin; for each job: mark, append its entries, keep or undo; commit -> done,
 * done, ...
 *
 * While one group is being synced to disk the next one gathers, so that the slower the disk is, the larger the groups
 * get; nobody waits for a timer. Nothing is answered before its commit has returned and the index, where there is one,
 * has it: for one who writes alone the writer sees to that himself, and where others wait already, the teller does.
 */
#include "kinwire/writer.h"

#include "kinwire/index.h"
#include "kinwire/undone.h"

#include "../store.h"
#include "../tree.h"
#include "teller.h"

#include <errno.h>
#include <pthread.h>
#include <sched.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define QUEUE_MAX 1024
#define GROUP_MAX 64
#define LOG_MOST  4 /* times as long as a log gets that is tidied in time */
#define LINGER_US 100
#define IN_VAIN   64 /* groups after which that is tried again when nothing came meanwhile */
#define CAREFULLY 16 /* groups, after one that was broken when it was written boldly */

struct kw_writer {
        struct kw_ledger *ledger;
        char *path;
        struct kw_index *index;   /* NULL, or what follows the ledger */
        struct kw_teller *teller; /* NULL, or who tells it */
        struct kw_undone *undone; /* NULL, or what is told of entries that were undone */
        pthread_t thread;
        pthread_mutex_t lock; /* over everything below but @failed */
        pthread_cond_t more;
        struct kw_job *first, **last;
        atomic_bool more_came; /* the queue is not empty; for who looks without the lock */
        bool stopping;
        int64_t linger_us;  /* 0: whoever sends something needs the one processor */
        unsigned in_vain;   /* so many groups to come without that */
        unsigned carefully; /* so many groups to come */
        struct kw_writer_figures figures;
        int64_t committing_since; /* us on the monotonic clock; 0: no commit is under way */
        atomic_bool failed;
};

/* --- one group -------------------------------------------------------------------------------- */

static void forget_receipts(struct kw_job *job)
{
        for (size_t i = 0; i < job->n; i++) {
                free(job->receipts[i].json);
                job->receipts[i] = (struct kw_receipt){0};
        }
}

/* A refusal that concerns one job alone: the transaction goes on without it. */
static bool is_the_senders(int rc)
{
        return rc > 0 && rc != KW_INTERNAL && rc != KW_BUSY && rc != KW_DISK_FULL;
}

static int append_all(struct kw_ledger *ledger, struct kw_job *job)
{
        const struct kw_sender sender = {.by = job->by,
                                         .terminal = job->terminal,
                                         .may_override = job->may_override,
                                         .second_person = job->second_person,
                                         .who = job->who};
        int64_t now = (int64_t)time(NULL);

        for (size_t i = 0; i < job->n; i++) {
                int rc = kw_ledger_append(ledger, &job->drafts[i], &sender, now, &job->receipts[i], &job->err);
                if (rc) {
                        job->err.line = job->lines ? job->lines[i] : 0;
                        return rc;
                }
        }
        return 0;
}

/*
 * Take one job whole or not at all. Return: 0, also when it was refused (job->rc says so); otherwise the transaction
 * can't be relied on any more.
 */
static int take(struct kw_ledger *ledger, struct kw_job *job)
{
        /* one entry leaves the ledger as it was by itself when it is refused, or says that it did not */
        bool mark = job->n != 1 || job->check;

        job->err = (struct kw_error){0}; /* a job may be tried twice */
        job->rc = mark ? kw_ledger_mark(ledger, &job->err) : 0;
        if (job->rc)
                return job->rc;
        job->rc = append_all(ledger, job);
        if (!job->rc && job->check) {
                kw_ledger_undo(ledger);
                return 0;
        }
        if (!job->rc && mark)
                job->rc = kw_ledger_keep(ledger, &job->err);
        if (!job->rc)
                return 0;
        forget_receipts(job);
        if (!is_the_senders(job->rc))
                return job->rc;
        if (mark)
                kw_ledger_undo(ledger);
        return kw_ledger_half(ledger) ? job->rc : 0;
}

static int64_t now_us(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static void note_time(struct kw_writer_figures *f, int64_t took_us)
{
        static const int64_t step_ms[KW_COMMIT_STEPS] = KW_COMMIT_STEP_MS;

        f->commits++;
        f->commit_us_last = took_us;
        f->commit_us_all += took_us;
        if (took_us > f->commit_us_max)
                f->commit_us_max = took_us;
        for (size_t i = 0; i < KW_COMMIT_STEPS; i++) {
                if (took_us <= step_ms[i] * 1000) {
                        f->commits_within[i]++;
                        break;
                }
        }
}

static int commit(struct kw_writer *w, struct kw_error *err)
{
        int64_t before = now_us(), took;
        int rc;

        pthread_mutex_lock(&w->lock);
        w->committing_since = before;
        pthread_mutex_unlock(&w->lock);
        rc = kw_ledger_commit(w->ledger, err);
        took = now_us() - before;

        pthread_mutex_lock(&w->lock);
        w->committing_since = 0;
        note_time(&w->figures, took);
        pthread_mutex_unlock(&w->lock);
        if (rc == 0 && w->undone)
                kw_undone_note(w->undone, w->ledger, w->ledger->ended);
        return rc;
}

/* --- answering -------------------------------------------------------------------------------- */

static void count(struct kw_writer_figures *f, const struct kw_job *job)
{
        for (size_t i = 0; !job->rc && !job->check && i < job->n; i++)
                f->entries += !job->receipts[i].repeated;
        f->jobs++;
        f->refused += job->rc != 0;
}

static void answer(void *writer, struct kw_job *group)
{
        struct kw_writer *w = writer;

        pthread_mutex_lock(&w->lock);
        for (struct kw_job *job = group; job; job = job->next)
                count(&w->figures, job);
        pthread_mutex_unlock(&w->lock);
        for (struct kw_job *job = group, *next; job; job = next) {
                next = job->next; /* the job is its maker's again once it is done */
                job->done(job);
        }
}

static bool others_wait(struct kw_writer *w)
{
        bool wait;

        pthread_mutex_lock(&w->lock);
        wait = w->first != NULL;
        pthread_mutex_unlock(&w->lock);
        return wait;
}

/* What was committed a moment ago. */
static void tell_and_answer(struct kw_writer *w, struct kw_job *group)
{
        if (w->teller && (others_wait(w) || kw_teller_busy(w->teller)) && kw_teller_take(w->teller, w->ledger, group))
                return;
        if (w->index)
                kw_index_follow(w->index, w->ledger);
        answer(w, group);
}

/* --- committing ------------------------------------------------------------------------------- */

/* After a commit that went wrong nobody knows what the disk holds: nothing may be written until the file was opened
 * anew. */
static void give_up(struct kw_writer *w, int *rc, struct kw_error *err)
{
        if (*rc == KW_DISK_FULL || *rc == KW_BUSY)
                return; /* the transaction is gone, and that is known */
        atomic_store(&w->failed, true);
        *rc = kw_refuse(err, KW_BUSY, NULL,
                        "the disk did not confirm the entries: it is not known whether they were kept; "
                        "send them again with the same keys when kinwire is back");
}

/* Refusals are overtaken as well: a code may have been taken by an entry of the same group, which is not there any
 * more. */
static void refuse_all(struct kw_job *job, int rc, const struct kw_error *err)
{
        for (; job; job = job->next) {
                forget_receipts(job);
                job->rc = rc;
                job->err = *err;
        }
}

/*
 * Commit a group in one transaction, and answer it. When one job breaks the transaction itself, nothing of the group is
 * kept or answered: return true for the jobs to be tried again, so that the others don't pay for it.
 *
 * @boldly: so that each entry costs less, and one that is refused when a part of it is there breaks the transaction.
 */
static bool commit_group(struct kw_writer *w, struct kw_job *group, bool boldly)
{
        struct kw_error err = {0};
        int rc = (boldly ? kw_ledger_begin_boldly : kw_ledger_begin)(w->ledger, &err);

        if (rc) {
                refuse_all(group, rc, &err);
                answer(w, group);
                return false;
        }
        for (struct kw_job *job = group; job; job = job->next) {
                if (take(w->ledger, job) == 0)
                        continue;
                kw_ledger_rollback(w->ledger);
                for (struct kw_job *other = group; other != job; other = other->next)
                        forget_receipts(other);
                if (group->next)
                        return true;
                answer(w, group);
                return false;
        }
        rc = commit(w, &err);
        if (rc == 0) {
                tell_and_answer(w, group);
                return false;
        }
        give_up(w, &rc, &err);
        refuse_all(group, rc, &err);
        answer(w, group);
        return false;
}

static void commit_one_by_one(struct kw_writer *w, struct kw_job *group)
{
        for (struct kw_job *job = group, *next; job; job = next) {
                next = job->next;
                job->next = NULL;
                if (atomic_load(&w->failed)) {
                        job->rc = kw_refuse(&job->err, KW_BUSY, NULL, "kinwire is stopping; send it again");
                        answer(w, job);
                } else {
                        commit_group(w, job, false);
                }
        }
}

/* All at once and boldly, else all at once, else each by itself; whoever sends what breaks them gets no more than that
 * done twice. */
static void write_group(struct kw_writer *w, struct kw_job *group)
{
        if (atomic_load(&w->failed)) {
                commit_one_by_one(w, group);
                return;
        }
        if (!w->carefully) {
                if (!commit_group(w, group, true))
                        return;
                w->carefully = CAREFULLY;
        }
        w->carefully--;
        if (commit_group(w, group, false))
                commit_one_by_one(w, group);
}

/* --- the thread ------------------------------------------------------------------------------- */

/*
 * After a commit for one alone the writer stays awake for a moment: who sends one entry after the other is back by
 * then, and to have the writer woken would take him as long again. Not by giving way to others: where many want to run,
 * the scheduler then lets the writer wait the longer when there is something to write. And only as long as somebody is
 * back: on a busy machine, or behind a network, nobody is, and whoever should be needs the processor.
 */
static void linger(struct kw_writer *w)
{
        int64_t until;

        if (w->in_vain) {
                w->in_vain--;
                return;
        }
        until = now_us() + w->linger_us;
        while (!atomic_load(&w->more_came) && now_us() < until)
                ;
        if (!atomic_load(&w->more_came))
                w->in_vain = IN_VAIN;
}

/* Up to GROUP_MAX jobs from the queue, waiting for the first; NULL when the writer is to stop and none are left. */
static struct kw_job *next_group(struct kw_writer *w)
{
        struct kw_job *group, *job;

        pthread_mutex_lock(&w->lock);
        while (!w->first && !w->stopping)
                pthread_cond_wait(&w->more, &w->lock);
        group = job = w->first;
        if (job) {
                size_t n = 1;
                while (n < GROUP_MAX && job->next) {
                        job = job->next;
                        n++;
                }
                w->first = job->next;
                if (!w->first) {
                        w->last = &w->first;
                        atomic_store(&w->more_came, false);
                }
                job->next = NULL;
                w->figures.queue -= (int64_t)n;
        }
        pthread_mutex_unlock(&w->lock);
        return group;
}

/*
 * Most of it is the teller's, unless that has had no time for it for long or can't keep up: then the writer waits, so
 * that the log doesn't grow without end. The teller's views would keep a part of it.
 */
static void tidy(struct kw_writer *w)
{
        if (!kw_ledger_untidy(w->ledger, 1))
                return;
        if (w->teller && kw_teller_tidies(w->teller) && !kw_ledger_untidy(w->ledger, LOG_MOST))
                return;
        if (w->teller)
                kw_teller_wait(w->teller);
        kw_ledger_tidy(w->ledger);
}

static void *write_groups(void *arg)
{
        struct kw_writer *w = arg;
        struct kw_job *group;

        while ((group = next_group(w))) {
                bool alone = !group->next; /* where there are many, they need the processor */

                write_group(w, group);
                tidy(w);
                if (alone && !(w->teller && kw_teller_busy(w->teller)))
                        linger(w);
        }
        return NULL;
}

/* --- the contract ----------------------------------------------------------------------------- */

/* Those that this process may use, which in a container are fewer than there are. */
static int processors(void)
{
        cpu_set_t set;

        return sched_getaffinity(0, sizeof(set), &set) ? 1 : CPU_COUNT(&set);
}

int kw_writer_new(const char *path, struct kw_writer **out, struct kw_error *err)
{
        struct kw_writer *w = calloc(1, sizeof *w);
        int rc;

        if (!w)
                return -ENOMEM;
        w->path = strdup(path);
        rc = w->path ? kw_ledger_open(path, KW_OPEN_WRITE, &w->ledger, err) : -ENOMEM;
        if (rc) {
                free(w->path);
                free(w);
                return rc;
        }
        w->linger_us = processors() > 1 ? LINGER_US : 0;
        kw_ledger_tidy_later(w->ledger);
        pthread_mutex_init(&w->lock, NULL);
        pthread_cond_init(&w->more, NULL);
        w->last = &w->first;
        rc = pthread_create(&w->thread, NULL, write_groups, w);
        if (rc) {
                kw_ledger_close(w->ledger);
                free(w->path);
                free(w);
                return -rc;
        }
        *out = w;
        return 0;
}

void kw_writer_tell(struct kw_writer *w, struct kw_index *index)
{
        w->index = index;
        if (kw_teller_new(w->path, index, answer, w, &w->teller))
                w->teller = NULL;
}

void kw_writer_tell_undone(struct kw_writer *w, struct kw_undone *undone)
{
        w->undone = undone;
}

int kw_writer_submit(struct kw_writer *w, struct kw_job *job)
{
        int rc = KW_BUSY;

        job->next = NULL;
        pthread_mutex_lock(&w->lock);
        if (!w->stopping && w->figures.queue < QUEUE_MAX && !atomic_load(&w->failed)) {
                *w->last = job;
                w->last = &job->next;
                atomic_store(&w->more_came, true);
                w->figures.queue++;
                if (w->figures.queue > w->figures.queue_max)
                        w->figures.queue_max = w->figures.queue;
                pthread_cond_signal(&w->more);
                rc = 0;
        }
        pthread_mutex_unlock(&w->lock);
        return rc;
}

void kw_writer_free(struct kw_writer *w)
{
        if (!w)
                return;
        pthread_mutex_lock(&w->lock);
        w->stopping = true;
        pthread_cond_signal(&w->more);
        pthread_mutex_unlock(&w->lock);
        pthread_join(w->thread, NULL);
        kw_teller_free(w->teller);
        kw_ledger_close(w->ledger);
        pthread_cond_destroy(&w->more);
        pthread_mutex_destroy(&w->lock);
        free(w->path);
        free(w);
}

bool kw_writer_failed(const struct kw_writer *w)
{
        return atomic_load(&w->failed);
}

void kw_writer_figures(struct kw_writer *w, struct kw_writer_figures *out)
{
        pthread_mutex_lock(&w->lock);
        *out = w->figures;
        out->waiting_us = w->committing_since ? now_us() - w->committing_since : 0;
        pthread_mutex_unlock(&w->lock);
}
