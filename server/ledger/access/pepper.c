/*
 * The pepper: 32 random bytes in a file of their own, as hexadecimal digits.
 *
 * It is kept apart from the hashes, and is not in a backup: whoever finds one of the two can't try out six-digit PINs.
 */
#include "inside.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <string.h>
#include <unistd.h>

#define HEX (2 * KW_PEPPER)

static int cant(const char *path, const char *what, struct kw_error *err)
{
        return kw_refuse(err, KW_INTERNAL, "", "%s can't be %s: %s", path, what, strerror(errno));
}

static int make(const char *path, struct kw_error *err)
{
        unsigned char pepper[KW_PEPPER];
        char hex[HEX + 1];
        int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
        bool written;

        if (fd < 0)
                return errno == EEXIST ? 0 : cant(path, "made", err);
        randombytes_buf(pepper, sizeof pepper);
        sodium_bin2hex(hex, sizeof hex, pepper, sizeof pepper);
        hex[HEX] = '\n';
        written = write(fd, hex, sizeof hex) == (ssize_t)sizeof hex && fsync(fd) == 0;
        sodium_memzero(pepper, sizeof pepper);
        sodium_memzero(hex, sizeof hex);
        close(fd);
        if (written)
                return 0;
        unlink(path);
        return cant(path, "written", err);
}

int kw_pepper_read(const char *path, bool may_make, unsigned char out[KW_PEPPER], struct kw_error *err)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW), rc;
        char hex[HEX];
        size_t n = 0;

        if (fd < 0 && errno == ENOENT && may_make) {
                rc = make(path, err);
                return rc ? rc : kw_pepper_read(path, false, out, err);
        }
        if (fd < 0 && errno == ENOENT)
                return kw_refuse(err, KW_INTERNAL, "",
                                 "%s is missing, and without it the PINs and codes are of no use: put it back, or take "
                                 "the .access file beside it away and give everyone a new code",
                                 path);
        if (fd < 0)
                return cant(path, "read", err);
        rc = read(fd, hex, sizeof hex) == (ssize_t)sizeof hex &&
                             sodium_hex2bin(out, KW_PEPPER, hex, sizeof hex, NULL, &n, NULL) == 0 && n == KW_PEPPER
                     ? 0
                     : kw_refuse(err, KW_INTERNAL, "", "%s is not a pepper file: %d hexadecimal digits", path, HEX);
        sodium_memzero(hex, sizeof hex);
        close(fd);
        return rc;
}
