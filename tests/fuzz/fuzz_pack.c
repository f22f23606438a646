/*
 * Any bytes as an evidence pack: it is found to be as it was made, or what is wrong is said.
 *
 * Run the fuzzer with -detect_leaks=0: libarchive 3.6.2 itself loses 128 bytes for each zip that it reads.
 */
#include "fuzz.h"

#include "kinwire/export.h"

#include <sys/mman.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        struct kw_head head;
        struct kw_error err = {0};
        int64_t entries = 0;
        char path[64];
        int fd = memfd_create("pack", MFD_CLOEXEC), rc;

        MUST(fd >= 0 && write(fd, bytes, n) == (ssize_t)n);
        snprintf(path, sizeof(path), "/proc/self/fd/%d", fd);
        rc = kw_pack_check(path, &head, &entries, &err);
        MUST(rc == 0 ? entries >= 0 && head.size >= entries : rc < 0 || err.text[0]);
        close(fd);
        return 0;
}
