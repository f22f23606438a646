/*
 * Gaps over HTTP: found by a thread of its own, kept, and given out page by page.
 *
 * What was found stands for one size of the ledger. Whoever asks at a greater size waits for a new finding, except when
 * the last one took long: then the older is given, which says at which size it stands, while a newer is on its way. In
 * a large ledger, where also the first takes long, it is looked for after the start already; who asks before it is
 * there is told how far it is (202) and asks again. What was found in a large ledger is also kept in a file beside it,
 * so that the next start has it at once.
 */
#include "server.h"

#include "kinwire/gaps.h"
#include "kinwire/index.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SUFFIX   ".gaps"
#define LONG_MS  2000 /* a finding that takes longer is not waited for while there is an older one */
#define RESTS    4    /* times as long as it took: so long a finding is not begun again, or it would never end */
#define TRIES    20
#define MM_PER_M 1000
#define S_PER_H  3600

/* What one thread found; freed by the last who has it. */
struct found {
        atomic_int users;
        struct kw_gaps *gaps;
        struct kw_gaps_asked asked;
        int64_t size, ms, began, ended;
        bool told; /* to somebody */
        int rc;
        struct kw_error err;
};

/* One for the server. */
struct kw_gap_desk {
        pthread_mutex_t lock;
        struct found *kept;
        struct kw_request *waiting; /* linked by next_waiting */
        struct kw_gaps_asked asked; /* by the thread that runs */
        bool running, joinable;
        bool looked; /* at the file */
        char *file;
        struct kw_gaps_watch watch;
        pthread_t thread;
        struct kw_http *http;
};

int kw_gap_desk_new(struct kw_http *http, struct kw_gap_desk **out)
{
        struct kw_gap_desk *d = calloc(1, sizeof *d);

        if (d)
                d->file = kw_file_beside(http, SUFFIX);
        if (!d || !d->file) {
                free(d);
                return -ENOMEM;
        }
        d->http = http;
        pthread_mutex_init(&d->lock, NULL);
        *out = d;
        return 0;
}

static void give_back(struct found *f)
{
        if (!f || atomic_fetch_sub(&f->users, 1) > 1)
                return;
        kw_gaps_free(f->gaps);
        free(f);
}

static bool same(const struct kw_gaps_asked *a, const struct kw_gaps_asked *b)
{
        return a->long_mm == b->long_mm && a->late_s == b->late_s;
}

/* --- the file --------------------------------------------------------------------------------- */

/* By the usual measures, where it takes long, and there is room for more than entries. @ledger: the view that they were
 * found in */
static void save(struct kw_gap_desk *d, struct kw_ledger *ledger, const struct found *f)
{
        const struct kw_gaps_asked usual = kw_gaps_usual();

        if (same(&f->asked, &usual) && kw_is_large(kw_gaps_size(f->gaps)) && !kw_is_full(d->http))
                kw_note_unsaved(d->http, SUFFIX, kw_gaps_save(f->gaps, ledger, d->file, kw_now_ms() - f->began));
}

/* What the last start left. It was found lately, as far as this one knows. */
static struct found *open_file(struct kw_gap_desk *d)
{
        struct found *f = calloc(1, sizeof *f);
        const char *why = NULL;
        struct kw_ledger *ledger;
        int rc = f ? kw_reader_take(d->http, &ledger, &f->err) : -ENOMEM;

        if (!rc) {
                rc = kw_gaps_open(d->file, ledger, &f->gaps, &f->ms, &why);
                kw_reader_give(d->http, ledger);
        }
        kw_note_fault(d->http, SUFFIX, why);
        if (rc) {
                free(f);
                return NULL;
        }
        atomic_store(&f->users, 1);
        f->asked = *kw_gaps_asked(f->gaps);
        f->size = kw_gaps_size(f->gaps);
        f->ended = kw_now_ms();
        return f;
}

/* Once, before anything else is done about gaps; the caller has the lock. */
static void look_at_file(struct kw_gap_desk *d)
{
        if (!d->looked && !d->kept && !d->running)
                d->kept = open_file(d);
        d->looked = true;
}

/* --- the thread ------------------------------------------------------------------------------- */

/*
 * An index of this thread's own, mapped from the file that the server's index keeps: the server's would have to be
 * held, and the writer would wait for it. It must stand where the view does.
 */
static int open_index(struct kw_gap_desk *d, struct kw_ledger *ledger, struct kw_index **out, struct kw_error *err)
{
        struct kw_index_figures figures;
        struct kw_index *index = NULL;
        struct kw_head head;
        int rc = 0;

        *out = NULL;
        for (int i = 0; rc == 0 && i < TRIES && !atomic_load(&d->watch.stop); i++) {
                if (kw_index_new(d->http->ledger, &index))
                        break;
                if (kw_index_open(index) && kw_index_build(index)) {
                        kw_index_free(index);
                        break;
                }
                kw_index_figures(index, &figures);
                kw_ledger_done(ledger);
                rc = kw_ledger_look(ledger, err);
                if (rc == 0)
                        rc = kw_ledger_head(ledger, &head, err);
                if (rc == 0 && head.size == figures.size) {
                        *out = index;
                        return 0;
                }
                kw_index_free(index);
        }
        return rc;
}

static int find(struct kw_gap_desk *d, struct found *f)
{
        struct kw_ledger *ledger;
        struct kw_index *index = NULL;
        int rc;

        kw_await_index(d->http, &d->watch.stop); /* then there is a file of it, which need not be made twice */
        rc = kw_ledger_open(d->http->ledger, KW_OPEN_READ, &ledger, &f->err);
        if (rc)
                return rc;
        rc = kw_ledger_look(ledger, &f->err);
        if (!rc)
                rc = open_index(d, ledger, &index, &f->err);
        if (!rc)
                rc = kw_gaps_find(ledger, index, &f->asked, &d->watch, &f->gaps, &f->err);
        if (!rc)
                save(d, ledger, f);
        kw_index_free(index);
        kw_ledger_done(ledger);
        kw_ledger_close(ledger);
        return rc;
}

static void *run(void *arg)
{
        struct kw_gap_desk *d = arg;
        struct found *f = calloc(1, sizeof *f), *old = NULL;
        struct kw_request *waiting;

        if (f) {
                atomic_store(&f->users, 1);
                f->began = kw_now_ms();
                f->asked = d->asked;
                f->rc = find(d, f);
                f->ended = kw_now_ms();
                f->ms = f->ended - f->began;
                f->size = f->gaps ? kw_gaps_size(f->gaps) : 0;
        }
        pthread_mutex_lock(&d->lock);
        if (f) {
                old = d->kept;
                d->kept = f;
        }
        d->running = false;
        waiting = d->waiting;
        d->waiting = NULL;
        while (waiting) {
                struct kw_request *next = waiting->next_waiting;

                kw_request_resume(waiting);
                waiting = next;
        }
        pthread_mutex_unlock(&d->lock);
        give_back(old);
        return NULL;
}

void kw_gap_desk_stop(struct kw_gap_desk *d)
{
        if (!d)
                return;
        atomic_store(&d->watch.stop, true);
        if (d->joinable)
                pthread_join(d->thread, NULL);
        d->joinable = false;
}

void kw_gap_desk_free(struct kw_gap_desk *d)
{
        if (!d)
                return;
        kw_gap_desk_stop(d);
        give_back(d->kept);
        free(d->file);
        pthread_mutex_destroy(&d->lock);
        free(d);
}

/* --- the request ------------------------------------------------------------------------------ */

struct giving {
        struct found *found;
        struct kw_gaps_writer writer;
        char kind[24];
};

static void free_giving(void *ctx)
{
        struct giving *g = ctx;

        give_back(g->found);
        free(g);
}

static int more_of_gaps(void *ctx, struct kw_buf *out, struct kw_error *err)
{
        (void)err;
        return kw_gaps_write(&((struct giving *)ctx)->writer, out);
}

static int read_asked(const struct kw_request *r, struct kw_gaps_asked *asked, struct kw_error *err)
{
        const struct kw_gaps_asked usual = kw_gaps_usual();
        int64_t metres, hours;
        int rc = kw_request_int(r, "long_m", 1, 1000000, usual.long_mm / MM_PER_M, &metres, err);

        if (!rc)
                rc = kw_request_int(r, "late_h", 1, 100000, usual.late_s / S_PER_H, &hours, err);
        if (!rc)
                *asked = (struct kw_gaps_asked){metres * MM_PER_M, hours * S_PER_H};
        return rc;
}

static int read_page(const struct kw_request *r, struct giving *g, struct kw_error *err)
{
        const char *kind = kw_request_query(r, "kind");
        int64_t after, limit;
        int rc = kw_request_int(r, "after", 0, KW_JSON_INT_MAX, 0, &after, err);

        if (!rc)
                rc = kw_request_int(r, "limit", 1, KW_JSON_INT_MAX, 0, &limit, err);
        if (!rc && kind && !kw_gaps_kind_known(kind))
                rc = kw_refuse(err, KW_BAD_REQUEST, NULL, "there is no kind of gap \"%.40s\"", kind);
        if (rc)
                return rc;
        g->writer.after = (size_t)after;
        g->writer.limit = (size_t)limit;
        if (kind) {
                snprintf(g->kind, sizeof g->kind, "%s", kind);
                g->writer.kind = g->kind;
        }
        return 0;
}

static enum MHD_Result reply(struct kw_request *r, struct found *f)
{
        struct giving *g = calloc(1, sizeof *g);
        struct kw_error err = {0};
        int rc = g ? read_page(r, g, &err) : -ENOMEM;

        if (!rc && f->rc)
                rc = f->rc == -ECANCELED ? kw_refuse(&err, KW_BUSY, NULL, "kinwire is stopping") : f->rc;
        if (rc) {
                rc = kw_reply_problem(r, rc, f->rc > 0 && err.text[0] == '\0' ? &f->err : &err);
                give_back(f);
                free(g);
                return (enum MHD_Result)rc;
        }
        g->found = f;
        g->writer.gaps = f->gaps;
        g->writer.csv = kw_request_wants_csv(r);
        kw_reply_header(r, MHD_HTTP_HEADER_VARY, MHD_HTTP_HEADER_ACCEPT);
        if (g->writer.csv)
                kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "attachment; filename=\"gaps.csv\"");
        return kw_reply_pieces(r, g->writer.csv ? "text/csv; charset=utf-8; header=present" : "application/json",
                               &(struct kw_source){more_of_gaps, free_giving, g});
}

/* Start the thread; the caller has the lock. Return: 0; -errno. */
static int start(struct kw_gap_desk *d, const struct kw_gaps_asked *asked)
{
        int rc;

        if (d->joinable)
                pthread_join(d->thread, NULL); /* it runs no more */
        d->joinable = false;
        d->asked = *asked;
        atomic_store(&d->watch.far, 0);
        rc = pthread_create(&d->thread, NULL, run, d);
        d->running = d->joinable = rc == 0;
        return -rc;
}

void kw_gap_desk_begin(struct kw_gap_desk *d)
{
        const struct kw_gaps_asked usual = kw_gaps_usual();

        pthread_mutex_lock(&d->lock);
        look_at_file(d);
        if (!d->running && !d->kept && !atomic_load(&d->watch.stop))
                start(d, &usual);
        pthread_mutex_unlock(&d->lock);
}

/* What was found took so long, and was so lately, that a newer is not looked for yet. */
static bool rests(const struct found *kept)
{
        return kw_now_ms() - kept->ended < RESTS * kept->ms;
}

/* Else whoever asks is told how far it is. */
static bool waits_for(const struct kw_request *r)
{
        return !kw_is_large(r->asked_size);
}

static enum MHD_Result how_far(struct kw_request *r, struct kw_gap_desk *d)
{
        struct kw_buf out = {0};

        kw_reply_header(r, MHD_HTTP_HEADER_RETRY_AFTER, "1");
        kw_put_object(&out, NULL);
        kw_put_int(&out, "size", KW_GAPS_ALL);
        kw_put_int(&out, "done", atomic_load(&d->watch.far));
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_ACCEPTED, "application/json", &out);
}

static enum MHD_Result look_again(struct kw_request *r);

/*
 * What there is to give, with one more user; NULL: wait, or what *rc says. The caller has the lock.
 * A finding that failed is given to those who waited for it, or once, and tried again for whoever asks next.
 */
static struct found *choose(struct kw_gap_desk *d, struct kw_request *r, const struct kw_gaps_asked *asked, int *rc)
{
        struct found *kept = d->kept && same(&d->kept->asked, asked) ? d->kept : NULL;
        const bool failed = kept && kept->rc && (waits_for(r) ? r->awaited : !kept->told),
                   fits = failed || (kept && !kept->rc && kept->size >= r->asked_size),
                   will_do = kept && !kept->rc && kept->ms > LONG_MS;

        *rc = 0;
        if (!fits && !(will_do && rests(kept)) && !d->running && !atomic_load(&d->watch.stop))
                *rc = start(d, asked);
        if (fits || will_do) {
                *rc = 0;
                kept->told = true;
                atomic_fetch_add(&kept->users, 1);
                return kept;
        }
        if (*rc == 0 && (!d->running || !same(&d->asked, asked)))
                *rc = KW_BUSY;
        return NULL;
}

static enum MHD_Result look(struct kw_request *r)
{
        struct kw_gap_desk *d = r->http->gaps;
        struct kw_gaps_asked asked = {0};
        struct kw_error err = {0};
        struct found *f = NULL;
        int rc = read_asked(r, &asked, &err);

        if (rc)
                return kw_reply_problem(r, rc, &err);
        pthread_mutex_lock(&d->lock);
        look_at_file(d);
        f = choose(d, r, &asked, &rc);
        if (!f && !rc && waits_for(r)) {
                r->awaited = true;
                r->next_waiting = d->waiting;
                d->waiting = r;
                kw_request_aside(r, look_again);
        }
        pthread_mutex_unlock(&d->lock);
        if (f)
                return reply(r, f);
        if (!rc)
                return waits_for(r) ? MHD_YES : how_far(r, d);
        if (rc == KW_BUSY)
                kw_refuse(&err, KW_BUSY, NULL, "gaps are being looked for by other measures; ask again in a moment");
        return kw_reply_problem(r, rc, &err);
}

static enum MHD_Result look_again(struct kw_request *r)
{
        return look(r);
}

enum MHD_Result kw_answer_gaps(struct kw_request *r)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        struct kw_head head;
        struct giving check = {0};
        int rc = read_page(r, &check, &err);

        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (!rc) {
                rc = kw_ledger_head(ledger, &head, &err);
                kw_reader_give(r->http, ledger);
        }
        if (rc)
                return kw_reply_problem(r, rc, &err);
        r->asked_size = head.size;
        return look(r);
}
