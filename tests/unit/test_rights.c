/*
 * Rights: that the tables are whole, and what they say where it matters most.
 */
#include "suite.h"

#include "kinwire/entry.h"
#include "kinwire/rights.h"

#include <string.h>

START_TEST(every_kind_of_entry_has_a_row_and_every_row_a_kind)
{
        size_t n = 0;

        for (const char *kind; (kind = kw_kind_name(n)); n++) {
                size_t found = 0;

                for (size_t i = 0; kw_kind_right(i); i++)
                        found += strcmp(kw_kind_right(i)->kind, kind) == 0;
                ck_assert_msg(found == 1, "%s has %zu rows in server/core/rights.c", kind, found);
        }
        ck_assert_msg(kw_kind_right(n - 1) && !kw_kind_right(n), "a row without a kind");
}
END_TEST

START_TEST(every_right_has_a_row)
{
        for (int i = 0; i < KW_RIGHTS; i++)
                ck_assert_ptr_nonnull(kw_right_row((enum kw_right)i)->name);
        ck_assert_str_eq(kw_right_row(KW_RIGHTS)->name, "nothing");
        ck_assert_str_eq(kw_right_row((enum kw_right)4711)->name, "nothing");
}
END_TEST

START_TEST(roles_have_names)
{
        ck_assert_uint_eq(kw_role_bit("operator"), KW_OPERATOR);
        ck_assert_uint_eq(kw_role_bit("quality"), KW_QUALITY);
        ck_assert_uint_eq(kw_role_bit("auditor"), KW_AUDITOR);
        ck_assert_uint_eq(kw_role_bit("administrator"), KW_ADMINISTRATOR);
        ck_assert_uint_eq(kw_role_bit("Operator"), 0);
        ck_assert_uint_eq(kw_role_bit(""), 0);
        ck_assert_ptr_null(kw_role_name(4));
}
END_TEST

/* '+' it may, '-' it may not, '!' with the password given again */
static const struct {
        const char *kind;
        const char roles[5]; /* operator, quality, auditor, administrator */
} kinds[] = {
        {"run", "++--"},      {"hold", "++--"},   {"release", "-!--"}, {"certify", "-!--"},
        {"withdraw", "-!--"}, {"spec", "-!--"},   {"person", "---!"},  {"token", "---!"},
        {"terminal", "---!"}, {"access", "----"}, {"nosuch", "----"},  {"note", "++-+"},
};

START_TEST(kinds_by_role)
{
        for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
                for (unsigned role = 0; role < 4; role++) {
                        struct kw_who who = {.roles = 1u << role}, fresh = {.roles = 1u << role, .fresh = true};
                        char wanted = kinds[i].roles[role];
                        int rc = kw_may_record(&who, kinds[i].kind, NULL, NULL, NULL);
                        int then = kw_may_record(&fresh, kinds[i].kind, NULL, NULL, NULL);

                        ck_assert_msg(rc == (wanted == '+'   ? 0
                                             : wanted == '!' ? KW_PASSWORD_AGAIN
                                                             : KW_NOT_ALLOWED) &&
                                              then == (wanted == '-' ? KW_NOT_ALLOWED : 0),
                                      "%s as %s: %d, fresh %d", kinds[i].kind, kw_role_name(role), rc, then);
                }
}
END_TEST

START_TEST(nobody_may_nothing)
{
        const struct kw_who all = {.roles = KW_EVERY_ROLE, .fresh = true}, none = {.fresh = true};

        ck_assert_int_eq(kw_may(&all, KW_MAY_NOTHING, NULL), KW_NOT_ALLOWED);
        ck_assert_int_eq(kw_may(&all, KW_RIGHTS, NULL), KW_NOT_ALLOWED);
        ck_assert_int_eq(kw_may(&all, KW_MAY_ADMIT, NULL), 0);
        ck_assert_int_eq(kw_may(&none, KW_MAY_READ, NULL), KW_NOT_ALLOWED);
        ck_assert_int_eq(kw_may(&none, KW_MAY_ENTER, NULL), 0);
        ck_assert_int_eq(kw_may_record(&all, "access", NULL, NULL, NULL), KW_NOT_ALLOWED);
}
END_TEST

/* What a token with a purpose may. */
static const struct {
        const char *name;
        struct kw_only only;
        const char *kind, *machine, *instrument; /* kind NULL: asks for @right instead */
        enum kw_right right;
        bool may;
} purposes[] = {
        {"its kind", {.kind = "test"}, "test", NULL, NULL, 0, true},
        {"another kind", {.kind = "test"}, "run", NULL, NULL, 0, false},
        {"its machine", {.machine = "DRAW-1"}, "run", "DRAW-1", NULL, 0, true},
        {"another machine", {.machine = "DRAW-1"}, "run", "DRAW-2", NULL, 0, false},
        {"no machine named", {.machine = "DRAW-1"}, "receive", NULL, NULL, 0, false},
        {"its instrument", {.kind = "test", .instrument = "UTM-1"}, "test", NULL, "UTM-1", 0, true},
        {"another instrument", {.kind = "test", .instrument = "UTM-1"}, "test", NULL, "UTM-2", 0, false},
        {"its instrument, another kind", {.kind = "test", .instrument = "UTM-1"}, "note", NULL, "UTM-1", 0, false},
        {"one that reads records", {.read = "ledger"}, "test", NULL, NULL, 0, false},
        {"one that reads the ledger", {.read = "ledger"}, NULL, NULL, NULL, KW_MAY_READ_LEDGER, true},
        {"one that reads the ledger asks more", {.read = "ledger"}, NULL, NULL, NULL, KW_MAY_READ, false},
        {"one that reads figures", {.read = "metrics"}, NULL, NULL, NULL, KW_MAY_READ_FIGURES, true},
        {"one that reads figures, the ledger", {.read = "metrics"}, NULL, NULL, NULL, KW_MAY_READ_LEDGER, false},
        {"one that records reads", {.kind = "test"}, NULL, NULL, NULL, KW_MAY_READ, false},
        {"one that records comes to record", {.kind = "test"}, NULL, NULL, NULL, KW_MAY_RECORD, true},
        {"one that reads comes to record", {.read = "ledger"}, NULL, NULL, NULL, KW_MAY_RECORD, false},
        {"any is known", {.read = "ledger"}, NULL, NULL, NULL, KW_MAY_BE_KNOWN, true},
        {"none admits", {.kind = "person"}, NULL, NULL, NULL, KW_MAY_ADMIT, false},
};

START_TEST(a_purpose_bars_all_else)
{
        for (size_t i = 0; i < sizeof purposes / sizeof purposes[0]; i++) {
                const struct kw_who who = {.roles = KW_EVERY_ROLE, .only = &purposes[i].only, .fresh = true};
                int rc = purposes[i].kind ? kw_may_record(&who, purposes[i].kind, purposes[i].machine,
                                                          purposes[i].instrument, NULL)
                                          : kw_may(&who, purposes[i].right, NULL);

                ck_assert_msg((rc == 0) == purposes[i].may, "%s: %d", purposes[i].name, rc);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, every_kind_of_entry_has_a_row_and_every_row_a_kind);
        tcase_add_test(tests, every_right_has_a_row);
        tcase_add_test(tests, roles_have_names);
        tcase_add_test(tests, kinds_by_role);
        tcase_add_test(tests, nobody_may_nothing);
        tcase_add_test(tests, a_purpose_bars_all_else);
}

int main(void)
{
        return run_suite("rights", add);
}
