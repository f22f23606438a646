/*
 * Which entry counts in which month, followed as the ledger goes on.
 *
 * What was recorded since is read from it; what it undid is told by the writer. After a restart nobody told what
 * happened between the file's size and this program's first commit, so it is read off the tables: as long as nothing
 * was put right there, only the runs changed that were gone on with, and what leans on these. After a correction the
 * tables don't tell any more what it touched, and everything is noted anew.
 */
#include "months_inside.h"

#include "kinwire/ledger.h"
#include "kinwire/sold.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define TRIES   50
#define WAIT_NS 2000000

int kw_months_new(struct kw_undone *undone, const char *file, struct kw_months **out)
{
        struct kw_months *m = calloc(1, sizeof(*m));

        if (!m)
                return -ENOMEM;
        if (file && !(m->file = strdup(file))) {
                free(m);
                return -ENOMEM;
        }
        m->undone = undone;
        m->saved = -1;
        pthread_mutex_init(&m->lock, NULL);
        *out = m;
        return 0;
}

void kw_month_drop(struct kw_tally *t)
{
        if (t)
                kw_tally_free(t);
        free(t);
}

void kw_months_drop(struct kw_months *m)
{
        for (size_t i = 0; i < m->n; i++)
                kw_month_drop(m->months[i].tally);
        m->n = 0;
        m->size = 0;
        m->begun = m->untold = false;
}

void kw_months_free(struct kw_months *m)
{
        if (!m)
                return;
        kw_months_drop(m);
        free(m->months);
        free(m->counts);
        free(m->file);
        pthread_mutex_destroy(&m->lock);
        free(m);
}

/* --- which entry counts when ------------------------------------------------------------------------- */

static size_t place_of(const struct kw_months *m, int32_t month)
{
        size_t low = 0, high = m->n;

        while (low < high) {
                const size_t mid = (low + high) / 2;

                if (m->months[mid].month < month)
                        low = mid + 1;
                else
                        high = mid;
        }
        return low;
}

struct kw_month *kw_months_find(struct kw_months *m, int32_t month)
{
        const size_t at = place_of(m, month);

        return at < m->n && m->months[at].month == month ? &m->months[at] : NULL;
}

int kw_months_add(struct kw_months *m, int32_t month, struct kw_month **out)
{
        const size_t at = place_of(m, month);

        *out = kw_months_find(m, month);
        if (*out)
                return 0;
        if (m->n == m->cap_months) {
                const size_t cap = m->cap_months ? 2 * m->cap_months : 64;
                struct kw_month *bigger = reallocarray(m->months, cap, sizeof(*bigger));

                if (!bigger)
                        return -ENOMEM;
                m->months = bigger;
                m->cap_months = cap;
        }
        for (size_t i = m->n++; i > at; i--)
                m->months[i] = m->months[i - 1];
        m->months[at] = (struct kw_month){.month = month};
        *out = &m->months[at];
        return 0;
}

static void make_stale(struct kw_month *month)
{
        month->fresh = false;
        month->staled++;
}

static void uncount(struct kw_months *m, int64_t seq)
{
        int32_t *count = &m->counts[seq - 1];
        struct kw_month *month = *count == KW_COUNTS_NOT ? NULL : kw_months_find(m, kw_month_of(*count));

        *count = KW_COUNTS_NOT;
        if (month) {
                month->entries--;
                make_stale(month);
        }
}

/* An entry is of one kind and of one time, so it counts once. */
static int count(void *ctx, int64_t seq, enum kw_counts what, int64_t at)
{
        struct kw_months *m = ctx;
        const int32_t counts = kw_sold_month(at) * KW_SORTS + (int32_t)what;
        struct kw_month *month;
        int rc;

        if (seq < 1 || (size_t)seq > m->cap)
                return -EIO;
        if (m->counts[seq - 1] == counts)
                return 0;
        if (m->counts[seq - 1] != KW_COUNTS_NOT)
                return -ENOTSUP;
        rc = kw_months_add(m, kw_sold_month(at), &month);
        if (rc)
                return rc;
        m->counts[seq - 1] = counts;
        month->entries++;
        make_stale(month);
        return 0;
}

static int count_again(struct kw_months *m, struct kw_ledger *l, int64_t first, int64_t last)
{
        for (int64_t seq = first; seq <= last; seq++)
                uncount(m, seq);
        return kw_each_counted(l, first, last, count, m);
}

int kw_months_room(struct kw_months *m, int64_t size)
{
        size_t cap = m->cap ? m->cap : 4096;
        int32_t *bigger;

        while (cap < (size_t)size)
                cap += cap / 2;
        if (cap != m->cap) {
                bigger = reallocarray(m->counts, cap, sizeof(*bigger));
                if (!bigger)
                        return -ENOMEM;
                m->counts = bigger;
                m->cap = cap;
        }
        for (int64_t i = m->size; i < size; i++)
                m->counts[i] = KW_COUNTS_NOT;
        return 0;
}

/* --- following the ledger ---------------------------------------------------------------------------- */

struct again {
        struct kw_months *m;
        struct kw_ledger *l;
};

static int count_one_again(void *ctx, int64_t seq)
{
        const struct again *a = ctx;

        return count_again(a->m, a->l, seq, seq);
}

/* Return: as kw_each_changed(), with all as it was. */
static int follow(struct kw_months *m, struct kw_ledger *l, int64_t size, enum kw_told by)
{
        struct again again = {m, l};
        int rc = 0;

        if (m->begun && size == m->size)
                return 0;
        rc = kw_months_room(m, size);
        if (rc == 0 && m->begun)
                rc = kw_each_changed(l, m->undone, m->size, size, by, count_one_again, &again);
        if (rc == -EAGAIN)
                return rc;
        if (rc == -ESTALE) {
                if (m->untold)
                        m->fault = "something was put right after it was written";
                kw_months_drop(m);
                rc = kw_months_room(m, size);
        }
        if (rc == 0)
                rc = count_again(m, l, m->size + 1, size);
        if (rc) { /* what was noted so far is not all */
                kw_months_drop(m);
                return rc;
        }
        m->size = size;
        m->begun = true;
        m->untold = false;
        return 0;
}

static int look_again(struct kw_ledger *l, struct kw_error *err)
{
        kw_ledger_done(l);
        return kw_ledger_look(l, err);
}

/* With the lock held: noted is what the view says. The writer may be about to tell what its last commit undid. */
static int follow_view(struct kw_months *m, struct kw_ledger *l, struct kw_error *err)
{
        const struct timespec wait = {.tv_nsec = WAIT_NS};
        int rc = m->looked ? 0 : kw_months_load(m, l);

        if (rc)
                return rc;
        rc = -EAGAIN;
        for (int i = 0; rc == -EAGAIN && i < TRIES; i++) {
                struct kw_head head;

                rc = i ? look_again(l, err) : 0;
                if (rc == 0)
                        rc = kw_ledger_head(l, &head, err);
                if (rc)
                        return rc;
                rc = head.size < m->size ? -EAGAIN
                                         : follow(m, l, head.size,
                                                  i + 1 == TRIES ? KW_TOLD_BY_NOBODY
                                                  : m->untold    ? KW_TOLD_SINCE
                                                                 : KW_TOLD);
                if (rc == -EAGAIN)
                        nanosleep(&wait, NULL);
        }
        if (rc != -EAGAIN)
                return rc == -ENOTSUP ? -EAGAIN : rc;
        kw_months_drop(m);
        return rc;
}

int kw_months_hold(struct kw_months *m, struct kw_ledger *ledger, struct kw_error *err)
{
        int rc;

        pthread_mutex_lock(&m->lock);
        rc = follow_view(m, ledger, err);
        if (rc)
                pthread_mutex_unlock(&m->lock);
        return rc;
}

void kw_months_give(struct kw_months *m)
{
        pthread_mutex_unlock(&m->lock);
}

void kw_months_figures(struct kw_months *m, struct kw_months_figures *out)
{
        pthread_mutex_lock(&m->lock);
        *out = (struct kw_months_figures){.size = m->size};
        for (size_t i = 0; i < m->n; i++) {
                out->entries += m->months[i].entries;
                out->fresh += m->months[i].fresh ? m->months[i].entries : 0;
        }
        pthread_mutex_unlock(&m->lock);
}
