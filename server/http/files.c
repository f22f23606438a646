/*
 * Files: the pages and schemas that the build put into the binary, or, while working on them, those of a folder.
 */
#include "kinwire/embedded.h"
#include "server.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_MAX ((off_t)16 << 20)

static const struct {
        const char *ending, *type;
} types[] = {
        {".html", "text/html; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".mjs", "text/javascript; charset=utf-8"},
        {".schema.json", "application/schema+json"},
        {".json", "application/json"},
        {".yaml", "application/yaml"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".ico", "image/x-icon"},
        {".webmanifest", "application/manifest+json"},
        {".woff2", "font/woff2"},
        {".txt", "text/plain; charset=utf-8"},
};

static const char *type_of(const char *name)
{
        size_t n = strlen(name);

        for (size_t i = 0; i < sizeof types / sizeof types[0]; i++) {
                size_t ending = strlen(types[i].ending);
                if (n > ending && strcmp(name + n - ending, types[i].ending) == 0)
                        return types[i].type;
        }
        return "application/octet-stream";
}

/*
 * A tag for the bytes. A browser keeps the file and asks each time whether it is still the one; so a new version of the
 * program is seen at once. Return: whether the client has it already.
 */
static bool tag(struct kw_request *r, const void *bytes, size_t n)
{
        const char *known = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
        unsigned char hash[crypto_hash_sha256_BYTES];
        char hex[2 * 16 + 1], etag[sizeof hex + 2];

        crypto_hash_sha256(hash, bytes, n);
        sodium_bin2hex(hex, sizeof hex, hash, 16);
        snprintf(etag, sizeof etag, "\"%s\"", hex);
        kw_reply_header(r, MHD_HTTP_HEADER_ETAG, "%s", etag);
        kw_reply_header(r, MHD_HTTP_HEADER_CACHE_CONTROL, "no-cache");
        return known && (strstr(known, etag) || strcmp(known, "*") == 0);
}

static enum MHD_Result no_file(struct kw_request *r)
{
        struct kw_error err = {0};
        int rc = kw_refuse_with(&err, KW_NOT_FOUND, NULL, "address", NULL, "there is nothing under %.*s",
                                (int)r->path_len, r->target);

        return kw_reply_problem(r, rc, &err);
}

static const struct kw_embedded *file_named(const struct kw_embedded *files, const char *name)
{
        while (files->name && strcmp(files->name, name) != 0)
                files++;
        return files->name ? files : NULL;
}

static enum MHD_Result reply_embedded(struct kw_request *r, const struct kw_embedded *f)
{
        if (tag(r, f->bytes, f->n))
                return kw_reply_fixed(r, MHD_HTTP_NOT_MODIFIED, NULL, "", 0);
        return kw_reply_fixed(r, MHD_HTTP_OK, type_of(f->name), f->bytes, f->n);
}

/*
 * Someone who mistyped an address is shown a page, a program is told of a problem. The page finds what it needs beside
 * itself, so it can't stand for one that would lie deeper.
 */
static enum MHD_Result no_page(struct kw_request *r)
{
        const char *accept = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT);
        const struct kw_embedded *page = file_named(kw_pages, "missing.html");

        if (!page || !accept || !strstr(accept, "text/html") || memchr(r->target + 1, '/', r->path_len - 1))
                return no_file(r);
        return kw_reply_fixed(r, MHD_HTTP_NOT_FOUND, type_of(page->name), page->bytes, page->n);
}

/* --- from a folder ---------------------------------------------------------------------------- */

/* Read a regular file whole. Return: 0; -errno. */
static int slurp(const char *path, struct kw_buf *out)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
        struct stat st;
        char block[16384];
        ssize_t n;

        if (fd < 0)
                return -errno;
        if (fstat(fd, &st) < 0 || !S_ISREG(st.st_mode) || st.st_size > FILE_MAX) {
                close(fd);
                return -ENOENT;
        }
        while ((n = read(fd, block, sizeof block)) > 0)
                kw_buf_add(out, block, (size_t)n);
        close(fd);
        return n < 0 ? -EIO : 0;
}

static enum MHD_Result reply_from_folder(struct kw_request *r, const char *name)
{
        struct kw_buf path = {0}, bytes = {0};
        int rc;

        kw_buf_printf(&path, "%s/%s", r->http->web, name);
        rc = slurp(kw_buf_text(&path), &bytes);
        kw_buf_free(&path);
        if (!rc && tag(r, kw_buf_text(&bytes), bytes.n)) {
                kw_buf_free(&bytes);
                return kw_reply_fixed(r, MHD_HTTP_NOT_MODIFIED, NULL, "", 0);
        }
        if (!rc)
                return kw_reply(r, MHD_HTTP_OK, type_of(name), &bytes);
        kw_buf_free(&bytes);
        return no_page(r);
}

/* --- the routes ------------------------------------------------------------------------------- */

/* A page's path is plain: nothing encoded, no part of it hidden. The gate has refused ".." already. */
enum MHD_Result kw_answer_page(struct kw_request *r)
{
        const struct kw_embedded *file;
        char name[KW_PART_MAX];

        if (r->path_len > sizeof name)
                return no_page(r);
        memcpy(name, r->target + 1, r->path_len - 1);
        name[r->path_len - 1] = '\0';
        if (!name[0])
                strcpy(name, "index.html");
        if (strchr(name, '%') || name[0] == '.' || strstr(name, "/."))
                return no_page(r);
        if (r->http->web)
                return reply_from_folder(r, name);
        file = file_named(kw_pages, name);
        return file ? reply_embedded(r, file) : no_page(r);
}

enum MHD_Result kw_answer_schema(struct kw_request *r)
{
        const struct kw_embedded *file = file_named(kw_schemas, r->part[0]);

        return file ? reply_embedded(r, file) : no_file(r);
}
