/*
 * Files of copies: hashed while they are read, synced, and named when they are whole.
 */
#include "copies.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* --- the partial file ------------------------------------------------------------------------------- */

int kw_partial_name(const char *to, struct kw_partial *out, struct kw_error *err)
{
        int n = snprintf(out->path, sizeof(out->path), "%s.%ld.partial", to, (long)getpid());

        if (n < 0 || (size_t)n >= sizeof(out->path) - sizeof("-journal"))
                return kw_refuse(err, KW_BAD_VALUE, "", "the name %.80s... is too long", to);
        return 0;
}

static int sync_path(const char *path)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC), rc = fd < 0 ? -errno : 0;

        if (rc == 0 && fsync(fd))
                rc = -errno;
        if (fd >= 0)
                close(fd);
        return rc;
}

static int sync_folder_of(const char *path)
{
        char folder[PATH_MAX];

        snprintf(folder, sizeof(folder), "%s", path);
        return sync_path(dirname(folder));
}

static int cannot(const char *path, int rc, struct kw_error *err)
{
        return kw_refuse(err, rc == -ENOSPC || rc == -EDQUOT ? KW_DISK_FULL : KW_INTERNAL, "",
                         "%s can't be written: %s", path, strerror(-rc));
}

/* link() refuses a name that is taken, which rename() would not. */
int kw_partial_keep(const struct kw_partial *partial, const char *to, struct kw_error *err)
{
        int rc = sync_path(partial->path);

        if (rc == 0 && link(partial->path, to))
                rc = -errno;
        if (rc == 0)
                rc = sync_folder_of(to);
        return rc ? cannot(to, rc, err) : 0;
}

void kw_partial_drop(const struct kw_partial *partial)
{
        static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
        char path[PATH_MAX + 16];

        for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
                snprintf(path, sizeof(path), "%s%s", partial->path, ends[i]);
                unlink(path);
        }
}

/* --- hashing ---------------------------------------------------------------------------------------- */

static int put_all(int fd, const unsigned char *bytes, size_t n)
{
        while (n) {
                ssize_t put = write(fd, bytes, n);

                if (put < 0 && errno != EINTR)
                        return -errno;
                if (put > 0) {
                        bytes += put;
                        n -= (size_t)put;
                }
        }
        return 0;
}

struct copying {
        const char *from, *to;
        int in, out; /* @out -1: only hashed */
        int64_t bytes;
};

static int copy(struct copying *c, struct kw_hash *hash, struct kw_error *err)
{
        unsigned char bytes[65536];
        crypto_hash_sha256_state state;
        ssize_t got;
        int rc;

        crypto_hash_sha256_init(&state);
        while ((got = read(c->in, bytes, sizeof(bytes))) != 0) {
                if (got < 0 && errno == EINTR)
                        continue;
                if (got < 0)
                        return kw_refuse(err, KW_BAD_VALUE, "", "%s can't be read: %s", c->from, strerror(errno));
                crypto_hash_sha256_update(&state, bytes, (unsigned long long)got);
                c->bytes += got;
                rc = c->out < 0 ? 0 : put_all(c->out, bytes, (size_t)got);
                if (rc)
                        return cannot(c->to, rc, err);
        }
        crypto_hash_sha256_final(&state, hash->bytes);
        return 0;
}

int kw_file_hash(const char *path, const char *to, struct kw_hash *out, int64_t *bytes, struct kw_error *err)
{
        struct copying c = {.from = path, .to = to, .out = -1};
        int rc;

        c.in = open(path, O_RDONLY | O_CLOEXEC);
        if (c.in < 0)
                return kw_refuse(err, errno == ENOENT ? KW_NOT_FOUND : KW_BAD_VALUE, "", "%s can't be read: %s", path,
                                 strerror(errno));
        if (to) {
                c.out = open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
                if (c.out < 0) {
                        rc = cannot(to, -errno, err);
                        close(c.in);
                        return rc;
                }
        }
        rc = copy(&c, out, err);
        *bytes = c.bytes;
        close(c.in);
        if (c.out >= 0 && close(c.out) && rc == 0)
                rc = cannot(to, -errno, err);
        return rc;
}

/* --- the manifest ------------------------------------------------------------------------------------ */

static int manifest_name(const char *to, char path[PATH_MAX], struct kw_error *err)
{
        int n = snprintf(path, PATH_MAX, "%s.manifest.json", to);

        return n < 0 || n >= PATH_MAX ? kw_refuse(err, KW_BAD_VALUE, "", "the name %.80s... is too long", to) : 0;
}

static void put_hash(struct kw_buf *out, const char *name, const struct kw_hash *hash)
{
        char hex[KW_HASH_HEX];

        kw_hash_hex(hash, hex);
        kw_put_string(out, name, hex);
}

static int write_text(const char *path, const struct kw_buf *text)
{
        int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600), rc;

        if (fd < 0)
                return -errno;
        rc = put_all(fd, (const unsigned char *)text->at, text->n);
        if (rc == 0 && fsync(fd))
                rc = -errno;
        if (close(fd) && rc == 0)
                rc = -errno;
        return rc;
}

int kw_manifest_write(const char *to, const struct kw_manifest *m, struct kw_error *err)
{
        struct kw_partial partial;
        struct kw_buf text = {0};
        char path[PATH_MAX];
        int rc = manifest_name(to, path, err);

        if (rc == 0)
                rc = kw_partial_name(path, &partial, err);
        if (rc)
                return rc;
        kw_put_object(&text, NULL);
        kw_put_int(&text, "bytes", m->bytes);
        kw_put_int(&text, "level", m->level);
        put_hash(&text, "root", &m->head.root);
        put_hash(&text, "sha256", &m->sha256);
        kw_put_int(&text, "size", m->head.size);
        kw_put_string(&text, "when", m->when);
        kw_put_object_end(&text);
        kw_buf_text_add(&text, "\n");
        rc = text.failed ? -ENOMEM : write_text(partial.path, &text);
        if (rc == 0 && rename(partial.path, path))
                rc = -errno;
        if (rc == 0)
                rc = sync_folder_of(path);
        kw_buf_free(&text);
        kw_partial_drop(&partial);
        return rc && rc != -ENOMEM ? cannot(path, rc, err) : rc;
}

static bool read_hash(const cJSON *json, const char *name, struct kw_hash *out)
{
        const char *hex = kw_json_text(json, name);

        return hex && kw_hash_unhex(hex, out) == 0;
}

static bool read_members(const cJSON *json, struct kw_manifest *m)
{
        const char *when = kw_json_text(json, "when");
        int64_t at;

        m->level = kw_json_int(json, "level", -1);
        m->bytes = kw_json_int(json, "bytes", -1);
        m->head.size = kw_json_int(json, "size", -1);
        snprintf(m->when, sizeof(m->when), "%s", when ? when : "");
        return when && strlen(when) == KW_STAMP_LEN && kw_stamp_read(when, &at) == 0 && m->level > 0 && m->bytes > 0 &&
               m->head.size >= 0 && read_hash(json, "root", &m->head.root) && read_hash(json, "sha256", &m->sha256);
}

int kw_manifest_read(const char *to, struct kw_manifest *out, struct kw_error *err)
{
        const struct kw_json_limits limits = {4096, 16};
        char path[PATH_MAX], text[4097];
        cJSON *json = NULL;
        ssize_t n;
        int fd, rc = manifest_name(to, path, err);

        if (rc)
                return rc;
        fd = open(path, O_RDONLY | O_CLOEXEC);
        if (fd < 0)
                return kw_refuse(err, errno == ENOENT ? KW_NOT_FOUND : KW_BAD_VALUE, "", "%s can't be read: %s", path,
                                 strerror(errno));
        n = read(fd, text, sizeof(text));
        close(fd);
        rc = n < 0 ? KW_NOT_JSON : kw_json_read(text, (size_t)n, &limits, &json, NULL);
        if (rc >= 0 && (rc || !read_members(json, out)))
                rc = kw_refuse(err, KW_BAD_VALUE, "", "%s is not the manifest of a backup", path);
        cJSON_Delete(json);
        return rc;
}
