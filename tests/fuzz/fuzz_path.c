/*
 * Any text as the target of a request. Whatever is found in the table of routes, the texts taken out of the path end
 * within their room, and a code among them is one or is refused.
 */
#include "fuzz.h"

#include "http/server.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        static const char *const methods[] = {"GET", "HEAD", "POST", "DELETE"};
        char *target, code[KW_CODE_MAX + 1];
        struct kw_request *r;
        struct kw_error err = {0};
        int rc;

        if (n < 1)
                return 0;
        target = strndup((const char *)bytes + 1, n - 1);
        MUST(target);
        r = kw_request_new(NULL, NULL, target);
        MUST(r);
        rc = kw_request_route(r, methods[bytes[0] % 4], &err);
        MUST(rc == 0 || err.text[0]);
        if (rc == 0) {
                MUST(r->route && r->n_parts <= 2);
                for (size_t i = 0; i < r->n_parts; i++) {
                        MUST(memchr(r->part[i], '\0', KW_PART_MAX));
                        if (kw_request_code(r->part[i], "code", code, &err) == 0)
                                MUST(kw_code_ok(code));
                }
        }
        kw_request_free(r);
        free(target);
        return 0;
}
