/*
 * Gaps about metal and runs: heats, masses, positions, times.
 */
#include "gaps_inside.h"

#include <errno.h>

/* Metal received without a heat (a core may be of fibre, which has none), and what a run made out of nothing. */
int kw_gaps_no_heat(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT 'lot', l.code, l.seq, l.length_mm, 'received', l.id, 0, l.length_mm FROM entry e"
                        " CROSS JOIN lot l ON l.id = e.seq * 4096 WHERE e.kind = 'receive' AND l.heat IS NULL"
                        " AND l.kind <> 'core' ORDER BY e.seq",
                        "");

        rc = kw_gap_take(s, &q, rc);
        if (rc)
                return rc;
        rc = kw_ask(s->r->ledger, &q,
                    "SELECT 'run', r.code, r.seq, r.length_mm, 'made', l.id, 0, l.length_mm FROM run r"
                    " LEFT JOIN package p ON p.run = r.id AND p.lot <> 0 LEFT JOIN lot l ON l.id = p.lot"
                    " WHERE r.under_way = 0 AND NOT EXISTS (SELECT 1 FROM feed f WHERE f.run = r.id) ORDER BY r.id",
                    "");
        return kw_gap_take(s, &q, rc);
}

int kw_gaps_heat_papers(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT 'heat', h.code, h.seq, NULL, CASE WHEN mill_certificate IS NOT NULL THEN 'analysis'"
                        " WHEN analysis IS NOT NULL THEN 'certificate' ELSE 'both' END, l.id, 0, l.length_mm"
                        " FROM heat h LEFT JOIN lot l ON l.heat = h.id"
                        " WHERE h.mill_certificate IS NULL OR h.analysis IS NULL ORDER BY h.id",
                        "");

        return kw_gap_take(s, &q, rc);
}

/* What was found when the run was recorded, and runs whose masses can't be held against each other at all. */
int kw_gaps_balance(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT 'run', r.code, r.seq, NULL, f.text, l.id, 0, l.length_mm FROM finding f"
                        " JOIN run r ON r.id BETWEEN f.seq * 4096 AND f.seq * 4096 + 4095 LEFT JOIN package p ON p.run "
                        "= r.id LEFT JOIN lot l ON l.id = p.lot"
                        " WHERE f.code = 'mass-balance' ORDER BY r.id",
                        "");

        rc = kw_gap_take(s, &q, rc);
        if (rc)
                return rc;
        rc = kw_ask(s->r->ledger, &q,
                    /* from the lots whose mass is not known, which is one look at each lot, not one at each feed */
                    "WITH bare (id) AS (SELECT run FROM lot WHERE mass_g IS NULL AND run IS NOT NULL"
                    "  UNION SELECT f.run FROM lot l CROSS JOIN feed f ON f.lot = l.id WHERE l.mass_g IS NULL)"
                    " SELECT 'run', r.code, r.seq, NULL, NULL, l.id, 0, l.length_mm FROM bare b CROSS JOIN run r"
                    " ON r.id = b.id LEFT JOIN package p ON p.run = r.id LEFT JOIN lot l ON l.id = p.lot"
                    " WHERE r.under_way = 0 ORDER BY r.id",
                    "");
        return kw_gap_take(s, &q, rc);
}

int kw_gaps_no_times(struct kw_gap_search *s)
{
        struct kw_query q;
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT 'run', r.code, r.seq, NULL, CASE WHEN r.started IS NOT NULL THEN 'ended'"
                        " WHEN r.ended IS NOT NULL THEN 'started' ELSE 'both' END, l.id, 0, l.length_mm FROM run r"
                        " LEFT JOIN package p ON p.run = r.id LEFT JOIN lot l ON l.id = p.lot"
                        " WHERE r.under_way = 0 AND (r.started IS NULL OR r.ended IS NULL) ORDER BY r.id",
                        "");

        return kw_gap_take(s, &q, rc);
}

/* --- positions by proportion ------------------------------------------------------------------------ */

/*
 * A run while its feeds go by, line after line. Between two known points a and b of a line everything is placed by
 * proportion; when a joint lies there that nobody saw pass, and b - a is a long way, the packages on it are in doubt.
 *
 *      output s   0-----a=====?=====b--------S      a, b: seen; ?: joint not seen
 */
struct stretch {
        struct kw_gap_search *s;
        int64_t run, line, length_mm;
        int64_t a;                 /* the last known point */
        bool unseen;               /* joints since then that were not seen */
        struct kw_spans long_ones; /* of the run, on s */
        int64_t longest;
};

static int end_piece(struct stretch *st, int64_t b)
{
        int rc = 0;

        if (st->unseen && b - st->a > st->s->settings->long_mm) {
                if (b - st->a > st->longest)
                        st->longest = b - st->a;
                rc = kw_spans_add(&st->long_ones, st->a, b);
        }
        st->a = b;
        st->unseen = false;
        return rc;
}

static int seed_packages(struct stretch *st)
{
        struct kw_query q;
        int rc = kw_ask(st->s->r->ledger, &q,
                        "SELECT lot, s0, s1 FROM package WHERE run = ?1 AND lot <> 0 ORDER BY ord", "i", st->run);

        while (rc == 0 && (rc = kw_next(st->s->r->ledger, &q)) == 1) {
                int64_t s0 = kw_int(&q, 1), s1 = kw_int(&q, 2);

                rc = 0;
                for (size_t i = 0; rc == 0 && i < st->long_ones.n; i++) {
                        struct kw_span on = st->long_ones.at[i];
                        int64_t from = on.from > s0 ? on.from : s0, to = on.to < s1 ? on.to : s1;

                        if (from < to)
                                rc = kw_gap_seed(st->s, kw_int(&q, 0), from - s0, to - s0);
                }
        }
        kw_end(&q);
        return rc;
}

static int end_run(struct stretch *st)
{
        struct kw_query q;
        int rc = st->run ? end_piece(st, st->length_mm) : 0;

        if (rc == 0 && st->long_ones.n) {
                kw_spans_unite(&st->long_ones);
                rc = kw_ask(st->s->r->ledger, &q, "SELECT code, seq FROM run WHERE id = ?1", "i", st->run);
                if (rc == 0 && (rc = kw_next(st->s->r->ledger, &q)) == 1)
                        rc = kw_gap_add(st->s, "run", kw_text(&q, 0), kw_int(&q, 1), st->longest, NULL);
                kw_end(&q);
                if (rc == 0)
                        rc = seed_packages(st);
        }
        kw_spans_clear(&st->long_ones);
        st->longest = 0;
        return rc;
}

int kw_gaps_proportion(struct kw_gap_search *s)
{
        struct stretch st = {.s = s};
        struct kw_query q;
        /* in the order of the table's own key: nothing is sorted */
        int rc = kw_ask(s->r->ledger, &q,
                        "SELECT f.run, f.line, f.ord, f.seen_mm, r.length_mm FROM feed f CROSS JOIN run r"
                        " ON r.id = f.run WHERE r.under_way = 0 ORDER BY f.run, f.line, f.ord",
                        "");

        while (rc == 0 && (rc = kw_next(s->r->ledger, &q)) == 1) {
                const bool other_run = kw_int(&q, 0) != st.run;

                rc = 0;
                if (other_run)
                        rc = end_run(&st);
                else if (kw_int(&q, 1) != st.line)
                        rc = end_piece(&st, st.length_mm);
                if (rc)
                        break;
                if (other_run || kw_int(&q, 1) != st.line) {
                        st.run = kw_int(&q, 0);
                        st.line = kw_int(&q, 1);
                        st.length_mm = kw_int(&q, 4);
                        st.a = 0;
                        st.unseen = false;
                } else if (kw_is_null(&q, 3)) {
                        st.unseen = true;
                } else {
                        rc = end_piece(&st, kw_int(&q, 3));
                }
        }
        kw_end(&q);
        if (rc == 0)
                rc = end_run(&st);
        kw_spans_free(&st.long_ones);
        return rc;
}
