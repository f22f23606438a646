/*
 * A file with what took long to compute.
 */
#include "kinwire/kept.h"

#include "beside.h"

#include <errno.h>
#include <fcntl.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define MAGIC "kinwire kept"

struct head {
        char magic[16];
        char form[32];
        char made_by[32]; /* version of the program, level of the ledger */
        int64_t size;
        struct kw_hash root;
        uint64_t bytes, content; /* of what follows: how many, and their sum */
        uint64_t sum;            /* of all before it */
};

/* --- writing -------------------------------------------------------------------------------------- */

void kw_kept_put_array(struct kw_buf *out, const void *at, size_t n)
{
        kw_buf_add(out, at, n);
}

void kw_kept_put_int(struct kw_buf *out, int64_t value)
{
        kw_buf_add(out, &value, sizeof(value));
}

void kw_kept_put_text(struct kw_buf *out, const char *text)
{
        const size_t n = text ? strlen(text) + 1 : 0;

        kw_kept_put_int(out, (int64_t)n);
        kw_buf_add(out, text, n);
}

static void fill_head(struct head *head, const char *form)
{
        memset(head, 0, sizeof(*head));
        snprintf(head->magic, sizeof(head->magic), "%s", MAGIC);
        snprintf(head->form, sizeof(head->form), "%s", form);
        snprintf(head->made_by, sizeof(head->made_by), "%.20s level %d", KW_MADE_BY, KW_LEDGER_LEVEL);
}

static uint64_t sum_of(const struct head *head)
{
        return kw_sum_of(0, head, offsetof(struct head, sum));
}

struct writing {
        const struct head *head;
        const struct kw_buf *content;
};

static int write_both(int fd, const void *ctx)
{
        const struct writing *w = ctx;
        int rc = kw_write_at(fd, w->head, sizeof(*w->head), 0);

        return rc ? rc : kw_write_at(fd, w->content->at, w->content->n, sizeof(*w->head));
}

int kw_kept_save(const char *file, const char *form, struct kw_ledger *ledger, int64_t size,
                 const struct kw_buf *content)
{
        struct kw_error err = {0};
        struct head head;
        int rc;

        if (content->failed)
                return -ENOMEM;
        fill_head(&head, form);
        head.size = size;
        rc = kw_ledger_root(ledger, size, &head.root, &err);
        if (rc)
                return rc;
        head.bytes = content->n;
        head.content = kw_sum_of(0, content->at, content->n);
        head.sum = sum_of(&head);
        return kw_write_aside(file, write_both, &(struct writing){&head, content});
}

/* --- reading -------------------------------------------------------------------------------------- */

/* What is wrong with it; NULL: it is what it says. */
static const char *fault_of(const struct head *head, const char *form, const struct kw_kept *k)
{
        struct head ours;

        fill_head(&ours, form);
        if (k->bytes < sizeof(*head) || memcmp(head->magic, ours.magic, sizeof(ours.magic)) != 0)
                return "it is no such file";
        if (head->sum != sum_of(head) || head->bytes != k->bytes - sizeof(*head) ||
            head->content != kw_sum_of(0, k->at, head->bytes))
                return "it is damaged";
        if (memcmp(head->form, ours.form, sizeof(ours.form)) != 0 ||
            memcmp(head->made_by, ours.made_by, sizeof(ours.made_by)) != 0)
                return "another version of the program made it";
        return NULL;
}

static const char *foreign(const struct head *head, struct kw_ledger *ledger)
{
        struct kw_error err = {0};
        struct kw_hash root;

        if (head->size < 0 || kw_ledger_root(ledger, head->size, &root, &err) ||
            memcmp(root.bytes, head->root.bytes, KW_HASH) != 0)
                return "it is of another ledger, or of a later state of this one";
        return NULL;
}

static int read_all(int fd, char *to, size_t n)
{
        while (n) {
                const ssize_t got = read(fd, to, n);

                if (got < 0 && errno == EINTR)
                        continue;
                if (got <= 0)
                        return got < 0 ? -errno : -EIO;
                to += got;
                n -= (size_t)got;
        }
        return 0;
}

/* Read, not mapped: a page that the disk can't give is an error here, not a signal later. */
static int load(const char *file, struct kw_kept *k)
{
        int fd = open(file, O_RDONLY | O_CLOEXEC), rc = 0;
        struct stat st;

        if (fd < 0)
                return -errno;
        if (fstat(fd, &st) < 0)
                rc = -errno;
        if (rc == 0 && S_ISREG(st.st_mode) && st.st_size > 0) {
                k->bytes = (size_t)st.st_size;
                k->held = malloc(k->bytes);
                rc = k->held ? read_all(fd, k->held, k->bytes) : -ENOMEM;
        }
        close(fd);
        return rc;
}

int kw_kept_open(const char *file, const char *form, struct kw_ledger *ledger, struct kw_kept *out, const char **why)
{
        struct head head = {0};
        int rc;

        *out = (struct kw_kept){0};
        *why = NULL;
        rc = load(file, out);
        if (rc && rc != -ENOENT)
                *why = "it can't be read";
        if (rc) {
                kw_kept_close(out);
                return rc;
        }
        if (out->bytes >= sizeof(head)) {
                memcpy(&head, out->held, sizeof(head));
                out->at = out->held + sizeof(head);
                out->end = out->held + out->bytes;
        }
        *why = fault_of(&head, form, out);
        if (!*why)
                *why = foreign(&head, ledger);
        if (*why) {
                kw_kept_close(out);
                return -ENOENT;
        }
        out->size = head.size;
        return 0;
}

void kw_kept_close(struct kw_kept *k)
{
        free(k->held);
        *k = (struct kw_kept){0};
}

static const char *take(struct kw_kept *k, size_t n)
{
        const char *at = k->at;

        if (k->failed || n > (size_t)(k->end - k->at)) {
                k->failed = true;
                return NULL;
        }
        k->at += n;
        return at;
}

void kw_kept_array(struct kw_kept *k, void *to, size_t n)
{
        const char *at = n ? take(k, n) : NULL;

        if (at)
                memcpy(to, at, n);
}

int64_t kw_kept_int(struct kw_kept *k)
{
        int64_t value = 0;

        kw_kept_array(k, &value, sizeof(value));
        return value;
}

size_t kw_kept_count(struct kw_kept *k, size_t each)
{
        const int64_t n = kw_kept_int(k);

        if (k->failed || n < 0 || (uint64_t)n > (uint64_t)(k->end - k->at) / each) {
                k->failed = true;
                return 0;
        }
        return (size_t)n;
}

const char *kw_kept_text(struct kw_kept *k)
{
        const size_t n = kw_kept_count(k, 1);
        const char *at = n ? take(k, n) : NULL;

        if (at && at[n - 1] != '\0') {
                k->failed = true;
                return NULL;
        }
        return at;
}

bool kw_kept_whole(const struct kw_kept *k)
{
        return !k->failed && k->at == k->end;
}
