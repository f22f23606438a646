#ifndef KW_EXPORT_ZIP_H
#define KW_EXPORT_ZIP_H
/*
 * The zip around a pack, written the same way each time: no clock, no user, no time zone in it. Whoever checks a pack
 * writes it again and compares.
 */
#include "kinwire/buf.h"

#include <sys/types.h>

struct archive;

/** kw_zip_new - @take receives what is to be written. Return: NULL when there is no memory. */
struct archive *kw_zip_new(void *ctx, ssize_t (*take)(struct archive *zip, void *ctx, const void *bytes, size_t n));
/** kw_zip_begin - a file in it; its bytes follow. Return: 0; -ENOMEM; -EIO. */
int kw_zip_begin(struct archive *zip, const char *name);
int kw_zip_add(struct archive *zip, const void *bytes, size_t n);
/** kw_zip_end - the directory. Return: 0; -EIO. */
int kw_zip_end(struct archive *zip);
void kw_zip_free(struct archive *zip);

#endif
