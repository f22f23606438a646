/*
 * Asking a trace: from the origin's spans through the engine to rows that say what has become of every lot.
 */
#include "trace.h"

#include "kinwire/index.h"
#include "kinwire/process.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* --- the engine ------------------------------------------------------------------------------------ */

/* Add the spans of one set of hits to another. */
static int unite_hit(void *ctx, struct kw_hit *hit)
{
        const struct kw_spans *possible = &hit->reach.possible, *certain = &hit->reach.certain;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < possible->n; i++)
                rc = kw_hits_add(ctx, hit->lot, possible->at[i].from, possible->at[i].to, KW_POSSIBLE);
        for (size_t i = 0; rc == 0 && i < certain->n; i++)
                rc = kw_hits_add(ctx, hit->lot, certain->at[i].from, certain->at[i].to, KW_CERTAIN);
        return rc;
}

struct heats {
        struct kw_reader *r;
        struct kw_list ids;
};

/* A heat is reached through any lot received of it. */
static int note_heat(void *ctx, struct kw_hit *hit)
{
        struct heats *heats = ctx;
        const struct kw_lot_row *lot;
        int64_t *id;
        int rc = kw_read_lot(heats->r, hit->lot, &lot);

        if (rc || !lot || !lot->heat || !hit->reach.possible.n)
                return rc;
        for (size_t i = 0; i < heats->ids.n; i++) {
                if (((int64_t *)heats->ids.at)[i] == lot->heat)
                        return 0;
        }
        id = kw_list_more(kw_reader_arena(heats->r), &heats->ids, sizeof(*id));
        if (!id)
                return -ENOMEM;
        *id = lot->heat;
        return 0;
}

static int by_text(const void *a, const void *b)
{
        return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static int keep_heats(struct kw_trace_answer *a, const struct heats *heats)
{
        const char **codes = kw_arena_get(kw_reader_arena(a->reader), (heats->ids.n + 1) * sizeof(*codes));
        int rc = codes ? 0 : -ENOMEM;

        for (size_t i = 0; rc == 0 && i < heats->ids.n; i++)
                rc = kw_read_code(a->reader, KW_NAMED_HEAT, ((int64_t *)heats->ids.at)[i], &codes[i]);
        if (rc)
                return rc;
        qsort(codes, heats->ids.n, sizeof(*codes), by_text);
        a->heats = codes;
        a->n_heats = heats->ids.n;
        return 0;
}

/* By the index where it is held and can, else by the tables: the answer is the same. */
static int go(struct kw_trace_answer *a, struct kw_hits *hits, enum kw_direction way)
{
        const struct kw_genealogy *tables = kw_reader_genealogy(a->reader);
        int rc = -EOVERFLOW;

        if (a->index)
                rc = way == KW_BACK ? kw_index_back(a->index, hits) : kw_index_forward(a->index, hits);
        if (rc != -EOVERFLOW)
                return rc;
        return way == KW_BACK ? kw_trace_back(tables, hits, NULL) : kw_trace_forward(tables, hits, NULL);
}

static int trace_back(struct kw_trace_answer *a, struct kw_hits *hits, struct heats *heats)
{
        int rc = go(a, hits, KW_BACK);

        if (rc == 0)
                rc = kw_hits_each(hits, note_heat, heats);
        return rc ? rc : keep_heats(a, heats);
}

/* Back to the heats, and forward again from all their coils; what the trace started with is in its answer. */
static int trace_kin(struct kw_trace_answer *a, struct heats *heats)
{
        struct kw_hits *back = kw_hits_new();
        int rc = back ? 0 : -ENOMEM;

        if (rc == 0)
                kw_hits_bound(back, a->question.most);
        if (rc == 0)
                rc = kw_hits_each(a->starts_hits, unite_hit, back);
        if (rc == 0)
                rc = trace_back(a, back, heats);
        for (size_t i = 0; rc == 0 && i < heats->ids.n; i++)
                rc = kw_heat_coils(a->reader, ((int64_t *)heats->ids.at)[i], a->hits);
        if (rc == 0)
                rc = go(a, a->hits, KW_FORWARD);
        if (rc == 0)
                rc = kw_hits_each(a->starts_hits, unite_hit, a->hits);
        kw_hits_free(back);
        return rc;
}

static int follow(struct kw_trace_answer *a)
{
        struct heats heats = {.r = a->reader};
        int rc;

        if (a->question.direction == KW_KIN)
                return trace_kin(a, &heats);
        rc = kw_hits_each(a->starts_hits, unite_hit, a->hits);
        if (rc)
                return rc;
        if (a->question.direction == KW_BACK)
                return trace_back(a, a->hits, &heats);
        return go(a, a->hits, KW_FORWARD);
}

/* --- rows ---------------------------------------------------------------------------------------------- */

struct collect {
        struct kw_reader *r;
        struct kw_list list;
};

static int collect_start(void *ctx, struct kw_hit *hit)
{
        struct collect *c = ctx;
        struct kw_trace_start *start;
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(c->r, hit->lot, &lot);

        if (rc || !lot || !hit->reach.possible.n)
                return rc;
        start = kw_list_more(kw_reader_arena(c->r), &c->list, sizeof(*start));
        if (!start)
                return -ENOMEM;
        *start = (struct kw_trace_start){.lot = lot, .reach = &hit->reach};
        return 0;
}

static int by_depth(const void *a, const void *b)
{
        const struct kw_trace_start *x = a, *y = b;

        if (x->lot->depth != y->lot->depth)
                return x->lot->depth < y->lot->depth ? -1 : 1;
        return strcmp(x->lot->code, y->lot->code);
}

/* The lots of a set of hits in the order in which an answer lists them. */
static int collect_hits(struct kw_trace_answer *a, const struct kw_hits *hits, struct kw_list *out)
{
        struct collect c = {.r = a->reader};
        int rc = kw_hits_each(hits, collect_start, &c);

        if (rc == 0 && c.list.n)
                qsort(c.list.at, c.list.n, sizeof(struct kw_trace_start), by_depth);
        *out = c.list;
        return rc;
}

/* @before: the row before it, or NULL; lots of one run follow one another, so its code is mostly at hand */
static int fill_row(struct kw_reader *r, const struct kw_trace_start *lot, const struct kw_trace_row *before,
                    struct kw_trace_row *row)
{
        struct kw_spans both = {0};
        int rc = kw_read_state(r, lot->lot, &row->state);

        row->lot = lot->lot;
        row->reach = lot->reach;
        row->verdict = kw_verdict_of(lot->reach);
        row->affected_mm = kw_spans_total(&lot->reach->possible);
        row->affected_g = kw_part_mass(lot->lot, row->affected_mm);
        if (rc == 0)
                rc = kw_spans_both(&lot->reach->possible, &row->state.left, &both);
        if (rc == 0)
                rc = kw_arena_spans(kw_reader_arena(r), &both, &row->affected_left);
        row->affected_left_mm = kw_spans_total(&both);
        kw_spans_free(&both);
        if (before && before->lot->run == lot->lot->run)
                row->run = before->run;
        else if (rc == 0)
                rc = kw_read_run_of_lot(r, lot->lot, &row->run);
        return rc;
}

static int fill_rows(struct kw_trace_answer *a)
{
        struct kw_list lots, starts;
        struct kw_trace_row *rows;
        int rc = collect_hits(a, a->hits, &lots);

        if (rc == 0)
                rc = collect_hits(a, a->starts_hits, &starts);
        if (rc)
                return rc;
        rows = kw_arena_get(kw_reader_arena(a->reader), (lots.n + 1) * sizeof(*rows));
        if (!rows)
                return -ENOMEM;
        for (size_t i = 0; rc == 0 && i < lots.n; i++)
                rc = fill_row(a->reader, (struct kw_trace_start *)lots.at + i, i ? &rows[i - 1] : NULL, &rows[i]);
        a->rows = rows;
        a->n_rows = lots.n;
        a->starts = starts.at;
        a->n_starts = starts.n;
        return rc;
}

/* --- sums ------------------------------------------------------------------------------------------------ */

static void count_row(const struct kw_trace_row *row, struct kw_trace_total *total)
{
        total->lots++;
        if (row->verdict == KW_VERDICT_CERTAIN)
                total->certain++;
        else
                total->possible++;
        total->affected_mm += row->affected_mm;
        if (row->affected_g == KW_NONE || total->affected_g == KW_NONE)
                total->affected_g = KW_NONE;
        else
                total->affected_g += row->affected_g;
}

static void sum_up(struct kw_trace_answer *a)
{
        for (const struct kw_lot_kind *kind = kw_lot_kinds; kind->name && a->n_totals < KW_TOTALS; kind++) {
                struct kw_trace_total total = {.kind = kind->name};

                for (size_t i = 0; i < a->n_rows; i++) {
                        if (strcmp(a->rows[i].lot->kind, kind->name) == 0)
                                count_row(&a->rows[i], &total);
                }
                if (total.lots)
                        a->totals[a->n_totals++] = total;
        }
}

static int by_consignment(const void *a, const void *b)
{
        const struct kw_trace_row *x = *(const struct kw_trace_row *const *)a,
                                  *y = *(const struct kw_trace_row *const *)b;
        int order = strcmp(x->state.consignment, y->state.consignment);

        return order ? order : (x > y) - (x < y);
}

static int gather_sent(struct kw_trace_answer *a)
{
        const struct kw_trace_row **sent =
                kw_arena_get(kw_reader_arena(a->reader), (a->n_rows + 1) * sizeof(const void *));

        if (!sent)
                return -ENOMEM;
        for (size_t i = 0; i < a->n_rows; i++) {
                if (a->rows[i].state.consignment)
                        sent[a->n_sent++] = &a->rows[i];
        }
        qsort(sent, a->n_sent, sizeof(*sent), by_consignment);
        a->sent = sent;
        return 0;
}

/* --- the whole ---------------------------------------------------------------------------------------------- */

static int check(const struct kw_question *q, struct kw_error *err)
{
        if (q->part && strcmp(q->type, "lot") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "part-of-lot", KW_VALUES(KW_WORD("type", q->type)),
                                      "from_mm and to_mm can be said of a lot only, not of a %s", q->type);
        if (q->window && strcmp(q->type, "machine") != 0 && strcmp(q->type, "instrument") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "times-of", KW_VALUES(KW_WORD("type", q->type)),
                                      "since and until can be said of a machine or an instrument only, not of a %s",
                                      q->type);
        if (q->window && q->since > q->until)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "since-until", NULL, "since is later than until");
        return 0;
}

static int too_many(const struct kw_question *q, struct kw_error *err)
{
        return kw_refuse_with(err, KW_TOO_LARGE, "", "lots", KW_VALUES(KW_FIGURE("most", (int64_t)q->most)),
                              "this touches more than %zu lots, which is more than one answer holds: ask for a part of "
                              "it, such as a run, a batch or a lot, or for a machine or an instrument a shorter time; "
                              "kinwire trace at the server's console has no such limit",
                              q->most);
}

static int answer(struct kw_ledger *ledger, struct kw_trace_answer *a, struct kw_error *err)
{
        const struct kw_question *q = &a->question;
        const struct kw_origin origin = {.type = q->type,
                                         .code = q->code,
                                         .part = q->part,
                                         .from_mm = q->from_mm,
                                         .to_mm = q->to_mm,
                                         .since = q->window ? q->since : INT64_MIN,
                                         .until = q->window ? q->until : INT64_MAX};
        int rc;

        a->index = kw_ledger_hold_index(ledger);
        kw_reader_hold(a->reader, a->index);
        rc = kw_ledger_head(ledger, &a->head, err);
        if (rc == 0)
                rc = kw_origin_spans(a->reader, &origin, a->starts_hits, err);
        if (rc == 0)
                rc = follow(a);
        if (rc == 0)
                rc = fill_rows(a);
        kw_reader_hold(a->reader, NULL);
        if (a->index)
                kw_index_give(a->index);
        a->index = NULL;
        if (rc == 0)
                rc = gather_sent(a);
        if (rc == -E2BIG)
                return too_many(q, err);
        if (rc)
                return kw_reader_failed(a->reader, rc, err);
        sum_up(a);
        return 0;
}

int kw_trace_ask(struct kw_ledger *ledger, const struct kw_question *q, struct kw_trace_answer **out,
                 struct kw_error *err)
{
        struct kw_trace_answer *a;
        int rc = check(q, err);

        if (rc)
                return rc;
        a = calloc(1, sizeof(*a));
        if (!a)
                return -ENOMEM;
        a->question = *q;
        a->starts_hits = kw_hits_new();
        a->hits = kw_hits_new();
        rc = a->starts_hits && a->hits ? kw_reader_new(ledger, &a->reader) : -ENOMEM;
        if (rc == 0) {
                kw_hits_bound(a->starts_hits, q->most);
                kw_hits_bound(a->hits, q->most);
        }
        if (rc == 0)
                rc = answer(ledger, a, err);
        if (rc) {
                kw_trace_answer_free(a);
                return rc;
        }
        *out = a;
        return 0;
}

void kw_trace_answer_free(struct kw_trace_answer *answer)
{
        if (!answer)
                return;
        kw_hits_free(answer->starts_hits);
        kw_hits_free(answer->hits);
        kw_reader_free(answer->reader);
        free(answer);
}

size_t kw_trace_count(const struct kw_trace_answer *answer)
{
        return answer->n_rows;
}
