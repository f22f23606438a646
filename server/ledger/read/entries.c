/*
 * Entries as the ledger page and an auditor see them: as sent, what stands of them, and what put them right.
 */
#include "reader.h"

#include <errno.h>
#include <string.h>

const char *kw_standing_text(enum kw_standing s)
{
        static const char *const text[] = {[KW_STANDS] = "stands", [KW_CORRECTED] = "corrected", [KW_VOID] = "void"};

        return text[s];
}

/* --- bodies ----------------------------------------------------------------------------------------- */

const struct kw_json_limits kw_leaf_limits = {.bytes = (size_t)8 << 20, .nodes = 400000};

static int parse(const char *text, cJSON **out)
{
        int rc = kw_json_read(text, strlen(text), &kw_leaf_limits, out, NULL);

        return rc > 0 ? -EIO : rc;
}

static int keep_canonical(struct kw_reader *r, const cJSON *json, const char **out)
{
        struct kw_buf text = {0};
        bool failed = false;

        kw_json_canonical(json, &text);
        *out = kw_arena_text(&r->arena, kw_buf_text(&text), &failed);
        failed = failed || text.failed;
        kw_buf_free(&text);
        return failed ? -ENOMEM : 0;
}

static int read_body(struct kw_reader *r, const char *leaf, bool of_correction, const char **out)
{
        const cJSON *body;
        cJSON *json = NULL;
        int rc = parse(leaf, &json);

        *out = NULL;
        if (rc)
                return rc;
        body = kw_json_get(json, "body");
        if (body && of_correction)
                body = kw_json_get(body, "body");
        rc = body ? keep_canonical(r, body, out) : -EIO;
        cJSON_Delete(json);
        return rc;
}

/* --- one entry ---------------------------------------------------------------------------------------- */

static int take_entry(struct kw_reader *r, struct kw_query *q, struct kw_entry_row *e)
{
        const void *hash = sqlite3_column_blob(q->stmt, 8);
        bool failed = false;

        *e = (struct kw_entry_row){.seq = kw_int(q, 0),
                                   .key = kw_keep_text(r, q, 1, &failed),
                                   .kind = kw_keep_text(r, q, 2, &failed),
                                   .at = kw_keep_text(r, q, 3, &failed),
                                   .logged = kw_keep_text(r, q, 4, &failed),
                                   .by = kw_keep_text(r, q, 5, &failed),
                                   .terminal = kw_keep_text(r, q, 6, &failed),
                                   .leaf = kw_keep_text(r, q, 7, &failed),
                                   .body_seq = kw_int(q, 0)};
        if (hash && sqlite3_column_bytes(q->stmt, 8) == KW_HASH)
                memcpy(e->hash.bytes, hash, KW_HASH);
        if (!kw_is_null(q, 9)) {
                e->standing = kw_int(q, 10) ? KW_VOID : KW_CORRECTED;
                e->body_seq = kw_int(q, 9);
        }
        return failed ? -ENOMEM : 0;
}

static int read_corrections(struct kw_reader *r, struct kw_entry_row *e)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT seq, reason, void FROM correction WHERE target = ?1 ORDER BY seq", "i",
                        e->seq);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_correction_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_correction_row){kw_int(&q, 0), kw_keep_text(r, &q, 1, &failed),
                                                          kw_int(&q, 2) != 0};
        }
        kw_end(&q);
        e->corrections = list.at;
        e->n_corrections = list.n;
        return failed ? -ENOMEM : rc;
}

static int complete(struct kw_reader *r, struct kw_entry_row *e)
{
        int rc = read_body(r, e->leaf, false, &e->body);

        if (rc == 0)
                rc = read_corrections(r, e);
        if (rc == 0)
                rc = kw_read_findings_of(r, e->seq, 0, &e->findings, &e->n_findings);
        return rc;
}

#define ENTRY                                                                                        \
        "e.seq, e.key, e.kind, e.at, e.logged, e.by, e.terminal, e.leaf, e.hash, s.body_seq, s.void" \
        " FROM entry e LEFT JOIN standing s ON s.seq = e.seq"

int kw_read_entry(struct kw_reader *r, int64_t seq, struct kw_entry_row *out, struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT " ENTRY " WHERE e.seq = ?1", "i", seq);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 0) {
                kw_end(&q);
                return kw_refuse_with(err, KW_NOT_FOUND, "", "entry", KW_VALUES(KW_FIGURE("seq", seq)),
                                      "the ledger has no entry %lld", (long long)seq);
        }
        if (rc == 1)
                rc = take_entry(r, &q, out);
        kw_end(&q);
        return rc ? rc : complete(r, out);
}

int kw_read_standing_body(struct kw_reader *r, const struct kw_entry_row *entry, const char **out)
{
        struct kw_query q;
        int rc;

        *out = entry->standing == KW_STANDS ? entry->body : NULL;
        if (entry->standing != KW_CORRECTED)
                return 0;
        rc = kw_ask(r->ledger, &q, "SELECT leaf FROM entry WHERE seq = ?1", "i", entry->body_seq);
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1)
                rc = read_body(r, kw_text(&q, 0), true, out);
        kw_end(&q);
        return rc;
}

/* --- what it is about ------------------------------------------------------------------------------------ */

/* The member of a body that names what an entry of each kind is about; the second, where there is one, follows "to". */
static const struct {
        const char *kind, *member, *to;
} subjects[] = {
        {"heat", "heat", NULL},
        {"supply", "supply", NULL},
        {"receive", "lot", NULL},
        {"batch", "batch", NULL},
        {"run", "run", NULL},
        {"test", "test", NULL},
        {"hold", "hold", NULL},
        {"release", "hold", NULL},
        {"scrap", "lot", NULL},
        {"certify", "certificate", NULL},
        {"withdraw", "certificate", NULL},
        {"dispatch", "consignment", "consignee"},
        {"move", "lots", "location"},
        {"correct", "entry", NULL},
        {"void", "entry", NULL},
        {"order", "order", NULL},
        {"open", "run", NULL},
        {"load", "lot", "run"},
        {"doff", "run", NULL},
        {"close", "run", NULL},
        {"note", "about", NULL},
        {"instrument", "instrument", NULL},
        {"spec", "spec", NULL},
        {"person", "person", NULL},
        {"terminal", "terminal", NULL},
        {"token", "token", NULL},
        {"access", "what", "person"},
        {"clear", "certificate", NULL},
};

static void put_names(const cJSON *value, struct kw_buf *out)
{
        const cJSON *item;
        size_t said = 0;

        if (cJSON_IsString(value))
                kw_buf_text_add(out, value->valuestring);
        if (!cJSON_IsArray(value))
                return;
        cJSON_ArrayForEach(item, value)
        {
                if (said == 3) {
                        kw_buf_printf(out, " and %d more", cJSON_GetArraySize(value) - 3);
                        return;
                }
                kw_buf_text_add(out, said++ ? ", " : "");
                put_names(cJSON_IsObject(item) ? kw_json_get(item, "lot") : item, out);
        }
}

int kw_entry_about(struct kw_reader *r, const struct kw_entry_row *entry, const char **out)
{
        struct kw_buf text = {0};
        bool failed = false;
        cJSON *body = NULL;
        int rc = parse(entry->body, &body);

        for (size_t i = 0; rc == 0 && i < sizeof(subjects) / sizeof(*subjects); i++) {
                if (strcmp(subjects[i].kind, entry->kind) != 0)
                        continue;
                put_names(kw_json_get(body, subjects[i].member), &text);
                if (subjects[i].to && kw_json_text(body, subjects[i].to)) {
                        kw_buf_text_add(&text, " to ");
                        kw_buf_text_add(&text, kw_json_text(body, subjects[i].to));
                }
        }
        *out = kw_arena_text(&r->arena, kw_buf_text(&text), &failed);
        failed = failed || text.failed;
        kw_buf_free(&text);
        cJSON_Delete(body);
        return failed ? -ENOMEM : rc;
}

/* --- lists of them ------------------------------------------------------------------------------------------ */

/* Every entry that has to do with a code: what made it, what used it, tested, barred, moved or sent it, and what
 * corrected any of these. */
#define OF_CODE                                                                                                      \
        "WITH RECURSIVE " KW_TYPES ","                                                                               \
        " it (type, id, seq) AS MATERIALIZED (SELECT t.type, t.id, t.seq FROM types CROSS JOIN thing t ON t.type = " \
        "types.type AND t.code = ?5),"                                                                               \
        " about (seq) AS (SELECT seq FROM it"                                                                        \
        "  UNION SELECT x.seq FROM it JOIN feed x ON x.lot = it.id WHERE it.type = 'lot'"                            \
        "  UNION SELECT x.seq FROM it JOIN taken x ON x.lot = it.id WHERE it.type = 'lot'"                           \
        "  UNION SELECT x.seq FROM it JOIN test x ON x.lot = it.id WHERE it.type = 'lot'"                            \
        "  UNION SELECT x.seq FROM it JOIN batch_lot x ON x.lot = it.id WHERE it.type = 'lot'"                       \
        "  UNION SELECT x.seq FROM it JOIN hold_span x ON x.lot = it.id WHERE it.type = 'lot'"                       \
        "  UNION SELECT x.seq FROM it JOIN release_span x ON x.lot = it.id WHERE it.type = 'lot'"                    \
        "  UNION SELECT x.seq FROM it JOIN certificate_reel x ON x.lot = it.id WHERE it.type = 'lot'"                \
        "  UNION SELECT x.seq FROM it JOIN consignment_lot x ON x.lot = it.id WHERE it.type = 'lot'"                 \
        "  UNION SELECT x.seq FROM it JOIN place x ON x.lot = it.id WHERE it.type = 'lot'"                           \
        "  UNION SELECT x.seq FROM it JOIN lot x ON x.heat = it.id WHERE it.type = 'heat'"                           \
        "  UNION SELECT x.seq FROM it JOIN lot x ON x.supply = it.id WHERE it.type = 'supply'"                       \
        "  UNION SELECT x.seq FROM it JOIN run_supply x ON x.supply = it.id WHERE it.type = 'supply'"                \
        "  UNION SELECT x.seq FROM it JOIN step x ON x.run_seq = it.seq WHERE it.type = 'run'"                       \
        "  UNION SELECT x.seq FROM it JOIN run x ON x.batch = it.id WHERE it.type = 'batch'"                         \
        "  UNION SELECT x.seq FROM it JOIN release x ON x.hold = it.id WHERE it.type = 'hold'"                       \
        "  UNION SELECT x.seq FROM it JOIN withdrawal x ON x.certificate = it.id WHERE it.type = 'certificate'"      \
        "  UNION SELECT x.seq FROM it JOIN clearing x ON x.certificate = it.id WHERE it.type = 'certificate'"        \
        "  UNION SELECT x.seq FROM it JOIN certificate x ON x.replaces = it.id WHERE it.type = 'certificate'"        \
        "  UNION SELECT x.seq FROM it JOIN note x ON x.type = it.type AND x.code = ?5),"                             \
        " wanted (seq) AS (SELECT seq FROM about UNION SELECT c.seq FROM about a JOIN correction c ON c.target = "   \
        "a.seq)"

#define FILTER                                                                      \
        " e.seq < ?1 AND (?3 IS NULL OR e.kind = ?3) AND (?4 IS NULL OR e.by = ?4)" \
        " ORDER BY e.seq DESC LIMIT ?2"

#define FEW 5000 /* entries */

/*
 * Whether it is by the person that they are found soonest: of one who recorded little, or where nothing else is asked.
 * Else a page of a kind may be read past all the entries of others.
 */
static int is_by_person(struct kw_reader *r, const struct kw_entries_wanted *w, bool *by)
{
        int64_t n = 0;
        int rc = 0;

        if (w->by && w->kind)
                rc = kw_one(r->ledger, &n, 0, "SELECT count(*) FROM (SELECT 1 FROM entry WHERE by = ?1 LIMIT ?2)", "ti",
                            w->by, (int64_t)FEW);
        *by = w->by && n < FEW;
        return rc;
}

static int ask_entries(struct kw_reader *r, struct kw_query *q, const struct kw_entries_wanted *w)
{
        const int64_t before = w->before ? w->before : INT64_MAX;
        const int64_t limit = (int64_t)w->limit + 1;
        bool by;
        int rc = is_by_person(r, w, &by);

        if (rc)
                return rc;
        if (w->code)
                return kw_ask(r->ledger, q,
                              OF_CODE " SELECT " ENTRY " WHERE e.seq IN (SELECT seq FROM wanted) AND" FILTER, "iittt",
                              before, limit, w->kind, w->by, w->code);
        if (by)
                return kw_ask(r->ledger, q,
                              "SELECT " ENTRY " WHERE e.by = ?4 AND e.seq < ?1 AND (?3 IS NULL OR e.kind = ?3)"
                              " ORDER BY e.seq DESC LIMIT ?2",
                              "iitt", before, limit, w->kind, w->by);
        if (w->kind)
                return kw_ask(r->ledger, q,
                              "SELECT " ENTRY " WHERE e.kind = ?3 AND e.seq < ?1 AND (?4 IS NULL OR e.by = ?4)"
                              " ORDER BY e.seq DESC LIMIT ?2",
                              "iitt", before, limit, w->kind, w->by);
        return kw_ask(r->ledger, q, "SELECT " ENTRY " WHERE e.seq < ?1 ORDER BY e.seq DESC LIMIT ?2", "ii", before,
                      limit);
}

int kw_read_entries(struct kw_reader *r, const struct kw_entries_wanted *wanted, const struct kw_entry_row **out,
                    size_t *n, int64_t *next)
{
        struct kw_list list = {0};
        struct kw_query q;
        int rc = ask_entries(r, &q, wanted);

        *next = 0;
        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_entry_row *row;

                if (list.n == wanted->limit) {
                        *next = ((struct kw_entry_row *)list.at)[list.n - 1].seq;
                        rc = 0;
                        break;
                }
                row = kw_list_more(&r->arena, &list, sizeof(*row));
                rc = row ? take_entry(r, &q, row) : -ENOMEM;
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < list.n; i++)
                rc = complete(r, (struct kw_entry_row *)list.at + i);
        *out = list.at;
        *n = list.n;
        return rc;
}
