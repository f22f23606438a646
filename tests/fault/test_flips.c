/*
 * One bit of the file is another: opening or verifying finds it, or what the ledger says is the same to the last byte.
 *
 * In the log, which a killed process leaves, a wrong bit makes SQLite take the log for ended there: the ledger is then
 * an earlier one, with the root that it had, and a head kept outside shows that it was cut.
 */
#include "load.h"

#include "../unit/suite.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define LEDGER  "flip.kw"
#define ENTRIES 32

static unsigned char file[4 << 20], log_bytes[4 << 20];
static size_t n_file, n_log;
static struct kw_hash roots[ENTRIES + 1];
static uint64_t state = 88172645463325252u;

static uint64_t dice(void)
{
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return state;
}

static size_t read_file(const char *path, unsigned char *bytes, size_t room)
{
        FILE *f = fopen(path, "rb");
        size_t n = f ? fread(bytes, 1, room, f) : 0;

        ck_assert_uint_lt(n, room);
        if (f)
                fclose(f);
        return n;
}

static void write_file(const char *path, const unsigned char *bytes, size_t n)
{
        FILE *f = fopen(path, "wb");

        ck_assert_uint_eq(fwrite(bytes, 1, n, f), n);
        fclose(f);
}

/* @logged: the last half of the entries is in the log. */
static void make(bool logged)
{
        struct kw_ledger *l;
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
        for (unsigned i = 0; i < ENTRIES; i++) {
                struct kw_receipt receipt = {0};

                if (logged && i == ENTRIES / 2) { /* closing brings the log in */
                        kw_ledger_close(l);
                        ck_assert_int_eq(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err), 0);
                }
                ck_assert_msg(load_append(l, i, &receipt, &err) == 0, "%s", err.text);
                free(receipt.json);
        }
        for (int64_t i = 0; i <= ENTRIES; i++)
                ck_assert_int_eq(kw_ledger_root(l, i, &roots[i], &err), 0);
        if (logged) {
                n_file = read_file(LEDGER, file, sizeof(file));
                n_log = read_file(LEDGER "-wal", log_bytes, sizeof(log_bytes));
                ck_assert_uint_gt(n_log, 0);
        }
        kw_ledger_close(l);
        if (!logged)
                n_file = read_file(LEDGER, file, sizeof(file));
        load_remove(LEDGER);
}

/* Half of the places are where something is written: most of a small file is empty. */
static size_t place(const unsigned char *bytes, size_t n)
{
        size_t at = dice() % n;

        for (int i = 0; i < 8 && dice() % 2 && !bytes[at]; i++)
                at = dice() % n;
        return at;
}

struct sum {
        int64_t flips, at_opening, by_verify, same, cut, changed;
};

static void judge(struct sum *sum, bool may_be_cut)
{
        struct kw_ledger *l = NULL;
        struct kw_error err = {0};
        struct kw_head head;
        int64_t wrong;
        bool fine;

        if (kw_ledger_open(LEDGER, KW_OPEN_READ, &l, &err)) {
                sum->at_opening++;
                return;
        }
        if (kw_ledger_verify(l, NULL, NULL, &wrong, &err)) {
                sum->by_verify++;
        } else {
                ck_assert_int_eq(kw_ledger_head(l, &head, &err), 0);
                fine = head.size <= ENTRIES && memcmp(head.root.bytes, roots[head.size].bytes, KW_HASH) == 0;
                if (fine && head.size == ENTRIES)
                        sum->same++;
                else if (fine && may_be_cut)
                        sum->cut++;
                else
                        sum->changed++;
        }
        kw_ledger_close(l);
}

static struct sum flip_each(long n, bool in_log)
{
        struct sum sum = {0};
        unsigned char *bytes = in_log ? log_bytes : file;

        for (; sum.flips < n; sum.flips++) {
                size_t at = place(bytes, in_log ? n_log : n_file);
                unsigned char bit = (unsigned char)(1u << dice() % 8);

                bytes[at] ^= bit;
                write_file(LEDGER, file, n_file);
                if (in_log)
                        write_file(LEDGER "-wal", log_bytes, n_log);
                judge(&sum, in_log);
                bytes[at] ^= bit;
                load_remove(LEDGER);
        }
        printf("bits of the %s: %" PRId64 " turned, %" PRId64 " found at opening, %" PRId64 " by verify, %" PRId64
               " made no difference, %" PRId64 " an earlier ledger, %" PRId64 " changed unseen\n",
               in_log ? "log" : "file", sum.flips, sum.at_opening, sum.by_verify, sum.same, sum.cut, sum.changed);
        fflush(stdout);
        return sum;
}

START_TEST(no_bit_changes_unseen)
{
        struct sum sum;

        load_folder();
        make(false);
        sum = flip_each(load_long(2000, 20000), false);
        ck_assert_int_eq(sum.changed, 0);
        ck_assert_int_gt(sum.at_opening + sum.by_verify, sum.flips / 10);
        load_folder_end();
}
END_TEST

START_TEST(a_bit_of_the_log_cuts_it_at_most)
{
        struct sum sum;

        load_folder();
        make(true);
        sum = flip_each(load_long(200, 5000), true);
        ck_assert_int_eq(sum.changed, 0);
        load_folder_end();
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, no_bit_changes_unseen);
        tcase_add_test(tests, a_bit_of_the_log_cuts_it_at_most);
        tcase_set_timeout(tests, 3600);
}

int main(void)
{
        return run_suite("flips", add);
}
