/*
 * Any bytes as the file of secrets. It is opened or there is a sentence, and whatever is in it is read without harm;
 * one that does not belong to the pepper beside it is refused.
 */
#include "scratch.h"

#include "kinwire/access.h"

#include <string.h>

static int count(void *ctx, const char *at, const struct kw_tries *tries)
{
        (void)at;
        (void)tries;
        ++*(size_t *)ctx;
        return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        static const char *const beside[] = {"m.kw.access-journal", "m.kw.access-wal", "m.kw.access-shm"};
        char *ledger = scratch_path("m.kw");
        struct kw_access *a = NULL;
        struct kw_error err = {0};
        bool has;
        size_t doors = 0;
        int rc;

        for (size_t i = 0; i < sizeof(beside) / sizeof(beside[0]); i++)
                scratch_drop(beside[i]);
        scratch_write("m.kw.pepper", "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f\n", 65);
        scratch_write("m.kw.access", bytes, n);
        rc = kw_access_open(ledger, &a, &err);
        MUST(rc == 0 ? a != NULL : rc == KW_INTERNAL && err.text[0]);
        if (rc == 0) {
                rc = kw_access_each_tries(a, count, &doors, &err);
                MUST(rc == 0 || err.text[0]);
                rc = kw_access_has(a, KW_PASSWORD, "AD-1", &has, &err);
                MUST(rc == 0 || err.text[0]);
                kw_access_close(a);
        }
        free(ledger);
        return 0;
}
