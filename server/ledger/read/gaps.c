/*
 * The table of kinds of gap, and how their finders hand over what they find.
 */
#include "gaps_inside.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum grave { WEAK, BROKEN };

static const struct {
        const char *name;
        enum grave grave;
        int (*find)(struct kw_gap_search *s);
} kinds[] = {
        {"no-heat", BROKEN, kw_gaps_no_heat},     {"heat-papers", BROKEN, kw_gaps_heat_papers},
        {"no-test", BROKEN, kw_gaps_no_test},     {"balance", BROKEN, kw_gaps_balance},
        {"overtaken", BROKEN, kw_gaps_overtaken}, {"calibration", BROKEN, kw_gaps_calibration},
        {"finding", BROKEN, kw_gaps_finding},     {"proportion", WEAK, kw_gaps_proportion},
        {"no-times", WEAK, kw_gaps_no_times},     {"late", WEAK, kw_gaps_late},
        {"put-right", WEAK, kw_gaps_put_right},
};

#define KINDS (sizeof(kinds) / sizeof(*kinds))

const char *kw_gap_kind(size_t i)
{
        return i < KINDS ? kinds[i].name : NULL;
}

bool kw_gap_broken(size_t i)
{
        return i < KINDS && kinds[i].grave == BROKEN;
}

void kw_gap_list_free(struct kw_gap_list *list)
{
        free(list->rows);
        free(list->seeds);
        *list = (struct kw_gap_list){0};
}

/* Room for one more in an array that the allocator owns: a list may be longer than is good for an arena. */
static int more(void **at, size_t n, size_t *cap, size_t size)
{
        size_t wanted = *cap ? 2 * *cap : 256;
        void *grown;

        if (n < *cap)
                return 0;
        grown = reallocarray(*at, wanted, size);
        if (!grown)
                return -ENOMEM;
        *at = grown;
        *cap = wanted;
        return 0;
}

int kw_gap_add(struct kw_gap_search *s, const char *type, const char *code, int64_t seq, int64_t figure,
               const char *detail)
{
        struct kw_gap_list *list = s->out;
        void *rows = list->rows;
        bool failed = false;
        int rc = more(&rows, list->n, &list->cap, sizeof(*list->rows));

        list->rows = rows;
        if (rc)
                return rc;
        if (s->stop && atomic_load(s->stop))
                return -ECANCELED;
        list->rows[list->n] = (struct kw_gap_row){.kind = s->kind,
                                                  .type = kw_arena_text(&s->r->arena, type, &failed),
                                                  .code = kw_arena_text(&s->r->arena, code, &failed),
                                                  .detail = kw_arena_text(&s->r->arena, detail, &failed),
                                                  .seq = seq,
                                                  .figure = figure,
                                                  .first = list->n_seeds};
        if (failed)
                return -ENOMEM;
        list->n++;
        return 0;
}

int kw_gap_seed(struct kw_gap_search *s, int64_t lot, int64_t from, int64_t to)
{
        struct kw_gap_list *list = s->out;
        void *seeds = list->seeds;
        int rc = more(&seeds, list->n_seeds, &list->cap_seeds, sizeof(*list->seeds));

        list->seeds = seeds;
        if (rc || from >= to)
                return rc;
        list->seeds[list->n_seeds++] = (struct kw_gap_seed){lot, from, to};
        list->rows[list->n - 1].n++;
        return 0;
}

static bool same(const char *a, const char *b)
{
        return a == b || (a && b && strcmp(a, b) == 0);
}

int kw_gap_take(struct kw_gap_search *s, struct kw_query *q, int rc)
{
        const size_t begun = s->out->n;

        while (rc == 0 && (rc = kw_next(s->r->ledger, q)) == 1) {
                const struct kw_gap_row *last = s->out->n > begun ? &s->out->rows[s->out->n - 1] : NULL;

                rc = 0;
                if (!last || last->seq != kw_int(q, 2) || !same(last->code, kw_text(q, 1)) ||
                    !same(last->type, kw_text(q, 0)))
                        rc = kw_gap_add(s, kw_text(q, 0), kw_text(q, 1), kw_int(q, 2), kw_int_or(q, 3, KW_NONE),
                                        kw_text(q, 4));
                if (rc == 0 && !kw_is_null(q, 5))
                        rc = kw_gap_seed(s, kw_int(q, 5), kw_int(q, 6), kw_int(q, 7));
        }
        kw_end(q);
        return rc;
}

int kw_read_gaps(struct kw_reader *r, struct kw_index *index, const struct kw_gap_settings *settings,
                 const atomic_bool *stop, void (*told)(void *ctx, size_t done, size_t of), void *ctx,
                 struct kw_gap_list *out)
{
        struct kw_gap_search s = {.r = r, .index = index, .settings = settings, .stop = stop, .out = out};
        int rc = 0;

        for (s.kind = 0; rc == 0 && s.kind < KINDS; s.kind++) {
                told(ctx, s.kind, KINDS);
                rc = kinds[s.kind].find(&s);
        }
        return rc;
}

int kw_read_sent(struct kw_reader *r, const struct kw_sent_row **out, size_t *n)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT lot, from_mm, to_mm, at FROM taken WHERE what = 'dispatch' ORDER BY lot, from_mm", "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_sent_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_sent_row){kw_int(&q, 0), kw_int(&q, 1), kw_int(&q, 2), kw_int(&q, 3)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return rc;
}
