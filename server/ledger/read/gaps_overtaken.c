/*
 * Gaps of certificates in force over what came after them.
 *
 * Whether a certificate is overtaken is said by its own page (certificates.c), which follows its reels back. That would
 * be asked of every certificate there is, so first it is looked for which may be: from each hold, correction and failed
 * test forward to the reels that it reaches, of which those that were certified before it are suspects. That is at
 * least all that are marked; each suspect is then asked, and only what its page says counts.
 */
#include "gaps_inside.h"

#include "certify.h"

#include "kinwire/index.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A reel of a certificate in force. */
struct certified {
        int64_t lot, certificate, seq;
};

struct looking {
        struct kw_gap_search *s;
        struct certified *reels; /* in order of lot */
        size_t n;
        int64_t first;       /* certificate's entry */
        struct kw_list over; /* ids of certificates, one perhaps more than once */
};

static int by_lot(const void *a, const void *b)
{
        const struct certified *x = a, *y = b;

        return x->lot < y->lot ? -1 : x->lot > y->lot;
}

/* The certificates over this lot that are older than what entry @seq says. */
static int suspect_of(struct looking *x, int64_t lot, int64_t seq)
{
        size_t low = 0, high = x->n;

        while (low < high) {
                const size_t mid = (low + high) / 2;

                if (x->reels[mid].lot < lot)
                        low = mid + 1;
                else
                        high = mid;
        }
        for (; low < x->n && x->reels[low].lot == lot; low++) {
                int64_t *id;

                if (x->reels[low].seq >= seq)
                        continue;
                id = kw_list_more(&x->s->r->arena, &x->over, sizeof(*id));
                if (!id)
                        return -ENOMEM;
                *id = x->reels[low].certificate;
        }
        return 0;
}

static int read_standing(struct looking *x)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = kw_ask(x->s->r->ledger, &q,
                        "SELECT x.lot, c.id, c.seq FROM certificate c JOIN certificate_reel x ON x.certificate = c.id"
                        " WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE w.certificate = c.id)"
                        " AND NOT EXISTS (SELECT 1 FROM certificate n WHERE n.replaces = c.id)",
                        "");

        x->first = INT64_MAX;
        while (rc == 0 && (rc = kw_next(x->s->r->ledger, &q)) == 1) {
                struct certified *reel = kw_list_more(&x->s->r->arena, &list, sizeof(*reel));

                rc = reel ? 0 : -ENOMEM;
                if (!reel)
                        break;
                *reel = (struct certified){kw_int(&q, 0), kw_int(&q, 1), kw_int(&q, 2)};
                if (reel->seq < x->first)
                        x->first = reel->seq;
        }
        kw_end(&q);
        x->reels = list.at;
        x->n = list.n;
        if (x->n)
                qsort(x->reels, x->n, sizeof(*x->reels), by_lot);
        return rc;
}

/* --- forward to the reels --------------------------------------------------------------------------------- */

struct reaching {
        struct looking *x;
        int64_t seq;
};

static int reach_one(void *ctx, struct kw_hit *hit)
{
        const struct reaching *to = ctx;

        return hit->reach.possible.n ? suspect_of(to->x, hit->lot, to->seq) : 0;
}

/* All that was made of what is in @hits. @r: of the moment */
static int reach(struct looking *x, struct kw_reader *r, struct kw_hits *hits, int64_t seq)
{
        int rc = x->s->index && kw_hits_count(hits) ? kw_index_forward(x->s->index, hits) : -EOVERFLOW;

        if (rc == -EOVERFLOW)
                rc = kw_trace_forward(kw_reader_genealogy(r), hits, NULL);
        return rc ? rc : kw_hits_each(hits, reach_one, &(struct reaching){x, seq});
}

/* Lengths of lots, out of a statement that gives lot, from and to. */
static int add_spans(struct kw_ledger *l, struct kw_query *q, int rc, struct kw_hits *hits)
{
        while (rc == 0 && (rc = kw_next(l, q)) == 1)
                rc = kw_hits_add(hits, kw_int(q, 0), kw_int(q, 1), kw_int(q, 2), KW_CERTAIN);
        kw_end(q);
        return rc;
}

/* Lots themselves, out of a statement that gives them. */
static int add_lots(struct looking *x, struct kw_query *q, int rc, int64_t seq)
{
        while (rc == 0 && (rc = kw_next(x->s->r->ledger, q)) == 1)
                rc = suspect_of(x, kw_int(q, 0), seq);
        kw_end(q);
        return rc;
}

/* Something that an entry says against metal. */
struct against {
        int64_t seq;
        int64_t what;      /* a hold, the entry that was put right, a test */
        const char *trace; /* a hold's question, or NULL */
};

/* All of one sort that came after the first certificate. */
static int each_against(struct looking *x, const char *sql,
                        int (*fn)(struct looking *x, struct kw_reader *r, const struct against *a))
{
        struct kw_reader *own = x->s->r;
        struct kw_list list = {0};
        const struct against *all;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(own->ledger, &q, sql, "i", x->first);

        while (rc == 0 && (rc = kw_next(own->ledger, &q)) == 1) {
                struct against *a = kw_list_more(&own->arena, &list, sizeof(*a));

                rc = a ? 0 : -ENOMEM;
                if (a)
                        *a = (struct against){kw_int(&q, 0), kw_int(&q, 1), kw_keep_text(own, &q, 2, &failed)};
        }
        kw_end(&q);
        rc = failed ? -ENOMEM : rc;
        all = list.at;
        for (size_t i = 0; rc == 0 && i < list.n; i++) {
                struct kw_reader *r = NULL; /* what is read for one is not kept for the next */

                rc = x->s->stop && atomic_load(x->s->stop) ? -ECANCELED : kw_reader_new(own->ledger, &r);
                if (rc == 0)
                        rc = fn(x, r, &all[i]);
                kw_reader_free(r);
        }
        return rc;
}

/* --- holds, failed tests, corrections ----------------------------------------------------------------------- */

/* What it bars, and what its question starts from. */
static int from_hold(struct looking *x, struct kw_reader *r, const struct against *a)
{
        struct kw_hits *hits = kw_hits_new();
        struct kw_query q;
        int rc = hits ? 0 : -ENOMEM;

        if (rc == 0) {
                rc = kw_ask(r->ledger, &q, "SELECT lot, from_mm, to_mm FROM hold_span WHERE hold = ?1", "i", a->what);
                rc = add_spans(r->ledger, &q, rc, hits);
        }
        if (rc == 0 && a->trace)
                rc = kw_read_asked_metal(r, a->trace, hits);
        if (rc == 0)
                rc = reach(x, r, hits, a->seq);
        kw_hits_free(hits);
        return rc;
}

/* A failed test counts for what was cut from its lot. */
static int from_failed(struct looking *x, struct kw_reader *r, const struct against *a)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "WITH RECURSIVE cut (lot) AS (SELECT lot FROM test WHERE id = ?1 UNION"
                        " SELECT p.lot FROM cut JOIN feed f ON f.lot = cut.lot JOIN run r ON r.id = f.run"
                        " AND r.process = 'cut' JOIN package p ON p.run = r.id AND p.lot <> 0) SELECT lot FROM cut",
                        "i", a->what);

        return add_lots(x, &q, rc, a->seq);
}

/* Entry ?1 made this metal, or says what it is; a certificate rests on all that its reels were made of. */
static const char *const metal[] = {
        "SELECT id, 0, length_mm FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT l.id, 0, l.length_mm FROM heat h JOIN lot l ON l.heat = h.id WHERE h.seq = ?1",
        "SELECT l.id, 0, l.length_mm FROM supply s JOIN lot l ON l.supply = s.id WHERE s.seq = ?1",
        "SELECT l.id, 0, l.length_mm FROM package p JOIN lot l ON l.id = p.lot WHERE p.run = ?1 * 4096",
        "SELECT l.id, 0, l.length_mm FROM step s JOIN package p ON p.run = s.run_seq * 4096 JOIN lot l ON l.id = p.lot"
        " WHERE s.seq = ?1",
        "SELECT lot, from_mm, to_mm FROM release_span WHERE seq = ?1",
};

/* It is about these reels themselves. */
static const char *const papers[] = {
        "SELECT lot FROM test WHERE seq = ?1",
        "SELECT x.lot FROM test t JOIN certificate_test c ON c.test = t.id JOIN certificate_reel x"
        " ON x.certificate = c.certificate WHERE t.seq = ?1",
        "SELECT p.lot FROM work_order o JOIN run r ON r.ord = o.code JOIN package p ON p.run = r.id WHERE o.seq = ?1",
        "SELECT x.lot FROM work_order o JOIN certificate_reel x JOIN lot l ON l.id = x.lot AND l.ord = o.code"
        " WHERE o.seq = ?1",
        "SELECT x.lot FROM spec s JOIN certificate_reel x JOIN lot l ON l.id = x.lot AND l.kind = s.what"
        " WHERE s.seq = ?1",
};

static int from_corrected(struct looking *x, struct kw_reader *r, const struct against *a)
{
        struct kw_hits *hits = kw_hits_new();
        struct kw_query q;
        int rc = hits ? 0 : -ENOMEM;

        for (size_t i = 0; rc == 0 && i < sizeof(metal) / sizeof(*metal); i++) {
                rc = kw_ask(r->ledger, &q, metal[i], "i", a->what);
                rc = add_spans(r->ledger, &q, rc, hits);
        }
        for (size_t i = 0; rc == 0 && i < sizeof(papers) / sizeof(*papers); i++) {
                rc = kw_ask(r->ledger, &q, papers[i], "i", a->what);
                rc = add_lots(x, &q, rc, a->seq);
        }
        if (rc == 0)
                rc = reach(x, r, hits, a->seq);
        kw_hits_free(hits);
        return rc;
}

/* --- each is asked ---------------------------------------------------------------------------------------------- */

/* The gap of a certificate that is marked; its reels are the metal. */
static int ask_one(struct kw_gap_search *s, struct kw_reader *r, int64_t id)
{
        const struct kw_certificate_whole_row *c;
        const char *why = NULL, *code = NULL;
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT code FROM certificate WHERE id = ?1", "i", id);

        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                code = kw_keep_text(r, &q, 0, &failed);
                rc = failed ? -ENOMEM : 0;
        }
        kw_end(&q);
        if (rc == 0)
                rc = code ? kw_read_certificate(r, code, &c, NULL) : -EIO;
        if (rc || c->is != KW_CERTIFICATE_MARKED)
                return rc > 0 ? -EIO : rc;
        for (size_t i = 0; i < c->n_marks && !why; i++) {
                if (!c->marks[i].cleared)
                        why = kw_mark_text(c->marks[i].what);
        }
        rc = kw_gap_add(s, "certificate", c->code, c->seq, KW_NONE, why);
        for (size_t i = 0; rc == 0 && i < c->n_reels; i++)
                rc = kw_gap_seed(s, c->reels[i]->id, 0, c->reels[i]->length_mm);
        return rc;
}

static int by_id(const void *a, const void *b)
{
        const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

        return (x > y) - (x < y);
}

static int ask_suspects(struct looking *x)
{
        int64_t *over = x->over.at;
        int rc = 0;

        if (x->over.n)
                qsort(over, x->over.n, sizeof(*over), by_id);
        for (size_t i = 0; rc == 0 && i < x->over.n; i++) {
                struct kw_reader *r = NULL;

                if (i && over[i] == over[i - 1])
                        continue;
                rc = x->s->stop && atomic_load(x->s->stop) ? -ECANCELED : kw_reader_new(x->s->r->ledger, &r);
                if (rc == 0)
                        rc = ask_one(x->s, r, over[i]);
                kw_reader_free(r);
        }
        return rc;
}

int kw_gaps_overtaken(struct kw_gap_search *s)
{
        struct looking x = {.s = s};
        int rc = read_standing(&x);

        if (rc || !x.n)
                return rc;
        rc = each_against(&x, "SELECT seq, id, trace FROM hold WHERE seq > ?1 ORDER BY seq", from_hold);
        if (rc == 0)
                rc = each_against(&x, "SELECT seq, id, NULL FROM test WHERE verdict = 'fail' AND seq > ?1 ORDER BY seq",
                                  from_failed);
        if (rc == 0)
                rc = each_against(&x,
                                  "SELECT max(seq), target, NULL FROM correction WHERE seq > ?1 GROUP BY target"
                                  " ORDER BY target",
                                  from_corrected);
        return rc ? rc : ask_suspects(&x);
}
