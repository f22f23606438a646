#ifndef KINWIRE_WRITER_H
#define KINWIRE_WRITER_H
/*
 * The one writer: a thread that takes what is asked to be recorded from a bounded queue and commits it in groups.
 *
 * Every job is taken whole or not at all (its own savepoint); jobs that wait together share one commit, and with it one
 * sync of the disk. A job is answered only after the commit has returned. A job that nobody could answer for (the sync
 * failed) gets KW_BUSY and the writer stops for good: kw_writer_failed() is then true and the process is to end.
 */
#include "kinwire/ledger.h"

struct kw_job {
        struct kw_draft *drafts; /* @n of them, owned by the job's maker */
        size_t n;
        size_t *lines; /* NULL, or the line each draft came from, for the error */
        const char *by, *terminal;
        bool may_override, second_person;
        const struct kw_who *who;    /* see struct kw_sender */
        bool check;                  /* only say what the receipts would be: nothing is kept */
        struct kw_receipt *receipts; /* room for @n; filled when @rc is 0 */
        int rc;                      /* 0, a refusal with @err, or a negative errno */
        struct kw_error err;
        void (*done)(struct kw_job *job); /* called once, by the writer's thread or one beside it, perhaps while the
                                             other calls another job's; so it must not wait for the writer */
        void *ctx;
        struct kw_job *next; /* the queue's */
};

struct kw_index;
struct kw_undone;
struct kw_writer;
int kw_writer_new(const char *path, struct kw_writer **out, struct kw_error *err);
/** kw_writer_tell - from now on, tell @index of each commit before anyone is answered; before the first job. */
void kw_writer_tell(struct kw_writer *writer, struct kw_index *index);
/** kw_writer_tell_undone - the same, of what each commit undid. */
void kw_writer_tell_undone(struct kw_writer *writer, struct kw_undone *undone);
/** kw_writer_submit - Return: 0, @job will be done; KW_BUSY when the queue (1,024 jobs) is full or the writer is
 * stopping. */
int kw_writer_submit(struct kw_writer *writer, struct kw_job *job);
/** kw_writer_free - finishes what was submitted, then stops. */
void kw_writer_free(struct kw_writer *writer);
bool kw_writer_failed(const struct kw_writer *writer);

/** Steps of the commits' times: 1 ms to 5 s, and one beyond. */
#define KW_COMMIT_STEPS 11
#define KW_COMMIT_STEP_MS                                      \
        {                                                      \
                1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 5000 \
        }

struct kw_writer_figures {
        int64_t jobs, entries, commits, refused, queue, queue_max, commit_us_last, commit_us_max, commit_us_all;
        int64_t commits_within[KW_COMMIT_STEPS]; /* of each step, those that took longer than the step before */
        int64_t waiting_us;                      /* how long the commit under way has taken; 0: none is */
};
void kw_writer_figures(struct kw_writer *writer, struct kw_writer_figures *out);

#endif
