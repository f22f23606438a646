/* Any text as a time. One that is taken is written in UTC, in 20 characters, and read again as the same second. */
#include "fuzz.h"

#include "kinwire/entry.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        char *text = strndup((const char *)bytes, n), stamp[KW_STAMP_LEN + 1];
        int64_t seconds, again;

        MUST(text);
        if (kw_stamp_read(text, &seconds) == 0) {
                kw_stamp_write(seconds, stamp);
                MUST(strlen(stamp) == KW_STAMP_LEN);
                MUST(kw_stamp_read(stamp, &again) == 0 && again == seconds);
        }
        free(text);
        return 0;
}
