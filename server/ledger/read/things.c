/*
 * Things by their code, and what each leads to. A type of thing is a row: how it is described in a few words, and the
 * statements that find what it is linked with.
 */
#include "reader.h"

#include <errno.h>
#include <string.h>

struct link_def {
        const char *rel, *type;
        const char *sql; /* code, text and what it is made of; ?1 is the thing's id, of a machine or an instrument the
                            name */
};

/* Few words, and for a lot, a run and a batch what they are made of: keep_few(). */

#define LOT_TEXT   "l.kind || ', ' || (l.length_mm / 1000) || ' m', l.kind, l.length_mm"
#define RUN_TEXT   "r.process || ' on ' || r.machine, r.process, r.machine"
#define BATCH_TEXT "b.process || ' on ' || b.machine, b.process, b.machine"
#define TEST_TEXT  "coalesce(t.verdict, 'no verdict')"

static const struct link_def heat_links[] = {
        {"lot", "lot", "SELECT l.code, " LOT_TEXT " FROM lot l WHERE l.heat = ?1 ORDER BY l.code"},
        {0},
};
static const struct link_def supply_links[] = {
        {"lot", "lot", "SELECT l.code, " LOT_TEXT " FROM lot l WHERE l.supply = ?1 ORDER BY l.code"},
        {"run", "run",
         "SELECT r.code, " RUN_TEXT
         " FROM run_supply s JOIN run r ON r.id = s.run WHERE s.supply = ?1 ORDER BY r.code"},
        {0},
};
static const struct link_def lot_links[] = {
        {"heat", "heat",
         "SELECT h.code, h.supplier || ', ' || h.grade FROM lot l JOIN heat h ON h.id = l.heat WHERE l.id = ?1"},
        {"supply", "supply", "SELECT s.code, s.what FROM lot l JOIN supply s ON s.id = l.supply WHERE l.id = ?1"},
        {"run", "run", "SELECT r.code, " RUN_TEXT " FROM lot l JOIN run r ON r.id = l.run WHERE l.id = ?1"},
        {"feed", "run",
         "SELECT DISTINCT r.code, " RUN_TEXT
         " FROM feed f JOIN run r ON r.id = f.run WHERE f.lot = ?1 ORDER BY r.code"},
        {"batch", "batch",
         "SELECT b.code, " BATCH_TEXT " FROM batch_lot x JOIN batch b ON b.id = x.batch WHERE x.lot "
         "= ?1 ORDER BY b.code"},
        {"test", "test", "SELECT t.code, " TEST_TEXT " FROM test t WHERE t.lot = ?1 ORDER BY t.code"},
        {"hold", "hold",
         "SELECT DISTINCT h.code, h.reason FROM hold_span x JOIN hold h ON h.id = x.hold WHERE x.lot = ?1 ORDER BY "
         "h.code"},
        {"certificate", "certificate",
         "SELECT c.code, c.type FROM certificate_reel x JOIN certificate c ON c.id = x.certificate WHERE x.lot = ?1 "
         "ORDER BY c.code"},
        {"consignment", "consignment",
         "SELECT c.code, c.consignee FROM consignment_lot x JOIN consignment c ON c.id = x.consignment WHERE x.lot = "
         "?1"},
        {0},
};
static const struct link_def batch_links[] = {
        {"lot", "lot",
         "SELECT DISTINCT l.code, " LOT_TEXT
         " FROM batch_lot x JOIN lot l ON l.id = x.lot WHERE x.batch = ?1 ORDER BY l.code"},
        {"run", "run", "SELECT r.code, " RUN_TEXT " FROM run r WHERE r.batch = ?1 ORDER BY r.code"},
        {0},
};
static const struct link_def run_links[] = {
        {"batch", "batch", "SELECT b.code, " BATCH_TEXT " FROM run r JOIN batch b ON b.id = r.batch WHERE r.id = ?1"},
        {"feed", "lot",
         "SELECT l.code, " LOT_TEXT " FROM feed f JOIN lot l ON l.id = f.lot WHERE f.run = ?1 ORDER BY f.line, f.ord"},
        {"package", "lot",
         "SELECT l.code, " LOT_TEXT " FROM package p JOIN lot l ON l.id = p.lot WHERE p.run = ?1 ORDER BY p.ord"},
        {"weld", "weld",
         "SELECT w.code, w.made_by || ' on line ' || n.label FROM weld w JOIN line n ON n.run = w.run AND n.ord = "
         "w.line WHERE w.run = ?1 ORDER BY w.line, w.feed"},
        {"supply", "supply",
         "SELECT s.code, s.what FROM run r JOIN run_supply x ON x.seq = r.seq JOIN supply s ON s.id = x.supply WHERE "
         "r.id = ?1 ORDER BY s.code"},
        {"order", "order",
         "SELECT o.code, coalesce(o.customer, '') FROM run r JOIN thing t ON t.type = 'order' AND t.code = r.ord"
         " JOIN work_order o ON o.id = t.id WHERE r.id = ?1"},
        {0},
};
static const struct link_def weld_links[] = {
        {"run", "run", "SELECT r.code, " RUN_TEXT " FROM weld w JOIN run r ON r.id = w.run WHERE w.id = ?1"},
        {"feed", "lot",
         "SELECT l.code, " LOT_TEXT
         " FROM weld w JOIN feed f ON f.run = w.run AND f.line = w.line AND f.ord IN (w.feed - 1, w.feed)"
         " JOIN lot l ON l.id = f.lot WHERE w.id = ?1 ORDER BY f.ord"},
        {0},
};
static const struct link_def test_links[] = {
        {"lot", "lot", "SELECT l.code, " LOT_TEXT " FROM test t JOIN lot l ON l.id = t.lot WHERE t.id = ?1"},
        {"instrument", "instrument",
         "SELECT t.instrument, '' FROM test t WHERE t.id = ?1 AND t.instrument IS NOT NULL"},
        {"certificate", "certificate",
         "SELECT c.code, c.type FROM certificate_test x JOIN certificate c ON c.id = x.certificate WHERE x.test = ?1 "
         "ORDER BY c.code"},
        {0},
};
static const struct link_def hold_links[] = {
        {"lot", "lot",
         "SELECT DISTINCT l.code, " LOT_TEXT
         " FROM hold_span x JOIN lot l ON l.id = x.lot WHERE x.hold = ?1 ORDER BY l.code"},
        {0},
};
static const struct link_def certificate_links[] = {
        {"lot", "lot",
         "SELECT l.code, " LOT_TEXT
         " FROM certificate_reel x JOIN lot l ON l.id = x.lot WHERE x.certificate = ?1 ORDER BY l.code"},
        {"test", "test",
         "SELECT t.code, " TEST_TEXT
         " FROM certificate c JOIN certificate_test x ON x.seq = c.seq JOIN test t ON t.id = x.test"
         " WHERE c.id = ?1 ORDER BY t.code"},
        {"replaces", "certificate",
         "SELECT o.code, o.type FROM certificate c JOIN certificate o ON o.id = c.replaces WHERE c.id = ?1"},
        {"replaced-by", "certificate",
         "SELECT n.code, n.type FROM certificate n WHERE n.replaces = ?1 ORDER BY n.code"},
        {0},
};
static const struct link_def consignment_links[] = {
        {"lot", "lot",
         "SELECT l.code, " LOT_TEXT
         " FROM consignment_lot x JOIN lot l ON l.id = x.lot WHERE x.consignment = ?1 ORDER BY l.code"},
        {0},
};
static const struct link_def order_links[] = {
        {"run", "run",
         "SELECT r.code, " RUN_TEXT " FROM work_order o JOIN run r ON r.ord = o.code WHERE o.id = ?1 ORDER BY r.code"},
        {0},
};
static const struct link_def machine_links[] = {
        {"run", "run",
         "SELECT r.code, r.process, r.process, NULL FROM run r WHERE r.machine = ?1 ORDER BY r.at DESC, r.code LIMIT "
         "500"},
        {"batch", "batch",
         "SELECT b.code, b.process, b.process, NULL FROM batch b WHERE b.machine = ?1 ORDER BY b.at DESC, b.code LIMIT "
         "500"},
        {0},
};
static const struct link_def instrument_links[] = {
        {"test", "test",
         "SELECT t.code, " TEST_TEXT " FROM test t WHERE t.instrument = ?1 ORDER BY t.at DESC, t.code LIMIT 500"},
        {0},
};

/* @text: in a few words; @named: whether there is such a one, for what is known only by being named. */
static const struct type_def {
        const char *type;
        const char *text;
        const struct link_def *links;
        bool named_only;
} types[] = {
        {"heat", "SELECT supplier || ', ' || grade FROM heat WHERE id = ?1", heat_links, false},
        {"supply", "SELECT what || ', ' || supplier FROM supply WHERE id = ?1", supply_links, false},
        {"lot", "SELECT " LOT_TEXT " FROM lot l WHERE l.id = ?1", lot_links, false},
        {"batch", "SELECT " BATCH_TEXT " FROM batch b WHERE b.id = ?1", batch_links, false},
        {"run", "SELECT " RUN_TEXT " FROM run r WHERE r.id = ?1", run_links, false},
        {"weld", "SELECT w.made_by || ' in ' || r.code FROM weld w JOIN run r ON r.id = w.run WHERE w.id = ?1",
         weld_links, false},
        {"test", "SELECT l.code || ', ' || " TEST_TEXT " FROM test t JOIN lot l ON l.id = t.lot WHERE t.id = ?1",
         test_links, false},
        {"hold", "SELECT reason FROM hold WHERE id = ?1", hold_links, false},
        {"certificate", "SELECT type FROM certificate WHERE id = ?1", certificate_links, false},
        {"consignment", "SELECT consignee FROM consignment WHERE id = ?1", consignment_links, false},
        {"order",
         "SELECT coalesce(customer || ', ', '') || coalesce(construction, grade, process, 'order') FROM work_order"
         " WHERE id = ?1",
         order_links, false},
        {"machine",
         "SELECT 'machine' WHERE EXISTS (SELECT 1 FROM run WHERE machine = ?1) OR EXISTS (SELECT 1 FROM batch WHERE "
         "machine = ?1) OR EXISTS (SELECT 1 FROM note WHERE type = 'machine' AND code = ?1)",
         machine_links, true},
        {"instrument",
         "SELECT coalesce((SELECT what FROM instrument WHERE code = ?1 ORDER BY seq DESC LIMIT 1), 'instrument')"
         " WHERE EXISTS (SELECT 1 FROM test WHERE instrument = ?1) OR EXISTS (SELECT 1 FROM instrument WHERE code = ?1)"
         " OR EXISTS (SELECT 1 FROM note WHERE type = 'instrument' AND code = ?1)",
         instrument_links, true},
};

static const struct type_def *type_named(const char *type)
{
        for (size_t i = 0; i < sizeof(types) / sizeof(*types); i++) {
                if (strcmp(types[i].type, type) == 0)
                        return &types[i];
        }
        return NULL;
}

/* By id, or for what is only named by its name. */
static int ask_of(struct kw_reader *r, struct kw_query *q, const char *sql, const struct type_def *def, int64_t id,
                  const char *code)
{
        return def->named_only ? kw_ask(r->ledger, q, sql, "t", code) : kw_ask(r->ledger, q, sql, "i", id);
}

/* The few words at a column, and what stands after them. */
static struct kw_few_words keep_few(struct kw_reader *r, struct kw_query *q, const char *type, int column, bool *failed)
{
        struct kw_few_words few = {.text = kw_keep_text(r, q, column, failed), .length_mm = KW_NONE};

        if (strcmp(type, "lot") == 0) {
                few.kind = kw_keep_text(r, q, column + 1, failed);
                few.length_mm = kw_int(q, column + 2);
        } else if (strcmp(type, "run") == 0 || strcmp(type, "batch") == 0) {
                few.process = kw_keep_text(r, q, column + 1, failed);
                few.machine = kw_keep_text(r, q, column + 2, failed);
        }
        return few;
}

static int describe(struct kw_reader *r, const struct type_def *def, struct kw_thing_row *thing)
{
        bool failed = false;
        struct kw_query q;
        int rc = ask_of(r, &q, def->text, def, thing->id, thing->code);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1)
                thing->few = keep_few(r, &q, thing->type, 0, &failed);
        kw_end(&q);
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

int kw_read_thing(struct kw_reader *r, const char *type, const char *code, struct kw_thing_row *out,
                  struct kw_error *err)
{
        const struct type_def *def = type_named(type);
        bool failed = false;
        struct kw_query q;
        int rc;

        if (!def)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "type", KW_VALUES(KW_WORD("text", type)),
                                      "there is no type of thing called '%s'", type);
        *out = (struct kw_thing_row){.type = def->type, .code = kw_arena_text(&r->arena, code, &failed), .exact = true};
        if (!def->named_only) {
                rc = kw_ask(r->ledger, &q, "SELECT id, seq FROM thing WHERE type = ?1 AND code = ?2", "tt", type, code);
                if (rc == 0)
                        rc = kw_next(r->ledger, &q);
                if (rc == 1) {
                        out->id = kw_int(&q, 0);
                        out->seq = kw_int(&q, 1);
                }
                kw_end(&q);
                if (rc < 0)
                        return rc;
        }
        rc = failed ? -ENOMEM : describe(r, def, out);
        if (rc == 0 && !out->few.text)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "says",
                                      KW_VALUES(KW_WORD("type", type), KW_WORD("code", code)), "no %s %s is known",
                                      type, code);
        return rc;
}

static int add_links(struct kw_reader *r, const struct type_def *def, const struct link_def *link,
                     const struct kw_thing_row *thing, struct kw_list *list)
{
        bool failed = false;
        struct kw_query q;
        int rc = ask_of(r, &q, link->sql, def, thing->id, thing->code);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_link_row *row = kw_list_more(&r->arena, list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_link_row){link->rel, link->type, kw_keep_text(r, &q, 0, &failed),
                                                    keep_few(r, &q, link->type, 1, &failed)};
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

int kw_read_links(struct kw_reader *r, const struct kw_thing_row *thing, const struct kw_link_row **out, size_t *n)
{
        const struct type_def *def = type_named(thing->type);
        struct kw_list list = {0};
        int rc = 0;

        for (const struct link_def *link = def ? def->links : NULL; rc == 0 && link && link->rel; link++)
                rc = add_links(r, def, link, thing, &list);
        *out = list.at;
        *n = list.n;
        return rc;
}

/* --- find ------------------------------------------------------------------------------------------------- */

/*
 * Codes hold no character above 'Z', so all that begin with ?1 lie between it and it with a 0x7f after. Machines and
 * instruments are stepped through from one name to the next, not run by run.
 */
#define NAMES(table, column)                                                                        \
        "WITH RECURSIVE name (it) AS (SELECT min(" column ") FROM " table " WHERE " column " >= ?1" \
        " UNION ALL SELECT (SELECT min(" column ") FROM " table " WHERE " column " > it) FROM name" \
        " WHERE it < ?1 || char(127))"                                                              \
        " SELECT it FROM name WHERE it < ?1 || char(127) LIMIT ?2"

static const struct {
        const char *type, *sql;
} named[] = {
        {"machine", NAMES("run", "machine")},
        {"machine", NAMES("batch", "machine")},
        {"instrument", NAMES("test", "instrument")},
        {"instrument", NAMES("instrument", "code")},
};

struct found {
        struct kw_reader *r;
        struct kw_list list;
        const char *text;
        size_t most;
};

static bool is_there(const struct found *found, const char *type, const char *code)
{
        const struct kw_thing_row *rows = found->list.at;

        for (size_t i = 0; i < found->list.n; i++) {
                if (strcmp(rows[i].type, type) == 0 && strcmp(rows[i].code, code) == 0)
                        return true;
        }
        return false;
}

static int add_found(struct found *found, const char *type, const char *code, int64_t id, int64_t seq)
{
        const struct type_def *def = type_named(type);
        struct kw_thing_row *row;
        bool failed = false;

        if (!def || found->list.n == found->most || is_there(found, type, code))
                return 0;
        row = kw_list_more(&found->r->arena, &found->list, sizeof(*row));
        if (!row)
                return -ENOMEM;
        *row = (struct kw_thing_row){.type = def->type,
                                     .code = kw_arena_text(&found->r->arena, code, &failed),
                                     .id = id,
                                     .seq = seq,
                                     .exact = strcmp(code, found->text) == 0};
        return failed ? -ENOMEM : describe(found->r, def, row);
}

/* The least code of any type behind @code that begins as ?1 does: one look under each type. */
#define CODE_AFTER(code)                                                                                \
        "(SELECT min((SELECT min(code) FROM thing WHERE thing.type = types.type AND thing.code > " code \
        " AND thing.code < ?1 || char(127))) FROM types)"

static int find_things(struct found *found, const char *sql)
{
        struct kw_ledger *l = found->r->ledger;
        struct kw_query q;
        int rc = kw_ask(l, &q, sql, "ti", found->text, (int64_t)found->most);

        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = add_found(found, kw_text(&q, 0), kw_text(&q, 1), kw_int(&q, 2), kw_int(&q, 3));
        kw_end(&q);
        return rc;
}

static int find_named(struct found *found, bool exact)
{
        struct kw_ledger *l = found->r->ledger;
        struct kw_query q;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < sizeof(named) / sizeof(*named); i++) {
                rc = kw_ask(l, &q, named[i].sql, "ti", found->text, (int64_t)found->most);
                while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                        const char *name = kw_text(&q, 0);
                        bool same = strcmp(name, found->text) == 0;

                        rc = same == exact ? add_found(found, named[i].type, name, 0, 0) : 0;
                }
                kw_end(&q);
        }
        return rc;
}

int kw_read_find(struct kw_reader *r, const char *text, size_t most, const struct kw_thing_row **out, size_t *n)
{
        struct found found = {.r = r, .text = text, .most = most};
        int rc = 0;

        if (*text) {
                rc = find_things(&found, "WITH RECURSIVE " KW_TYPES
                                         " SELECT t.type, t.code, t.id, t.seq FROM types CROSS JOIN thing t"
                                         " ON t.type = types.type AND t.code = ?1 ORDER BY t.type LIMIT ?2");
                if (rc == 0)
                        rc = find_named(&found, true);
                if (rc == 0)
                        rc = find_named(&found, false);
                if (rc == 0)
                        rc = find_things(&found,
                                         "WITH RECURSIVE " KW_TYPES
                                         ", next (code) AS (SELECT " CODE_AFTER("?1") " UNION ALL SELECT " CODE_AFTER(
                                                 "next.code") " FROM next WHERE next.code IS NOT NULL LIMIT ?2)"
                                                              " SELECT t.type, t.code, t.id, t.seq FROM next CROSS "
                                                              "JOIN types CROSS JOIN thing t"
                                                              " ON t.type = types.type AND t.code = next.code ORDER BY "
                                                              "t.code, t.type LIMIT ?2");
        }
        *out = found.list.at;
        *n = found.list.n;
        return rc;
}
