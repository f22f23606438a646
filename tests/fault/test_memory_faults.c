/*
 * The n-th allocation fails, the program's, SQLite's or the JSON library's, through one counter: opening, recording,
 * putting right, verifying and backing up say so or succeed, lose nothing, leave no half entry, and the same
 * connection goes on with the next entry. For n = 1, 2, ... until the work is done without meeting the fault.
 */
#include "load.h"

#include "../unit/failing.h"
#include "../unit/suite.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define LEDGER "memory.kw"
#define COPY   "copy.kw"
#define FIRST  8 /* entries that are there before */

/* --- the program's, beyond those of failing.h --------------------------------------------------------- */

char *__real_strdup(const char *s);
char *__wrap_strdup(const char *s);

char *__wrap_strdup(const char *s)
{
        char *p = fails() ? NULL : __real_strdup(s);

        held += p != NULL;
        return p;
}

/* --- SQLite's ----------------------------------------------------------------------------------------- */

static sqlite3_mem_methods theirs;

static void *their_malloc(int n)
{
        void *p = fails() ? NULL : theirs.xMalloc(n);

        held += p != NULL;
        return p;
}

static void *their_realloc(void *old, int n)
{
        return fails() ? NULL : theirs.xRealloc(old, n);
}

static void their_free(void *p)
{
        held -= p != NULL;
        theirs.xFree(p);
}

static void count_everything(void)
{
        sqlite3_mem_methods counted;

        sqlite3_config(SQLITE_CONFIG_GETMALLOC, &theirs);
        counted = theirs;
        counted.xMalloc = their_malloc;
        counted.xRealloc = their_realloc;
        counted.xFree = their_free;
        ck_assert_int_eq(sqlite3_config(SQLITE_CONFIG_MALLOC, &counted), SQLITE_OK);
        sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0); /* else small pieces come from elsewhere */
        cJSON_InitHooks(&(cJSON_Hooks){.malloc_fn = __wrap_malloc, .free_fn = __wrap_free});
}

/* --- the work ------------------------------------------------------------------------------------------ */

struct point {
        struct kw_ledger *ledger; /* open, unless opening is the work */
        struct kw_draft draft;
        struct kw_receipt receipt;
        struct kw_error err;
};

static int record(struct point *p)
{
        const struct kw_sender sender = {.by = "stress", .terminal = "TEST", .may_override = true};
        int rc = kw_ledger_begin(p->ledger, &p->err);

        if (rc)
                return rc;
        rc = kw_ledger_append(p->ledger, &p->draft, &sender, INT64_C(1780000000), &p->receipt, &p->err);
        if (rc == 0)
                rc = kw_ledger_commit(p->ledger, &p->err);
        else
                kw_ledger_rollback(p->ledger);
        return rc;
}

static int open_and_close(struct point *p)
{
        struct kw_ledger *l = NULL;
        int rc = kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &p->err);

        if (rc == 0)
                kw_ledger_close(l);
        return rc;
}

static int make(struct point *p)
{
        struct kw_ledger *l = NULL;
        int rc = kw_ledger_open(COPY, KW_OPEN_WRITE, &l, &p->err);

        if (rc == 0)
                kw_ledger_close(l);
        return rc;
}

static int verify(struct point *p)
{
        int64_t wrong;

        return kw_ledger_verify(p->ledger, NULL, NULL, &wrong, &p->err);
}

static int back_up(struct point *p)
{
        return kw_ledger_backup(p->ledger, COPY, NULL, NULL, &p->err);
}

static const struct {
        const char *name;
        int (*work)(struct point *p);
        unsigned number; /* of the entry that is recorded; those before it are there already */
        long few;        /* step */
} works[] = {
        {"making a ledger", make, 0, 151},       {"opening", open_and_close, 0, 17},
        {"recording a heat", record, 8, 7},      {"recording a coil", record, 9, 7},
        {"recording a run", record, 10, 17},     {"recording a test", record, 11, 11},
        {"recording a hold", record, 12, 11},    {"putting a run right", record, 13, 29},
        {"recording a release", record, 14, 11}, {"recording scrap", record, 15, 11},
        {"verifying", verify, 0, 307},           {"backing up", back_up, 0, 23},
};

/* --- each point ------------------------------------------------------------------------------------------ */

static struct kw_ledger *open_ledger(void)
{
        struct kw_ledger *l = NULL;
        struct kw_error err = {0};

        ck_assert_msg(kw_ledger_open(LEDGER, KW_OPEN_WRITE, &l, &err) == 0, "%s", err.text);
        return l;
}

static void append_upto(struct kw_ledger *l, unsigned n)
{
        struct kw_error err = {0};

        for (unsigned i = 0; i < n; i++) {
                struct kw_receipt receipt = {0};

                ck_assert_msg(load_append(l, i, &receipt, &err) == 0, "entry %u: %s", i, err.text);
                ck_assert_int_eq(receipt.seq, i + 1);
                free(receipt.json);
        }
}

static char safe[2 << 20];
static size_t n_safe;

static void remember_file(void)
{
        FILE *f = fopen(LEDGER, "rb");

        n_safe = fread(safe, 1, sizeof(safe), f);
        ck_assert_uint_lt(n_safe, sizeof(safe));
        fclose(f);
}

static void put_back_file(void)
{
        FILE *f;

        load_remove(LEDGER);
        load_remove(COPY);
        f = fopen(LEDGER, "wb");
        ck_assert_uint_eq(fwrite(safe, 1, n_safe, f), n_safe);
        fclose(f);
}

/* Work number @i with allocation @n failing. Return: whether it was met. */
static bool fail_one(int i, long n, long *refused)
{
        struct point p = {0};
        char key[KW_KEY_LEN + 1], when[96];
        long before, after;
        bool met;
        int rc;

        snprintf(when, sizeof(when), "%s, allocation %ld", works[i].name, n);
        put_back_file();
        before = held;
        if (works[i].work != open_and_close && works[i].work != make)
                p.ledger = open_ledger();
        if (works[i].work == record)
                load_draft(works[i].number, &p.draft, key);
        calls = 0;
        fail_at = n;
        rc = works[i].work(&p);
        fail_at = 0;
        met = calls >= n;
        if (works[i].work == record)
                kw_draft_free(&p.draft);
        free(p.receipt.json);
        if (p.ledger)
                append_upto(p.ledger, works[i].number + 1); /* the same connection goes on */
        kw_ledger_close(p.ledger);
        after = held;
        ck_assert_msg(rc == 0 || rc == -ENOMEM || (rc == KW_INTERNAL && met), "%s: %d %s", when, rc, p.err.text);
        ck_assert_msg(after == before, "%s: %ld allocations lost", when, after - before);
        *refused += rc != 0;
        return met;
}

START_TEST(every_allocation_may_fail)
{
        long points = 0, refused = 0, step = load_long(works[_i].few, 1);
        struct kw_ledger *l;

        count_everything();
        load_folder();
        l = open_ledger();
        append_upto(l, works[_i].number ? works[_i].number : FIRST);
        kw_ledger_close(l);
        remember_file();
        for (long n = 1; fail_one(_i, n, &refused); n += step) {
                points++;
                if (points % 16)
                        continue;
                l = open_ledger();
                load_verify(l, works[_i].name);
                kw_ledger_close(l);
        }
        printf("%s: %ld points, %ld refused, 0 lost, 0 half\n", works[_i].name, points, refused);
        fflush(stdout);
        ck_assert_int_gt(points, 3);
        load_folder_end();
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, every_allocation_may_fail, 0, (int)(sizeof(works) / sizeof(works[0])));
        tcase_set_timeout(tests, 3600);
}

int main(void)
{
        return run_suite("memory faults", add);
}
