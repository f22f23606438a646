#ifndef KW_TESTS_SUITE_H
#define KW_TESTS_SUITE_H
/* Every test program is one suite with one case; run_suite() is its main. */
#include <check.h>
#include <stdlib.h>

static inline int run_suite(const char *name, void (*add)(TCase *))
{
        Suite *suite = suite_create(name);
        TCase *tests = tcase_create(name);

        tcase_set_timeout(tests, 1200);
        add(tests);
        suite_add_tcase(suite, tests);

        SRunner *runner = srunner_create(suite);
        srunner_run_all(runner, CK_ENV);
        int failed = srunner_ntests_failed(runner);
        srunner_free(runner);
        return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

#endif
