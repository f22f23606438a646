/*
 * Putting right: random mills with random corrections.
 *
 * An index follows half of them. After every few entries the ledger verifies, which means that the tables which grew by
 * undoing and redoing are the ones that replaying the history gives. At the end, what stands is also entered into an
 * empty ledger as if nobody had ever made a mistake (an entry that was void, and each correction, replaced by a heat of
 * its own so that numbers stay the same), and the lots, feeds and claims there are the same again.
 */
#include "index_beside.h"
#include "suite.h"

#include "kinwire/ledger.h"
#include "stored.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ENTRIES 160

static uint64_t state;
/* Whether runs are put right to take what is on hold: afresh, such a run's place would be before the hold. */
static bool overrides;

static unsigned pick(unsigned n)
{
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return (unsigned)(state % n);
}

struct mill {
        struct kw_ledger *l;
        struct beside *beside; /* NULL: no index follows */
        unsigned lots, runs, holds, tests, consignments, keys, taken, refused, put_right;
        char keys_of[2 * ENTRIES + 2][40];
        char kinds_of[2 * ENTRIES + 2][16];
        int64_t size, verified;
};

static int send(struct mill *m, const char *kind, const char *body)
{
        struct kw_sender sender = {.by = "test", .terminal = "TEST", .may_override = true};
        struct kw_draft draft;
        struct kw_receipt receipt = {0};
        struct kw_error err = {0};
        char text[4096], key[40];
        int rc;

        snprintf(key, sizeof(key), "%08x-0000-4000-8000-000000000000", ++m->keys);
        snprintf(text, sizeof(text), "{\"key\":\"%s\",\"kind\":\"%s\",\"at\":\"2026-01-01T00:00:00Z\",\"body\":%s}",
                 key, kind, body);
        rc = kw_draft_read(text, strlen(text), &draft, &err);
        ck_assert_msg(rc == 0, "%s: %s %s", text, err.pointer, err.text);
        ck_assert_int_eq(kw_ledger_begin(m->l, &err), 0);
        rc = kw_ledger_append(m->l, &draft, &sender, 1767225600, &receipt, &err);
        ck_assert_msg(rc >= 0, "%s: %s", text, err.text);
        ck_assert_msg(rc != KW_INTERNAL, "%s: %s", text, err.text);
        ck_assert_int_eq(kw_ledger_commit(m->l, &err), 0);
        if (m->beside)
                kw_index_follow(m->beside->index, m->l);
        kw_draft_free(&draft);
        free(receipt.json);
        if (rc) {
                m->refused++;
                return rc;
        }
        m->taken++;
        m->size++;
        snprintf(m->keys_of[m->size], sizeof(m->keys_of[0]), "%s", key);
        snprintf(m->kinds_of[m->size], sizeof(m->kinds_of[0]), "%s", kind);
        return 0;
}

/* --- bodies --------------------------------------------------------------------------------------- */

static void receive_body(char *out, size_t room, unsigned lot)
{
        snprintf(out, room, "{\"lot\":\"L%u\",\"heat\":\"H0\",\"diameter_um\":%u,\"length_mm\":%u}", lot,
                 pick(3) ? 5500 : 6500, 1000 + pick(5000));
}

static size_t feed_text(char *out, size_t room, unsigned lots, unsigned join)
{
        size_t n = (size_t)snprintf(out, room, "%s{\"lot\":\"L%u\"", join ? "," : "", 1 + pick(lots));

        if (pick(3) == 0)
                n += (size_t)snprintf(out + n, room - n, ",\"take_mm\":%u", 1 + pick(1500));
        else if (pick(3) == 0)
                n += (size_t)snprintf(out + n, room - n, ",\"from_mm\":%u,\"to_mm\":%u", pick(800), 900 + pick(1500));
        if (pick(3) == 0)
                n += (size_t)snprintf(out + n, room - n, ",\"off\":\"inner\"");
        return n + (size_t)snprintf(out + n, room - n, "}");
}

/* A winding run: up to three feeds of lots 1..@lots, one package to three, the first numbered @first. */
static void run_body(char *out, size_t room, unsigned run, unsigned lots, unsigned first, unsigned packages,
                     bool override)
{
        size_t n = (size_t)snprintf(
                out, room,
                "{\"run\":\"R%u\",\"process\":\"wind\",\"machine\":\"W\",%s\"lines\":[{\"line\":\"1\",\"feeds\":[", run,
                override ? "\"override\":{\"reason\":\"paper\"}," : "");
        unsigned feeds = 1 + pick(3);

        for (unsigned i = 0; i < feeds; i++)
                n += feed_text(out + n, room - n, lots, i);
        n += (size_t)snprintf(out + n, room - n, "]}],\"packages\":[");
        for (unsigned i = 0; i < packages; i++)
                n += (size_t)snprintf(out + n, room - n, "%s{\"lot\":\"L%u\",\"kind\":\"bobbin\",\"length_mm\":%u}",
                                      i ? "," : "", first + i, 500 + pick(2500));
        snprintf(out + n, room - n, "]}");
}

/* Two specifications in a few versions, for rod of one diameter or all, or for bobbins. */
static void spec_body(char *out, size_t room)
{
        snprintf(out, room,
                 "{\"spec\":\"S%u\",\"version\":%u,\"what\":\"%s\",%s\"limits\":{\"torsions\":{\"min\":%u}},"
                 "\"tests\":[]}",
                 1 + pick(2), 1 + pick(12), pick(2) ? "rod" : "wire", pick(2) ? "" : "\"diameter_from_um\":6000,",
                 20 + pick(20));
}

/* Two instruments; every test was made on the day of this mill. */
static void instrument_body(char *out, size_t room)
{
        snprintf(out, room, "{\"instrument\":\"I%u\",\"what\":\"tester\",\"valid_until\":\"%s-06-30T00:00:00Z\"}",
                 1 + pick(2), pick(2) ? "2026" : "2025");
}

struct made {
        unsigned run, lots_before, first, packages; /* of a run */
        unsigned lot;                               /* of a receive */
        unsigned load, line;                        /* of a load: its run and line */
        void (*judge)(char *out, size_t room);      /* of a specification or an instrument */
} made[2 * ENTRIES + 2];

static void some_run(struct mill *m)
{
        char body[2048];
        unsigned packages = 1 + pick(3), first = m->lots + 1;

        run_body(body, sizeof(body), m->runs + 1, m->lots, first, packages, pick(4) == 0);
        if (send(m, "run", body) == 0) {
                made[m->size] =
                        (struct made){.run = ++m->runs, .lots_before = m->lots, .first = first, .packages = packages};
                m->lots += packages;
        }
}

static void some_receive(struct mill *m)
{
        char body[512];

        receive_body(body, sizeof(body), m->lots + 1);
        if (send(m, "receive", body) == 0)
                made[m->size].lot = ++m->lots;
}

static void some_judge(struct mill *m)
{
        const bool spec = pick(2);
        char body[512];

        (spec ? spec_body : instrument_body)(body, sizeof(body));
        if (send(m, spec ? "spec" : "instrument", body) == 0)
                made[m->size].judge = spec ? spec_body : instrument_body;
}

static void some_small_thing(struct mill *m)
{
        char body[512];
        unsigned lot = 1 + pick(m->lots), from = pick(700), kind = pick(5);

        if (kind == 0) {
                snprintf(body, sizeof(body), "{\"lot\":\"L%u\",\"from_mm\":%u,\"to_mm\":%u,\"reason\":\"kink\"}", lot,
                         from, from + 50);
                send(m, "scrap", body);
        } else if (kind == 1) {
                snprintf(body, sizeof(body),
                         "{\"hold\":\"HD%u\",\"reason\":\"look\",\"lots\":[{\"lot\":\"L%u\",\"from_mm\":%u,\"to_mm\":%"
                         "u}]}",
                         m->holds + 1, lot, from, from + 200);
                m->holds += send(m, "hold", body) == 0;
        } else if (kind == 2 && m->holds) {
                snprintf(body, sizeof(body), "{\"hold\":\"HD%u\",\"reason\":\"seen\",\"disposition\":\"%s\"}",
                         1 + pick(m->holds), pick(2) ? "release" : "scrap");
                send(m, "release", body);
        } else if (kind == 3) {
                snprintf(body, sizeof(body),
                         "{\"test\":\"T%u\",\"lot\":\"L%u\",\"sample_mm\":%u,\"results\":{\"torsions\":%u}%s%s}",
                         m->tests + 1, lot, 1 + pick(100), 20 + pick(20),
                         pick(2) ? ",\"instrument\":\"I1\"" : ",\"instrument\":\"I2\"",
                         pick(2) ? ",\"verdict\":\"pass\"" : "");
                m->tests += send(m, "test", body) == 0;
        } else {
                snprintf(body, sizeof(body), "{\"consignment\":\"C%u\",\"consignee\":\"X\",\"lots\":[\"L%u\"]}",
                         m->consignments + 1, lot);
                m->consignments += send(m, "dispatch", body) == 0;
        }
}

/* --- runs as they happen ---------------------------------------------------------------------------- */

/* The last run that was opened, while it is under way. */
static struct {
        unsigned number, lines;
} under_way;

static void open_some_run(struct mill *m)
{
        char body[512];

        under_way.lines = 1 + pick(3);
        snprintf(body, sizeof(body), "{\"run\":\"R%u\",\"process\":\"strand\",\"machine\":\"S\",\"lines\":[\"1\"%s%s]}",
                 m->runs + 1, under_way.lines > 1 ? ",\"2\"" : "", under_way.lines > 2 ? ",\"core\"" : "");
        if (send(m, "open", body) == 0)
                under_way.number = ++m->runs;
}

/* Intervals are stated: entered afresh, 'all that is left' might be more. */
static void load_body(char *out, size_t room, unsigned run, unsigned line, unsigned lots)
{
        static const char *const labels[] = {"1", "2", "core"};
        unsigned from = pick(800);

        snprintf(out, room, "{\"run\":\"R%u\",\"line\":\"%s\",\"lot\":\"L%u\",\"from_mm\":%u,\"to_mm\":%u%s}", run,
                 labels[line], 1 + pick(lots), from, from + 100 + pick(900), pick(3) ? "" : ",\"off\":\"inner\"");
}

static void some_load(struct mill *m)
{
        unsigned line = pick(under_way.lines);
        char body[512];

        load_body(body, sizeof(body), under_way.number, line, m->lots);
        if (send(m, "load", body) == 0)
                made[m->size] = (struct made){.lots_before = m->lots, .load = under_way.number, .line = line};
}

static void some_doff(struct mill *m)
{
        bool scrap = pick(4) == 0;
        char body[512];

        if (scrap)
                snprintf(body, sizeof(body), "{\"run\":\"R%u\",\"scrap_mm\":%u}", under_way.number, 1 + pick(50));
        else
                snprintf(body, sizeof(body), "{\"run\":\"R%u\",\"lot\":\"L%u\",\"kind\":\"strand\",\"length_mm\":%u}",
                         under_way.number, m->lots + 1, 100 + pick(900));
        if (send(m, "doff", body) == 0)
                m->lots += !scrap;
}

static void some_close(struct mill *m)
{
        char body[512];

        snprintf(body, sizeof(body), "{\"run\":\"R%u\"%s}", under_way.number,
                 pick(2) ? "" : ",\"left\":[{\"line\":\"1\",\"left_mm\":40}]");
        if (send(m, "close", body) == 0)
                under_way.number = 0;
}

static void some_step(struct mill *m)
{
        unsigned what = pick(10);

        if (what < 5)
                some_load(m);
        else if (what < 9)
                some_doff(m);
        else
                some_close(m);
}

static void some_correction(struct mill *m)
{
        char body[4096], inner[2048];
        unsigned seq = 2 + pick((unsigned)m->size - 1);
        const struct made *what = &made[seq];

        if (strcmp(m->kinds_of[seq], "correct") == 0 || strcmp(m->kinds_of[seq], "void") == 0)
                return;
        if (pick(3) == 0 || (!what->run && !what->lot && !what->load && !what->judge)) {
                snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"twice\"}", m->keys_of[seq]);
                m->put_right += send(m, "void", body) == 0;
                return;
        }
        if (what->run)
                run_body(inner, sizeof(inner), what->run, what->lots_before, what->first, what->packages,
                         overrides && pick(4) == 0);
        else if (what->judge)
                what->judge(inner, sizeof(inner));
        else if (what->load)
                load_body(inner, sizeof(inner), what->load, what->line, what->lots_before);
        else
                receive_body(inner, sizeof(inner), what->lot);
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"slip\",\"body\":%s}", m->keys_of[seq], inner);
        if (send(m, "correct", body) == 0) {
                made[m->size] = (struct made){0};
                m->put_right++;
        }
}

/* Once for a size: what was refused since has changed nothing. */
static void check_verifies(struct mill *m)
{
        struct kw_error err = {0};
        int64_t wrong;
        int rc;

        if (m->verified == m->size)
                return;
        m->verified = m->size;
        rc = kw_ledger_verify(m->l, NULL, NULL, &wrong, &err);
        ck_assert_msg(rc == 0, "entry %" PRId64 ": %s", wrong, err.text);
        if (!m->beside)
                return;
        beside_same(m->beside);
        if (m->size % 2) /* what comes next puts right what lies in a base */
                ck_assert_int_eq(kw_index_build(m->beside->index), 0);
}

/* --- what stands, entered afresh ------------------------------------------------------------------- */

static char *dump(struct kw_ledger *l)
{
        static const char *const queries[] = {
                "SELECT id, code, length_mm, mass_g, run, s0, depth FROM lot ORDER BY id",
                "SELECT run, line, ord, lot, from_mm, to_mm, inner, v0 FROM feed ORDER BY run, line, ord",
                "SELECT lot, from_mm, to_mm, what, seq FROM taken ORDER BY lot, from_mm",
                "SELECT hold, lot, from_mm, to_mm FROM hold_span WHERE run = 0 ORDER BY hold, lot, from_mm",
                "SELECT id, verdict, judged, spec FROM test ORDER BY id",
                "SELECT seq, code, text FROM finding WHERE code IN ('verdict-differs', 'out-of-calibration')"
                " ORDER BY seq, ord",
        };
        struct kw_buf out = {0};

        for (size_t i = 0; i < sizeof(queries) / sizeof(queries[0]); i++) {
                struct kw_query q;
                int rc = kw_ask(l, &q, queries[i], "");

                ck_assert_int_eq(rc, 0);
                while ((rc = kw_next(l, &q)) == 1)
                        for (int c = 0; c < sqlite3_column_count(q.stmt); c++)
                                kw_buf_printf(&out, "%s%s", c ? " " : "\n", kw_is_null(&q, c) ? "-" : kw_text(&q, c));
                ck_assert_int_eq(rc, 0);
        }
        kw_buf_text(&out);
        return out.at;
}

static struct kw_ledger *open_new(void)
{
        struct kw_ledger *l = NULL;
        struct kw_error err = {0};
        int rc = kw_ledger_open(":memory:", KW_OPEN_WRITE, &l, &err);

        ck_assert_msg(rc == 0, "%s", err.text);
        return l;
}

/* Return: whether every entry that stands could be entered in its place; one that was put right to name a later one
 * can't. */
static bool enter_afresh(struct mill *m, struct mill *fresh)
{
        char heat[128];

        for (int64_t seq = 1; seq <= m->size; seq++) {
                struct kw_standing s = {0};
                struct kw_buf body = {0};
                int rc;

                ck_assert_int_eq(kw_stored_load(m->l, seq, &s), 0);
                snprintf(heat, sizeof(heat), "{\"heat\":\"X%" PRId64 "\",\"supplier\":\"S\",\"grade\":\"G\"}", seq);
                kw_json_canonical(s.body, &body);
                if (s.is_void || strcmp(s.kind, "correct") == 0 || strcmp(s.kind, "void") == 0)
                        rc = send(fresh, "heat", heat);
                else
                        rc = send(fresh, s.kind, kw_buf_text(&body));
                kw_buf_free(&body);
                kw_standing_free(&s);
                if (rc)
                        return false;
        }
        return true;
}

/* The first line that differs. */
static void tell_difference(uint64_t seed, const char *was, const char *is)
{
        size_t line = 0, i = 0;

        for (; was[i] && was[i] == is[i]; i++)
                if (was[i] == '\n')
                        line = i + 1;
        fprintf(stderr, "seed %" PRIu64 "\nput right: %.60s\nafresh:    %.60s\n", seed, was + line, is + line);
}

static unsigned compared, mended;

static void try_mill(uint64_t seed)
{
        struct mill *m = calloc(1, sizeof(*m)), *fresh = calloc(1, sizeof(*fresh));
        struct beside beside = {0};

        overrides = seed % 3 == 0;
        state = seed * UINT64_C(0x9e3779b97f4a7c15) + 1;
        memset(made, 0, sizeof(made));
        memset(&under_way, 0, sizeof(under_way));
        if (seed % 2) {
                beside_new(&beside);
                m->beside = &beside;
                m->l = beside.ledger;
        } else {
                m->l = open_new();
        }
        ck_assert_int_eq(send(m, "heat", "{\"heat\":\"H0\",\"supplier\":\"S\",\"grade\":\"G\"}"), 0);
        some_receive(m);
        while (m->size < ENTRIES && m->keys < 6 * ENTRIES) {
                unsigned what = pick(10);

                if (what < 2)
                        some_receive(m);
                else if (what < 3 && !under_way.number)
                        open_some_run(m);
                else if (what < 4 && under_way.number)
                        some_step(m);
                else if (what < 5)
                        some_run(m);
                else if (what < 8 && pick(6) == 0)
                        some_judge(m);
                else if (what < 8)
                        some_small_thing(m);
                else
                        some_correction(m);
                if (m->taken % 40 == 0)
                        check_verifies(m);
        }
        check_verifies(m);
        mended += m->put_right;
        fresh->l = open_new();
        if (!overrides && enter_afresh(m, fresh)) {
                char *was = dump(m->l), *is = dump(fresh->l);

                if (strcmp(was, is) != 0)
                        tell_difference(seed, was, is);
                ck_assert_msg(strcmp(was, is) == 0,
                              "seed %" PRIu64 ": what was put right differs from what is entered afresh", seed);
                free(was);
                free(is);
                compared++;
        }
        if (m->beside)
                beside_free(m->beside);
        else
                kw_ledger_close(m->l);
        kw_ledger_close(fresh->l);
        free(m);
        free(fresh);
}

START_TEST(random_mills)
{
        for (uint64_t seed = 1; seed <= 40; seed++)
                try_mill(seed);
        ck_assert_msg(compared >= 10, "only %u of 40 mills could be entered afresh", compared);
        ck_assert_msg(mended >= 200, "only %u corrections were taken", mended);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, random_mills);
}

int main(void)
{
        return run_suite("putting right", add);
}
