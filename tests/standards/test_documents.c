/*
 * The inspection documents of EN 10204:2004, as facts: clause 3.2, test report 2.2; clause 4.1, inspection certificate
 * 3.1; clause 4.2, inspection certificate 3.2. From memory of the standard, not quoted.
 *
 *      type   inspection     validated by
 *      2.2    non-specific   the manufacturer
 *      3.1    specific       the manufacturer's authorised inspection representative, independent of manufacturing
 *      3.2    specific       the same, and the purchaser's representative or an officially designated inspector
 */
#include "suite.h"

#include "kinwire/certify.h"

#include <string.h>

static const struct {
        const char *name, *title;
        bool specific, countersigned;
        const char *says[3], *not_says;
} documents[] = {
        {"2.2", "Test report", false, false, {"of non-specific inspection", "same process"}, "independent"},
        {"3.1",
         "Inspection certificate",
         true,
         false,
         {"of specific inspection", "authorised inspection representative", "independent of the manufacturing"},
         "purchaser"},
        {"3.2",
         "Inspection certificate",
         true,
         true,
         {"of specific inspection", "purchaser's authorised inspection representative", "official regulations"},
         "non-specific"},
};

START_TEST(en_10204_2004)
{
        const struct kw_document_row *row = kw_document(documents[_i].name);

        ck_assert_ptr_nonnull(row);
        ck_assert_ptr_eq(row, kw_document_at((size_t)_i));
        ck_assert_str_eq(row->title, documents[_i].title);
        ck_assert_int_eq(row->specific, documents[_i].specific);
        ck_assert_int_eq(row->countersigned, documents[_i].countersigned);
        /* every one of them declares that the products comply with the order */
        ck_assert_ptr_nonnull(strstr(row->declares, "comply with the requirements of the order"));
        for (int i = 0; i < 3 && documents[_i].says[i]; i++)
                ck_assert_msg(strstr(row->declares, documents[_i].says[i]) != NULL, "%s: %s", row->name,
                              documents[_i].says[i]);
        ck_assert_ptr_null(strstr(row->declares, documents[_i].not_says));
}
END_TEST

START_TEST(no_others)
{
        ck_assert_ptr_null(kw_document_at(sizeof(documents) / sizeof(*documents)));
        ck_assert_ptr_null(kw_document("3.3"));
        ck_assert_ptr_null(kw_document("2.1"));
}
END_TEST

static void add(TCase *t)
{
        tcase_add_loop_test(t, en_10204_2004, 0, sizeof(documents) / sizeof(*documents));
        tcase_add_test(t, no_others);
}

int main(void)
{
        return run_suite("documents", add);
}
