/*
 * Months summed up one after the other, and given to a balance.
 */
#include "months_inside.h"

#include "kinwire/index.h"
#include "kinwire/ledger.h"
#include "kinwire/sold.h"

#include <errno.h>
#include <stdlib.h>

#define AT_ONCE 50 /* entries that one reader keeps, and for which the index is held: the writer waits for that, a ms \
                    */
#define IN_PLACE 10000 /* entries of stale months that a question sums up itself: half a second's work */
#define IDS      4096  /* ids of an entry: seq * 4096 + a number within it */

/* --- summing up --------------------------------------------------------------------------------------- */

/* What of a month's entries is summed up. */
struct summing {
        struct kw_ledger *ledger;
        struct kw_reader *r;    /* of the moment */
        struct kw_index *index; /* held by it, or NULL */
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

static void end_reading(struct summing *s)
{
        kw_reader_free(s->r);
        if (s->index)
                kw_index_give(s->index);
        s->r = NULL;
        s->index = NULL;
}

/* What lots are is quicker asked of the index, as long as that stands where the view does. */
static int begin_reading(struct summing *s)
{
        int rc;

        end_reading(s);
        rc = kw_reader_new(s->ledger, &s->r);
        if (rc)
                return rc;
        s->index = kw_ledger_take_index(s->ledger);
        kw_reader_hold(s->r, s->index);
        return 0;
}

static int add_entry(struct summing *s, int64_t seq, enum kw_counts what)
{
        static int (*const add[])(struct summing * s, int64_t seq) = {
                [KW_COUNTS_RUN] = add_run,
                [KW_COUNTS_RECEIVED] = add_received,
                [KW_COUNTS_TAKEN] = add_taken,
        };
        int rc = 0;

        if (s->read++ % AT_ONCE == 0)
                rc = begin_reading(s);
        return rc ? rc : add[what](s, seq);
}

/* An entry of a month, as the step takes them along. */
struct counted {
        int64_t seq;
        enum kw_counts what;
};

static int list_of(const struct kw_months *m, const struct kw_month *month, struct counted **out)
{
        struct counted *list = calloc((size_t)month->entries + 1, sizeof(*list));
        int64_t n = 0;

        if (!list)
                return -ENOMEM;
        for (int64_t i = 0; i < m->size && n < month->entries; i++) {
                if (m->counts[i] != KW_COUNTS_NOT && kw_month_of(m->counts[i]) == month->month)
                        list[n++] = (struct counted){i + 1, kw_sort_of(m->counts[i])};
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
        end_reading(&s);
        if (rc) {
                kw_month_drop(t);
                return rc;
        }
        *out = t;
        return 0;
}

/* With the lock held. @in: NULL, the whole month. */
static int sum_month(const struct kw_months *m, struct kw_ledger *l, const struct kw_month *month,
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

static void keep(struct kw_month *month, struct kw_tally *tally)
{
        kw_month_drop(month->tally);
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
                struct kw_month *month;

                pthread_mutex_lock(&m->lock);
                month = kw_months_find(m, task.month);
                if (month && month->staled == task.staled)
                        keep(month, tally);
                else
                        kw_month_drop(tally);
                pthread_mutex_unlock(&m->lock);
        }
        free(task.list);
        return rc;
}

/* --- an answer ---------------------------------------------------------------------------------------- */

static bool whole(const struct kw_month *month, const struct kw_period *in)
{
        return in->since <= kw_sold_month_begins(month->month) && in->until >= kw_sold_month_begins(month->month + 1);
}

static bool meets(const struct kw_month *month, const struct kw_period *in)
{
        return in->since < kw_sold_month_begins(month->month + 1) && in->until > kw_sold_month_begins(month->month);
}

static int add_month(struct kw_months *m, struct kw_ledger *l, struct kw_month *month, const char *machine,
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
        kw_month_drop(part);
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
