/*
 * What is going on on the floor: runs under way and their steps, the machines, the orders.
 */
#include "floor.h"

#include "reader.h"

#include <errno.h>

int kw_read_under_way(struct kw_reader *r, const char *machine, const struct kw_run_row *const **runs, size_t *n)
{
        struct kw_list ids = {0}, list = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT id FROM run WHERE under_way = 1 AND (?1 IS NULL OR machine = ?1) ORDER BY machine, id",
                        "t", machine);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *id = kw_list_more(&r->arena, &ids, sizeof(*id));

                rc = id ? 0 : -ENOMEM;
                if (id)
                        *id = kw_int(&q, 0);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < ids.n; i++) {
                const struct kw_run_row **run = kw_list_more(&r->arena, &list, sizeof(*run));

                rc = run ? kw_read_run(r, ((const int64_t *)ids.at)[i], run) : -ENOMEM;
        }
        *runs = list.at;
        *n = list.n;
        return rc;
}

static int64_t stamp(struct kw_query *q, int column)
{
        int64_t seconds;

        return kw_stamp_read(kw_text(q, column), &seconds) ? KW_NONE : seconds;
}

int kw_read_steps(struct kw_reader *r, const struct kw_run_row *run, const struct kw_step_row **steps, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT e.seq, e.at, e.logged, e.key, e.kind FROM entry e WHERE e.seq = ?1 UNION ALL"
                        " SELECT e.seq, e.at, e.logged, e.key, e.kind FROM step s JOIN entry e ON e.seq = s.seq"
                        " WHERE s.run_seq = ?1 ORDER BY 1",
                        "i", run->seq);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_step_row *step = kw_list_more(&r->arena, &list, sizeof(*step));

                rc = step ? 0 : -ENOMEM;
                if (step)
                        *step = (struct kw_step_row){.seq = kw_int(&q, 0),
                                                     .at = stamp(&q, 1),
                                                     .logged = stamp(&q, 2),
                                                     .key = kw_keep_text(r, &q, 3, &failed),
                                                     .kind = kw_keep_text(r, &q, 4, &failed)};
        }
        kw_end(&q);
        *steps = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/*
 * The machines by stepping from one code to the next, and of each what it did last: by an index, so that it takes no
 * longer when the runs are twenty years old.
 */
static const char machines_sql[] =
        "WITH RECURSIVE ran (machine) AS (SELECT min(machine) FROM run UNION ALL"
        "  SELECT (SELECT min(machine) FROM run WHERE machine > c.machine) FROM ran c WHERE c.machine IS NOT NULL),"
        " treated (machine) AS (SELECT min(machine) FROM batch UNION ALL SELECT"
        "  (SELECT min(machine) FROM batch WHERE machine > c.machine) FROM treated c WHERE c.machine IS NOT NULL)"
        " SELECT machine, process, max(at) FROM ("
        "  SELECT d.machine, d.process, d.at FROM ran c CROSS JOIN run d ON d.id IN"
        "   (SELECT id FROM run i WHERE i.machine = c.machine ORDER BY i.at DESC LIMIT ?1)"
        "  UNION ALL SELECT d.machine, d.process, d.at FROM treated c CROSS JOIN batch d ON d.id IN"
        "   (SELECT id FROM batch i WHERE i.machine = c.machine ORDER BY i.at DESC LIMIT ?1))"
        " GROUP BY machine, process ORDER BY process, machine";

int kw_read_machines(struct kw_reader *r, const struct kw_machine_row **machines, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, machines_sql, "i", (int64_t)KW_MACHINE_LOOKS);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_machine_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_machine_row){.machine = kw_keep_text(r, &q, 0, &failed),
                                                       .process = kw_keep_text(r, &q, 1, &failed),
                                                       .last = kw_int(&q, 2)};
        }
        kw_end(&q);
        *machines = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

static void take_order(struct kw_reader *r, struct kw_query *q, struct kw_order_row *row, bool *failed)
{
        *row = (struct kw_order_row){.code = kw_keep_text(r, q, 0, failed),
                                     .customer = kw_keep_text(r, q, 1, failed),
                                     .process = kw_keep_text(r, q, 2, failed),
                                     .grade = kw_keep_text(r, q, 3, failed),
                                     .construction = kw_keep_text(r, q, 4, failed),
                                     .machine = kw_keep_text(r, q, 5, failed),
                                     .pieces = kw_keep_text(r, q, 6, failed),
                                     .diameter_um = kw_int_or(q, 7, KW_NONE),
                                     .tolerance_um = kw_int_or(q, 8, KW_NONE),
                                     .one_heat = kw_int(q, 9) != 0,
                                     .tensile_kpa = kw_int_or(q, 10, KW_NONE),
                                     .joint_mm = kw_int_or(q, 11, KW_NONE),
                                     .seq = kw_int(q, 12)};
}

#define ORDER                                                                                                \
        "SELECT o.code, o.customer, o.process, o.grade, o.construction, o.machine, o.pieces, o.diameter_um," \
        " o.tolerance_um, o.one_heat, o.tensile_kpa, o.joint_mm, o.seq FROM work_order o"

int kw_read_order(struct kw_reader *r, const char *code, const struct kw_order_row **out)
{
        struct kw_order_row *row = NULL;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, ORDER " JOIN thing t ON t.id = o.id WHERE t.type = 'order' AND t.code = ?1", "t",
                        code);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                row = kw_arena_get(&r->arena, sizeof(*row));
                rc = row ? 0 : -ENOMEM;
        }
        if (row)
                take_order(r, &q, row, &failed);
        kw_end(&q);
        *out = row;
        return failed ? -ENOMEM : rc;
}

int kw_read_orders(struct kw_reader *r, size_t most, const struct kw_order_row **orders, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, ORDER " ORDER BY o.id DESC LIMIT ?1", "i", (int64_t)most);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_order_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        take_order(r, &q, row, &failed);
        }
        kw_end(&q);
        *orders = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}
