/*
 * Any bytes as lines that a ledger elsewhere says it stored: each is taken as the next entry or refused.
 *
 * What is taken is stored to the byte, under a root that the tree makes of it; what is refused leaves the ledger as it
 * was, and so does giving up the whole. The ledger has a heat, a coil and a wire to lean on.
 */
#include "fuzz.h"

#include "kinwire/ledger.h"

#include <string.h>

static const char *const there[] = {
        "{\"at\":\"2026-01-01T00:00:00Z\",\"body\":{\"grade\":\"C82D\",\"heat\":\"H1\",\"supplier\":\"Northmark "
        "Steel\"},"
        "\"by\":\"a\",\"key\":\"00000000-0000-4000-8000-000000000001\",\"kind\":\"heat\","
        "\"logged\":\"2026-01-01T00:00:00Z\",\"seq\":1,\"terminal\":\"T\"}",
        "{\"at\":\"2026-01-01T00:00:00Z\",\"body\":{\"diameter_um\":5500,\"heat\":\"H1\",\"length_mm\":1000000,"
        "\"lot\":\"R1\"},\"by\":\"a\",\"key\":\"00000000-0000-4000-8000-000000000002\",\"kind\":\"receive\","
        "\"logged\":\"2026-01-01T00:00:00Z\",\"seq\":2,\"terminal\":\"T\"}",
};

static struct kw_ledger *ledger(void)
{
        static struct kw_ledger *l;

        if (l)
                return l;
        MUST(kw_ledger_open(":memory:", KW_OPEN_WRITE, &l, NULL) == 0);
        MUST(kw_ledger_begin(l, NULL) == 0);
        for (size_t i = 0; i < sizeof(there) / sizeof(there[0]); i++)
                MUST(kw_ledger_take(l, there[i], strlen(there[i]), NULL) == 0);
        MUST(kw_ledger_commit(l, NULL) == 0);
        return l;
}

struct expected {
        const char *text;
        size_t n;
};

static int same_text(void *ctx, const struct kw_stored *e)
{
        const struct expected *x = ctx;

        MUST(strlen(e->leaf) == x->n && memcmp(e->leaf, x->text, x->n) == 0);
        return 0;
}

static void take(struct kw_ledger *l, const char *text, size_t n)
{
        struct kw_head before, after;
        struct kw_error err = {0};
        struct expected x = {text, n};
        int rc;

        MUST(kw_ledger_head(l, &before, NULL) == 0);
        MUST(kw_ledger_mark(l, NULL) == 0);
        rc = kw_ledger_take(l, text, n, &err);
        if (rc == 0)
                MUST(kw_ledger_keep(l, NULL) == 0);
        else
                kw_ledger_undo(l);
        MUST(kw_ledger_head(l, &after, NULL) == 0);
        MUST(after.size == before.size + (rc == 0));
        if (rc == 0)
                MUST(kw_ledger_entries(l, before.size, 1, same_text, &x, NULL) == 0);
        else
                MUST(rc < 0 || (err.text[0] && memcmp(&before.root, &after.root, sizeof(before.root)) == 0));
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        struct kw_ledger *l = ledger();
        const char *at = (const char *)bytes, *end = at + n;
        struct kw_head head;

        MUST(kw_ledger_begin(l, NULL) == 0);
        while (at < end) {
                const char *stop = memchr(at, '\n', (size_t)(end - at));
                const char *line = at;

                stop = stop ? stop : end;
                at = stop < end ? stop + 1 : end;
                take(l, line, (size_t)(stop - line));
        }
        kw_ledger_rollback(l);
        MUST(kw_ledger_head(l, &head, NULL) == 0 && head.size == sizeof(there) / sizeof(there[0]));
        return 0;
}
