/*
 * The length that a failed test makes doubtful: in the run that made the lot, from the last sample before it that
 * passed in the same property to the first after it.
 *
 *      output s   0--------g-------------F------------g'---------S      g, g': good samples; F: the failed one
 *      doubtful            |=========================|
 *
 * A sample's place is that of its lot on the output and its own on the lot. Where nobody wrote down the place on the
 * lot, a sample may have been anywhere on its package: a good one then counts at the far end of it, a failed one at
 * both ends. A retest of the failed test is no good sample beside it: it repeats the same metal, and leaves the length
 * as doubtful as it was.
 */
#include "reader.h"

#include <errno.h>

struct bracket {
        struct kw_span failed; /* where the failed sample was taken, on s */
        struct kw_span good;   /* the good places on either side */
};

/* A good sample anywhere on @place of the output. */
static void tighten(struct bracket *b, struct kw_span place)
{
        bool point = place.from == place.to;

        if ((point ? place.to < b->failed.from : place.to <= b->failed.from) && place.from > b->good.from)
                b->good.from = place.from;
        if ((point ? place.from > b->failed.to : place.from >= b->failed.to) && place.to < b->good.to)
                b->good.to = place.to;
}

static struct kw_span place_of(int64_t s0, int64_t s1, int64_t at_mm)
{
        return at_mm == KW_NONE ? (struct kw_span){s0, s1} : (struct kw_span){s0 + at_mm, s0 + at_mm};
}

/* All properties that a test has a result for, each with its own bracket; what they leave doubtful is united. */
static int read_good(struct kw_reader *r, const struct kw_run_row *run, int64_t test, const char *property,
                     struct bracket *b)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT p.s0, p.s1, t.at_mm FROM package p JOIN test t ON t.lot = p.lot"
                        " CROSS JOIN result x ON x.test = t.id AND x.property = ?2"
                        " WHERE p.run = ?1 AND p.lot <> 0 AND t.verdict = 'pass' AND t.id NOT IN"
                        " (WITH RECURSIVE again (id) AS (SELECT ?3 UNION SELECT r.id FROM again"
                        " JOIN test r ON r.retest_of = again.id) SELECT id FROM again)",
                        "iti", run->id, property, test);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                tighten(b, place_of(kw_int(&q, 0), kw_int(&q, 1), kw_int_or(&q, 2, KW_NONE)));
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static int read_properties(struct kw_reader *r, int64_t test, struct kw_list *names)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT property FROM result WHERE test = ?1", "i", test);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                const char **name = kw_list_more(&r->arena, names, sizeof(*name));

                rc = name ? 0 : -ENOMEM;
                if (name)
                        *name = kw_keep_text(r, &q, 0, &failed);
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

int kw_failed_test_hits(struct kw_reader *r, int64_t test, const struct kw_lot_row *lot, int64_t at_mm,
                        struct kw_hits *out)
{
        struct kw_list names = {0};
        struct kw_spans doubtful = {0};
        const struct kw_run_row *run;
        int rc = kw_read_run(r, lot->run, &run);

        if (rc || !run)
                return rc;
        rc = read_properties(r, test, &names);
        for (size_t i = 0; rc == 0 && i < names.n; i++) {
                struct bracket b = {.failed = place_of(lot->s0, lot->s0 + lot->length_mm, at_mm),
                                    .good = {0, run->map.length_mm}};

                rc = read_good(r, run, test, ((const char **)names.at)[i], &b);
                if (rc == 0)
                        rc = kw_spans_add(&doubtful, b.good.from, b.good.to);
        }
        if (rc == 0) {
                kw_spans_unite(&doubtful);
                rc = kw_output_spans(&run->map, &doubtful, KW_POSSIBLE, out);
        }
        kw_spans_free(&doubtful);
        return rc;
}
