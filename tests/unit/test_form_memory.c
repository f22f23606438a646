/*
 * Reading, naming and hashing an entry with the 1st, 2nd, ... n-th allocation failing, until all goes well: each time
 * the answer is -ENOMEM or the right one, and nothing is lost. The program's calls and the library's go through one
 * counter.
 */
#include "failing.h"
#include "kinwire/entry.h"
#include "suite.h"

#include <errno.h>
#include <string.h>

/* What a mill sends, and what it gets wrong: every shape that allocates, and a refusal from every stage. */
static const struct {
        const char *text;
        int rc;
} entries[] = {
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"kind\":\"run\",\"at\":\"2026-01-01T00:00:00Z\",\"body\":"
         "{\"run\":\"r\",\"process\":\"close\",\"machine\":\"m\",\"supplies\":[\"a\",\"b\"],\"lines\":[{\"line\":\"1\","
         "\"feeds\":[{\"lot\":\"a\"},{\"lot\":\"b\"},{\"lot\":\"c\",\"weld\":\"w\"}]},{\"line\":\"2\",\"feeds\":"
         "[{\"lot\":\"d\"}]}],\"packages\":[{\"lot\":\"x\",\"kind\":\"rope\",\"length_mm\":1},{\"scrap_mm\":2}]}}",
         0},
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"kind\":\"hold\",\"body\":{\"hold\":\"q\",\"reason\":"
         "\"r\","
         "\"lots\":[\"a\",{\"lot\":\"b\",\"from_mm\":0,\"to_mm\":1},\"c\"]}}",
         0},
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"kind\":\"move\",\"body\":{\"location\":\"l\",\"lots\":"
         "[{\"lot\":\"a\"},\"b\",{\"lot\":\"c\"}]}}",
         0},
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"kind\":\"move\",\"body\":{\"location\":\"l\",\"lots\":"
         "[\"a\",\"b\",\"A\"]}}",
         KW_BAD_VALUE},
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"kind\":\"move\",\"body\":{\"lots\":[{\"lot\":1.5}]}}",
         KW_BAD_TYPE},
        {"{\"key\":\"00000000-0000-4000-8000-00000000000a\",\"key\":7}", KW_NOT_JSON},
        {"{\"key\":{\"a\":tru}}", KW_NOT_JSON},
};

/* The whole way of an entry; 0, the refusal, or -ENOMEM. */
static int take(const char *text, struct kw_buf *canonical)
{
        struct kw_draft draft;
        struct kw_error err;
        int rc = kw_draft_read(text, strlen(text), &draft, &err);

        if (rc)
                return rc;
        rc = strcmp(draft.kind, "run") == 0 ? kw_body_name_welds(draft.body, draft.key) : 0;
        if (rc == 0) {
                kw_json_canonical(draft.body, canonical);
                rc = *kw_buf_text(canonical) ? 0 : -ENOMEM;
        }
        kw_draft_free(&draft);
        return rc;
}

START_TEST(every_allocation_may_fail)
{
        cJSON_InitHooks(&(cJSON_Hooks){.malloc_fn = __wrap_malloc, .free_fn = __wrap_free});
        for (size_t i = 0; i < sizeof(entries) / sizeof(*entries); i++) {
                struct kw_buf right = {0};
                long lost;
                int rc, n = 0;

                ck_assert_int_eq(take(entries[i].text, &right), entries[i].rc);
                do { /* until the n-th allocation is not asked for any more */
                        struct kw_buf canonical = {0};
                        const long before = held;
                        bool same;

                        calls = 0;
                        fail_at = ++n;
                        rc = take(entries[i].text, &canonical);
                        fail_at = 0;
                        same = rc != 0 || strcmp(kw_buf_text(&canonical), kw_buf_text(&right)) == 0;
                        kw_buf_free(&canonical);
                        lost = held - before; /* before the test library allocates in its turn */
                        ck_assert_msg((rc == -ENOMEM || rc == entries[i].rc) && same, "%s, allocation %d: %d",
                                      entries[i].text, n, rc);
                        ck_assert_msg(lost == 0, "%s, allocation %d: %ld lost", entries[i].text, n, lost);
                } while (calls >= n);
                ck_assert_int_gt(n, entries[i].rc == 0 ? 20 : 1);
                kw_buf_free(&right);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, every_allocation_may_fail);
}

int main(void)
{
        return run_suite("form memory", add);
}
