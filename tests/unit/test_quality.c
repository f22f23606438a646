/*
 * Quality: rounding, margins, which specification fits, charts, a rope's strength from its wires, joints' distance.
 */
#include "suite.h"

#include "kinwire/quality.h"

#include <inttypes.h>

#define COUNT(a) (sizeof(a) / sizeof(*(a)))
#define NONE     KW_NO_FIGURE

static const struct {
        int64_t n, rounded;
} roundings[] = {{0, 0},          {7, 7},           {999, 999},     {1004, 1000},
                 {1005, 1010},    {13650, 13700},   {13649, 13600}, {99949, 99900},
                 {99950, 100000}, {-13650, -13700}, {-1005, -1010}, {INT64_MAX / 10, 922000000000000000}};

START_TEST(three_figures)
{
        for (size_t i = 0; i < COUNT(roundings); i++)
                ck_assert_int_eq(kw_three_figures(roundings[i].n), roundings[i].rounded);
}
END_TEST

static const struct {
        const char *construction, *name; /* NULL: of no class */
        enum kw_rope_core core;
} constructions[] = {
        {"6x36WS-IWRC", "6x36", KW_ROPE_CORE},
        {"6x19S-FC", "6x19", KW_FIBRE_CORE},
        {"6x19M-WSC", "6x19M", KW_STRAND_CORE},
        {"8x19S-NFC", "8x19", KW_FIBRE_CORE},
        {"6x7-IWRC", "6x7", KW_ROPE_CORE},
        {"35(W)x7-WSC", "35(W)x7", KW_STRAND_CORE},
        {"6x36M-IWRC", NULL, KW_ROPE_CORE},
        {"6X19s-fc", "6x19", KW_FIBRE_CORE},
        {"6x361-IWRC", NULL, KW_ROPE_CORE},
        {"1x19S", NULL, KW_ROPE_CORE},
        {"6x36WS", NULL, KW_ROPE_CORE},
        {"6x36WS-", NULL, KW_ROPE_CORE},
        {"7x19-FC", NULL, KW_ROPE_CORE},
        {"", NULL, KW_ROPE_CORE},
        {NULL, NULL, KW_ROPE_CORE},
};

START_TEST(classes)
{
        for (size_t i = 0; i < COUNT(constructions); i++) {
                enum kw_rope_core core = KW_ROPE_CORES;
                const struct kw_rope_class *c = kw_rope_class_of(constructions[i].construction, &core);

                if (!constructions[i].name) {
                        ck_assert_ptr_null(c);
                        continue;
                }
                ck_assert_msg(c != NULL, "%s", constructions[i].construction);
                ck_assert_str_eq(c->name, constructions[i].name);
                ck_assert_int_eq(core, constructions[i].core);
        }
}
END_TEST

/* The factors of a class that has none give no figure, and nothing overflows at the ends. */
START_TEST(ends_of_range)
{
        const struct kw_rope_factors none = {NONE, NONE, NONE}, great = {1000, 1000, 1000};

        ck_assert_int_eq(kw_minimum_force_n(&none, 10000, 1770000), NONE);
        ck_assert_int_eq(kw_rope_mass_g_km(&none, 10000), NONE);
        ck_assert_int_eq(kw_rope_area_um2(&none, 10000), NONE);
        /* 1 x 200^2 mm2 x 3000 N/mm2 */
        ck_assert_int_eq(kw_minimum_force_n(&great, 200000, 3000000), 120000000);
        ck_assert_int_eq(kw_rope_area_um2(&great, 200000), 40000000000);
        ck_assert_int_eq(kw_rope_mass_g_km(&great, 200000), 400000000);
        ck_assert_int_eq(kw_minimum_force_n(&great, 100, 1000), 0); /* 0.01 N */
}
END_TEST

static const struct {
        const char *name;
        struct kw_limit limit;
        int64_t value, margin;
} margins[] = {
        {"within both", {10, 20}, 13, 3},
        {"nearer to the upper", {10, 20}, 18, 2},
        {"on the lower", {10, 20}, 10, 0},
        {"on the upper", {10, 20}, 20, 0},
        {"below", {10, 20}, 7, -3},
        {"above", {10, 20}, 21, -1},
        {"a lower one alone", {10, NONE}, 90, 80},
        {"an upper one alone", {NONE, 20}, 21, -1},
        {"none", {NONE, NONE}, 5, NONE},
};

START_TEST(margin)
{
        for (size_t i = 0; i < COUNT(margins); i++) {
                int64_t got = kw_margin(&margins[i].limit, margins[i].value);

                ck_assert_msg(got == margins[i].margin, "%s: %" PRId64, margins[i].name, got);
        }
}
END_TEST

static const struct {
        const char *name;
        struct kw_spec_scope scope;
        struct kw_spec_lot lot;
        int fits;
} fits[] = {
        {"any wire, a coil", {"wire", NULL, NULL, NONE, NONE, 0}, {"coil", NULL, NULL, 0, 0}, 0},
        {"any wire, a bobbin", {"wire", NULL, NULL, NONE, NONE, 0}, {"bobbin", NULL, NULL, 1000, 0}, 0},
        {"a reel is rope", {"rope", NULL, NULL, NONE, NONE, 0}, {"reel", NULL, NULL, 0, 0}, 0},
        {"a rod is not wire", {"wire", NULL, NULL, NONE, NONE, 0}, {"rod", NULL, NULL, 0, 0}, -1},
        {"its grade", {"rod", "C82D", NULL, NONE, NONE, 0}, {"rod", "C82D", NULL, 0, 0}, 1},
        {"another grade", {"rod", "C82D", NULL, NONE, NONE, 0}, {"rod", "C80D", NULL, 0, 0}, -1},
        {"no grade", {"rod", "C82D", NULL, NONE, NONE, 0}, {"rod", NULL, NULL, 0, 0}, -1},
        {"at the band's foot", {"wire", NULL, NULL, 1000, 1500, 0}, {"coil", NULL, NULL, 1000, 0}, 1},
        {"at the band's top", {"wire", NULL, NULL, 1000, 1500, 0}, {"coil", NULL, NULL, 1500, 0}, -1},
        {"below", {"wire", NULL, NULL, 1000, NONE, 0}, {"coil", NULL, NULL, 999, 0}, -1},
        {"no diameter", {"wire", NULL, NULL, NONE, 1500, 0}, {"coil", NULL, NULL, 0, 0}, -1},
        {"all three", {"rope", "B", "6x7-FC", 1, 9, 0}, {"rope", "B", "6x7-FC", 5, 0}, 3},
        {"another construction", {"rope", NULL, "6x7-FC", NONE, NONE, 0}, {"rope", NULL, "6x7-IWRC", 5, 0}, -1},
        {"its tensile grade", {"wire", NULL, NULL, NONE, NONE, 1770000}, {"bobbin", NULL, NULL, 0, 1770000}, 1},
        {"another tensile grade", {"wire", NULL, NULL, NONE, NONE, 1770000}, {"bobbin", NULL, NULL, 0, 1960000}, -1},
        {"no tensile grade", {"wire", NULL, NULL, NONE, NONE, 1770000}, {"bobbin", NULL, NULL, 0, 0}, -1},
        {"all four", {"rope", "B", "6x7-FC", 1, 9, 1770000}, {"rope", "B", "6x7-FC", 5, 1770000}, 4},
};

START_TEST(spec_fits)
{
        for (size_t i = 0; i < COUNT(fits); i++) {
                int got = kw_spec_fits(&fits[i].scope, &fits[i].lot);

                ck_assert_msg(got == fits[i].fits, "%s: %d", fits[i].name, got);
        }
}
END_TEST

static const struct {
        const char *property, *range;
} ranges[] = {
        {"diameter_um", "diameter_range_um"}, {"tensile_kpa", "tensile_range_kpa"}, {"breaking_n", "breaking_range_n"},
        {"zinc_mg_m2", "zinc_range_mg_m2"},   {"torsions", "torsions_range"},       {"_um", "_um_range"},
};

START_TEST(range_names)
{
        char name[KW_PROPERTY_MAX + 1];

        for (size_t i = 0; i < COUNT(ranges); i++) {
                kw_range_property(ranges[i].property, name);
                ck_assert_str_eq(name, ranges[i].range);
        }
}
END_TEST

static const struct {
        const char *property, *unit;
} property_units[] = {
        {"diameter_um", "4H"}, {"diameter_range_um", "4H"}, {"tensile_kpa", "KPA"}, {"breaking_n", "NEW"},
        {"zinc_mg_m2", "GO"},  {"sample_mm", "MMT"},        {"mass_g", "GRM"},      {"reduction_ppm", "59"},
        {"torsions", "C62"},   {"bends_range", "C62"},      {"_um", "C62"},         {"turn_on", "C62"},
};

START_TEST(units_of_properties)
{
        for (size_t i = 0; i < COUNT(property_units); i++)
                ck_assert_str_eq(kw_property_unit(property_units[i].property), property_units[i].unit);
}
END_TEST

/* id, what it repeats, whether it passed */
static const struct {
        const char *name;
        struct kw_tried tried[6];
        size_t n;
        int64_t retests;
        enum kw_standing_of stand;
} standings[] = {
        {"nothing", {{0}}, 0, 2, KW_NOT_TESTED},
        {"passed", {{1, 0, true}}, 1, 2, KW_TEST_PASSED},
        {"failed", {{1, 0, false}}, 1, 2, KW_TEST_FAILED},
        {"one of two passed", {{1, 0, false}, {2, 1, true}}, 2, 2, KW_TEST_FAILED},
        {"one is enough", {{1, 0, false}, {2, 1, true}}, 2, 1, KW_RETEST_PASSED},
        {"two passed", {{1, 0, false}, {2, 1, true}, {3, 1, true}}, 3, 2, KW_RETEST_PASSED},
        {"in any order", {{3, 1, true}, {2, 1, true}, {1, 0, false}}, 3, 2, KW_RETEST_PASSED},
        {"one passed, one failed", {{1, 0, false}, {2, 1, true}, {3, 1, false}, {4, 1, true}}, 4, 2, KW_TEST_FAILED},
        {"a chain", {{1, 0, false}, {2, 1, true}, {3, 2, true}}, 3, 2, KW_RETEST_PASSED},
        {"a pass that is no retest", {{1, 0, false}, {2, 0, true}, {3, 0, true}}, 3, 2, KW_TEST_FAILED},
        {"two failed, one made good",
         {{1, 0, false}, {2, 1, true}, {3, 1, true}, {4, 0, false}, {5, 4, true}},
         5,
         2,
         KW_TEST_FAILED},
        {"both made good", {{1, 0, false}, {2, 1, true}, {4, 0, false}, {5, 4, true}}, 4, 1, KW_RETEST_PASSED},
        {"a retest of what is not there", {{2, 1, false}}, 1, 2, KW_TEST_FAILED},
        {"passed, then failed again", {{1, 0, true}, {2, 1, false}}, 2, 2, KW_TEST_FAILED},
};

START_TEST(tests_stand)
{
        for (size_t i = 0; i < COUNT(standings); i++) {
                enum kw_standing_of got = kw_tests_stand(standings[i].tried, standings[i].n, standings[i].retests);

                ck_assert_msg(got == standings[i].stand, "%s: %d", standings[i].name, (int)got);
        }
}
END_TEST

START_TEST(readings)
{
        const int64_t four[] = {5510, 5490, 5530, 5495}, negative[] = {-1, -2};
        struct kw_readings r = kw_readings_of(four, 4);

        ck_assert_int_eq(r.mean, 5506); /* 5506.25 */
        ck_assert_int_eq(r.min, 5490);
        ck_assert_int_eq(r.max, 5530);
        ck_assert_int_eq(r.range, 40);
        ck_assert_int_eq(kw_readings_of(negative, 2).mean, -2); /* -1.5, away from zero */
        ck_assert_int_eq(kw_readings_of(four, 1).range, 0);
}
END_TEST

/* Worked by hand: 10, 12, 11, 13: mean 11.5, moving ranges 2, 1, 2, mean 5/3. */
START_TEST(individuals)
{
        const int64_t values[] = {10, 12, 11, 13}, level[] = {7, 7, 7}, jump[] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 90};
        const struct kw_limit both = {8, 16}, low = {8, NONE}, none = {NONE, NONE};
        struct kw_chart c;

        ck_assert(kw_chart_of(values, 4, &c));
        ck_assert_int_eq(c.mean, 11500);
        ck_assert_int_eq(c.range_mean, 1667);
        ck_assert_int_eq(c.lower, 7067);       /* 11.5 - 2.66 x 5/3 = 7.0667 */
        ck_assert_int_eq(c.upper, 15933);      /* 15.9333 */
        ck_assert_int_eq(c.range_upper, 5445); /* 3.267 x 5/3 */
        ck_assert_uint_eq(c.beyond, 0);
        /* the mean range is kept as 1.667: sigma 1.4778, Cp 8 / 8.867 = 0.902, Cpk 3.5 / 4.4335 = 0.789 */
        ck_assert_int_eq(kw_capability_of(&c, &both).cp, 902);
        ck_assert_int_eq(kw_capability_of(&c, &both).cpk, 789);
        ck_assert_int_eq(kw_capability_of(&c, &low).cp, NONE);
        ck_assert_int_eq(kw_capability_of(&c, &low).cpk, 789);
        ck_assert_int_eq(kw_capability_of(&c, &none).cpk, NONE);
        ck_assert(!kw_chart_of(values, 1, &c));
        ck_assert(kw_chart_of(level, 3, &c));
        ck_assert_int_eq(kw_capability_of(&c, &both).cp, NONE);
        ck_assert(kw_chart_of(jump, 12, &c));
        ck_assert_uint_eq(c.beyond, 1);
}
END_TEST

/* Three wires of a strand: one of them of two bobbins, a third of it of the second. */
static const struct kw_wire_part three_wires[] = {
        {3000, 1500, 1000000000, 10000},
        {3100, 1500, 1000000000, 10000},
        {2900, 1500, 666666667, 6667},
        {3200, 1500, 333333333, 3333},
};

START_TEST(aggregate)
{
        struct kw_wire_part parts[4];
        struct kw_aggregate a;

        kw_aggregate_of(three_wires, 4, &a);
        ck_assert_int_eq(a.wires_milli, 3000);
        ck_assert_int_eq(a.tested_milli, 3000);
        ck_assert_int_eq(a.force_n, 9100);     /* 3000 + 3100 + 2/3 x 2900 + 1/3 x 3200 */
        ck_assert_int_eq(a.area_um2, 5301438); /* 3 x pi/4 x 1.5^2 mm2 = 5.301438 */
        ck_assert_int_eq(a.mass_g, 139 + 139 + 92 + 46);
        for (int i = 0; i < 4; i++)
                parts[i] = three_wires[i];
        parts[3].breaking_n = NONE;
        parts[3].diameter_um = 0;
        kw_aggregate_of(parts, 4, &a);
        ck_assert_int_eq(a.wires_milli, 3000);
        ck_assert_int_eq(a.tested_milli, 2667);
        ck_assert_int_eq(a.area_um2, NONE);
        ck_assert_int_eq(a.mass_g, NONE);
        kw_aggregate_of(parts, 0, &a);
        ck_assert_int_eq(a.force_n, 0);
        ck_assert_int_eq(kw_realisation_ppm(8190, 9100), 900000);
        ck_assert_int_eq(kw_realisation_ppm(8190, 0), NONE);
        /* 1770 N/mm2 x pi/4 x 1.2^2 mm2 = 2001.8 N */
        ck_assert_int_eq(kw_wire_force_n(1770000, 1200), 2002);
        ck_assert_int_eq(kw_wire_force_n(3000000, 200000), 94247780);
}
END_TEST

static const struct {
        const char *name;
        struct kw_span a, b;
        enum kw_nearness near;
} pairs[] = {
        /* 18 x 16 mm = 288 mm */
        {"at the limit", {0, 0}, {288, 288}, KW_NOT_NEAR},
        {"a millimetre less", {0, 0}, {287, 287}, KW_SURELY_NEAR},
        {"the other way round", {287, 287}, {0, 0}, KW_SURELY_NEAR},
        {"the ranges' ends at the limit", {0, 100}, {388, 500}, KW_NOT_NEAR},
        {"the ranges' ends a millimetre nearer", {0, 100}, {387, 500}, KW_POSSIBLY_NEAR},
        {"wherever they lie", {0, 100}, {50, 287}, KW_SURELY_NEAR},
        {"but for a millimetre", {0, 100}, {50, 288}, KW_POSSIBLY_NEAR},
        {"one within the other", {0, 1000}, {400, 500}, KW_POSSIBLY_NEAR},
        {"at one place", {5, 5}, {5, 5}, KW_SURELY_NEAR},
};

START_TEST(near)
{
        for (size_t i = 0; i < COUNT(pairs); i++) {
                enum kw_nearness got = kw_joints_near(pairs[i].a, pairs[i].b, 18, 16000);

                ck_assert_msg(got == pairs[i].near, "%s: %d", pairs[i].name, (int)got);
                ck_assert_int_eq(kw_joints_near(pairs[i].b, pairs[i].a, 18, 16000), got);
        }
        /* 18 x 7.94 mm = 142.92 mm */
        ck_assert_int_eq(kw_joint_gap_mm(18, 7940), 143);
        ck_assert_int_eq(kw_joints_near((struct kw_span){0, 0}, (struct kw_span){142, 142}, 18, 7940), KW_SURELY_NEAR);
        ck_assert_int_eq(kw_joints_near((struct kw_span){0, 0}, (struct kw_span){143, 143}, 18, 7940), KW_NOT_NEAR);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, three_figures);
        tcase_add_test(tests, classes);
        tcase_add_test(tests, ends_of_range);
        tcase_add_test(tests, margin);
        tcase_add_test(tests, spec_fits);
        tcase_add_test(tests, range_names);
        tcase_add_test(tests, units_of_properties);
        tcase_add_test(tests, tests_stand);
        tcase_add_test(tests, readings);
        tcase_add_test(tests, individuals);
        tcase_add_test(tests, aggregate);
        tcase_add_test(tests, near);
}

int main(void)
{
        return run_suite("quality", add);
}
