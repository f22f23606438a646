/*
 * kinwire verify PACK: whether an evidence pack is as it was made.
 */
#include "cli.h"

#include "kinwire/export.h"

#include <inttypes.h>
#include <string.h>

int kw_verify_pack(const struct kw_command *self, const char *path)
{
        struct kw_error err = {0};
        struct kw_head head;
        char root[KW_HASH_HEX];
        int64_t entries;
        int rc = kw_pack_check(path, &head, &entries, &err);

        if (rc == KW_NOT_FOUND || rc < 0) {
                kw_complain(self, "%s", rc < 0 ? strerror(-rc) : err.text);
                return KW_EXIT_INPUT;
        }
        if (rc) {
                kw_complain(self, "%s: %s", path, err.text);
                return KW_EXIT_NO;
        }
        kw_hash_hex(&head.root, root);
        printf("%s: all as it was packed; %" PRId64 " entries under head %" PRId64 " %s\n", path, entries, head.size,
               root);
        return kw_flush(self);
}
