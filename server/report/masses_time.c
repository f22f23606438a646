/*
 * The balance of a machine, or of the whole mill, over a time: of the months that are kept where there are, else of
 * everything of that time.
 */
#include "months.h"

#include <errno.h>

#define AT_ONCE 200 /* runs or lots that one reader keeps, so that memory does not grow with the time asked about */

struct reading {
        struct kw_tally *t;
        struct kw_ledger *ledger;
        struct kw_reader *r; /* of the moment */
        size_t read;
};

/* A fresh reader now and then; rows of the one before are gone. */
static int refresh(struct reading *x)
{
        if (x->r && x->read++ % AT_ONCE)
                return 0;
        kw_reader_free(x->r);
        x->r = NULL;
        return kw_reader_new(x->ledger, &x->r);
}

static int add_runs(struct reading *x, struct kw_reader *lists, const char *machine, const struct kw_period *in)
{
        const struct kw_run_row *run;
        const int64_t *ids;
        size_t n;
        int rc = kw_read_runs_in(lists, machine, in, &ids, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = refresh(x);
                if (rc == 0)
                        rc = kw_read_run(x->r, ids[i], &run);
                if (rc == 0)
                        rc = run ? kw_tally_run(x->t, x->r, run) : -EIO;
        }
        return rc;
}

static int add_received(struct reading *x, struct kw_reader *lists, const struct kw_period *in)
{
        const struct kw_lot_row *lot;
        const int64_t *ids;
        size_t n;
        int rc = kw_read_received_in(lists, in, &ids, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = refresh(x);
                if (rc == 0)
                        rc = kw_read_lot(x->r, ids[i], &lot);
                if (rc == 0 && lot)
                        rc = kw_tally_received(x->t, x->r, lot);
        }
        return rc;
}

static int add_taken(struct reading *x, struct kw_reader *lists, const struct kw_period *in)
{
        const struct kw_taken_row *taken;
        size_t n;
        int rc = kw_read_taken_in(lists, in, &taken, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = refresh(x);
                if (rc == 0)
                        rc = kw_tally_taken(x->t, x->r, &taken[i]);
        }
        return rc;
}

static int of_everything(struct kw_mass_balance *b, struct kw_ledger *ledger, const char *machine,
                         const struct kw_period *in, int64_t *growth_g)
{
        struct kw_tally t = {0};
        struct reading x = {.t = &t, .ledger = ledger};
        int rc = machine ? 0 : add_received(&x, b->r, in);

        if (rc == 0)
                rc = add_runs(&x, b->r, machine, in);
        if (rc == 0 && !machine)
                rc = add_taken(&x, b->r, in);
        if (rc == 0)
                rc = kw_tally_into(&t, machine, b, growth_g);
        kw_reader_free(x.r);
        kw_tally_free(&t);
        return rc;
}

int kw_balance_of_time(struct kw_mass_balance *b, struct kw_ledger *ledger, struct kw_months *months,
                       const char *machine, const struct kw_period *in)
{
        int64_t growth_g = 0;
        int rc = months ? kw_months_into(months, ledger, machine, in, b, &growth_g)
                        : of_everything(b, ledger, machine, in, &growth_g);

        return rc || machine ? rc : kw_tally_growth(b, growth_g);
}
