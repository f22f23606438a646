/*
 * Months in a file beside the ledger.
 *
 *      counts of each entry | months: month, entries, tally where it is fresh
 *
 * A tally: boxes of machine, sums, rows and runs. Runs are most of it, 32 bytes each, and kept as they lie in memory.
 */
#include "months_inside.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define FORM "months 1" /* and what is summed up: another number for another tally of the same entries */

/* --- a tally ------------------------------------------------------------------------------------------- */

static void keep_row(const struct kw_mass_row *row, struct kw_buf *out)
{
        kw_kept_put_int(out, row->side);
        kw_kept_put_text(out, row->what);
        kw_kept_put_text(out, row->type);
        kw_kept_put_text(out, row->code);
        kw_kept_put_text(out, row->kind);
        kw_kept_put_int(out, row->lots);
        kw_kept_put_int(out, row->length_mm);
        kw_kept_put_int(out, row->mass_g);
        kw_kept_put_int(out, row->computed_g);
}

static void keep_sums(const struct kw_mass_balance *b, struct kw_buf *out)
{
        const struct kw_mass_row *rows = b->rows.at;

        kw_kept_put_int(out, b->sum_g[KW_IN]);
        kw_kept_put_int(out, b->sum_g[KW_OUT]);
        kw_kept_put_int(out, b->allowed_g);
        kw_kept_put_int(out, b->unknown);
        kw_kept_put_int(out, (int64_t)b->rows.n);
        for (size_t i = 0; i < b->rows.n; i++)
                keep_row(&rows[i], out);
        kw_kept_put_int(out, (int64_t)b->runs.n);
        kw_kept_put_array(out, b->runs.at, b->runs.n * sizeof(struct kw_mass_run));
}

void kw_tally_keep(const struct kw_tally *t, struct kw_buf *out)
{
        struct kw_tally_box *const *boxes = t->boxes.at;

        kw_kept_put_int(out, (int64_t)t->boxes.n);
        for (size_t i = 0; i < t->boxes.n; i++) {
                kw_kept_put_text(out, boxes[i]->machine);
                keep_sums(&boxes[i]->sums, out);
        }
}

static const char *text_of(struct kw_arena *arena, struct kw_kept *k, bool *failed)
{
        return kw_arena_text(arena, kw_kept_text(k), failed);
}

static int row_of(struct kw_mass_balance *b, struct kw_kept *k)
{
        struct kw_mass_row *row = kw_list_more(b->arena, &b->rows, sizeof(*row));
        bool failed = false;

        if (!row)
                return -ENOMEM;
        row->side = kw_kept_int(k) == KW_IN ? KW_IN : KW_OUT;
        row->what = text_of(b->arena, k, &failed);
        row->type = text_of(b->arena, k, &failed);
        row->code = text_of(b->arena, k, &failed);
        row->kind = text_of(b->arena, k, &failed);
        row->lots = kw_kept_int(k);
        row->length_mm = kw_kept_int(k);
        row->mass_g = kw_kept_int(k);
        row->computed_g = kw_kept_int(k);
        k->failed = k->failed || (!row->what && !failed);
        return failed ? -ENOMEM : 0;
}

static int runs_of(struct kw_mass_balance *b, struct kw_kept *k)
{
        const size_t n = kw_kept_count(k, sizeof(struct kw_mass_run));

        if (!n)
                return 0;
        b->runs.at = kw_arena_get(b->arena, n * sizeof(struct kw_mass_run));
        if (!b->runs.at)
                return -ENOMEM;
        b->runs.n = b->runs.cap = n;
        kw_kept_array(k, b->runs.at, n * sizeof(struct kw_mass_run));
        return 0;
}

static int sums_of(struct kw_mass_balance *b, struct kw_kept *k)
{
        size_t n;
        int rc = 0;

        b->sum_g[KW_IN] = kw_kept_int(k);
        b->sum_g[KW_OUT] = kw_kept_int(k);
        b->allowed_g = kw_kept_int(k);
        b->unknown = kw_kept_int(k);
        n = kw_kept_count(k, sizeof(int64_t));
        for (size_t i = 0; rc == 0 && i < n && !k->failed; i++)
                rc = row_of(b, k);
        return rc ? rc : runs_of(b, k);
}

int kw_tally_kept(struct kw_tally *t, struct kw_kept *k)
{
        const size_t n = kw_kept_count(k, sizeof(int64_t));
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < n && !k->failed; i++) {
                struct kw_mass_balance *sums;

                rc = kw_tally_box(t, kw_kept_text(k), &sums);
                if (rc == 0)
                        rc = sums_of(sums, k);
        }
        return rc;
}

/* --- all months ----------------------------------------------------------------------------------------- */

static int month_of(struct kw_months *m, struct kw_kept *k)
{
        struct kw_month *month;
        int rc = kw_months_add(m, (int32_t)kw_kept_int(k), &month);

        if (rc)
                return rc;
        month->entries = kw_kept_int(k);
        if (!kw_kept_int(k))
                return 0;
        month->tally = calloc(1, sizeof(*month->tally));
        if (!month->tally)
                return -ENOMEM;
        month->fresh = true;
        return kw_tally_kept(month->tally, k);
}

/* Each month has as many entries as it says. */
static bool agrees(const struct kw_months *m)
{
        int64_t counted = 0, said = 0;

        for (int64_t i = 0; i < m->size; i++)
                counted += m->counts[i] != KW_COUNTS_NOT;
        for (size_t i = 0; i < m->n; i++)
                said += m->months[i].entries;
        return counted == said;
}

static int take_over(struct kw_months *m, struct kw_kept *k)
{
        size_t n;
        int rc = kw_months_room(m, k->size);

        if (rc)
                return rc;
        kw_kept_array(k, m->counts, (size_t)k->size * sizeof(*m->counts));
        m->size = k->size;
        n = kw_kept_count(k, 3 * sizeof(int64_t));
        for (size_t i = 0; rc == 0 && i < n && !k->failed; i++)
                rc = month_of(m, k);
        return rc ? rc : kw_kept_whole(k) && agrees(m) ? 0 : -EIO;
}

static int64_t fresh_entries(const struct kw_months *m)
{
        int64_t n = 0;

        for (size_t i = 0; i < m->n; i++)
                n += m->months[i].fresh ? m->months[i].entries : 0;
        return n;
}

int kw_months_load(struct kw_months *m, struct kw_ledger *ledger)
{
        struct kw_kept k;
        int rc;

        m->looked = true;
        if (!m->file || kw_kept_open(m->file, FORM, ledger, &k, &m->fault))
                return 0;
        rc = take_over(m, &k);
        if (rc) {
                kw_months_drop(m);
                m->fault = rc == -EIO ? "it is damaged" : NULL;
        } else {
                m->begun = m->untold = true;
                m->saved = m->size;
                m->saved_fresh = fresh_entries(m);
        }
        kw_kept_close(&k);
        return rc == -ENOMEM ? rc : 0;
}

const char *kw_months_fault(struct kw_months *m)
{
        const char *fault;

        pthread_mutex_lock(&m->lock);
        fault = m->fault;
        m->fault = NULL;
        pthread_mutex_unlock(&m->lock);
        return fault;
}

/* With the lock held. */
static void write_out(const struct kw_months *m, struct kw_buf *out)
{
        kw_kept_put_array(out, m->counts, (size_t)m->size * sizeof(*m->counts));
        kw_kept_put_int(out, (int64_t)m->n);
        for (size_t i = 0; i < m->n; i++) {
                const struct kw_month *month = &m->months[i];

                kw_kept_put_int(out, month->month);
                kw_kept_put_int(out, month->entries);
                kw_kept_put_int(out, month->fresh);
                if (month->fresh)
                        kw_tally_keep(month->tally, out);
        }
}

/* With the lock held: what a start from the file would have to find out, or could not. Return: 1; 0; a negative errno.
 */
static int worth_it(const struct kw_months *m, struct kw_ledger *ledger, int64_t grown)
{
        if (m->saved < 0 || m->size - m->saved >= grown || fresh_entries(m) - m->saved_fresh >= grown)
                return 1;
        return m->size > m->saved ? kw_any_put_right(ledger, m->saved + 1, m->size) : 0;
}

int kw_months_save(struct kw_months *m, struct kw_ledger *ledger, int64_t grown, struct kw_error *err)
{
        struct kw_buf out = {0};
        int64_t size = 0, fresh = 0;
        bool worth = false;
        int rc = m->file ? kw_ledger_look(ledger, err) : 0;

        if (rc || !m->file)
                return rc;
        rc = kw_months_hold(m, ledger, err);
        if (rc == 0) {
                rc = worth_it(m, ledger, grown);
                worth = rc == 1;
                size = m->size;
                fresh = fresh_entries(m);
                if (worth)
                        write_out(m, &out);
                kw_months_give(m);
        }
        if (worth)
                rc = kw_kept_save(m->file, FORM, ledger, size, &out);
        kw_ledger_done(ledger);
        kw_buf_free(&out);
        if (worth && rc == 0) {
                pthread_mutex_lock(&m->lock);
                m->saved = size;
                m->saved_fresh = fresh;
                pthread_mutex_unlock(&m->lock);
        }
        return rc;
}
