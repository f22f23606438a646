/*
 * A file beside the ledger: what is put into it comes out of it, and nothing but that, whatever becomes of the file.
 */
#include "kinwire/kept.h"
#include "recorder.h"
#include "suite.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

struct desk {
        char folder[64], file[96], aside[104];
        struct kw_ledger *l;
};

static void supply(struct desk *d, unsigned n)
{
        char body[120];

        snprintf(body, sizeof(body), "{\"supply\":\"S%u\",\"supplier\":\"X\",\"what\":\"core\"}", n);
        record(d->l, "supply", "2026-01-01T00:00:00Z", body);
}

static void desk_new(struct desk *d)
{
        snprintf(d->folder, sizeof(d->folder), "/tmp/kinwire-kept-XXXXXX");
        ck_assert_ptr_nonnull(mkdtemp(d->folder));
        snprintf(d->file, sizeof(d->file), "%s/mill.kw.sums", d->folder);
        snprintf(d->aside, sizeof(d->aside), "%s.new", d->file);
        d->l = recorder_new();
        for (unsigned i = 0; i < 5; i++)
                supply(d, i);
}

static void desk_free(struct desk *d)
{
        kw_ledger_close(d->l);
        unlink(d->file);
        unlink(d->aside);
        ck_assert_int_eq(rmdir(d->folder), 0);
}

static const int32_t numbers[] = {7, -1, INT32_MAX, 0, INT32_MIN};

static void fill(struct kw_buf *b, int64_t first)
{
        kw_kept_put_int(b, first);
        kw_kept_put_text(b, "drawn");
        kw_kept_put_text(b, NULL);
        kw_kept_put_text(b, "");
        kw_kept_put_int(b, 5);
        kw_kept_put_array(b, numbers, sizeof(numbers));
}

static int save(struct desk *d, const char *form, int64_t size, int64_t first)
{
        struct kw_error err = {0};
        struct kw_buf b = {0};
        int rc;

        fill(&b, first);
        ck_assert_int_eq(kw_ledger_look(d->l, &err), 0);
        rc = kw_kept_save(d->file, form, d->l, size, &b);
        kw_ledger_done(d->l);
        kw_buf_free(&b);
        return rc;
}

/* What the file begins with; INT64_MIN: it is not used. */
static int64_t first_of(struct desk *d, const char *form, const char **why)
{
        struct kw_error err = {0};
        int32_t got[5] = {0};
        int64_t first = INT64_MIN;
        struct kw_kept k;
        int rc;

        ck_assert_int_eq(kw_ledger_look(d->l, &err), 0);
        rc = kw_kept_open(d->file, form, d->l, &k, why);
        kw_ledger_done(d->l);
        ck_assert(rc <= 0);
        if (rc)
                return INT64_MIN;
        first = kw_kept_int(&k);
        ck_assert_str_eq(kw_kept_text(&k), "drawn");
        ck_assert_ptr_null(kw_kept_text(&k));
        ck_assert_str_eq(kw_kept_text(&k), "");
        ck_assert_uint_eq(kw_kept_count(&k, sizeof(*numbers)), 5);
        ck_assert(!kw_kept_whole(&k));
        kw_kept_array(&k, got, sizeof(got));
        ck_assert_mem_eq(got, numbers, sizeof(got));
        ck_assert(kw_kept_whole(&k));
        ck_assert_int_eq(kw_kept_int(&k), 0);
        ck_assert(!kw_kept_whole(&k)); /* there was no more */
        kw_kept_close(&k);
        return first;
}

static char *bytes_of(const char *path, size_t *n)
{
        char *text = recorder_file(path, n);

        ck_assert_ptr_nonnull(text);
        return text;
}

static void put_bytes(const char *path, const char *bytes, size_t n)
{
        int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

        ck_assert_int_ge(fd, 0);
        ck_assert_int_eq(write(fd, bytes, n), (ssize_t)n);
        close(fd);
}

START_TEST(comes_out_as_it_went_in)
{
        const char *why = "";
        struct desk d;

        desk_new(&d);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), INT64_MIN);
        ck_assert_ptr_null(why); /* there is none: nothing to tell */
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        ck_assert_int_ne(access(d.aside, F_OK), 0);
        supply(&d, 5); /* the ledger went on: it is still of its earlier size */
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        ck_assert_int_eq(first_of(&d, "sums 2", &why), INT64_MIN);
        ck_assert_ptr_nonnull(strstr(why, "version"));
        ck_assert_int_eq(save(&d, "sums 1", 7, 42), KW_OUT_OF_RANGE);
        desk_free(&d);
}
END_TEST

/* Whatever byte is another one, and wherever the file ends too early or too late, it is told and not used. */
START_TEST(damaged)
{
        const char *why;
        struct desk d;
        char *bytes;
        size_t n;

        desk_new(&d);
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        bytes = bytes_of(d.file, &n);
        for (size_t i = 0; i < n; i++) {
                for (int bit = 0; bit < 8; bit += 7) {
                        bytes[i] = (char)(bytes[i] ^ (1 << bit));
                        put_bytes(d.file, bytes, n);
                        ck_assert_int_eq(first_of(&d, "sums 1", &why), INT64_MIN);
                        ck_assert_ptr_nonnull(why);
                        bytes[i] = (char)(bytes[i] ^ (1 << bit));
                }
                put_bytes(d.file, bytes, i);
                ck_assert_int_eq(first_of(&d, "sums 1", &why), INT64_MIN);
                ck_assert_ptr_nonnull(why);
        }
        bytes = realloc(bytes, n + 1);
        ck_assert_ptr_nonnull(bytes);
        bytes[n] = '\0';
        put_bytes(d.file, bytes, n + 1);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), INT64_MIN);
        put_bytes(d.file, bytes, n);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        free(bytes);
        desk_free(&d);
}
END_TEST

START_TEST(of_another_ledger)
{
        struct desk d, other;
        const char *why;

        desk_new(&d);
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        desk_new(&other);
        supply(&other, 6); /* the same five before it: the same root */
        snprintf(other.file, sizeof(other.file), "%s", d.file);
        ck_assert_int_eq(first_of(&other, "sums 1", &why), 42);
        kw_ledger_close(other.l);
        other.l = recorder_new();
        for (unsigned i = 0; i < 8; i++)
                supply(&other, i + 1);
        ck_assert_int_eq(first_of(&other, "sums 1", &why), INT64_MIN);
        ck_assert_ptr_nonnull(strstr(why, "another ledger"));
        kw_ledger_close(other.l);
        other.l = recorder_new(); /* brought back from an older copy */
        for (unsigned i = 0; i < 3; i++)
                supply(&other, i);
        ck_assert_int_eq(first_of(&other, "sums 1", &why), INT64_MIN);
        ck_assert_ptr_nonnull(why);
        snprintf(other.file, sizeof(other.file), "%s/mill.kw.sums", other.folder);
        desk_free(&other);
        desk_free(&d);
}
END_TEST

/* A file may grow no longer, as on a full disk. */
START_TEST(the_disk_is_full)
{
        const rlim_t limits[] = {0, 1, 100, 200};
        struct rlimit before, full;
        const char *why;
        struct desk d;

        desk_new(&d);
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &before), 0);
        signal(SIGXFSZ, SIG_IGN);
        for (size_t i = 0; i < sizeof(limits) / sizeof(*limits); i++) {
                int rc;

                full = (struct rlimit){limits[i], before.rlim_max};
                ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &full), 0);
                rc = save(&d, "sums 1", 5, 43);
                ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &before), 0);
                ck_assert_int_eq(rc, -EFBIG);
                ck_assert_int_ne(access(d.aside, F_OK), 0);
                ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        }
        desk_free(&d);
}
END_TEST

/* A program that is killed leaves half of what it wrote aside; the next one begins again. */
START_TEST(killed_while_it_was_written)
{
        const char *why;
        struct desk d;
        char *bytes;
        size_t n;

        desk_new(&d);
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        bytes = bytes_of(d.file, &n);
        put_bytes(d.aside, bytes, n / 2);
        free(bytes);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        ck_assert_int_eq(save(&d, "sums 1", 5, 43), 0);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 43);
        ck_assert_int_ne(access(d.aside, F_OK), 0);
        desk_free(&d);
}
END_TEST

/* Two programs with one file: who comes second leaves it to the first. */
START_TEST(another_program_writes_it)
{
        struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
        const char *why;
        struct stat st;
        struct desk d;
        int fd;

        desk_new(&d);
        ck_assert_int_eq(save(&d, "sums 1", 5, 42), 0);
        fd = open(d.aside, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        ck_assert_int_ge(fd, 0);
        ck_assert_int_eq(write(fd, "half of it", 10), 10);
        ck_assert_int_eq(fcntl(fd, F_OFD_SETLK, &all), 0);
        ck_assert_int_eq(save(&d, "sums 1", 5, 43), -EBUSY);
        ck_assert_int_eq(fstat(fd, &st), 0);
        ck_assert_int_eq(st.st_size, 10);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 42);
        close(fd);
        ck_assert_int_eq(save(&d, "sums 1", 5, 43), 0);
        ck_assert_int_eq(first_of(&d, "sums 1", &why), 43);
        desk_free(&d);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, comes_out_as_it_went_in);
        tcase_add_test(tests, damaged);
        tcase_add_test(tests, of_another_ledger);
        tcase_add_test(tests, the_disk_is_full);
        tcase_add_test(tests, killed_while_it_was_written);
        tcase_add_test(tests, another_program_writes_it);
}

int main(void)
{
        return run_suite("kept", add);
}
