/*
 * Any bytes as the manifest beside a backup. One that is read and written again says the same.
 */
#include "scratch.h"

#include "ledger/copies.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        char *backup = scratch_path("b.kw"), *again = scratch_path("c.kw");
        struct kw_manifest m, other;
        struct kw_error err = {0};
        int rc;

        scratch_write("b.kw.manifest.json", bytes, n);
        rc = kw_manifest_read(backup, &m, &err);
        MUST(rc == 0 || (rc == KW_BAD_VALUE && err.text[0]));
        if (rc == 0) {
                MUST(m.level > 0 && m.bytes > 0 && m.head.size >= 0 && memchr(m.when, '\0', sizeof(m.when)));
                MUST(kw_manifest_write(again, &m, &err) == 0 && kw_manifest_read(again, &other, &err) == 0);
                MUST(other.level == m.level && other.bytes == m.bytes && other.head.size == m.head.size);
                MUST(memcmp(&other.head.root, &m.head.root, sizeof(m.head.root)) == 0);
                MUST(memcmp(&other.sha256, &m.sha256, sizeof(m.sha256)) == 0 && strcmp(other.when, m.when) == 0);
        }
        free(backup);
        free(again);
        return 0;
}
