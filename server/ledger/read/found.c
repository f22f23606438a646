/*
 * What a recall finds, and what a certificate walked back shows.
 */
#include "found.h"

#include "reader.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct finding {
        struct kw_reader *r;
        struct kw_found *out;
        struct kw_list consignments, consignees, unplaced; /* const char * */
};

static int keep(struct finding *f, struct kw_list *list, const char *text)
{
        const char **one;

        for (size_t i = 0; i < list->n; i++)
                if (strcmp(((const char *const *)list->at)[i], text) == 0)
                        return 0;
        one = kw_list_more(&f->r->arena, list, sizeof(*one));
        if (!one)
                return -ENOMEM;
        *one = text;
        return 0;
}

static void count(const struct kw_lot_row *lot, int64_t mm, struct kw_found_sum *sum)
{
        sum->mm += mm;
        if (lot->mass_g != KW_NONE && lot->length_mm > 0)
                sum->g += kw_share(lot->mass_g, mm, lot->length_mm);
}

/* How much of a span is affected. */
static int overlap(const struct kw_spans *possible, int64_t from, int64_t to, int64_t *mm)
{
        struct kw_span one = {from, to};
        const struct kw_spans span = {.at = &one, .n = 1};
        struct kw_spans both = {0};
        int rc = kw_spans_both(possible, &span, &both);

        *mm = kw_spans_total(&both);
        kw_spans_free(&both);
        return rc;
}

/* What was taken of it for good; what was fed is found in what came of it. */
static int count_taken(struct finding *f, const struct kw_lot_row *lot, const struct kw_spans *possible, int64_t *ends)
{
        const struct kw_claim_row *claims;
        int64_t mm;
        size_t n;
        int rc = kw_read_claims(f->r, lot, &claims, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                if (claims[i].what == KW_CLAIM_FEED)
                        continue;
                rc = overlap(possible, claims[i].from, claims[i].to, &mm);
                count(lot, mm, claims[i].what == KW_CLAIM_DISPATCH ? &f->out->sent : &f->out->lost);
                *ends += mm;
                if (rc == 0 && mm && claims[i].what == KW_CLAIM_DISPATCH && claims[i].code)
                        rc = keep(f, &f->consignments, claims[i].code);
        }
        return rc;
}

static int count_left(struct finding *f, const struct kw_lot_row *lot, const struct kw_spans *possible,
                      const struct kw_lot_state *state, int64_t *ends)
{
        struct kw_spans both = {0};
        int64_t mm;
        int rc = kw_spans_both(possible, &state->left, &both);

        mm = kw_spans_total(&both);
        kw_spans_free(&both);
        count(lot, mm, &f->out->left);
        *ends += mm;
        if (rc || !mm || state->location)
                return rc;
        count(lot, mm, &f->out->unplaced);
        return keep(f, &f->unplaced, lot->code);
}

static int count_hit(void *ctx, struct kw_hit *hit)
{
        struct finding *f = ctx;
        const struct kw_lot_row *lot;
        struct kw_lot_state state = {0};
        int64_t ends = 0;
        int rc = kw_read_lot(f->r, hit->lot, &lot);

        if (rc || !lot || !hit->reach.possible.n)
                return rc;
        rc = kw_read_state(f->r, lot, &state);
        if (rc == 0)
                rc = count_taken(f, lot, &hit->reach.possible, &ends);
        if (rc == 0)
                rc = count_left(f, lot, &hit->reach.possible, &state, &ends);
        if (rc == 0 && state.consignee)
                rc = keep(f, &f->consignees, state.consignee);
        f->out->lots++;
        f->out->certain += hit->reach.certain.n > 0;
        f->out->unweighed += ends > 0 && lot->mass_g == KW_NONE;
        return rc;
}

static int by_text(const void *a, const void *b)
{
        return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static void in_order(struct kw_list *list)
{
        if (list->n)
                qsort(list->at, list->n, sizeof(const char *), by_text);
}

int kw_read_found(struct kw_reader *r, int64_t lot, struct kw_found *out)
{
        struct finding f = {.r = r, .out = out};
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? kw_lot_hits(r, lot, KW_CERTAIN, hits) : -ENOMEM;

        memset(out, 0, sizeof(*out));
        if (rc == 0)
                rc = kw_trace_forward(kw_reader_genealogy(r), hits, NULL);
        if (rc == 0)
                rc = kw_hits_each(hits, count_hit, &f);
        kw_hits_free(hits);
        in_order(&f.consignments);
        in_order(&f.consignees);
        in_order(&f.unplaced);
        out->consignments = f.consignments.at;
        out->n_consignments = f.consignments.n;
        out->consignees = f.consignees.at;
        out->n_consignees = f.consignees.n;
        out->unplaced_lots = (int64_t)f.unplaced.n;
        for (size_t i = 0; i < f.unplaced.n && i < KW_FOUND_LISTED; i++)
                out->unplaced_named[i] = ((const char *const *)f.unplaced.at)[i];
        return rc;
}

/* --- a certificate walked back -------------------------------------------------------------------------- */

struct walking {
        struct kw_reader *r;
        struct kw_walked *out;
};

static int look_at(void *ctx, struct kw_hit *hit)
{
        struct walking *w = ctx;
        const struct kw_lot_row *lot;
        struct kw_lot_state state = {0};
        int rc = kw_read_lot(w->r, hit->lot, &lot);

        if (rc || !lot)
                return rc;
        if (!lot->depth && !lot->heat && strcmp(lot->kind, "core") != 0 &&
            (!w->out->no_heat || strcmp(lot->code, w->out->no_heat) < 0))
                w->out->no_heat = lot->code;
        rc = kw_read_state(w->r, lot, &state);
        if (rc == 0 && state.n_holds && (!w->out->held || strcmp(state.holds[0], w->out->held) < 0))
                w->out->held = state.holds[0];
        return rc;
}

/* The reels, and what they were cut from: a test on that speaks for them. */
#define OWN                                                                                                       \
        "WITH RECURSIVE own (lot) AS (SELECT lot FROM certificate_reel WHERE certificate = ?1 UNION SELECT f.lot" \
        " FROM own JOIN lot l ON l.id = own.lot JOIN run r ON r.id = l.run AND r.process = 'cut'"                 \
        " JOIN feed f ON f.run = r.id) "

static int read_tests(struct kw_reader *r, int64_t certificate, struct kw_walked *out)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_one(r->ledger, &out->tests, 0, OWN "SELECT count(*) FROM own JOIN test t ON t.lot = own.lot", "i",
                        certificate);

        if (rc)
                return rc;
        rc = kw_ask(r->ledger, &q,
                    OWN
                    "SELECT t.code FROM own JOIN test t ON t.lot = own.lot AND t.verdict = 'fail'"
                    " CROSS JOIN result x ON x.test = t.id"
                    " WHERE NOT EXISTS (SELECT 1 FROM test p CROSS JOIN result s ON s.test = p.id WHERE p.lot = t.lot"
                    " AND p.verdict = 'pass' AND p.id > t.id AND s.property = x.property)"
                    " AND NOT EXISTS (SELECT 1 FROM release_span s JOIN release e ON e.seq = s.seq"
                    " WHERE s.lot = t.lot AND e.disposition = 'concession' AND s.seq > t.seq"
                    " AND (t.at_mm IS NULL OR t.at_mm BETWEEN s.from_mm AND s.to_mm)) ORDER BY t.id LIMIT 1",
                    "i", certificate);
        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                out->failed = kw_keep_text(r, &q, 0, &failed);
                rc = 0;
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

static int walk_back(struct kw_reader *r, int64_t certificate, struct kw_walked *out)
{
        struct walking w = {r, out};
        struct kw_hits *hits = kw_hits_new();
        const char *const *heats;
        struct kw_list reels = {0};
        struct kw_query q;
        size_t n = 0;
        int rc = hits ? 0 : -ENOMEM;

        if (rc == 0)
                rc = kw_ask(r->ledger, &q, "SELECT lot FROM certificate_reel WHERE certificate = ?1", "i", certificate);
        else
                q.stmt = NULL;
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *lot = kw_list_more(&r->arena, &reels, sizeof(*lot));

                rc = lot ? 0 : -ENOMEM;
                if (lot)
                        *lot = kw_int(&q, 0);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < reels.n; i++)
                rc = kw_lot_hits(r, ((int64_t *)reels.at)[i], KW_CERTAIN, hits);
        /* it extends the spans by the trace back */
        if (rc == 0)
                rc = kw_read_heats_of(r, hits, &heats, &n);
        if (rc == 0)
                rc = kw_hits_each(hits, look_at, &w);
        kw_hits_free(hits);
        out->reels = (int64_t)reels.n;
        out->heats = (int64_t)n;
        return rc;
}

int kw_read_walked(struct kw_reader *r, int64_t seq, struct kw_walked *out)
{
        bool failed = false;
        struct kw_query q;
        int64_t id = 0, withdrawn = 0;
        int rc = kw_ask(r->ledger, &q, "SELECT id, code FROM certificate WHERE seq = ?1", "i", seq);

        *out = (struct kw_walked){.seq = seq};
        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                id = kw_int(&q, 0);
                out->code = kw_keep_text(r, &q, 1, &failed);
                rc = 0;
        }
        kw_end(&q);
        if (rc || failed || !id)
                return failed ? -ENOMEM : rc;
        rc = kw_one(r->ledger, &withdrawn, 0, "SELECT 1 FROM withdrawal WHERE certificate = ?1", "i", id);
        out->withdrawn = withdrawn;
        if (rc == 0)
                rc = walk_back(r, id, out);
        return rc ? rc : read_tests(r, id, out);
}
