/*
 * Writing a zip that is the same for the same files.
 *
 * A file's size is not told before its bytes, as it is not known of a stream. Its time is left out: the format keeps
 * local time, so that it would depend on where it was written.
 */
#include "zip.h"

#include <archive.h>
#include <archive_entry.h>
#include <errno.h>

struct archive *kw_zip_new(void *ctx, ssize_t (*take)(struct archive *zip, void *ctx, const void *bytes, size_t n))
{
        struct archive *zip = archive_write_new();

        if (!zip)
                return NULL;
        if (archive_write_set_format_zip(zip) == ARCHIVE_OK &&
            archive_write_zip_set_compression_deflate(zip) == ARCHIVE_OK &&
            archive_write_set_bytes_per_block(zip, 0) == ARCHIVE_OK &&
            archive_write_open(zip, ctx, NULL, take, NULL) == ARCHIVE_OK)
                return zip;
        archive_write_free(zip);
        return NULL;
}

int kw_zip_begin(struct archive *zip, const char *name)
{
        struct archive_entry *entry = archive_entry_new();
        int rc;

        if (!entry)
                return -ENOMEM;
        archive_entry_set_pathname(entry, name);
        archive_entry_set_filetype(entry, AE_IFREG);
        archive_entry_set_perm(entry, 0644);
        rc = archive_write_header(zip, entry);
        archive_entry_free(entry);
        return rc == ARCHIVE_OK ? 0 : -EIO;
}

int kw_zip_add(struct archive *zip, const void *bytes, size_t n)
{
        while (n) {
                ssize_t done = archive_write_data(zip, bytes, n);

                if (done <= 0)
                        return -EIO;
                bytes = (const char *)bytes + done;
                n -= (size_t)done;
        }
        return 0;
}

int kw_zip_end(struct archive *zip)
{
        return archive_write_close(zip) == ARCHIVE_OK ? 0 : -EIO;
}

void kw_zip_free(struct archive *zip)
{
        if (zip)
                archive_write_free(zip);
}
