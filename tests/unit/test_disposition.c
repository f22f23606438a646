/*
 * Dispositions: what each allows, as the quality manager's page says it.
 */
#include "kinwire/disposition.h"
#include "suite.h"

static const struct {
        const char *disposition;
        enum kw_purpose purpose;
        const char *process, *stated;
        bool may;
} cases[] = {
        {"release", KW_TO_FEED, "strand", NULL, true},
        {"release", KW_TO_SEND, NULL, NULL, true},
        {"release", KW_TO_CERTIFY, NULL, NULL, true},
        {"concession", KW_TO_FEED, "close", NULL, true},
        {"concession", KW_TO_SEND, NULL, NULL, true},
        {"concession", KW_TO_CERTIFY, NULL, NULL, true},
        {"rework", KW_TO_FEED, "draw", "draw,patent", true},
        {"rework", KW_TO_FEED, "patent", "draw,patent", true},
        {"rework", KW_TO_FEED, "strand", "draw,patent", false},
        {"rework", KW_TO_FEED, "cut", "wind", false},
        {"rework", KW_TO_FEED, "cut", "wind,cut", true},
        {"rework", KW_TO_FEED, "pat", "patent", false}, /* a part of a name is another name */
        {"rework", KW_TO_FEED, "patent", "pat", false},
        {"rework", KW_TO_FEED, "wind", NULL, true},
        {"rework", KW_TO_FEED, "strand", NULL, true},
        {"rework", KW_TO_FEED, "cut", NULL, false},
        {"rework", KW_TO_SEND, NULL, "draw", false},
        {"rework", KW_TO_CERTIFY, NULL, NULL, false},
        {"regrade", KW_TO_FEED, "strand", NULL, true},
        {"regrade", KW_TO_SEND, NULL, NULL, true},
        {"regrade", KW_TO_CERTIFY, NULL, NULL, true},
        {"scrap", KW_TO_FEED, "draw", NULL, false},
        {"scrap", KW_TO_SEND, NULL, NULL, false},
        {"scrap", KW_TO_CERTIFY, NULL, NULL, false},
};

START_TEST(what_each_allows)
{
        const struct kw_disposition *d = kw_disposition(cases[_i].disposition);

        ck_assert_ptr_nonnull(d);
        ck_assert_msg(kw_disposition_may(d, cases[_i].purpose, cases[_i].process, cases[_i].stated) == cases[_i].may,
                      "%s, purpose %d, process %s, stated %s", cases[_i].disposition, (int)cases[_i].purpose,
                      cases[_i].process ? cases[_i].process : "none", cases[_i].stated ? cases[_i].stated : "none");
}
END_TEST

/* Every disposition is met for every purpose, and only a concession excuses; only scrapping is for one person alone. */
START_TEST(the_table_is_whole)
{
        for (const struct kw_disposition *d = kw_dispositions; d->name; d++) {
                for (int purpose = 0; purpose < KW_PURPOSES; purpose++) {
                        bool met = false;

                        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++)
                                met = met ||
                                      (kw_disposition(cases[i].disposition) == d && (int)cases[i].purpose == purpose);
                        ck_assert_msg(met, "%s for purpose %d", d->name, purpose);
                }
                ck_assert_int_eq(d->excuses, kw_disposition("concession") == d);
                ck_assert_int_eq(d->second, kw_disposition("scrap") != d);
        }
        ck_assert_ptr_null(kw_disposition("Release"));
        ck_assert_ptr_null(kw_disposition(""));
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, what_each_allows, 0, (int)(sizeof(cases) / sizeof(*cases)));
        tcase_add_test(tests, the_table_is_whole);
}

int main(void)
{
        return run_suite("dispositions", add);
}
