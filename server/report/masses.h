#ifndef KW_REPORT_MASSES_H
#define KW_REPORT_MASSES_H
/*
 * A balance of mass while it is put together: masses.c keeps the sums, masses_run.c, masses_heat.c and masses_time.c
 * fill them, masses_write.c writes them out. Over a time it is put together of tallies (tally.c), of which months.c
 * keeps one a month.
 *
 * In whole grams, in = out + unaccounted. What was weighed is taken as weighed; a part of a lot has its part of the
 * lot's mass by length; scrap of a run, which nobody weighs, has the mass of what lies in it.
 */
#include "put.h"

#include "kinwire/balance.h"
#include "kinwire/months.h"
#include "ledger/read/period.h"

enum kw_side { KW_IN, KW_OUT };

/** Mass of one sort: "sent to C-17", "fed: bobbins". Sums of what has the same side, what, type, code and kind. */
struct kw_mass_row {
        enum kw_side side;
        const char *what;        /* received, fed, made, scrap, sample, sent, left, stock, machine */
        const char *type, *code; /* of a thing; NULL */
        const char *kind;        /* of lots, or a process */
        int64_t lots, length_mm;
        int64_t mass_g;
        int64_t computed_g; /* of that, not weighed */
};

/** What a run lost, or gained. */
struct kw_mass_run {
        int64_t id;
        int64_t in_g, out_g, allowed_g; /* of what the balance is about */
};

struct kw_mass_balance {
        struct kw_reader *r;    /* NULL in a tally */
        struct kw_arena *arena; /* of what is kept in it */
        struct kw_list rows, runs;
        int64_t sum_g[2];  /* by side */
        int64_t allowed_g; /* by the tolerances of runs */
        int64_t unknown;   /* lots whose mass is not known */
};

/** kw_mass_add - Return: 0; -ENOMEM. Texts are copied. */
int kw_mass_add(struct kw_mass_balance *b, const struct kw_mass_row *row);
/** kw_mass_lot_part - grams of [from, to] of a lot; 0 where its mass is not known. */
int64_t kw_mass_lot_part(const struct kw_lot_row *lot, int64_t from, int64_t to);
/** kw_mass_computed - of @g grams of a lot those that were not weighed. */
int64_t kw_mass_computed(const struct kw_lot_row *lot, int64_t g);
/** kw_mass_lost - note what a run lost. */
int kw_mass_lost(struct kw_mass_balance *b, const struct kw_run_row *run, int64_t in_g, int64_t out_g);

/** Where the mass that went into a run came out. Free with kw_run_mass_free(). */
struct kw_run_mass {
        const struct kw_run_row *run;
        int64_t in_g;
        int64_t *in_package_g; /* of each package, of what went in */
        int64_t *package_g;    /* as weighed or computed; of scrap, what went in */
        int64_t machine_g;     /* of a run under way: what went in and did not come out yet */
        int64_t unknown;
};
int kw_run_mass(struct kw_reader *r, const struct kw_run_row *run, struct kw_run_mass *out);
void kw_run_mass_free(struct kw_run_mass *m);

int kw_balance_of_run(struct kw_mass_balance *b, const char *code, struct kw_error *err);
int kw_balance_of_lot(struct kw_mass_balance *b, const char *code, struct kw_error *err);
int kw_balance_of_heat(struct kw_mass_balance *b, const char *code, struct kw_error *err);
/** @machine: NULL: the whole mill, with what came and went. @months: of this ledger, held, or NULL. */
int kw_balance_of_time(struct kw_mass_balance *b, struct kw_ledger *ledger, struct kw_months *months,
                       const char *machine, const struct kw_period *in);

/** What of a balance is asked for. */
struct kw_mass_question {
        const char *origin; /* as asked */
        bool timed;
        struct kw_period in;
        bool csv;
};
/** kw_mass_write - Return: 0; a negative errno. */
int kw_mass_write(struct kw_mass_balance *b, const struct kw_mass_question *q, const struct kw_head *head,
                  struct kw_buf *out);

#endif
