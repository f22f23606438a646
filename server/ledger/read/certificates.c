/*
 * Certificates as they stand: what replaced or withdrew them, and what came after them that speaks against them.
 *
 * A certificate is marked by
 *
 *      recalled    a hold put on after it that bars metal which lies in one of its reels, surely or possibly, or whose
 *                  question starts from such metal. A hold that was put on from a question marks until the certificate
 *                  is withdrawn or the mark is cleared, whatever becomes of the metal; any other marks no longer what
 * it released as sound. corrected   an entry that it rests on was put right after it failed      a test on one of its
 * reels, or on what that was cut from, failed after it
 *
 * and the marks of before it are cleared by an entry that says why.
 */
#include "certify.h"
#include "reader.h"

#include "../work.h"

#include "kinwire/json.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const struct kw_json_limits kw_any_size = {SIZE_MAX, SIZE_MAX};

const char *kw_mark_text(enum kw_mark mark)
{
        static const char *const texts[] = {
                [KW_MARK_RECALLED] = "recalled", [KW_MARK_CORRECTED] = "corrected", [KW_MARK_FAILED] = "failed"};

        return texts[mark];
}

const char *kw_certificate_is_text(enum kw_certificate_is is)
{
        static const char *const texts[] = {[KW_CERTIFICATE_STANDS] = "stands",
                                            [KW_CERTIFICATE_MARKED] = "marked",
                                            [KW_CERTIFICATE_WITHDRAWN] = "withdrawn",
                                            [KW_CERTIFICATE_REPLACED] = "replaced"};

        return texts[is];
}

struct marking {
        struct kw_reader *r;
        struct kw_certificate_whole_row *c;
        const struct kw_within_row *within;
        size_t n_within;
        struct kw_list marks;
};

static int add_mark(struct marking *m, enum kw_mark what, int64_t seq, const char *type, const char *code,
                    const char *text)
{
        const struct kw_mark_row *marks = m->marks.at;
        struct kw_mark_row *row;
        bool failed = false;

        for (size_t i = 0; i < m->marks.n; i++)
                if (marks[i].what == what && marks[i].seq == seq && strcmp(marks[i].code, code) == 0)
                        return 0;
        row = kw_list_more(&m->r->arena, &m->marks, sizeof(*row));
        if (!row)
                return -ENOMEM;
        *row = (struct kw_mark_row){.what = what,
                                    .seq = seq,
                                    .type = type,
                                    .code = kw_arena_text(&m->r->arena, code, &failed),
                                    .text = kw_arena_text(&m->r->arena, text, &failed)};
        return failed ? -ENOMEM : 0;
}

/* --- recalled ---------------------------------------------------------------------------------------------- */

/* What the hold still says against its metal: all of it where it was asked for, else what it did not release. */
static int held_against(const struct kw_hold_row *hold, bool asked, struct kw_spans *out)
{
        struct kw_spans sound = {0};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < hold->n_freed && !asked; i++)
                if (strcmp(hold->freed[i].disposition, "release") == 0)
                        rc = kw_spans_merge(&sound, &hold->freed[i].spans);
        if (rc == 0)
                rc = kw_spans_minus(&hold->spans, &sound, out);
        kw_spans_free(&sound);
        return rc;
}

/* Whether a hold was put on from a question. */
static int is_asked(struct kw_reader *r, int64_t hold, int64_t *asked)
{
        return kw_one(r->ledger, asked, 0, "SELECT trace IS NOT NULL FROM hold WHERE id = ?1", "i", hold);
}

static int held_lot(struct marking *m, const struct kw_within_row *in)
{
        const struct kw_hold_row *holds;
        size_t n;
        int rc = kw_read_holds_on(m->r, in->lot->id, &holds, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                struct kw_spans against = {0}, both = {0};
                int64_t seq = holds[i].id / KW_IDS, asked = 0;

                if (seq <= m->c->body_seq)
                        continue;
                rc = is_asked(m->r, holds[i].id, &asked);
                if (rc == 0)
                        rc = held_against(&holds[i], asked != 0, &against);
                if (rc == 0)
                        rc = kw_spans_both(&against, &in->possible, &both);
                if (rc == 0 && both.n)
                        rc = add_mark(m, KW_MARK_RECALLED, seq, "hold", holds[i].code, holds[i].reason);
                kw_spans_free(&against);
                kw_spans_free(&both);
        }
        return rc;
}

static int held(struct marking *m)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < m->n_within; i++) {
                int64_t any = 0;

                rc = kw_one(m->r->ledger, &any, 0, "SELECT 1 FROM hold_span WHERE lot = ?1 AND seq > ?2", "ii",
                            m->within[i].lot->id, m->c->body_seq);
                if (rc == 0 && any)
                        rc = held_lot(m, &m->within[i]);
        }
        return rc;
}

/* --- recalled: by what a hold was asked for ------------------------------------------------------------------ */

struct asked_hold {
        int64_t seq;
        const char *code, *reason, *trace; /* JSON: the question */
};

static int64_t time_of(const cJSON *question, const char *name, int64_t otherwise)
{
        const char *text = kw_json_text(question, name);
        int64_t seconds;

        return text && kw_stamp_read(text, &seconds) == 0 ? seconds : otherwise;
}

/* The coils of every heat that was reached. */
static int add_kin(void *ctx, struct kw_hit *hit)
{
        struct kw_list *heats = ((void **)ctx)[0];
        struct kw_reader *r = ((void **)ctx)[1];
        const struct kw_lot_row *lot;
        int64_t *heat;
        int rc = kw_read_lot(r, hit->lot, &lot);

        if (rc || !lot || !lot->heat)
                return rc;
        heat = kw_list_more(&r->arena, heats, sizeof(*heat));
        if (!heat)
                return -ENOMEM;
        *heat = lot->heat;
        return 0;
}

static int to_kin(struct kw_reader *r, struct kw_hits *hits)
{
        struct kw_list heats = {0};
        void *ctx[] = {&heats, r};
        int rc = kw_trace_back(&r->genealogy, hits, NULL);

        if (rc == 0)
                rc = kw_hits_each(hits, add_kin, ctx);
        for (size_t i = 0; rc == 0 && i < heats.n; i++)
                rc = kw_heat_coils(r, ((int64_t *)heats.at)[i], hits);
        return rc;
}

/* The metal that a question starts from. What it names may be gone by now: then it starts from nothing. */
static int start_of(struct kw_reader *r, const cJSON *question, struct kw_hits *hits)
{
        const char *text = kw_json_text(question, "origin"), *direction = kw_json_text(question, "direction");
        const char *colon = text ? strchr(text, ':') : NULL;
        char type[16], code[KW_CODE_MAX + 1];
        struct kw_origin from = {.type = type,
                                 .code = code,
                                 .part = kw_json_get(question, "from_mm") != NULL,
                                 .from_mm = kw_json_int(question, "from_mm", 0),
                                 .to_mm = kw_json_int(question, "to_mm", 0),
                                 .since = time_of(question, "since", INT64_MIN),
                                 .until = time_of(question, "until", INT64_MAX)};
        struct kw_error none;
        int rc;

        if (!colon || (size_t)(colon - text) >= sizeof(type))
                return 0;
        snprintf(type, sizeof(type), "%.*s", (int)(colon - text), text);
        snprintf(code, sizeof(code), "%s", colon + 1);
        rc = kw_origin_known(type) ? kw_origin_spans(r, &from, hits, &none) : 0;
        if (rc == 0 && direction && strcmp(direction, "kin") == 0)
                rc = to_kin(r, hits);
        return rc > 0 ? 0 : rc;
}

int kw_read_asked_metal(struct kw_reader *r, const char *trace, struct kw_hits *hits)
{
        cJSON *question = NULL;
        int rc = kw_json_read(trace, strlen(trace), &kw_any_size, &question, NULL);

        if (rc == 0)
                rc = start_of(r, question, hits);
        cJSON_Delete(question);
        return rc > 0 ? -EIO : rc;
}

static bool meet(const struct marking *m, const struct kw_hits *hits)
{
        for (size_t i = 0; i < m->n_within; i++) {
                const struct kw_hit *hit = kw_hits_find(hits, m->within[i].lot->id);

                for (size_t k = 0; hit && k < hit->reach.possible.n; k++)
                        if (kw_spans_meets(&m->within[i].possible, hit->reach.possible.at[k].from,
                                           hit->reach.possible.at[k].to))
                                return true;
        }
        return false;
}

static int asked_one(struct marking *m, const struct asked_hold *hold)
{
        struct kw_hits *hits = kw_hits_new();
        int rc = hits ? kw_read_asked_metal(m->r, hold->trace, hits) : -ENOMEM;

        if (rc == 0 && meet(m, hits))
                rc = add_mark(m, KW_MARK_RECALLED, hold->seq, "hold", hold->code, hold->reason);
        kw_hits_free(hits);
        return rc;
}

static int asked(struct marking *m)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(m->r->ledger, &q,
                        "SELECT seq, code, reason, trace FROM hold WHERE seq > ?1 AND trace IS NOT NULL ORDER BY seq",
                        "i", m->c->body_seq);

        while (rc == 0 && (rc = kw_next(m->r->ledger, &q)) == 1) {
                struct asked_hold *row = kw_list_more(&m->r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct asked_hold){kw_int(&q, 0), kw_keep_text(m->r, &q, 1, &failed),
                                                   kw_keep_text(m->r, &q, 2, &failed),
                                                   kw_keep_text(m->r, &q, 3, &failed)};
        }
        kw_end(&q);
        rc = failed ? -ENOMEM : rc;
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = asked_one(m, (const struct asked_hold *)list.at + i);
        return rc;
}

/* --- corrected, failed ----------------------------------------------------------------------------------------- */

/* The entries that it rests on: as its document lists them, else those that made what lies in its reels. */
static int rests_on(struct marking *m, struct kw_buf *list)
{
        const cJSON *one;
        cJSON *document = NULL;
        int rc = 0;

        kw_put_array(list, NULL);
        if (m->c->document)
                rc = kw_json_read(m->c->document, strlen(m->c->document), &kw_any_size, &document, NULL);
        cJSON_ArrayForEach(one, kw_json_get(document, "rests_on")) kw_put_int(list, NULL, (int64_t)one->valuedouble);
        for (size_t i = 0; !document && i < m->n_within; i++)
                kw_put_int(list, NULL, m->within[i].lot->seq);
        kw_put_array_end(list);
        kw_buf_text(list);
        cJSON_Delete(document);
        return rc > 0 ? -EIO : rc ? rc : list->failed ? -ENOMEM : 0;
}

static int corrected(struct marking *m)
{
        struct kw_buf list = {0};
        struct kw_query q;
        int rc = rests_on(m, &list);

        if (rc == 0)
                rc = kw_ask(m->r->ledger, &q,
                            "SELECT k.seq, k.target, k.reason FROM json_each(?2) j JOIN correction k"
                            " ON k.target = j.value WHERE k.seq > ?1 ORDER BY k.seq",
                            "it", m->c->body_seq, kw_buf_text(&list));
        else
                q.stmt = NULL;
        while (rc == 0 && (rc = kw_next(m->r->ledger, &q)) == 1) {
                char target[24];

                snprintf(target, sizeof(target), "%lld", (long long)kw_int(&q, 1));
                rc = add_mark(m, KW_MARK_CORRECTED, kw_int(&q, 0), "entry", target, kw_text(&q, 2));
        }
        kw_end(&q);
        kw_buf_free(&list);
        return rc;
}

static int failed_since(struct marking *m)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < m->c->n_reels; i++) {
                const struct kw_failure_row *rows;
                size_t n;

                rc = kw_read_failures(m->r, m->c->reels[i], KW_AND_CUT_FROM, m->c->reels[i], &rows, &n);
                for (size_t k = 0; rc == 0 && k < n; k++)
                        if (rows[k].seq > m->c->body_seq && !rows[k].excused)
                                rc = add_mark(m, KW_MARK_FAILED, rows[k].seq, "test", rows[k].test, rows[k].property);
        }
        return rc;
}

/* --- cleared ----------------------------------------------------------------------------------------------------- */

static int read_clearings(struct kw_reader *r, struct kw_certificate_whole_row *c)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT k.seq, k.at, e.by, k.reason, k.holds FROM clearing k JOIN entry e ON e.seq = k.seq"
                        " WHERE k.certificate = ?1 ORDER BY k.seq",
                        "i", c->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_clearing_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_clearing_row){kw_int(&q, 0), kw_int(&q, 1), kw_keep_text(r, &q, 2, &failed),
                                                        kw_keep_text(r, &q, 3, &failed),
                                                        kw_keep_text(r, &q, 4, &failed)};
        }
        kw_end(&q);
        c->clearings = list.at;
        c->n_clearings = list.n;
        return failed ? -ENOMEM : rc;
}

static bool clears(const struct kw_clearing_row *clearing, const struct kw_mark_row *mark)
{
        char quoted[KW_CODE_MAX + 3];

        if (clearing->seq <= mark->seq)
                return false;
        if (!clearing->holds)
                return true;
        snprintf(quoted, sizeof(quoted), "\"%s\"", mark->code);
        return mark->what == KW_MARK_RECALLED && strstr(clearing->holds, quoted);
}

static int by_seq(const void *a, const void *b)
{
        const struct kw_mark_row *x = a, *y = b;

        return x->seq != y->seq ? (x->seq > y->seq) - (x->seq < y->seq) : strcmp(x->code, y->code);
}

static int who_and_when(struct kw_reader *r, struct kw_mark_row *mark)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT by, at FROM entry WHERE seq = ?1", "i", mark->seq);

        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                mark->by = kw_keep_text(r, &q, 0, &failed);
                rc = kw_stamp_read(kw_text(&q, 1), &mark->at) ? -EIO : 0;
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

static int finish_marks(struct marking *m)
{
        struct kw_mark_row *marks = m->marks.at;
        bool open = false;
        int rc = 0;

        if (m->marks.n)
                qsort(marks, m->marks.n, sizeof(*marks), by_seq);
        for (size_t i = 0; rc == 0 && i < m->marks.n; i++) {
                for (size_t k = 0; k < m->c->n_clearings && !marks[i].cleared; k++)
                        if (clears(&m->c->clearings[k], &marks[i]))
                                marks[i].cleared = m->c->clearings[k].seq;
                open = open || !marks[i].cleared;
                rc = who_and_when(m->r, &marks[i]);
        }
        m->c->marks = marks;
        m->c->n_marks = m->marks.n;
        if (m->c->withdrawn_seq)
                m->c->is = KW_CERTIFICATE_WITHDRAWN;
        else if (m->c->replaced_by)
                m->c->is = KW_CERTIFICATE_REPLACED;
        else
                m->c->is = open ? KW_CERTIFICATE_MARKED : KW_CERTIFICATE_STANDS;
        return rc;
}

/* --- one certificate --------------------------------------------------------------------------------------------- */

static int read_reels(struct kw_reader *r, struct kw_certificate_whole_row *c)
{
        struct kw_list ids = {0}, rows = {0};
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT lot FROM certificate_reel WHERE certificate = ?1 ORDER BY rowid", "i",
                        c->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                int64_t *id = kw_list_more(&r->arena, &ids, sizeof(*id));

                rc = id ? 0 : -ENOMEM;
                if (id)
                        *id = kw_int(&q, 0);
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < ids.n; i++) {
                const struct kw_lot_row **row = kw_list_more(&r->arena, &rows, sizeof(const struct kw_lot_row *));

                rc = row ? kw_read_lot(r, ((int64_t *)ids.at)[i], row) : -ENOMEM;
                if (rc == 0 && !*row)
                        rc = -EIO;
        }
        c->reels = rows.at;
        c->n_reels = rows.n;
        return rc;
}

/* The document out of the body that stands. */
static int read_document(struct kw_reader *r, struct kw_certificate_whole_row *c)
{
        struct kw_entry_row entry;
        struct kw_buf text = {0};
        const char *body = NULL;
        cJSON *parsed = NULL;
        bool failed = false;
        int rc = kw_read_entry(r, c->seq, &entry, NULL);

        if (rc == 0)
                rc = kw_read_standing_body(r, &entry, &body);
        if (rc == 0 && body)
                rc = kw_json_read(body, strlen(body), &kw_any_size, &parsed, NULL);
        if (rc == 0 && kw_json_get(parsed, "document")) {
                kw_json_canonical(kw_json_get(parsed, "document"), &text);
                c->document = kw_arena_text(&r->arena, kw_buf_text(&text), &failed);
                rc = text.failed || failed ? -ENOMEM : 0;
        }
        c->body_seq = entry.body_seq;
        kw_buf_free(&text);
        cJSON_Delete(parsed);
        return rc > 0 ? -EIO : rc;
}

static int read_row(struct kw_reader *r, const char *code, struct kw_certificate_whole_row *c)
{
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT c.id, c.seq, c.at, c.code, c.type, c.statement, e.by, w.at, w.seq, w.reason, x.by,"
                        " o.code, n.code FROM certificate c JOIN entry e ON e.seq = c.seq"
                        " LEFT JOIN withdrawal w ON w.seq = (SELECT min(seq) FROM withdrawal WHERE certificate = c.id)"
                        " LEFT JOIN entry x ON x.seq = w.seq LEFT JOIN certificate o ON o.id = c.replaces"
                        " LEFT JOIN certificate n ON n.id = (SELECT min(id) FROM certificate WHERE replaces = c.id)"
                        " WHERE c.id = (SELECT id FROM thing WHERE type = 'certificate' AND code = ?1)",
                        "t", code);

        if (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                *c = (struct kw_certificate_whole_row){.id = kw_int(&q, 0),
                                                       .seq = kw_int(&q, 1),
                                                       .at = kw_int(&q, 2),
                                                       .code = kw_keep_text(r, &q, 3, &failed),
                                                       .type = kw_keep_text(r, &q, 4, &failed),
                                                       .statement = kw_keep_text(r, &q, 5, &failed),
                                                       .by = kw_keep_text(r, &q, 6, &failed),
                                                       .withdrawn = kw_int_or(&q, 7, KW_NONE),
                                                       .withdrawn_seq = kw_int_or(&q, 8, 0),
                                                       .withdrawn_reason = kw_keep_text(r, &q, 9, &failed),
                                                       .withdrawn_by = kw_keep_text(r, &q, 10, &failed),
                                                       .replaces = kw_keep_text(r, &q, 11, &failed),
                                                       .replaced_by = kw_keep_text(r, &q, 12, &failed)};
                rc = 0;
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

int kw_read_certificate(struct kw_reader *r, const char *code, const struct kw_certificate_whole_row **out,
                        struct kw_error *err)
{
        static int (*const parts[])(struct marking *) = {held, asked, corrected, failed_since, finish_marks};
        struct kw_certificate_whole_row *c = kw_arena_get(&r->arena, sizeof(*c));
        struct marking m = {.r = r, .c = c};
        int rc = c ? read_row(r, code, c) : -ENOMEM;

        if (rc == 0 && !c->id)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "says",
                                      KW_VALUES(KW_WORD("type", "certificate"), KW_WORD("code", code)),
                                      "there is no certificate %s in the ledger", code);
        if (rc == 0)
                rc = read_reels(r, c);
        if (rc == 0)
                rc = read_document(r, c);
        if (rc == 0)
                rc = read_clearings(r, c);
        if (rc == 0)
                rc = kw_read_within(r, c->reels, c->n_reels, &m.within, &m.n_within);
        for (size_t i = 0; rc == 0 && i < sizeof(parts) / sizeof(*parts); i++)
                rc = parts[i](&m);
        *out = c;
        return rc;
}

/* --- a page of them --------------------------------------------------------------------------------------------------
 */

int kw_read_certificates(struct kw_reader *r, int64_t before, size_t limit, bool marked,
                         const struct kw_certificate_whole_row *const **out, size_t *n, int64_t *next)
{
        struct kw_list codes = {0}, rows = {0};
        bool failed = false;
        struct kw_query q;
        int64_t id = 0;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT code, id FROM certificate WHERE ?1 = 0 OR id < ?1 ORDER BY id DESC LIMIT ?2", "ii",
                        before, (int64_t)limit + 1);

        *next = 0;
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                const char **code;

                rc = 0;
                if (codes.n == limit) {
                        *next = id;
                        break;
                }
                id = kw_int(&q, 1);
                code = kw_list_more(&r->arena, &codes, sizeof(*code));
                if (!code) {
                        rc = -ENOMEM;
                        break;
                }
                *code = kw_keep_text(r, &q, 0, &failed);
        }
        kw_end(&q);
        rc = failed ? -ENOMEM : rc;
        for (size_t i = 0; rc == 0 && i < codes.n; i++) {
                const struct kw_certificate_whole_row *c, **row;
                struct kw_error none;

                rc = kw_read_certificate(r, ((const char **)codes.at)[i], &c, &none);
                if (rc || (marked && c->is != KW_CERTIFICATE_MARKED))
                        continue;
                row = kw_list_more(&r->arena, &rows, sizeof(*row));
                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = c;
        }
        *out = rows.at;
        *n = rows.n;
        return rc > 0 ? -EIO : rc;
}
