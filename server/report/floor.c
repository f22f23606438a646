/*
 * The floor, for the shop terminal: what runs on which machine, what is loaded on it, what came off; and the orders.
 */
#include "put.h"

#include "ledger/read/floor.h"

#define HEATS_SHOWN  12
#define ORDERS_SHOWN 500

/* Where on the output the join before the feed was seen. */
static int64_t seen_at(const struct kw_line *line, const struct kw_feed *feed)
{
        for (size_t k = 1; k + 1 < line->n_points; k++)
                if (line->points[k].v == feed->v0)
                        return line->points[k].s;
        return KW_NONE;
}

static int put_feed(struct kw_reader *r, const struct kw_run_row *run, size_t line, size_t i, struct kw_buf *out)
{
        const struct kw_feed *feed = &run->map.lines[line].feeds[i];
        const struct kw_lot_row *lot;
        const char *weld = NULL, *made_by = NULL, *const * heats;
        size_t n;
        int rc = kw_read_lot(r, feed->lot, &lot);

        if (rc == 0 && i > 0)
                rc = kw_read_weld_before(r, run, line, i, &weld, &made_by);
        if (rc == 0)
                rc = kw_read_heats_in(r, lot, &heats, &n);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "lot", lot->code);
        kw_put_string(out, "kind", lot->kind);
        kw_put_int(out, "from_mm", feed->from);
        kw_put_int(out, "to_mm", feed->to);
        kw_put_string(out, "off", feed->off == KW_OFF_INNER ? "inner" : "outer");
        kw_put_string(out, "weld", weld);
        kw_put_string(out, "join", made_by);
        kw_put_number(out, "seen_at_mm", seen_at(&run->map.lines[line], feed));
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_string(out, "grade", lot->grade);
        kw_put_texts(out, "heats", heats, n < HEATS_SHOWN ? n : HEATS_SHOWN);
        kw_put_object_end(out);
        return 0;
}

static int put_lines(struct kw_reader *r, const struct kw_run_row *run, struct kw_buf *out)
{
        int rc = 0;

        kw_put_array(out, "lines");
        for (size_t i = 0; rc == 0 && i < run->map.n_lines; i++) {
                const struct kw_line *line = &run->map.lines[i];
                int64_t length = 0;

                for (size_t k = 0; k < line->n_feeds; k++)
                        length += line->feeds[k].to - line->feeds[k].from;
                kw_put_object(out, NULL);
                kw_put_string(out, "line", line->label);
                kw_put_int(out, "length_mm", length);
                kw_put_array(out, "feeds");
                for (size_t k = 0; rc == 0 && k < line->n_feeds; k++)
                        rc = put_feed(r, run, i, k, out);
                kw_put_array_end(out);
                kw_put_array(out, "seen_mm");
                for (size_t k = 1; k + 1 < line->n_points; k++)
                        kw_put_int(out, NULL, line->points[k].s);
                kw_put_array_end(out);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_packages(struct kw_reader *r, const struct kw_run_row *run, struct kw_buf *out)
{
        int rc = 0;

        kw_put_array(out, "packages");
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_package *p = &run->map.packages[i];
                const struct kw_lot_row *lot = NULL;

                if (p->lot)
                        rc = kw_read_lot(r, p->lot, &lot);
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", lot ? lot->code : NULL);
                kw_put_string(out, "kind", lot ? lot->kind : "scrap");
                kw_put_int(out, "length_mm", p->s1 - p->s0);
                kw_put_int(out, "s0", p->s0);
                kw_put_int(out, "s1", p->s1);
                kw_put_number(out, "mass_g", lot ? lot->mass_g : KW_NONE);
                kw_put_time(out, "doffed", run->packages[i].doffed);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_steps(struct kw_reader *r, const struct kw_run_row *run, struct kw_buf *out)
{
        const struct kw_step_row *steps;
        size_t n;
        int rc = kw_read_steps(r, run, &steps, &n);

        kw_put_array(out, "steps");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_int(out, "seq", steps[i].seq);
                kw_put_string(out, "key", steps[i].key);
                kw_put_string(out, "kind", steps[i].kind);
                kw_put_time(out, "at", steps[i].at);
                kw_put_time(out, "logged", steps[i].logged);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_run(struct kw_reader *r, const struct kw_run_row *run, struct kw_buf *out)
{
        int64_t made = run->map.n_packages ? run->map.packages[run->map.n_packages - 1].s1 : 0;
        int rc;

        kw_put_object(out, NULL);
        kw_put_string(out, "run", run->code);
        kw_put_string(out, "process", run->process);
        kw_put_string(out, "machine", run->machine);
        kw_put_time(out, "started", run->started);
        kw_put_string(out, "order", run->order);
        kw_put_int(out, "seq", run->seq);
        kw_put_int(out, "length_mm", made);
        rc = put_lines(r, run, out);
        if (rc == 0)
                rc = put_packages(r, run, out);
        if (rc == 0)
                rc = put_steps(r, run, out);
        kw_put_object_end(out);
        return rc;
}

static int put_machines(struct kw_reader *r, struct kw_buf *out)
{
        const struct kw_machine_row *machines;
        size_t n;
        int rc = kw_read_machines(r, &machines, &n);

        kw_put_array(out, "machines");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "machine", machines[i].machine);
                kw_put_string(out, "process", machines[i].process);
                kw_put_time(out, "last", machines[i].last);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

int kw_answer_floor(struct kw_ledger *ledger, const char *machine, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_run_row *const *runs;
        struct kw_reader *r = NULL;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = kw_read_under_way(r, machine, &runs, &n);
        kw_put_object(out, NULL);
        kw_put_array(out, "runs");
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = put_run(r, runs[i], out);
        kw_put_array_end(out);
        if (rc == 0)
                rc = put_machines(r, out);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}

int kw_answer_orders(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_order_row *orders;
        struct kw_reader *r = NULL;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = kw_read_orders(r, ORDERS_SHOWN, &orders, &n);
        kw_put_object(out, NULL);
        kw_put_array(out, "orders");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "order", orders[i].code);
                kw_put_string(out, "customer", orders[i].customer);
                kw_put_string(out, "process", orders[i].process);
                kw_put_string(out, "grade", orders[i].grade);
                kw_put_number(out, "diameter_um", orders[i].diameter_um);
                kw_put_number(out, "diameter_tolerance_um", orders[i].tolerance_um);
                kw_put_string(out, "construction", orders[i].construction);
                kw_put_number(out, "tensile_grade_kpa", orders[i].tensile_kpa);
                kw_put_number(out, "joint_distance_mm", orders[i].joint_mm);
                kw_put_bool(out, "one_heat", orders[i].one_heat);
                kw_put_string(out, "machine", orders[i].machine);
                kw_put_raw(out, "pieces", orders[i].pieces ? orders[i].pieces : "[]");
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}
