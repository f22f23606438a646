/*
 * When a package was wound: what a machine made in a window of time.
 *
 *      run started    doffed A          doffed B        run ended
 *           |------ A -----|------ B -------|----- C -----|
 *
 * A package's winding time runs from the last known time before its start to the first known time at or after its end.
 * A run whose beginning nobody wrote down cannot have begun before the run before it on that machine had ended; one
 * whose end nobody wrote down was over when its entry says that it happened. A run made under a batch that has no times
 * of its own was in the machine for as long as the batch.
 */
#include "reader.h"

#include <errno.h>
#include <string.h>

struct times {
        int64_t from, to;
};

/* What is known of a run's beginning and end. */
struct bounds {
        int64_t started, ended; /* KW_NONE: not known */
};

/* A run of the machine, as far as the window asks. */
struct ran {
        int64_t id, at;
        int64_t end;  /* ended, or when its entry says it happened */
        bool outside; /* its beginning and its end are known, and the window has nothing of it */
};

/* The machine that is asked about, in the order in which its runs ended. */
struct floor {
        const struct kw_origin *window;
        const struct ran *runs;
        size_t n;
};

/* --- the run before ------------------------------------------------------------------------------- */

static int64_t end_before(const struct floor *floor, int64_t at)
{
        size_t low = 0, high = floor->n;

        while (low < high) {
                size_t middle = (low + high) / 2;

                if (floor->runs[middle].end < at)
                        low = middle + 1;
                else
                        high = middle;
        }
        while (low-- > 0) {
                if (floor->runs[low].at < at)
                        return floor->runs[low].end;
        }
        return INT64_MIN;
}

static int end_of_earlier_run(struct kw_reader *r, const struct floor *floor, const struct kw_run_row *run,
                              int64_t *out)
{
        if (strcmp(run->machine, floor->window->code) == 0) {
                *out = end_before(floor, run->at);
                return 0;
        }
        return kw_one(
                r->ledger, out, INT64_MIN,
                "SELECT max(coalesce(ended, at)) FROM run WHERE machine = ?1 AND at < ?2 AND coalesce(ended, at) < ?2",
                "ti", run->machine, run->at);
}

static int batch_bounds(struct kw_reader *r, int64_t batch, struct bounds *out)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT started, ended FROM batch WHERE id = ?1", "i", batch);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1)
                *out = (struct bounds){kw_int_or(&q, 0, KW_NONE), kw_int_or(&q, 1, KW_NONE)};
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

static bool has_own_times(const struct kw_run_row *run)
{
        bool own = run->started != KW_NONE || run->ended != KW_NONE;

        for (size_t i = 0; i < run->map.n_packages && !own; i++)
                own = run->packages[i].doffed != KW_NONE;
        return own;
}

static int run_bounds(struct kw_reader *r, const struct floor *floor, const struct kw_run_row *run, struct bounds *out)
{
        int rc = 0;

        *out = (struct bounds){run->started, run->ended};
        if (run->batch && !has_own_times(run))
                rc = batch_bounds(r, run->batch, out);
        if (rc == 0 && out->started == KW_NONE)
                rc = end_of_earlier_run(r, floor, run, &out->started);
        if (out->ended == KW_NONE)
                out->ended = run->at;
        return rc;
}

/* --- a package's time ------------------------------------------------------------------------------- */

static struct times winding_time(const struct kw_run_row *run, const struct bounds *bounds, size_t package)
{
        struct times t = {bounds->started, bounds->ended};

        for (size_t i = package; i-- > 0;) {
                if (run->packages[i].doffed != KW_NONE) {
                        t.from = run->packages[i].doffed;
                        break;
                }
        }
        for (size_t i = package; i < run->map.n_packages; i++) {
                if (run->packages[i].doffed != KW_NONE) {
                        t.to = run->packages[i].doffed;
                        break;
                }
        }
        if (t.to < t.from)
                t.to = t.from;
        return t;
}

enum when { WHEN_NOT, WHEN_IN_PART, WHEN_WHOLLY };

/* Two times that only touch share none; an instant is in the window or not. */
static enum when when_in(const struct kw_origin *window, struct times t)
{
        if (t.from >= window->since && t.to <= window->until)
                return WHEN_WHOLLY;
        if (window->since == window->until)
                return t.from <= window->since && window->since <= t.to ? WHEN_IN_PART : WHEN_NOT;
        return t.from < window->until && t.to > window->since ? WHEN_IN_PART : WHEN_NOT;
}

static int add_run(struct kw_reader *r, int64_t id, const struct floor *floor, struct kw_hits *out)
{
        const struct kw_run_row *run;
        struct bounds bounds;
        int rc = kw_read_run(r, id, &run);

        if (rc || !run)
                return rc;
        rc = run_bounds(r, floor, run, &bounds);
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_package *package = &run->map.packages[i];
                enum when when = when_in(floor->window, winding_time(run, &bounds, i));

                if (package->lot && when != WHEN_NOT)
                        rc = kw_hits_add(out, package->lot, 0, package->s1 - package->s0,
                                         when == WHEN_WHOLLY ? KW_CERTAIN : KW_POSSIBLE);
        }
        return rc;
}

/* --- the machine ------------------------------------------------------------------------------------ */

static int read_runs(struct kw_reader *r, const struct kw_origin *window, struct floor *floor)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT id, at, coalesce(ended, at) AS gone, started > ?3 OR ended < ?2 FROM run WHERE machine = ?1"
                " ORDER BY gone, at",
                "tii", window->code, window->since, window->until);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct ran *ran = kw_list_more(&r->arena, &list, sizeof(*ran));

                rc = ran ? 0 : -ENOMEM;
                if (ran)
                        *ran = (struct ran){.id = kw_int(&q, 0),
                                            .at = kw_int(&q, 1),
                                            .end = kw_int(&q, 2),
                                            .outside = kw_int_or(&q, 3, 0) != 0};
        }
        kw_end(&q);
        *floor = (struct floor){.window = window, .runs = list.at, .n = list.n};
        return rc;
}

static int read_ids(struct kw_reader *r, const char *sql, const char *machine, struct kw_list *ids)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, sql, "t", machine);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *id = kw_list_more(&r->arena, ids, sizeof(*id));

                rc = id ? 0 : -ENOMEM;
                if (id)
                        *id = kw_int(&q, 0);
        }
        kw_end(&q);
        return rc;
}

/* A batch was in the machine from its beginning to its end, or at the one time that is known. */
static int add_batch(struct kw_reader *r, int64_t batch, const struct kw_origin *window, struct kw_hits *out)
{
        struct times t = {0, 0};
        enum when when;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT coalesce(started, at), coalesce(ended, at) FROM batch WHERE id = ?1",
                        "i", batch);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1)
                t = (struct times){kw_int(&q, 0), kw_int(&q, 1)};
        kw_end(&q);
        if (rc <= 0)
                return rc;
        if (t.to < t.from)
                t.to = t.from;
        when = when_in(window, t);
        return when == WHEN_NOT ? 0 : kw_treated_hits(r, batch, when == WHEN_WHOLLY ? KW_CERTAIN : KW_POSSIBLE, out);
}

int kw_machine_hits(struct kw_reader *r, const struct kw_origin *origin, struct kw_hits *out, struct kw_error *err)
{
        struct kw_list batches = {0}, elsewhere = {0};
        struct floor floor;
        int rc = read_runs(r, origin, &floor);

        if (rc == 0)
                rc = read_ids(r, "SELECT id FROM batch WHERE machine = ?1 ORDER BY at", origin->code, &batches);
        if (rc == 0)
                rc = read_ids(r,
                              "SELECT r.id FROM batch b JOIN run r ON r.batch = b.id WHERE b.machine = ?1 AND "
                              "r.machine <> ?1",
                              origin->code, &elsewhere);
        if (rc == 0 && !floor.n && !batches.n)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "machine", KW_VALUES(KW_WORD("code", origin->code)),
                                      "no machine %s is named in any run or batch", origin->code);
        for (size_t i = 0; rc == 0 && i < floor.n; i++)
                rc = floor.runs[i].outside ? 0 : add_run(r, floor.runs[i].id, &floor, out);
        for (size_t i = 0; rc == 0 && i < elsewhere.n; i++)
                rc = add_run(r, ((int64_t *)elsewhere.at)[i], &floor, out);
        for (size_t i = 0; rc == 0 && i < batches.n; i++)
                rc = add_batch(r, ((int64_t *)batches.at)[i], origin, out);
        return rc;
}
