/*
 * Months summed up against everything summed up: random mills over five months, on three machines, with runs logged
 * whole and as they happen, and old entries put right. After every few entries each balance is asked for both ways, and
 * the two answers are the same to the byte. So they are when the months are kept in a file, and begun from it by a
 * program that did not see what was recorded meanwhile.
 */
#include "kinwire/answer.h"
#include "kinwire/index.h"
#include "kinwire/months.h"
#include "recorder.h"
#include "suite.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define ENTRIES 150
#define MONTHS  5

struct mill {
        struct kw_ledger *l;
        struct kw_undone *undone;
        bool told; /* what is undone */
        struct kw_months *months;
        char folder[40], path[64]; /* of a ledger with an index; else it is in memory */
        struct kw_index *index;
        uint64_t state;
        unsigned lots, runs, others, keys, put_right;
        unsigned under_way; /* the run that is; 0: none */
        int64_t size;
        struct {
                char key[40];
                unsigned lot, run, lots_before, first, packages;
        } made[ENTRIES + 2];
};

static unsigned pick(struct mill *m, unsigned n)
{
        m->state ^= m->state << 13;
        m->state ^= m->state >> 7;
        m->state ^= m->state << 17;
        return (unsigned)(m->state % n);
}

/* Some time in the five months; the first and the last second of one now and then. */
static void some_time(struct mill *m, char out[24])
{
        static const char *const edges[] = {"01T00:00:00Z", "28T23:59:59Z"};
        const unsigned month = 1 + pick(m, MONTHS);

        if (pick(m, 4))
                snprintf(out, 24, "2026-%02u-%02uT%02u:00:00Z", month, 1 + pick(m, 28), pick(m, 24));
        else
                snprintf(out, 24, "2026-%02u-%s", month, edges[pick(m, 2)]);
}

static bool send(struct mill *m, const char *kind, const char *body)
{
        const struct kw_sender sender = {.by = "test", .terminal = "TEST", .may_override = true};
        struct kw_receipt receipt = {0};
        char text[4096], key[40], at[24];
        struct kw_error err = {0};
        struct kw_draft draft;
        int rc;

        some_time(m, at);
        snprintf(key, sizeof(key), "%08x-0000-4000-8000-000000000000", ++m->keys);
        snprintf(text, sizeof(text), "{\"key\":\"%s\",\"kind\":\"%s\",\"at\":\"%s\",\"body\":%s}", key, kind, at, body);
        rc = kw_draft_read(text, strlen(text), &draft, &err);
        ck_assert_msg(rc == 0, "%s: %s %s", text, err.pointer, err.text);
        ck_assert_int_eq(kw_ledger_begin(m->l, &err), 0);
        rc = kw_ledger_append(m->l, &draft, &sender, 1790000000, &receipt, &err);
        ck_assert_msg(rc >= 0 && rc != KW_INTERNAL, "%s: %s", text, err.text);
        if (rc == 0) {
                m->size++;
                snprintf(m->made[m->size].key, sizeof(key), "%s", key);
                ck_assert_int_eq(kw_ledger_commit(m->l, &err), 0);
                if (m->told)
                        kw_undone_note(m->undone, m->l, m->size);
                if (m->index)
                        kw_index_follow(m->index, m->l);
        } else {
                kw_ledger_rollback(m->l);
        }
        kw_draft_free(&draft);
        free(receipt.json);
        return rc == 0;
}

/* --- entries ------------------------------------------------------------------------------------------ */

static void receive_body(struct mill *m, char *out, size_t room, unsigned lot)
{
        const unsigned mm = 1000 + pick(m, 5000);

        if (pick(m, 3))
                snprintf(out, room, "{\"lot\":\"L%u\",\"heat\":\"H0\",\"diameter_um\":5500,\"length_mm\":%u}", lot, mm);
        else
                snprintf(out, room, "{\"lot\":\"L%u\",\"supply\":\"S0\",\"kind\":\"core\",\"length_mm\":%u}", lot, mm);
}

static void run_body(struct mill *m, char *out, size_t room, unsigned run, unsigned lots, unsigned first,
                     unsigned packages)
{
        const unsigned feeds = 1 + pick(m, 3);
        char ended[24];
        size_t n = (size_t)snprintf(out, room, "{\"run\":\"R%u\",\"process\":\"wind\",\"machine\":\"W%u\",", run,
                                    pick(m, 3));

        if (pick(m, 2)) { /* else it counts when it was recorded */
                some_time(m, ended);
                n += (size_t)snprintf(out + n, room - n, "\"ended\":\"%s\",", ended);
        }
        n += (size_t)snprintf(out + n, room - n, "\"lines\":[{\"line\":\"1\",\"feeds\":[");
        for (unsigned i = 0; i < feeds; i++) {
                n += (size_t)snprintf(out + n, room - n, "%s{\"lot\":\"L%u\"", i ? "," : "", 1 + pick(m, lots));
                if (pick(m, 3) == 0)
                        n += (size_t)snprintf(out + n, room - n, ",\"take_mm\":%u", 1 + pick(m, 1500));
                n += (size_t)snprintf(out + n, room - n, "}");
        }
        n += (size_t)snprintf(out + n, room - n, "]}],\"packages\":[");
        for (unsigned i = 0; i < packages; i++)
                n += (size_t)snprintf(out + n, room - n, "{\"lot\":\"L%u\",\"kind\":\"bobbin\",\"length_mm\":%u},",
                                      first + i, 500 + pick(m, 2500));
        snprintf(out + n, room - n, "{\"scrap_mm\":%u}]}", 1 + pick(m, 80));
}

static void some_receive(struct mill *m)
{
        char body[512];

        receive_body(m, body, sizeof(body), m->lots + 1);
        if (send(m, "receive", body))
                m->made[m->size].lot = ++m->lots;
}

static void some_run(struct mill *m)
{
        const unsigned packages = 1 + pick(m, 3), first = m->lots + 1;
        char body[2048];

        run_body(m, body, sizeof(body), m->runs + 1, m->lots, first, packages);
        if (!send(m, "run", body))
                return;
        m->made[m->size].run = ++m->runs;
        m->made[m->size].lots_before = m->lots;
        m->made[m->size].first = first;
        m->made[m->size].packages = packages;
        m->lots += packages;
}

static void some_small_thing(struct mill *m)
{
        const unsigned lot = 1 + pick(m, m->lots), from = pick(m, 700), what = pick(m, 3);
        char body[512];

        if (what == 0)
                snprintf(body, sizeof(body), "{\"lot\":\"L%u\",\"from_mm\":%u,\"to_mm\":%u,\"reason\":\"kink\"}", lot,
                         from, from + 50);
        else if (what == 1)
                snprintf(body, sizeof(body),
                         "{\"test\":\"T%u\",\"lot\":\"L%u\",\"sample_mm\":%u,\"results\":{\"torsions\":30}}",
                         ++m->others, lot, 1 + pick(m, 100));
        else
                snprintf(body, sizeof(body), "{\"consignment\":\"C%u\",\"consignee\":\"X\",\"lots\":[\"L%u\"]}",
                         ++m->others, lot);
        send(m, what == 0 ? "scrap" : what == 1 ? "test" : "dispatch", body);
}

static void some_step(struct mill *m)
{
        const unsigned what = m->under_way ? pick(m, 8) : 8, from = pick(m, 800);
        char body[512];

        if (what == 8) {
                snprintf(body, sizeof(body),
                         "{\"run\":\"R%u\",\"process\":\"strand\",\"machine\":\"W1\",\"lines\":[\"1\"]}", m->runs + 1);
                m->under_way = send(m, "open", body) ? ++m->runs : 0;
        } else if (what < 4) {
                snprintf(body, sizeof(body),
                         "{\"run\":\"R%u\",\"line\":\"1\",\"lot\":\"L%u\",\"from_mm\":%u,\"to_mm\":%u}", m->under_way,
                         1 + pick(m, m->lots), from, from + 100 + pick(m, 900));
                send(m, "load", body);
        } else if (what < 7) {
                snprintf(body, sizeof(body), "{\"run\":\"R%u\",\"lot\":\"L%u\",\"kind\":\"strand\",\"length_mm\":%u}",
                         m->under_way, m->lots + 1, 100 + pick(m, 900));
                m->lots += send(m, "doff", body);
        } else {
                snprintf(body, sizeof(body), "{\"run\":\"R%u\"}", m->under_way);
                if (send(m, "close", body))
                        m->under_way = 0;
        }
}

static void some_correction(struct mill *m)
{
        const int64_t seq = 3 + (int64_t)pick(m, (unsigned)m->size - 2);
        char body[4096], inner[2048];

        if (m->made[seq].run && pick(m, 4))
                run_body(m, inner, sizeof(inner), m->made[seq].run, m->made[seq].lots_before, m->made[seq].first,
                         m->made[seq].packages);
        else if (m->made[seq].lot && pick(m, 4))
                receive_body(m, inner, sizeof(inner), m->made[seq].lot);
        else
                inner[0] = '\0';
        snprintf(body, sizeof(body), "{\"entry\":\"%s\",\"reason\":\"slip\"%s%s}", m->made[seq].key,
                 inner[0] ? ",\"body\":" : "", inner);
        m->put_right += send(m, inner[0] ? "correct" : "void", body);
}

static void grow(struct mill *m)
{
        const unsigned what = pick(m, 12);

        if (what < 2 || m->lots < 3)
                some_receive(m);
        else if (what < 5)
                some_run(m);
        else if (what < 7)
                some_small_thing(m);
        else if (what < 9)
                some_step(m);
        else
                some_correction(m);
}

/* --- both ways ---------------------------------------------------------------------------------------- */

static int64_t stamp(const char *text)
{
        int64_t at = 0;

        ck_assert_int_eq(kw_stamp_read(text, &at), 0);
        return at;
}

static void ask(struct mill *m, struct kw_months *months, const struct kw_balance_question *q, struct kw_buf *out)
{
        struct kw_error err = {0};
        int rc;

        ck_assert_int_eq(kw_ledger_look(m->l, &err), 0);
        rc = kw_answer_masses(m->l, months, q, out, &err);
        kw_ledger_done(m->l);
        if (rc == KW_NOT_FOUND) /* no run on that machine yet */
                return;
        ck_assert_msg(rc == 0, "%d %s", rc, err.text);
}

static void same_text(const char *kept, const char *all)
{
        size_t i = 0;

        while (kept[i] && kept[i] == all[i])
                i++;
        ck_assert_msg(kept[i] == all[i], "of months: %.100s\nof everything: %.100s", kept + (i > 40 ? i - 40 : 0),
                      all + (i > 40 ? i - 40 : 0));
}

static void same(struct mill *m, const char *machine, int64_t since, int64_t until)
{
        struct kw_balance_question q = {.since = since, .until = until};
        struct kw_buf kept = {0}, all = {0};

        snprintf(q.type, sizeof(q.type), "%s", machine ? "machine" : "");
        snprintf(q.code, sizeof(q.code), "%s", machine ? machine : "");
        for (int csv = 0; csv < 2; csv++) {
                q.csv = csv;
                ask(m, m->months, &q, &kept);
                ask(m, NULL, &q, &all);
                same_text(kw_buf_text(&kept), kw_buf_text(&all));
                kw_buf_free(&kept);
                kw_buf_free(&all);
        }
}

static void same_answers(struct mill *m)
{
        static const char *const machines[] = {NULL, "W0", "W1", "W2"};
        static const char *const times[][2] = {
                {"2026-01-01T00:00:00Z", "2026-02-01T00:00:00Z"}, {"2026-03-01T00:00:00Z", "2026-04-01T00:00:00Z"},
                {"2026-01-15T12:00:00Z", "2026-04-01T00:00:00Z"}, {"2026-02-10T00:00:00Z", "2026-02-20T00:00:00Z"},
                {"2026-02-01T00:00:00Z", "2026-05-28T23:59:59Z"},
        };

        for (size_t i = 0; i < sizeof(machines) / sizeof(*machines); i++) {
                same(m, machines[i], INT64_MIN, INT64_MAX);
                same(m, machines[i], stamp("2026-03-14T00:00:00Z"), INT64_MAX);
                for (size_t k = 0; k < sizeof(times) / sizeof(*times); k++)
                        same(m, machines[i], stamp(times[k][0]), stamp(times[k][1]));
        }
}

static void mill_begin(struct mill *m, uint64_t seed, bool told)
{
        if (!m->l)
                m->l = recorder_new();
        m->state = seed * UINT64_C(0x9E3779B97F4A7C15) + 1;
        ck_assert_int_eq(kw_undone_new(&m->undone), 0);
        ck_assert_int_eq(kw_months_new(m->undone, NULL, &m->months), 0);
        m->told = told;
        ck_assert(send(m, "heat", "{\"heat\":\"H0\",\"supplier\":\"S\",\"grade\":\"G\"}"));
        ck_assert(send(m, "supply", "{\"supply\":\"S0\",\"supplier\":\"S\",\"what\":\"fibre core\"}"));
}

static void mill_end(struct mill *m)
{
        kw_months_free(m->months);
        kw_undone_free(m->undone);
        kw_index_free(m->index);
        kw_ledger_close(m->l);
        *m = (struct mill){0};
}

START_TEST(random_mills)
{
        struct kw_error err = {0};
        struct mill m = {0};
        int rc = 1;

        mill_begin(&m, (uint64_t)_i + 1, true);
        while (m.size < ENTRIES) {
                for (int64_t until = m.size + 1 + pick(&m, 14); m.size < until && m.size < ENTRIES;)
                        grow(&m);
                if (pick(&m, 3) == 0) /* as the thread does, a month at a time */
                        for (rc = 1; rc == 1;)
                                rc = kw_months_step(m.months, m.l, &err);
                ck_assert(rc >= 0);
                same_answers(&m);
        }
        ck_assert_uint_gt(m.put_right, 5);
        mill_end(&m);
}
END_TEST

/* --- with an index ---------------------------------------------------------------------------------------- */

static void on_disk(struct mill *m)
{
        struct kw_error err = {0};

        snprintf(m->folder, sizeof(m->folder), "/tmp/kinwire-months-XXXXXX");
        ck_assert_ptr_nonnull(mkdtemp(m->folder));
        snprintf(m->path, sizeof(m->path), "%s/mill.kw", m->folder);
        ck_assert_int_eq(kw_ledger_open(m->path, KW_OPEN_WRITE, &m->l, &err), 0);
        ck_assert_int_eq(kw_index_new(m->path, &m->index), 0);
        ck_assert_int_eq(kw_index_build(m->index), 0);
        kw_ledger_ask_index(m->l, m->index);
}

static void off_disk(struct mill *m)
{
        static const char *const files[] = {"", "-wal", "-shm", ".index", ".index.new"};
        char folder[40], path[80];

        snprintf(folder, sizeof(folder), "%s", m->folder);
        mill_end(m);
        for (size_t i = 0; i < sizeof(files) / sizeof(*files); i++) {
                snprintf(path, sizeof(path), "%s/mill.kw%s", folder, files[i]);
                unlink(path);
        }
        ck_assert_int_eq(rmdir(folder), 0);
}

/* Lots are asked of the index then. */
START_TEST(with_an_index)
{
        struct mill m = {0};

        on_disk(&m);
        mill_begin(&m, (uint64_t)_i + 200, true);
        while (m.size < ENTRIES) {
                for (int64_t until = m.size + 5 + pick(&m, 30); m.size < until && m.size < ENTRIES;)
                        grow(&m);
                if (pick(&m, 2))
                        ck_assert_int_eq(kw_index_build(m.index), 0); /* all in one block, by which most is answered */
                same_answers(&m);
        }
        off_disk(&m);
}
END_TEST

/* --- in a file ------------------------------------------------------------------------------------------ */

static void in_file(struct mill *m, const char *file)
{
        kw_months_free(m->months);
        kw_undone_free(m->undone);
        ck_assert_int_eq(kw_undone_new(&m->undone), 0);
        ck_assert_int_eq(kw_months_new(m->undone, file, &m->months), 0);
}

static void sum_all(struct mill *m)
{
        struct kw_error err = {0};
        int rc = 1;

        while (rc == 1)
                rc = kw_months_step(m->months, m->l, &err);
        ck_assert_int_eq(rc, 0);
}

static void save(struct mill *m, int64_t grown)
{
        struct kw_error err = {0};
        int rc = kw_months_save(m->months, m->l, grown, &err);

        ck_assert_msg(rc == 0, "%d %s", rc, err.text);
}

/* How many entries' sums are there when the months are held first. */
static int64_t fresh_at_once(struct mill *m)
{
        struct kw_months_figures f;
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_look(m->l, &err), 0);
        ck_assert_int_eq(kw_months_hold(m->months, m->l, &err), 0);
        kw_months_give(m->months);
        kw_ledger_done(m->l);
        kw_months_figures(m->months, &f);
        ck_assert_int_eq(f.size, m->size);
        return f.fresh;
}

static void temporary(char *path)
{
        int fd = mkstemp(path);

        ck_assert_int_ge(fd, 0);
        close(fd);
        unlink(path);
}

START_TEST(begun_from_a_file)
{
        char file[] = "/tmp/kinwire-months-XXXXXX";
        unsigned went_on = 0;
        const char *fault;
        struct mill m = {0};
        int64_t saved = 0;

        temporary(file);
        mill_begin(&m, (uint64_t)_i + 100, true);
        in_file(&m, file);
        while (m.size < ENTRIES) {
                const bool again = pick(&m, 2);

                for (int64_t until = m.size + 1 + pick(&m, 6); m.size < until && m.size < ENTRIES;)
                        grow(&m);
                if (again) {
                        in_file(&m, file);
                        for (unsigned more = pick(&m, 3); more && m.size < ENTRIES; more--)
                                grow(&m); /* before it is looked for, by the writer of this program */
                        went_on += fresh_at_once(&m) > 0 && saved < m.size;
                }
                if (pick(&m, 3))
                        sum_all(&m);
                same_answers(&m);
                if (pick(&m, 3)) {
                        save(&m, 0);
                        saved = m.size;
                }
        }
        ck_assert_uint_gt(m.put_right, 5);
        ck_assert_uint_gt(went_on, 0); /* else nothing of this was tried */
        fault = kw_months_fault(m.months);
        ck_assert(!fault || strstr(fault, "put right"));
        mill_end(&m);
        unlink(file);
}
END_TEST

/* It is written when there is something that a restart could not find out by itself, or when it is much. */
START_TEST(written_when_it_is_worth_it)
{
        char file[] = "/tmp/kinwire-months-XXXXXX";
        struct mill m = {0};
        unsigned before;

        temporary(file);
        mill_begin(&m, 6, true);
        in_file(&m, file);
        while (m.size < 40)
                grow(&m);
        sum_all(&m);
        save(&m, 1000);
        ck_assert_int_eq(access(file, R_OK), 0);
        unlink(file);
        for (int64_t until = m.size + 1; m.size < until;)
                some_receive(&m);
        save(&m, 1000);
        ck_assert_int_ne(access(file, R_OK), 0);
        for (before = m.put_right; m.put_right == before;)
                some_correction(&m);
        save(&m, 1000);
        ck_assert_int_eq(access(file, R_OK), 0);
        mill_end(&m);
        unlink(file);
}
END_TEST

/* Of another ledger, or of this one before it was brought back from an older copy: it is told once, and not used. */
START_TEST(of_another_ledger)
{
        char file[] = "/tmp/kinwire-months-XXXXXX";
        struct mill m = {0}, other = {0};

        temporary(file);
        mill_begin(&m, 7, true);
        in_file(&m, file);
        while (m.size < 40)
                grow(&m);
        sum_all(&m);
        save(&m, 0);
        mill_begin(&other, 8, true);
        in_file(&other, file);
        while (other.size < 60)
                grow(&other);
        ck_assert_int_eq(fresh_at_once(&other), 0);
        ck_assert_ptr_nonnull(kw_months_fault(other.months));
        ck_assert_ptr_null(kw_months_fault(other.months));
        same_answers(&other);
        mill_end(&other);
        mill_begin(&other, 7, true);
        in_file(&other, file);
        while (other.size < 20)
                grow(&other);
        ck_assert_int_eq(fresh_at_once(&other), 0);
        ck_assert_ptr_nonnull(kw_months_fault(other.months));
        same_answers(&other);
        mill_end(&other);
        mill_end(&m);
        unlink(file);
}
END_TEST

/* Nobody tells what was undone, as when another program writes: no month that is kept may be believed. */
START_TEST(not_told)
{
        struct mill m = {0};

        mill_begin(&m, 77, false);
        while (m.size < 60) {
                for (int64_t until = m.size + 20; m.size < until;)
                        grow(&m);
                same_answers(&m);
        }
        mill_end(&m);
}
END_TEST

/* What one step did counts as done, and what became stale is counted as not. */
START_TEST(progress)
{
        struct kw_months_figures f;
        struct kw_error err = {0};
        struct mill m = {0};
        int steps = 0;

        mill_begin(&m, 5, true);
        while (m.size < 60)
                grow(&m);
        while (kw_months_step(m.months, m.l, &err) == 1)
                steps++;
        ck_assert_int_eq(steps, MONTHS);
        kw_months_figures(m.months, &f);
        ck_assert_int_eq(f.size, 60);
        ck_assert_int_gt(f.entries, 20);
        ck_assert_int_eq(f.fresh, f.entries);
        for (int64_t before = m.size; m.size == before;)
                some_receive(&m);
        ck_assert_int_eq(kw_months_step(m.months, m.l, &err), 1);
        ck_assert_int_eq(kw_months_step(m.months, m.l, &err), 0);
        mill_end(&m);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, random_mills, 0, 12);
        tcase_add_loop_test(tests, with_an_index, 0, 6);
        tcase_add_loop_test(tests, begun_from_a_file, 0, 12);
        tcase_add_test(tests, written_when_it_is_worth_it);
        tcase_add_test(tests, of_another_ledger);
        tcase_add_test(tests, not_told);
        tcase_add_test(tests, progress);
}

int main(void)
{
        return run_suite("months", add);
}
