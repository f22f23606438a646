/*
 * Any bytes to the strict reader of JSON. What it takes, the library takes too and reads as the same; its canonical
 * form is taken again, and is its own canonical form.
 */
#include "fuzz.h"

#include "kinwire/json.h"

#include <string.h>

static void check_library_agrees(const char *text, size_t n, struct kw_buf *canonical)
{
        struct kw_buf theirs = {0};
        const char *end = NULL;
        cJSON *tree = cJSON_ParseWithLengthOpts(text, n, &end, 0);

        MUST(tree);
        for (; end < text + n; end++)
                MUST(strchr(" \t\r\n", *end));
        kw_json_canonical(tree, &theirs);
        MUST(theirs.n == canonical->n && memcmp(theirs.at, canonical->at, theirs.n) == 0);
        cJSON_Delete(tree);
        kw_buf_free(&theirs);
}

static void check_canonical_is_fixed(struct kw_buf *canonical)
{
        struct kw_buf again = {0};
        struct kw_error err;
        cJSON *tree = NULL;

        MUST(kw_json_read(canonical->at, canonical->n, &kw_json_entry_limits, &tree, &err) == 0);
        kw_json_canonical(tree, &again);
        MUST(again.n == canonical->n && memcmp(again.at, canonical->at, again.n) == 0);
        cJSON_Delete(tree);
        kw_buf_free(&again);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        const char *text = (const char *)bytes;
        struct kw_buf canonical = {0};
        struct kw_error err = {0};
        cJSON *tree = NULL;
        int rc = kw_json_read(text, n, &kw_json_entry_limits, &tree, &err);

        if (rc) {
                MUST(rc < 0 || (err.what == (enum kw_refusal)rc && err.text[0] && !tree));
                return 0;
        }
        kw_json_canonical(tree, &canonical);
        MUST(!canonical.failed);
        check_library_agrees(text, n, &canonical);
        if (canonical.n <= kw_json_entry_limits.bytes)
                check_canonical_is_fixed(&canonical);
        cJSON_Delete(tree);
        kw_buf_free(&canonical);
        return 0;
}
