/*
 * What a certificate needs: how many tests are lacking, and when a failure is excused.
 */
#include "suite.h"

#include "kinwire/certify.h"

#include <inttypes.h>

static const struct {
        const char *name, *document;
        struct kw_needed needed;
        int64_t lacking;
} tests[] = {
        {"nothing asked for", "3.1", {.n = 0}, 0},
        {"none there", "3.1", {.n = 2}, 2},
        {"one of two", "3.1", {.n = 2, .passed = 1}, 1},
        {"as many as asked", "3.1", {.n = 2, .passed = 2}, 0},
        {"more than asked", "3.2", {.n = 2, .passed = 5}, 0},
        {"one conceded", "3.1", {.n = 2, .passed = 1, .conceded = 1}, 0},
        {"lots alike do not count for specific inspection", "3.1", {.n = 1, .alike = 7}, 1},
        {"nor for a 3.2", "3.2", {.n = 1, .alike = 7}, 1},
        {"one alike does for non-specific", "2.2", {.n = 3, .alike = 1}, 0},
        {"without any, one is asked for", "2.2", {.n = 3}, 1},
        {"its own count there too", "2.2", {.n = 3, .passed = 3}, 0},
};

START_TEST(tests_lacking)
{
        int64_t lacking = kw_tests_lacking(kw_document(tests[_i].document), &tests[_i].needed);

        ck_assert_msg(lacking == tests[_i].lacking, "%s: %" PRId64 ", not %" PRId64, tests[_i].name, lacking,
                      tests[_i].lacking);
}
END_TEST

static const struct {
        const char *name;
        struct kw_span place;
        int64_t passed, needed;
        struct kw_span conceded[2];
        size_t n;
        bool reel, excused;
} failures[] = {
        {"nothing was done", {100, 200}, 0, 1, {{0, 0}}, 0, false, false},
        {"passed once since", {100, 200}, 1, 1, {{0, 0}}, 0, false, true},
        {"passed once where two are asked for", {100, 200}, 1, 2, {{0, 0}}, 0, false, false},
        {"passed twice", {100, 200}, 2, 2, {{0, 0}}, 0, false, true},
        {"no number asked for is one", {100, 200}, 0, 0, {{0, 0}}, 0, false, false},
        {"conceded around it", {100, 200}, 0, 1, {{0, 1000}}, 1, false, true},
        {"conceded to the mm", {100, 200}, 0, 1, {{100, 200}}, 1, false, true},
        {"conceded in part", {100, 200}, 0, 1, {{0, 199}}, 1, false, false},
        {"conceded in two pieces with a gap", {100, 200}, 0, 1, {{0, 150}, {151, 300}}, 2, false, false},
        {"conceded elsewhere", {100, 200}, 0, 1, {{200, 300}}, 1, false, false},
        {"a place without length, inside", {150, 150}, 0, 1, {{100, 200}}, 1, false, true},
        {"a place without length, beside", {99, 99}, 0, 1, {{100, 200}}, 1, false, false},
        {"the reel conceded", {100, 200}, 0, 1, {{0, 0}}, 0, true, true},
};

START_TEST(failures_excused)
{
        struct kw_span at[2] = {failures[_i].conceded[0], failures[_i].conceded[1]};
        const struct kw_spans conceded = {at, failures[_i].n, 2};
        const struct kw_failure failure = {.place = failures[_i].place,
                                           .passed_since = failures[_i].passed,
                                           .passes_needed = failures[_i].needed,
                                           .conceded = &conceded,
                                           .reel_conceded = failures[_i].reel};

        ck_assert_msg(kw_failure_excused(&failure) == failures[_i].excused, "%s", failures[_i].name);
}
END_TEST

/* What is missing comes before what has to be known, and each has a code of its own. */
START_TEST(codes)
{
        bool bars = true;

        for (int i = 0; i < KW_LACKS; i++) {
                const struct kw_lack_row *row = kw_lack_row((enum kw_lack)i);

                ck_assert_ptr_nonnull(row->code);
                ck_assert_msg(bars || !row->bars, "%s", row->code);
                bars = row->bars;
                for (int k = 0; k < i; k++)
                        ck_assert_str_ne(row->code, kw_lack_row((enum kw_lack)k)->code);
        }
}
END_TEST

static void add(TCase *t)
{
        tcase_add_loop_test(t, tests_lacking, 0, sizeof(tests) / sizeof(*tests));
        tcase_add_loop_test(t, failures_excused, 0, sizeof(failures) / sizeof(*failures));
        tcase_add_test(t, codes);
}

int main(void)
{
        return run_suite("complete", add);
}
