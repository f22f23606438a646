/*
 * The reader of one question: what it is made of, and the codes of things known by their number.
 */
#include "reader.h"

#include "kinwire/index.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static int uses(void *ctx, int64_t lot, const struct kw_use **out, size_t *n)
{
        return kw_read_uses(ctx, lot, out, n);
}

static int maker(void *ctx, int64_t lot, int64_t *run, uint32_t *depth)
{
        const struct kw_lot_row *row;
        int rc = kw_read_lot(ctx, lot, &row);

        if (rc)
                return rc;
        *run = row ? row->run : 0;
        *depth = row ? row->depth : 0;
        return 0;
}

static int run(void *ctx, int64_t id, const struct kw_run **out)
{
        const struct kw_run_row *row;
        int rc = kw_read_run(ctx, id, &row);

        if (rc)
                return rc;
        if (!row)
                return -EIO;
        *out = &row->map;
        return 0;
}

int kw_reader_new(struct kw_ledger *ledger, struct kw_reader **out)
{
        struct kw_reader *r = calloc(1, sizeof(*r));

        if (!r)
                return -ENOMEM;
        r->ledger = ledger;
        r->genealogy = (struct kw_genealogy){.ctx = r, .uses = uses, .maker = maker, .run = run};
        *out = r;
        return 0;
}

void kw_reader_hold(struct kw_reader *r, struct kw_index *ix)
{
        r->index = ix;
        r->next_lot = 0;
        memset(r->texts, 0, sizeof(r->texts));
}

const char *kw_keep_said(struct kw_reader *r, const char *text, bool *failed)
{
        size_t at = kw_spread_id((int64_t)(intptr_t)text) % KW_TEXTS_KEPT;

        if (text && r->texts[at].from != text) {
                r->texts[at].kept = kw_arena_text(&r->arena, text, failed);
                r->texts[at].from = text;
        }
        return text ? r->texts[at].kept : NULL;
}

uint32_t kw_number_of_lot(const struct kw_reader *r, int64_t id)
{
        const struct kw_kept_lot *kept;

        HASH_FIND(hh, r->lots, &id, sizeof(id), kept);
        return kept ? kept->number : UINT32_MAX;
}

void kw_reader_free(struct kw_reader *r)
{
        if (!r)
                return;
        HASH_CLEAR(hh, r->lots);
        HASH_CLEAR(hh, r->runs);
        kw_arena_free(&r->arena);
        free(r);
}

struct kw_arena *kw_reader_arena(struct kw_reader *r)
{
        return &r->arena;
}

const struct kw_genealogy *kw_reader_genealogy(struct kw_reader *r)
{
        return &r->genealogy;
}

int kw_reader_failed(struct kw_reader *r, int rc, struct kw_error *err)
{
        return rc < 0 ? kw_store_failed(r->ledger, rc, err) : rc;
}

int kw_read_code(struct kw_reader *r, enum kw_named what, int64_t id, const char **out)
{
        static const char *const by[] = {
                [KW_NAMED_HEAT] = "SELECT code FROM heat WHERE id = ?1",
                [KW_NAMED_SUPPLY] = "SELECT code FROM supply WHERE id = ?1",
                [KW_NAMED_BATCH] = "SELECT code FROM batch WHERE id = ?1",
                [KW_NAMED_RUN] = "SELECT code FROM run WHERE id = ?1",
        };
        struct kw_query q;
        bool failed = false;
        int rc;

        *out = NULL;
        if (!id)
                return 0;
        rc = kw_ask(r->ledger, &q, by[what], "i", id);
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1)
                *out = kw_keep_text(r, &q, 0, &failed);
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

int kw_read_run_of_lot(struct kw_reader *r, const struct kw_lot_row *lot, const char **out)
{
        char code[KW_CODE_MAX + 1];
        bool failed = false;

        if (!r->index || kw_index_run_code(r->index, lot->id, kw_number_of_lot(r, lot->id), code))
                return kw_read_code(r, KW_NAMED_RUN, lot->run, out);
        *out = kw_arena_text(&r->arena, code, &failed);
        return failed ? -ENOMEM : 0;
}

int kw_read_source(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_source_row *out)
{
        struct kw_query q;
        bool failed = false;
        int rc;

        *out = (struct kw_source_row){0};
        rc = kw_read_code(r, KW_NAMED_HEAT, lot->heat, &out->heat);
        if (rc == 0)
                rc = kw_read_code(r, KW_NAMED_SUPPLY, lot->supply, &out->supply);
        if (rc || (!lot->heat && !lot->supply))
                return rc;
        if (lot->heat)
                rc = kw_ask(r->ledger, &q, "SELECT supplier, grade FROM heat WHERE id = ?1", "i", lot->heat);
        else
                rc = kw_ask(r->ledger, &q, "SELECT supplier, NULL FROM supply WHERE id = ?1", "i", lot->supply);
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                out->supplier = kw_keep_text(r, &q, 0, &failed);
                out->grade = kw_keep_text(r, &q, 1, &failed);
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

int kw_read_weld_before(struct kw_reader *r, const struct kw_run_row *run_row, size_t line, size_t feed,
                        const char **code, const char **made_by)
{
        const struct kw_line_row *l = &run_row->lines[line];
        struct kw_query q;
        bool failed = false;
        int rc = kw_ask(r->ledger, &q, "SELECT code, made_by FROM weld WHERE run = ?1 AND line = ?2 AND feed = ?3",
                        "iii", run_row->id, l->ord, l->feed_ords[feed]);

        *code = *made_by = NULL;
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                *code = kw_keep_text(r, &q, 0, &failed);
                *made_by = kw_keep_text(r, &q, 1, &failed);
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}
