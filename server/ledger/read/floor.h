#ifndef KW_READ_FLOOR_H
#define KW_READ_FLOOR_H
/* What is going on on the floor: runs under way, machines, orders. */
#include "read.h"

/** A step of a run that is logged as it happens, with what is needed to take it back. */
struct kw_step_row {
        int64_t seq, at, logged;
        const char *key, *kind;
};

/** kw_read_under_way - the runs under way, on @machine only where that is not NULL, in order of machine. */
int kw_read_under_way(struct kw_reader *r, const char *machine, const struct kw_run_row *const **runs, size_t *n);
/** kw_read_steps - the entry that opened a run and its steps, in order. */
int kw_read_steps(struct kw_reader *r, const struct kw_run_row *run, const struct kw_step_row **steps, size_t *n);
struct kw_machine_row {
        const char *machine, *process;
        int64_t last;
};
#define KW_MACHINE_LOOKS 200
/** kw_read_machines - every machine with each process of its last KW_MACHINE_LOOKS runs and as many batches, and when it
 * last did that. */
int kw_read_machines(struct kw_reader *r, const struct kw_machine_row **machines, size_t *n);

struct kw_order_row {
        const char *code, *customer, *process, *grade, *construction, *machine, *pieces;
        int64_t diameter_um, tolerance_um;
        bool one_heat;
        int64_t tensile_kpa, joint_mm;
        int64_t seq;
};
/** kw_read_order - by code; *@out is NULL when there is no such order. */
int kw_read_order(struct kw_reader *r, const char *code, const struct kw_order_row **out);
/** kw_read_orders - newest first, @most at most. */
int kw_read_orders(struct kw_reader *r, size_t most, const struct kw_order_row **orders, size_t *n);

#endif
