/*
 * What selected entries need beside them: to be read, or to be recorded again in an empty ledger.
 *
 * A large mill's closure may be most of its ledger, so each entry is asked for with what its kind can need and no more.
 * Rows that a run or a receipt made carry its number in their ids (seq * 4096 and what follows), so the makers of lots
 * are told by the lots' ids alone.
 */
#include "select.h"

#include "reader.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define IDS       4096 /* ids of an entry: seq * 4096 + a number within it */
#define ASKED_FOR 65536

/* --- the needs of each kind ----------------------------------------------------------------------- */

#define PUT_RIGHT "SELECT seq FROM correction WHERE target = ?1"

#define OF_RECEIPT                                                                                             \
        PUT_RIGHT " UNION ALL SELECT h.seq FROM lot l JOIN heat h ON h.id = l.heat WHERE l.id = ?1 * 4096"     \
                  " UNION ALL SELECT x.seq FROM lot l JOIN supply x ON x.id = l.supply WHERE l.id = ?1 * 4096" \
                  " UNION ALL SELECT t.seq FROM lot l JOIN thing t ON t.type = 'order' AND t.code = l.ord"     \
                  "  WHERE l.id = ?1 * 4096"

/* Of a run that is logged whole or opened, what is read beside it; its feeds are asked for by add_feeds(). */
#define BESIDE_A_RUN                                                                                              \
        PUT_RIGHT " UNION ALL SELECT t.seq FROM run x JOIN thing t ON t.type = 'order' AND t.code = x.ord"        \
                  "  WHERE x.id = ?1 * 4096"                                                                      \
                  " UNION ALL SELECT y.seq FROM run x JOIN run_supply z ON z.seq = x.seq AND z.run = x.id"        \
                  "  JOIN supply y ON y.id = z.supply WHERE x.id = ?1 * 4096"                                     \
                  " UNION ALL SELECT t.seq FROM overridden o JOIN thing t ON t.type = 'hold' AND t.code = o.hold" \
                  "  WHERE o.run = ?1 * 4096"
#define OF_A_RUN                                                                                                \
        BESIDE_A_RUN " UNION ALL SELECT b.seq FROM run x JOIN batch b ON b.id = x.batch WHERE x.id = ?1 * 4096" \
                     " UNION ALL SELECT seq FROM step WHERE run_seq = ?1"

#define OF_CONSIGNMENT PUT_RIGHT " UNION ALL SELECT lot / 4096 FROM consignment_lot WHERE seq = ?1"

/* Of all kinds that make no lots. */
#define OF_OTHERS                                                                                                    \
        PUT_RIGHT " UNION ALL SELECT target FROM correction WHERE seq = ?1"                                          \
                  " UNION ALL SELECT y.seq FROM test x JOIN spec y ON y.id = x.spec WHERE x.seq = ?1"                \
                  " UNION ALL SELECT y.seq FROM test x JOIN instrument y ON y.code = x.instrument AND y.seq < x.seq" \
                  "  WHERE x.seq = ?1"                                                                               \
                  " UNION ALL SELECT y.seq FROM test x JOIN test y ON y.id = x.retest_of WHERE x.seq = ?1"           \
                  " UNION ALL SELECT lot / 4096 FROM test WHERE seq = ?1"                                            \
                  " UNION ALL SELECT run_seq FROM step WHERE seq = ?1"                                               \
                  " UNION ALL SELECT lot / 4096 FROM batch_lot WHERE seq = ?1"                                       \
                  " UNION ALL SELECT lot / 4096 FROM taken WHERE seq = ?1"                                           \
                  " UNION ALL SELECT lot / 4096 FROM hold_span WHERE seq = ?1 AND run = 0"                           \
                  " UNION ALL SELECT x.seq FROM hold h JOIN release x ON x.hold = h.id WHERE h.seq = ?1"             \
                  " UNION ALL SELECT h.seq FROM release x JOIN hold h ON h.id = x.hold WHERE x.seq = ?1"             \
                  " UNION ALL SELECT x.seq FROM hold h JOIN agreement x ON x.hold = h.id WHERE h.seq = ?1"           \
                  " UNION ALL SELECT lot / 4096 FROM release_span WHERE seq = ?1"                                    \
                  " UNION ALL SELECT h.seq FROM agreement x JOIN hold h ON h.id = x.hold WHERE x.seq = ?1"           \
                  " UNION ALL SELECT lot / 4096 FROM agreement_span WHERE seq = ?1"                                  \
                  " UNION ALL SELECT lot / 4096 FROM certificate_reel WHERE seq = ?1"                                \
                  " UNION ALL SELECT t.seq FROM certificate_test x JOIN test t ON t.id = x.test WHERE x.seq = ?1"    \
                  " UNION ALL SELECT x.seq FROM certificate c JOIN withdrawal x ON x.certificate = c.id"             \
                  "  WHERE c.seq = ?1"                                                                               \
                  " UNION ALL SELECT c.seq FROM withdrawal x JOIN certificate c ON c.id = x.certificate"             \
                  "  WHERE x.seq = ?1"                                                                               \
                  " UNION ALL SELECT x.seq FROM certificate c JOIN clearing x ON x.certificate = c.id"               \
                  "  WHERE c.seq = ?1"                                                                               \
                  " UNION ALL SELECT c.seq FROM clearing x JOIN certificate c ON c.id = x.certificate"               \
                  "  WHERE x.seq = ?1"                                                                               \
                  " UNION ALL SELECT o.seq FROM certificate c JOIN certificate o ON o.id = c.replaces"               \
                  "  WHERE c.seq = ?1"                                                                               \
                  " UNION ALL SELECT lot / 4096 FROM place WHERE seq = ?1"                                           \
                  " UNION ALL SELECT t.seq FROM note x JOIN thing t ON t.type = x.type AND t.code = x.code"          \
                  "  WHERE x.seq = ?1"

/* Of that, what a reader looks up, but not the making of lots that the entry only names beside others. */
#define BESIDE_OTHERS                                                                                                \
        "SELECT e.seq FROM entry e WHERE e.seq IN (" OF_OTHERS                                                       \
        ") AND e.kind IN ('heat', 'supply', 'order', 'spec', 'instrument', 'hold', 'agree', 'release', 'withdraw', " \
        "'clear', 'correct', 'void')"

enum feeds { FEEDS_NONE, FEEDS_LOADED, FEEDS_TAKEN };

/* The last is for every kind that has no row of its own. */
static const struct kind_needs {
        const char *kind;
        const char *needs, *beside;
        enum feeds feeds; /* loads say which length they took; a run that is logged whole may take what is left */
        bool takes;       /* what it is of may depend on what was taken before it */
} kinds[] = {
        {"run", OF_A_RUN, BESIDE_A_RUN, FEEDS_TAKEN, false},
        {"open", OF_A_RUN, BESIDE_A_RUN, FEEDS_LOADED, false},
        {"receive", OF_RECEIPT, OF_RECEIPT, FEEDS_NONE, false},
        {"dispatch", OF_CONSIGNMENT, PUT_RIGHT, FEEDS_NONE, false},
        {"batch", OF_OTHERS, BESIDE_OTHERS, FEEDS_NONE, true},
        {"scrap", OF_OTHERS, BESIDE_OTHERS, FEEDS_NONE, true},
        {"correct", OF_OTHERS, BESIDE_OTHERS, FEEDS_NONE, true},
        {NULL, OF_OTHERS, BESIDE_OTHERS, FEEDS_NONE, false},
};

struct kw_closing {
        struct kw_reader *r;
        struct kw_selection *s, done;
        bool to_load;
        int64_t seq;                     /* the next to be gone through, down to 1 */
        struct kw_numbers lots, earlier; /* of the entry under way */
        /*
         * Lots whose earlier takers are selected, each at one place of few: entries come from the ledger's end, so
         * what is selected for one is for all before it. What another lot took the place of is asked for once more.
         */
        int64_t asked[ASKED_FOR];
};

static const struct kind_needs *needs_of(const char *kind)
{
        const struct kind_needs *k = kinds;

        while (k->kind && strcmp(k->kind, kind) != 0)
                k++;
        return k;
}

/* --- what was taken before ------------------------------------------------------------------------ */

/* Of a lot: who took of it before entry ?2. */
#define EARLIER_OF_LOT                                                   \
        "SELECT run / 4096 FROM feed WHERE lot = ?1 AND run < ?2 * 4096" \
        " UNION ALL SELECT seq FROM taken WHERE lot = ?1 AND seq < ?2"

/* Of the lots that entry ?1 took from: who did before entry ?2, or, of lots treated whole, before their treatment. */
#define EARLIER                                                                                                       \
        "WITH mine (lot) AS (SELECT lot FROM feed WHERE run = ?1 * 4096"                                              \
        "  UNION SELECT lot FROM taken WHERE seq = ?1 UNION SELECT lot FROM batch_lot WHERE seq = ?1)"                \
        " SELECT f.run / 4096 FROM mine JOIN feed f ON f.lot = mine.lot WHERE f.run < ?2 * 4096"                      \
        " UNION ALL SELECT t.seq FROM mine JOIN taken t ON t.lot = mine.lot WHERE t.seq < ?2"                         \
        " UNION ALL SELECT f.run / 4096 FROM batch b JOIN batch_lot m ON m.batch = b.id JOIN feed f ON f.lot = m.lot" \
        "  JOIN run x ON x.id = f.run WHERE b.seq = ?1 AND m.from_mm IS NULL AND x.at <= b.at"                        \
        " UNION ALL SELECT t.seq FROM batch b JOIN batch_lot m ON m.batch = b.id JOIN taken t ON t.lot = m.lot"       \
        "  WHERE b.seq = ?1 AND m.from_mm IS NULL AND t.at <= b.at"

/* Whether a body takes "what is left", so that what others took before decides what it means. */
static bool takes_what_is_left(const cJSON *body)
{
        const cJSON *line, *feed, *item;

        cJSON_ArrayForEach(line, kw_json_get(body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (!kw_json_get(feed, "from_mm"))
                                return true;
                }
        }
        if (kw_json_get(body, "batch") && kw_json_get(body, "lots"))
                cJSON_ArrayForEach(item, kw_json_get(body, "lots"))
                {
                        if (!kw_json_get(item, "from_mm"))
                                return true;
                }
        if (kw_json_get(body, "body") && takes_what_is_left(kw_json_get(body, "body")))
                return true;
        return kw_json_get(body, "reason") && kw_json_get(body, "lot") && !kw_json_get(body, "from_mm");
}

static int leaf_takes(const char *leaf, bool *out)
{
        cJSON *json = NULL;
        int rc = kw_json_read(leaf, strlen(leaf), &kw_leaf_limits, &json, NULL);

        *out = rc == 0 && takes_what_is_left(kw_json_get(json, "body"));
        cJSON_Delete(json);
        return rc > 0 ? -EIO : rc;
}

/* Of a run with feeds. A quote within a text has a stroke before it, so the member's name is nowhere but where it is
 * one; and most runs have it nowhere, so that they need not be read member by member. */
static int run_takes(const char *leaf, bool *out)
{
        *out = true;
        return strstr(leaf, "\"from_mm\":") ? leaf_takes(leaf, out) : 0;
}

static int64_t *place_of(struct kw_closing *c, int64_t lot)
{
        return &c->asked[kw_spread_id(lot) % ASKED_FOR];
}

/* The takers of a lot before entry @seq that are not selected yet. */
static int ask_earlier(struct kw_closing *c, int64_t lot, int64_t seq)
{
        struct kw_query q;
        int rc = kw_ask(c->r->ledger, &q, EARLIER_OF_LOT, "ii", lot, seq);

        while (rc == 0 && (rc = kw_next(c->r->ledger, &q)) == 1)
                rc = kw_selected(c->s, kw_int(&q, 0)) ? 0 : kw_numbers_add(&c->earlier, kw_int(&q, 0));
        kw_end(&q);
        return rc;
}

static int add_earlier(struct kw_closing *c, int64_t seq, const char *leaf)
{
        bool takes = true;
        int rc = 0;

        c->earlier.n = 0;
        for (size_t i = 0; rc == 0 && i < c->lots.n; i++) {
                if (*place_of(c, c->lots.at[i]) != c->lots.at[i])
                        rc = ask_earlier(c, c->lots.at[i], seq);
        }
        if (rc == 0 && c->earlier.n)
                rc = run_takes(leaf, &takes);
        if (rc || !takes)
                return rc;
        for (size_t i = 0; i < c->earlier.n; i++)
                kw_select(c->s, c->earlier.at[i]);
        for (size_t i = 0; i < c->lots.n; i++)
                *place_of(c, c->lots.at[i]) = c->lots.at[i];
        return 0;
}

/* --- what was taken, and of what -------------------------------------------------------------------- */

/* Select what a started statement gives. */
static int take(struct kw_closing *c, struct kw_query *q, int rc)
{
        while (rc == 0 && (rc = kw_next(c->r->ledger, q)) == 1) {
                kw_select(c->s, kw_int(q, 0));
                rc = 0;
        }
        kw_end(q);
        return rc;
}

/* The lots that the run was fed with were made, or received. */
static int add_feeds(struct kw_closing *c, int64_t seq)
{
        struct kw_query q;
        int rc = kw_ask(c->r->ledger, &q, "SELECT lot FROM feed WHERE run = ?1 * 4096", "i", seq);

        c->lots.n = 0;
        while (rc == 0 && (rc = kw_next(c->r->ledger, &q)) == 1) {
                kw_select(c->s, kw_int(&q, 0) / IDS);
                rc = kw_numbers_add(&c->lots, kw_int(&q, 0));
        }
        kw_end(&q);
        return rc;
}

/* --- what an entry said at first -------------------------------------------------------------------- */

/* An entry as it was said: its number, that of the entry whose things are its own, and whether it takes what is left.
 */
struct as_said {
        int64_t seq, whose;
        bool takes;
};

/* The things of this code that there were then, and who had taken of it where it is a lot that is taken whole. */
static int add_named(struct kw_closing *c, const struct as_said *said, const char *code)
{
        struct kw_query q;
        int rc = kw_ask(c->r->ledger, &q, "SELECT type, id, seq FROM thing WHERE code = ?1 AND seq < ?2 AND seq <> ?3",
                        "tii", code, said->seq, said->whose);

        while (rc == 0 && (rc = kw_next(c->r->ledger, &q)) == 1) {
                kw_select(c->s, kw_int(&q, 2));
                rc = said->takes && strcmp(kw_text(&q, 0), "lot") == 0 ? ask_earlier(c, kw_int(&q, 1), said->seq) : 0;
        }
        kw_end(&q);
        return rc;
}

static int add_all_named(struct kw_closing *c, const struct as_said *said, const cJSON *json)
{
        const cJSON *item;
        int rc = 0;

        if (cJSON_IsString(json) && strlen(json->valuestring) <= KW_CODE_MAX)
                return add_named(c, said, json->valuestring);
        if (!cJSON_IsObject(json) && !cJSON_IsArray(json))
                return 0;
        cJSON_ArrayForEach(item, json)
        {
                if (rc == 0)
                        rc = add_all_named(c, said, item);
        }
        return rc;
}

/* A correction's body is that of the entry which it puts right. */
static int whose_things(struct kw_closing *c, int64_t seq, int64_t *out)
{
        return kw_one(c->r->ledger, out, seq, "SELECT target FROM correction WHERE seq = ?1", "i", seq);
}

/*
 * Of an entry that was put right, or puts right, the tables have what stands. To be recorded again it also has to find
 * what it named itself.
 */
static int add_as_said(struct kw_closing *c, int64_t seq, const char *leaf)
{
        struct as_said said = {.seq = seq};
        cJSON *json = NULL;
        const cJSON *body;
        int rc = kw_json_read(leaf, strlen(leaf), &kw_leaf_limits, &json, NULL);

        c->earlier.n = 0;
        if (rc == 0)
                rc = whose_things(c, seq, &said.whose);
        if (rc == 0) {
                body = kw_json_get(json, "body");
                said.takes = takes_what_is_left(body);
                rc = add_all_named(c, &said, body);
        }
        for (size_t i = 0; rc == 0 && i < c->earlier.n; i++)
                kw_select(c->s, c->earlier.at[i]);
        cJSON_Delete(json);
        return rc > 0 ? -EIO : rc;
}

/* --- one entry -------------------------------------------------------------------------------------- */

/* What an entry took that is no run, or what a correction took in the place of what it puts right. */
static int add_taken(struct kw_closing *c, int64_t seq, const char *leaf)
{
        struct kw_query q;
        int64_t whose = seq;
        bool takes;
        int rc = leaf_takes(leaf, &takes);

        if (rc || !takes)
                return rc;
        rc = whose_things(c, seq, &whose);
        if (rc == 0)
                rc = kw_ask(c->r->ledger, &q, EARLIER, "ii", whose, seq);
        return rc ? rc : take(c, &q, 0);
}

static int add_needs(struct kw_closing *c, int64_t seq, const struct kind_needs *kind, struct kw_query *entry)
{
        struct kw_query q;
        int rc = kw_ask(c->r->ledger, &q, c->to_load ? kind->needs : kind->beside, "i", seq);

        rc = take(c, &q, rc);
        if (!c->to_load)
                return rc;
        if (rc == 0 && kind->feeds != FEEDS_NONE)
                rc = add_feeds(c, seq);
        if (rc == 0 && kind->feeds == FEEDS_TAKEN && c->lots.n)
                rc = add_earlier(c, seq, kw_text(entry, 1));
        if (rc == 0 && kind->takes)
                rc = add_taken(c, seq, kw_text(entry, 1));
        if (rc == 0 && kw_int(entry, 2))
                rc = add_as_said(c, seq, kw_text(entry, 1));
        return rc;
}

/* @entry: its kind, its leaf, which is not read where nobody asks for it, and whether something was put right by it or
 * in it */
static int add_one(struct kw_closing *c, int64_t seq)
{
        struct kw_query entry;
        int rc = kw_ask(c->r->ledger, &entry,
                        "SELECT kind, leaf, kind = 'correct' OR EXISTS (SELECT 1 FROM standing s WHERE s.seq = e.seq) "
                        "FROM entry e WHERE e.seq = ?1",
                        "i", seq);

        if (rc == 0)
                rc = kw_next(c->r->ledger, &entry);
        if (rc == 1)
                rc = add_needs(c, seq, needs_of(kw_text(&entry, 0)), &entry);
        kw_end(&entry);
        return rc;
}

/* --- all of them ------------------------------------------------------------------------------------ */

int kw_closing_new(struct kw_selection *s, enum kw_closed to, struct kw_closing **out)
{
        struct kw_closing *c = calloc(1, sizeof(*c));

        if (!c)
                return -ENOMEM;
        c->s = s;
        c->to_load = to == KW_CLOSED_TO_LOAD;
        c->seq = s->size;
        *out = c;
        return kw_selection_new(s->size, &c->done);
}

/* Needs mostly lie before what needs them, so the ledger is gone through from its end, and again for those that do not.
 */
int kw_closing_go(struct kw_closing *c, struct kw_reader *r, int64_t most)
{
        int rc = 0;

        c->r = r;
        for (; rc == 0 && most && c->done.n < c->s->n; c->seq--) {
                if (!c->seq) {
                        memset(c->asked, 0, sizeof(c->asked));
                        c->seq = c->s->size;
                }
                if (!kw_selected(c->s, c->seq) || kw_selected(&c->done, c->seq))
                        continue;
                kw_select(&c->done, c->seq);
                rc = add_one(c, c->seq);
                most--;
        }
        return rc ? rc : c->done.n < c->s->n;
}

int64_t kw_closing_gone(const struct kw_closing *c)
{
        return c->done.n;
}

void kw_closing_free(struct kw_closing *c)
{
        if (!c)
                return;
        kw_selection_free(&c->done);
        free(c->lots.at);
        free(c->earlier.at);
        free(c);
}
