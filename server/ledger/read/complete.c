/*
 * What is missing for a certificate of a lot: the facts of core/complete.c, read from the ledger, each with the
 * sentence and the thing that it is about.
 */
#include "certify_inside.h"

#include "kinwire/disposition.h"
#include "kinwire/json.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct gathering {
        struct kw_reader *r;
        const struct kw_lot_row *lot;
        const struct kw_certify_wanted *wanted;
        const struct kw_spec_row *spec; /* that stands for it; NULL: none */
        const struct kw_within_row *within;
        size_t n_within;
        const struct kw_failure_row *failures;
        size_t n_failures;
        struct kw_list bars, know;
};

/* The values with their texts, in the arena, since some stand where they are only for now; NULL when there is no
 * memory. */
static const struct kw_value *kept(struct kw_arena *arena, const struct kw_value *values)
{
        bool failed = false;
        struct kw_value *copy;
        size_t n = 0;

        while (values[n].name)
                n++;
        copy = kw_arena_get(arena, (n + 1) * sizeof(*copy));
        for (size_t i = 0; copy && i < n; i++) {
                copy[i] = values[i];
                copy[i].text = kw_arena_text(arena, values[i].text, &failed);
        }
        return failed ? NULL : copy;
}

/* @as, @values: what the sentence says, as in kinwire/said.h. */
__attribute__((format(printf, 7, 8))) static int add(struct gathering *g, enum kw_lack what, const char *type,
                                                     const char *code, const char *as, const struct kw_value *values,
                                                     const char *fmt, ...)
{
        struct kw_list *list = kw_lack_row(what)->bars ? &g->bars : &g->know;
        struct kw_lacking_row *row = kw_list_more(&g->r->arena, list, sizeof(*row));
        bool failed = false;
        const char *text;
        va_list ap;

        va_start(ap, fmt);
        text = row ? kw_arena_words(&g->r->arena, fmt, ap) : NULL;
        va_end(ap);
        if (!text)
                return -ENOMEM;
        *row = (struct kw_lacking_row){.what = what,
                                       .type = type,
                                       .code = kw_arena_text(&g->r->arena, code, &failed),
                                       .text = text,
                                       .as = as,
                                       .values = kept(&g->r->arena, values)};
        return failed || !row->values ? -ENOMEM : 0;
}

static struct kw_lacking_row *last(struct kw_list *list)
{
        return (struct kw_lacking_row *)list->at + list->n - 1;
}

/* --- what lies in it ------------------------------------------------------------------------------------ */

struct collecting {
        struct kw_reader *r;
        struct kw_list rows;
};

static int collect(void *ctx, struct kw_hit *hit)
{
        struct collecting *c = ctx;
        struct kw_within_row *row = kw_list_more(&c->r->arena, &c->rows, sizeof(*row));
        int rc = row ? kw_read_lot(c->r, hit->lot, &row->lot) : -ENOMEM;

        if (rc == 0 && !row->lot)
                rc = -EIO;
        return rc ? rc : kw_arena_spans(&c->r->arena, &hit->reach.possible, &row->possible);
}

static int by_id(const void *a, const void *b)
{
        int64_t x = ((const struct kw_within_row *)a)->lot->id, y = ((const struct kw_within_row *)b)->lot->id;

        return (x > y) - (x < y);
}

int kw_read_within(struct kw_reader *r, const struct kw_lot_row *const *lots, size_t n_lots,
                   const struct kw_within_row **out, size_t *n)
{
        struct collecting c = {.r = r};
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? 0 : -ENOMEM;

        for (size_t i = 0; rc == 0 && i < n_lots; i++)
                rc = kw_hits_add(hits, lots[i]->id, 0, lots[i]->length_mm, KW_CERTAIN);
        if (rc == 0)
                rc = kw_trace_back(&r->genealogy, hits, NULL);
        if (rc == 0)
                rc = kw_hits_each(hits, collect, &c);
        kw_hits_free(hits);
        if (rc == 0 && c.rows.n)
                qsort(c.rows.at, c.rows.n, sizeof(struct kw_within_row), by_id);
        *out = c.rows.at;
        *n = c.rows.n;
        return rc;
}

static int heats(struct gathering *g)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < g->n_within; i++) {
                const struct kw_lot_row *lot = g->within[i].lot;

                if (lot->depth || lot->heat || strcmp(lot->kind, "core") == 0)
                        continue;
                rc = add(g, KW_LACK_HEAT, "lot", lot->code, NULL,
                         KW_VALUES(KW_WORD("lot", g->lot->code), KW_WORD("made_of", lot->code)),
                         "%s is made of %s, which has no heat", g->lot->code, lot->code);
                if (rc == 0)
                        last(&g->bars)->spans = g->within[i].possible;
        }
        return rc;
}

static bool seen_before(const struct kw_within_row *rows, size_t i)
{
        for (size_t k = 0; k < i; k++)
                if (rows[k].lot->run == rows[i].lot->run)
                        return true;
        return false;
}

static int open_runs(struct gathering *g)
{
        const struct kw_run_row *run;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < g->n_within; i++) {
                if (!g->within[i].lot->run)
                        continue;
                rc = kw_read_run(g->r, g->within[i].lot->run, &run);
                if (rc == 0 && run && run->under_way && !seen_before(g->within, i))
                        rc = add(g, KW_LACK_RUN_OPEN, "run", run->code, NULL,
                                 KW_VALUES(KW_WORD("lot", g->lot->code), KW_WORD("run", run->code)),
                                 "%s comes out of run %s, which is still under way", g->lot->code, run->code);
        }
        return rc;
}

/* --- holds ------------------------------------------------------------------------------------------------- */

/* Released, but not for this. */
static int released_for_less(struct gathering *g, const struct kw_hold_row *hold)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < hold->n_freed; i++) {
                const struct kw_disposition *d = kw_disposition(hold->freed[i].disposition);

                if (!d || kw_disposition_may(d, KW_TO_CERTIFY, NULL, NULL))
                        continue;
                rc = add(g, KW_LACK_REWORK, "hold", hold->code, NULL,
                         KW_VALUES(KW_WORD("lot", g->lot->code), KW_WORD("hold", hold->code),
                                   KW_WORD("disposition", d->name), KW_WORD("reason", hold->freed[i].reason)),
                         "%s was released from hold %s as %s: %s", g->lot->code, hold->code, d->name,
                         hold->freed[i].reason);
                if (rc == 0)
                        last(&g->bars)->spans = hold->freed[i].spans;
        }
        return rc;
}

static int own_holds(struct gathering *g)
{
        const struct kw_hold_row *holds;
        size_t n;
        int rc = kw_read_holds_on(g->r, g->lot->id, &holds, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = released_for_less(g, &holds[i]);
                if (rc || !holds[i].open.n)
                        continue;
                rc = add(g, KW_LACK_HOLD, "hold", holds[i].code, NULL,
                         KW_VALUES(KW_WORD("lot", g->lot->code), KW_WORD("hold", holds[i].code),
                                   KW_FIGURE("from_mm", holds[i].open.at[0].from),
                                   KW_FIGURE("to_mm", holds[i].open.at[0].to), KW_WORD("reason", holds[i].reason)),
                         "%s is on hold %s from %" PRId64 " to %" PRId64 " mm and can't be certified: %s", g->lot->code,
                         holds[i].code, holds[i].open.at[0].from, holds[i].open.at[0].to, holds[i].reason);
                if (rc == 0)
                        last(&g->bars)->spans = holds[i].open;
        }
        return rc;
}

static int held_before(struct gathering *g, const struct kw_within_row *in)
{
        struct kw_spans both = {0};
        const struct kw_hold_row *holds;
        size_t n;
        int rc = kw_read_holds_on(g->r, in->lot->id, &holds, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_spans_clear(&both);
                rc = kw_spans_both(&holds[i].open, &in->possible, &both);
                if (rc == 0 && both.n)
                        rc = add(g, KW_KNOW_HELD, "hold", holds[i].code, NULL,
                                 KW_VALUES(KW_WORD("lot", g->lot->code), KW_WORD("hold", holds[i].code),
                                           KW_WORD("metal", in->lot->code), KW_WORD("reason", holds[i].reason)),
                                 "hold %s lies on metal of %s that went into %s: %s", holds[i].code, in->lot->code,
                                 g->lot->code, holds[i].reason);
        }
        kw_spans_free(&both);
        return rc;
}

/* --- failed tests ------------------------------------------------------------------------------------------ */

static int failures(struct gathering *g)
{
        int rc = kw_read_failures(g->r, g->lot, KW_AND_CUT_FROM, g->lot, &g->failures, &g->n_failures);

        for (size_t i = 0; rc == 0 && i < g->n_failures; i++) {
                const struct kw_failure_row *f = &g->failures[i];

                if (!f->excused)
                        rc = add(g, KW_LACK_FAILED, "test", f->test, NULL,
                                 KW_VALUES(KW_WORD("lot", f->lot), KW_WORD("test", f->test),
                                           KW_WORD("property", f->property)),
                                 "%s failed test %s in %s and was not passed since, nor does a concession stand",
                                 f->lot, f->test, f->property);
        }
        return rc;
}

static int failed_before(struct gathering *g, const struct kw_within_row *in)
{
        const struct kw_failure_row *rows;
        size_t n;
        int rc = kw_read_failures(g->r, in->lot, KW_ALONE, g->lot, &rows, &n);

        for (size_t i = 0; rc == 0 && i < n; i++)
                if (!rows[i].excused)
                        rc = add(g, KW_KNOW_FAILED, "test", rows[i].test, NULL,
                                 KW_VALUES(KW_WORD("kind", in->lot->kind), KW_WORD("metal", in->lot->code),
                                           KW_WORD("lot", g->lot->code), KW_WORD("test", rows[i].test),
                                           KW_WORD("property", rows[i].property)),
                                 "%s %s, which went into %s, failed test %s in %s", in->lot->kind, in->lot->code,
                                 g->lot->code, rows[i].test, rows[i].property);
        return rc;
}

static bool is_own_failure(const struct gathering *g, const char *lot)
{
        for (size_t i = 0; i < g->n_failures; i++)
                if (strcmp(g->failures[i].lot, lot) == 0)
                        return true;
        return false;
}

/* What is known of the metal before it came in. Most lots have neither holds nor failures. */
static int metal(struct gathering *g)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < g->n_within; i++) {
                const struct kw_within_row *in = &g->within[i];
                bool held = false, failed = false;
                struct kw_query q;

                if (in->lot->id == g->lot->id)
                        continue;
                rc = kw_ask(g->r->ledger, &q,
                            "SELECT EXISTS (SELECT 1 FROM hold_span WHERE lot = ?1),"
                            " EXISTS (SELECT 1 FROM test WHERE lot = ?1 AND verdict = 'fail')",
                            "i", in->lot->id);
                if (rc == 0 && (rc = kw_next(g->r->ledger, &q)) == 1) {
                        held = kw_int(&q, 0) != 0;
                        failed = kw_int(&q, 1) != 0;
                        rc = 0;
                }
                kw_end(&q);
                if (rc == 0 && held)
                        rc = held_before(g, in);
                if (rc == 0 && failed && !is_own_failure(g, in->lot->code))
                        rc = failed_before(g, in);
        }
        return rc;
}

/* --- what its specification asks for ------------------------------------------------------------------------ */

#define PASSED " t.verdict = 'pass' AND EXISTS (SELECT 1 FROM result x WHERE x.test = t.id AND x.property = ?2)"

static int count_passed(struct gathering *g, const char *property, bool per_run, struct kw_needed *needed)
{
        struct kw_ledger *l = g->r->ledger;
        int rc;

        if (per_run)
                rc = kw_one(l, &needed->passed, 0,
                            CUT_FROM " SELECT count(DISTINCT t.id) FROM own JOIN lot o ON o.id = own.lot"
                                     " JOIN package p ON p.run = o.run AND p.lot <> 0 JOIN test t ON t.lot = p.lot"
                                     " WHERE" PASSED,
                            "it", g->lot->id, property);
        else
                rc = kw_one(l, &needed->passed, 0,
                            CUT_FROM " SELECT count(*) FROM own JOIN test t ON t.lot = own.lot WHERE" PASSED, "it",
                            g->lot->id, property);
        if (rc == 0 && !g->wanted->document->specific)
                rc = kw_one(l, &needed->alike, 0,
                            "SELECT count(*) FROM spec s JOIN test t ON t.spec = s.id WHERE s.code = ?1 AND" PASSED,
                            "tt", g->spec->code, property);
        for (size_t i = 0; i < g->n_failures; i++)
                needed->conceded += g->failures[i].conceded && strcmp(g->failures[i].property, property) == 0;
        return rc;
}

static int needed_test(struct gathering *g, const cJSON *asked)
{
        const char *property = kw_json_text(asked, "property");
        bool per_run = strcmp(kw_json_text(asked, "per"), "run") == 0;
        struct kw_needed needed = {.n = kw_json_int(asked, "n", 0)};
        int64_t lacking;
        int rc = count_passed(g, property, per_run, &needed);

        lacking = kw_tests_lacking(g->wanted->document, &needed);
        if (rc || !lacking)
                return rc;
        return add(g, KW_LACK_TEST, "lot", g->lot->code, per_run ? "run" : "lot",
                   KW_VALUES(KW_WORD("lot", g->lot->code), KW_FIGURE("needed", needed.n), KW_WORD("property", property),
                             KW_WORD("spec", g->spec->code), KW_FIGURE("version", g->spec->version),
                             KW_FIGURE("passed", needed.passed + needed.conceded)),
                   "%s needs tests: %" PRId64 " passed of %s%s by %s version %" PRId64 ", and has %" PRId64,
                   g->lot->code, needed.n, property, per_run ? " for its run" : "", g->spec->code, g->spec->version,
                   needed.passed + needed.conceded);
}

static int needed_tests(struct gathering *g)
{
        const cJSON *asked;
        cJSON *list = NULL;
        int rc = kw_json_read(g->spec->tests, strlen(g->spec->tests), &kw_json_entry_limits, &list, NULL);

        if (rc)
                return rc > 0 ? -EBADMSG : rc;
        cJSON_ArrayForEach(asked, list)
        {
                if (rc == 0)
                        rc = needed_test(g, asked);
        }
        cJSON_Delete(list);
        return rc;
}

static int one_heat(struct gathering *g)
{
        int64_t first = 0;
        size_t n = 0;

        for (size_t i = 0; i < g->n_within; i++) {
                int64_t heat = g->within[i].lot->heat;
                bool seen = !heat;

                for (size_t k = 0; k < i && !seen; k++)
                        seen = g->within[k].lot->heat == heat;
                n += !seen;
                first = first ? first : heat;
        }
        return n < 2 ? 0
                     : add(g, KW_LACK_ONE_HEAT, "lot", g->lot->code, NULL,
                           KW_VALUES(KW_WORD("lot", g->lot->code), KW_FIGURE("heats", (int64_t)n),
                                     KW_WORD("spec", g->spec->code), KW_FIGURE("version", g->spec->version)),
                           "%s is of %zu heats, and %s version %" PRId64 " asks for one", g->lot->code, n,
                           g->spec->code, g->spec->version);
}

static int near_joints(struct gathering *g, const struct kw_joints *joints)
{
        struct kw_distance_row distance;
        const struct kw_near_row *near;
        const char *asks = "";
        char by[KW_CODE_MAX + 40] = "";
        size_t n;
        int rc = kw_read_near(g->r, g->lot, joints, &distance, &near, &n);

        if (rc == 0 && (distance.order || distance.spec))
                asks = distance.order ? distance.order : distance.spec->code;
        if (rc == 0 && distance.order)
                snprintf(by, sizeof(by), "order %s", distance.order);
        else if (rc == 0 && distance.spec)
                snprintf(by, sizeof(by), "%s version %" PRId64, distance.spec->code, distance.spec->version);
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = add(g, near[i].surely ? KW_LACK_JOINTS : KW_KNOW_JOINTS, "weld", near[i].a,
                         distance.order ? "order" : "spec",
                         KW_VALUES(KW_WORD("a_weld", near[i].a), KW_WORD("b_weld", near[i].b),
                                   KW_WORD("lot", g->lot->code),
                                   KW_WORD("strand", near[i].strand ? near[i].strand : ""),
                                   KW_FIGURE("gap_mm", distance.gap_mm), KW_WORD("asks", asks),
                                   KW_FIGURE("version", distance.spec ? distance.spec->version : 0)),
                         "joints %s and %s in %s%s%s are %s nearer than %" PRId64 " mm, which %s asks for", near[i].a,
                         near[i].b, g->lot->code, near[i].strand ? " " : "", near[i].strand ? near[i].strand : "",
                         near[i].surely ? "surely" : "possibly", distance.gap_mm, by);
        return rc;
}

static int joints(struct gathering *g)
{
        struct kw_joints on = {0};
        struct kw_hits *family = kw_hits_new();
        int rc = family ? kw_ancestry(&g->r->genealogy, g->lot->id, family) : -ENOMEM;

        if (rc == 0)
                rc = kw_joints_on(&g->r->genealogy, family, g->lot->id, &on);
        if (rc == 0)
                rc = near_joints(g, &on);
        kw_joints_free(&on);
        kw_hits_free(family);
        return rc;
}

static int as_specified(struct gathering *g)
{
        int rc = kw_read_spec_for(g->r, g->lot, &g->spec);

        if (rc)
                return rc;
        if (!g->spec)
                return add(g, KW_KNOW_NO_SPEC, "lot", g->lot->code, NULL, KW_VALUES(KW_WORD("lot", g->lot->code)),
                           "no specification is for %s, so that nothing says which tests it needs", g->lot->code);
        rc = needed_tests(g);
        if (rc == 0 && g->spec->heats && strcmp(g->spec->heats, "one") == 0)
                rc = one_heat(g);
        if (rc == 0 && g->spec->joint_multiple != KW_NONE)
                rc = joints(g);
        return rc;
}

/* --- other certificates, and what is left -------------------------------------------------------------------- */

static int add_certified(struct gathering *g, const char *code)
{
        const struct kw_certificate_whole_row *other;
        struct kw_error none;
        int rc = kw_read_certificate(g->r, code, &other, &none);

        if (rc || (other->is != KW_CERTIFICATE_STANDS && other->is != KW_CERTIFICATE_MARKED))
                return rc > 0 ? -EIO : rc;
        if (other->is == KW_CERTIFICATE_MARKED)
                return add(g, KW_LACK_OVERTAKEN, "certificate", code, NULL,
                           KW_VALUES(KW_WORD("certificate", code), KW_WORD("type", other->type),
                                     KW_WORD("lot", g->lot->code)),
                           "certificate %s of type %s speaks of %s and is overtaken: withdraw it, or have this one "
                           "replace it",
                           code, other->type, g->lot->code);
        return add(g, KW_LACK_CERTIFIED, "certificate", code, NULL,
                   KW_VALUES(KW_WORD("certificate", code), KW_WORD("type", other->type), KW_WORD("lot", g->lot->code)),
                   "certificate %s of type %s stands for %s already", code, other->type, g->lot->code);
}

static int certified(struct gathering *g)
{
        const struct kw_certificate_row *rows;
        size_t n;
        int rc = kw_read_certificates_of(g->r, g->lot->id, &rows, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                if (rows[i].withdrawn != KW_NONE || strcmp(rows[i].type, g->wanted->document->name) != 0 ||
                    (g->wanted->replaces && strcmp(rows[i].code, g->wanted->replaces) == 0))
                        continue;
                rc = add_certified(g, rows[i].code);
        }
        return rc;
}

static int what_is_left(struct gathering *g)
{
        struct kw_lot_state state;
        int rc = kw_read_state(g->r, g->lot, &state);

        if (rc || state.consignment || state.left_mm == g->lot->length_mm)
                return rc;
        return add(g, KW_KNOW_SHORT, "lot", g->lot->code, NULL,
                   KW_VALUES(KW_WORD("lot", g->lot->code), KW_FIGURE("left_mm", state.left_mm),
                             KW_FIGURE("length_mm", g->lot->length_mm)),
                   "of %s, %" PRId64 " of %" PRId64 " mm are left", g->lot->code, state.left_mm, g->lot->length_mm);
}

int kw_read_lacking(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_certify_wanted *wanted,
                    const struct kw_lacking_row **out, size_t *n)
{
        static int (*const parts[])(struct gathering *) = {own_holds,    heats, open_runs, failures,
                                                           as_specified, metal, certified, what_is_left};
        struct gathering g = {.r = r, .lot = lot, .wanted = wanted};
        const struct kw_lacking_row *know;
        int rc = kw_read_within(r, &lot, 1, &g.within, &g.n_within);

        for (size_t i = 0; rc == 0 && i < sizeof(parts) / sizeof(*parts); i++)
                rc = parts[i](&g);
        know = g.know.at;
        for (size_t i = 0; rc == 0 && i < g.know.n; i++) {
                struct kw_lacking_row *row = kw_list_more(&r->arena, &g.bars, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = know[i];
        }
        *out = g.bars.at;
        *n = g.bars.n;
        return rc;
}
