/*
 * Months summed up.
 *
 *      counts:  entry -> the month and the sort of what it adds          months: month -> tally, fresh or stale
 *
 * What changes counts makes the month before and the month after stale. A month is summed up from a list of its
 * entries, so that nothing is looked for; one step does that with the lock released, and what it made is thrown away
 * when the month became stale again meanwhile.
 */
#include "months.h"

#include "kinwire/ledger.h"
#include "kinwire/sold.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <time.h>

#define TRIES    50
#define WAIT_NS  2000000
#define AT_ONCE  200   /* entries that one reader keeps */
#define IN_PLACE 10000 /* entries of stale months that a question sums up itself: half a second's work */
#define IDS      4096  /* ids of an entry: seq * 4096 + a number within it */
#define SORTS    3     /* of what counts: a run, a receipt, what was taken */

struct month {
        int32_t month;
        bool fresh;
        int64_t entries; /* that count in it */
        uint64_t staled; /* how often it became stale */
        struct kw_tally *tally;
};

struct kw_months {
        pthread_mutex_t lock;
        struct kw_undone *undone;
        bool begun;
        int64_t size;
        /* of entry i + 1: month * SORTS + sort, or NOTHING */
        int32_t *counts;
        size_t cap;
        struct month *months; /* in order */
        size_t n, cap_months;
};

#define NOTHING INT32_MIN

static int32_t month_of(int32_t count)
{
        return count >= 0 ? count / SORTS : -((-count + SORTS - 1) / SORTS);
}

static enum kw_counts sort_of(int32_t count)
{
        return (enum kw_counts)(count - month_of(count) * SORTS);
}

int kw_months_new(struct kw_undone *undone, struct kw_months **out)
{
        struct kw_months *m = calloc(1, sizeof(*m));

        if (!m)
                return -ENOMEM;
        m->undone = undone;
        pthread_mutex_init(&m->lock, NULL);
        *out = m;
        return 0;
}

static void drop_tally(struct kw_tally *t)
{
        if (t)
                kw_tally_free(t);
        free(t);
}

static void drop_all(struct kw_months *m)
{
        for (size_t i = 0; i < m->n; i++)
                drop_tally(m->months[i].tally);
        m->n = 0;
        m->size = 0;
        m->begun = false;
}

void kw_months_free(struct kw_months *m)
{
        if (!m)
                return;
        drop_all(m);
        free(m->months);
        free(m->counts);
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

static struct month *find(struct kw_months *m, int32_t month)
{
        const size_t at = place_of(m, month);

        return at < m->n && m->months[at].month == month ? &m->months[at] : NULL;
}

static int find_or_add(struct kw_months *m, int32_t month, struct month **out)
{
        const size_t at = place_of(m, month);

        *out = find(m, month);
        if (*out)
                return 0;
        if (m->n == m->cap_months) {
                const size_t cap = m->cap_months ? 2 * m->cap_months : 64;
                struct month *bigger = reallocarray(m->months, cap, sizeof(*bigger));

                if (!bigger)
                        return -ENOMEM;
                m->months = bigger;
                m->cap_months = cap;
        }
        for (size_t i = m->n++; i > at; i--)
                m->months[i] = m->months[i - 1];
        m->months[at] = (struct month){.month = month};
        *out = &m->months[at];
        return 0;
}

static void make_stale(struct month *month)
{
        month->fresh = false;
        month->staled++;
}

static void uncount(struct kw_months *m, int64_t seq)
{
        int32_t *count = &m->counts[seq - 1];
        struct month *month = *count == NOTHING ? NULL : find(m, month_of(*count));

        *count = NOTHING;
        if (month) {
                month->entries--;
                make_stale(month);
        }
}

/* An entry is of one kind and of one time, so it counts once. */
static int count(void *ctx, int64_t seq, enum kw_counts what, int64_t at)
{
        struct kw_months *m = ctx;
        const int32_t counts = kw_sold_month(at) * SORTS + (int32_t)what;
        struct month *month;
        int rc;

        if (seq < 1 || (size_t)seq > m->cap)
                return -EIO;
        if (m->counts[seq - 1] == counts)
                return 0;
        if (m->counts[seq - 1] != NOTHING)
                return -ENOTSUP;
        rc = find_or_add(m, kw_sold_month(at), &month);
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

struct again {
        struct kw_months *m;
        struct kw_ledger *l;
};

static int count_run_again(void *ctx, int64_t seq)
{
        const struct again *a = ctx;

        return count_again(a->m, a->l, seq, seq);
}

static int make_room(struct kw_months *m, int64_t size)
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
                m->counts[i] = NOTHING;
        return 0;
}

static int go_on(struct kw_months *m, struct kw_ledger *l, int64_t size, const int64_t *undone, size_t n)
{
        struct again again = {m, l};
        int rc = make_room(m, size);

        if (rc == 0)
                rc = count_again(m, l, m->size + 1, size);
        if (rc == 0 && m->begun)
                rc = kw_each_step_of(l, m->size + 1, size, count_run_again, &again);
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = count_again(m, l, undone[i], undone[i]);
        if (rc) { /* what was noted so far is not all */
                drop_all(m);
                return rc;
        }
        m->size = size;
        m->begun = true;
        return 0;
}

static int follow(struct kw_months *m, struct kw_ledger *l, int64_t size)
{
        int64_t *undone = NULL;
        size_t n = 0;
        int rc = m->begun ? kw_undone_take(m->undone, m->size, size, &undone, &n) : 0;

        if (rc == -ESTALE) {
                drop_all(m);
                rc = 0;
        }
        if (rc == 0 && (!m->begun || size > m->size))
                rc = go_on(m, l, size, undone, n);
        free(undone);
        return rc;
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
        int rc = -EAGAIN;

        for (int i = 0; rc == -EAGAIN && i < TRIES; i++) {
                struct kw_head head;

                rc = i ? look_again(l, err) : 0;
                if (rc == 0)
                        rc = kw_ledger_head(l, &head, err);
                if (rc)
                        return rc;
                rc = head.size < m->size ? -EAGAIN : follow(m, l, head.size);
                if (rc == -EAGAIN)
                        nanosleep(&wait, NULL);
        }
        if (rc != -EAGAIN)
                return rc == -ENOTSUP ? -EAGAIN : rc;
        drop_all(m); /* another program writes, and nobody tells of it */
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

/* --- summing up --------------------------------------------------------------------------------------- */

/* What of a month's entries is summed up. */
struct summing {
        struct kw_ledger *ledger;
        struct kw_reader *r; /* of the moment */
        size_t read;
        const struct kw_period *in; /* NULL: the whole month */
        struct kw_tally *t;
};

static bool within(const struct summing *s, int64_t at)
{
        return !s->in || (at >= s->in->since && at < s->in->until);
}

static int add_run(struct summing *s, int64_t seq)
{
        const struct kw_run_row *run;
        int rc = kw_read_run(s->r, seq * IDS, &run);

        if (rc || !run)
                return rc ? rc : -EIO;
        return within(s, run->ended == KW_NONE ? run->at : run->ended) ? kw_tally_run(s->t, s->r, run) : 0;
}

static int add_received(struct summing *s, int64_t seq)
{
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(s->r, seq * IDS, &lot);

        if (rc || !lot)
                return rc ? rc : -EIO;
        return within(s, lot->at) ? kw_tally_received(s->t, s->r, lot) : 0;
}

static int add_taken(struct summing *s, int64_t seq)
{
        const struct kw_taken_row *taken;
        size_t n;
        int rc = kw_read_taken_by(s->r, seq, &taken, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                if (within(s, taken[i].at))
                        rc = kw_tally_taken(s->t, s->r, &taken[i]);
        }
        return rc;
}

static int add_entry(struct summing *s, int64_t seq, enum kw_counts what)
{
        static int (*const add[])(struct summing * s, int64_t seq) = {
                [KW_COUNTS_RUN] = add_run,
                [KW_COUNTS_RECEIVED] = add_received,
                [KW_COUNTS_TAKEN] = add_taken,
        };
        int rc = 0;

        if (!s->r || s->read++ % AT_ONCE == 0) {
                kw_reader_free(s->r);
                s->r = NULL;
                rc = kw_reader_new(s->ledger, &s->r);
        }
        return rc ? rc : add[what](s, seq);
}

/* An entry of a month, as the step takes them along. */
struct counted {
        int64_t seq;
        enum kw_counts what;
};

static int list_of(const struct kw_months *m, const struct month *month, struct counted **out)
{
        struct counted *list = calloc((size_t)month->entries + 1, sizeof(*list));
        int64_t n = 0;

        if (!list)
                return -ENOMEM;
        for (int64_t i = 0; i < m->size && n < month->entries; i++) {
                if (m->counts[i] != NOTHING && month_of(m->counts[i]) == month->month)
                        list[n++] = (struct counted){i + 1, sort_of(m->counts[i])};
        }
        *out = list;
        return 0;
}

static int sum_up(struct kw_ledger *l, const struct counted *list, int64_t n, const struct kw_period *in,
                  struct kw_tally **out)
{
        struct kw_tally *t = calloc(1, sizeof(*t));
        struct summing s = {.ledger = l, .in = in, .t = t};
        int rc = t ? 0 : -ENOMEM;

        for (int64_t i = 0; rc == 0 && i < n; i++)
                rc = add_entry(&s, list[i].seq, list[i].what);
        kw_reader_free(s.r);
        if (rc) {
                drop_tally(t);
                return rc;
        }
        *out = t;
        return 0;
}

/* With the lock held. @in: NULL, the whole month. */
static int sum_month(const struct kw_months *m, struct kw_ledger *l, const struct month *month,
                     const struct kw_period *in, struct kw_tally **out)
{
        struct counted *list;
        int rc = list_of(m, month, &list);

        if (rc)
                return rc;
        rc = sum_up(l, list, month->entries, in, out);
        free(list);
        return rc;
}

static void keep(struct month *month, struct kw_tally *tally)
{
        drop_tally(month->tally);
        month->tally = tally;
        month->fresh = true;
}

/* --- one month after the other -------------------------------------------------------------------------- */

/* A stale month and its entries, taken along. */
struct task {
        int32_t month;
        uint64_t staled;
        struct counted *list;
        int64_t n;
};

/* Return: 1, @task is to be done; 0, nothing is; a refusal; a negative errno. */
static int take_task(struct kw_months *m, struct kw_ledger *l, struct task *task, struct kw_error *err)
{
        int rc = kw_months_hold(m, l, err);
        size_t i;

        if (rc)
                return rc;
        for (i = m->n; i-- > 0 && m->months[i].fresh;)
                ;
        if (i < m->n) {
                *task = (struct task){
                        .month = m->months[i].month, .staled = m->months[i].staled, .n = m->months[i].entries};
                rc = list_of(m, &m->months[i], &task->list);
        }
        kw_months_give(m);
        return rc ? rc : i < m->n;
}

int kw_months_step(struct kw_months *m, struct kw_ledger *ledger, struct kw_error *err)
{
        struct kw_tally *tally = NULL;
        struct task task = {0};
        int rc = kw_ledger_look(ledger, err);

        if (rc == 0)
                rc = take_task(m, ledger, &task, err);
        if (rc == 1) {
                rc = sum_up(ledger, task.list, task.n, NULL, &tally);
                rc = rc ? rc : 1;
        }
        kw_ledger_done(ledger);
        if (tally) {
                struct month *month;

                pthread_mutex_lock(&m->lock);
                month = find(m, task.month);
                if (month && month->staled == task.staled)
                        keep(month, tally);
                else
                        drop_tally(tally);
                pthread_mutex_unlock(&m->lock);
        }
        free(task.list);
        return rc;
}

/* --- an answer ---------------------------------------------------------------------------------------- */

static bool whole(const struct month *month, const struct kw_period *in)
{
        return in->since <= kw_sold_month_begins(month->month) && in->until >= kw_sold_month_begins(month->month + 1);
}

static bool meets(const struct month *month, const struct kw_period *in)
{
        return in->since < kw_sold_month_begins(month->month + 1) && in->until > kw_sold_month_begins(month->month);
}

static int add_month(struct kw_months *m, struct kw_ledger *l, struct month *month, const char *machine,
                     const struct kw_period *in, struct kw_mass_balance *b, int64_t *growth_g)
{
        struct kw_tally *part = NULL;
        int rc = 0;

        if (!whole(month, in)) {
                rc = sum_month(m, l, month, in, &part);
        } else if (!month->fresh) {
                struct kw_tally *tally;

                rc = sum_month(m, l, month, NULL, &tally);
                if (rc == 0)
                        keep(month, tally);
        }
        if (rc == 0)
                rc = kw_tally_into(part ? part : month->tally, machine, b, growth_g);
        drop_tally(part);
        return rc;
}

int kw_months_into(struct kw_months *m, struct kw_ledger *ledger, const char *machine, const struct kw_period *in,
                   struct kw_mass_balance *b, int64_t *growth_g)
{
        int64_t stale = 0;
        int rc = 0;

        for (size_t i = 0; i < m->n; i++)
                stale += whole(&m->months[i], in) && !m->months[i].fresh ? m->months[i].entries : 0;
        if (stale > IN_PLACE)
                return -EINPROGRESS;
        for (size_t i = 0; rc == 0 && i < m->n; i++) {
                if (meets(&m->months[i], in))
                        rc = add_month(m, ledger, &m->months[i], machine, in, b, growth_g);
        }
        return rc;
}
