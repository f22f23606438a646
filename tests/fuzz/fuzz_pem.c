/*
 * Any bytes as a certificate and its key, a line "%%" between the two. Both are taken or there is a sentence; and what
 * was taken first stays when what is read again later is none.
 */
#include "scratch.h"

#include "http/server.h"

#include <string.h>

static const uint8_t *divide(const uint8_t *bytes, size_t n)
{
        static const char mark[] = "\n%%\n";

        return n < 4 ? NULL : memmem(bytes, n, mark, 4);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        char *cert = scratch_path("cert.pem"), *key = scratch_path("key.pem");
        const uint8_t *mark = divide(bytes, n);
        size_t first = mark ? (size_t)(mark + 1 - bytes) : n;
        struct kw_tls *tls = NULL;
        struct kw_error err = {0};
        int64_t until;
        int rc;

        scratch_write("cert.pem", bytes, first);
        scratch_write("key.pem", mark ? mark + 4 : bytes, mark ? n - first - 3 : 0);
        rc = kw_tls_new(cert, key, &tls, &err);
        MUST(rc == 0 ? tls != NULL : rc == KW_BAD_REQUEST && err.text[0]);
        if (rc == 0) {
                until = kw_tls_until(tls);
                scratch_write("key.pem", "", 0);
                MUST(kw_tls_renew(tls, &err) == KW_BAD_REQUEST && kw_tls_until(tls) == until);
                kw_tls_free(tls);
        }
        free(cert);
        free(key);
        return 0;
}
