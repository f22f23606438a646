/*
 * Metal: figures worked with exact fractions, and the trade's table value 6.165375 d^2 kg/km.
 */
#include "kinwire/metal.h"
#include "suite.h"

#include <inttypes.h>

static const struct {
        const char *name;
        int64_t length_mm, diameter_um, mass_g;
} masses[] = {
        {"1 km of 1 mm wire, 6165.38 g", 1000000, 1000, 6165},
        {"1 km of 3 mm wire, 55 488.38 g", 1000000, 3000, 55488},
        {"10 km of 5.5 mm rod", 10000000, 5500, 1865026},
        {"20 km of 3.175 mm wire, 1 243 016.78 g", 20000000, 3175, 1243017},
        {"a sample of 3 m, 559.51 g", 3000, 5500, 560},
        {"no length", 0, 5500, 0},
        {"next to nothing", 1, 1, 0},
        {"the greatest: 41 digits on the way", 1000000000000, 100000, 61653755826700},
};

START_TEST(mass_of_length)
{
        for (size_t i = 0; i < sizeof masses / sizeof *masses; i++) {
                int64_t got = kw_mass_of_length(masses[i].length_mm, masses[i].diameter_um);

                ck_assert_msg(got == masses[i].mass_g, "%s: %" PRId64, masses[i].name, got);
        }
}
END_TEST

static const struct {
        const char *name;
        int64_t mass_g, diameter_um, length_mm;
} lengths[] = {
        {"a 2 t coil of 5.5 mm rod, 10 723 710.44 mm", 2000000, 5500, 10723710},
        {"6165 g of 1 mm wire", 6165, 1000, 999939},
        {"25 g of 1 mm wire, 4054.90 mm", 25, 1000, 4055},
        {"no mass", 0, 5500, 0},
        {"1 g of the thickest", 1, 100000, 0},
        {"the greatest mass", 100000000000, 100000, 1621961203},
        {"more than fits gives the greatest that does", 100000000000, 1, INT64_MAX},
};

START_TEST(length_of_mass)
{
        for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
                int64_t got = kw_length_of_mass(lengths[i].mass_g, lengths[i].diameter_um);

                ck_assert_msg(got == lengths[i].length_mm, "%s: %" PRId64, lengths[i].name, got);
        }
}
END_TEST

static const struct {
        int64_t whole, part, of, share;
} shares[] = {
        {100, 1, 3, 33},
        {100, 2, 3, 67},
        {1, 1, 2, 1}, /* halves upwards */
        {3, 1, 2, 2},
        {0, 5, 7, 0},
        {5, 0, 7, 0},
        {1000000000000, 999999999999, 1000000000000, 999999999999},
        {INT64_MAX, INT64_MAX, INT64_MAX, INT64_MAX},
        {INT64_MAX, 2, 1, INT64_MAX},
};

START_TEST(share)
{
        for (size_t i = 0; i < sizeof shares / sizeof *shares; i++)
                ck_assert_int_eq(kw_share(shares[i].whole, shares[i].part, shares[i].of), shares[i].share);
}
END_TEST

START_TEST(drawing)
{
        /* 5.5 mm to 3.175 mm: (5.5/3.175)^2 = 3.000806 */
        ck_assert_int_eq(kw_drawn_length(10000000, 5500, 3175), 30008060);
        ck_assert_int_eq(kw_drawn_length(1000, 2000, 1000), 4000);
        ck_assert_int_eq(kw_drawn_length(0, 5500, 3175), 0);
        /* 1 - (3.175/5.5)^2 = 0.666756 */
        ck_assert_int_eq(kw_reduction_ppm(5500, 3175), 666756);
        ck_assert_int_eq(kw_reduction_ppm(2000, 1000), 750000);
        ck_assert_int_eq(kw_reduction_ppm(1000, 1000), 0);
        ck_assert_int_eq(kw_reduction_ppm(1000, 2000), -3000000);
}
END_TEST

static const struct {
        const char *name;
        int64_t got, expected;
        int32_t ppm;
        int beyond;
} bounds[] = {
        {"the same", 1000, 1000, 0, 0},
        {"one off, no tolerance", 1001, 1000, 0, 1},
        {"on the tolerance is within it", 1010, 1000, 10000, 0},
        {"over it", 1011, 1000, 10000, 1},
        {"on it from below", 990, 1000, 10000, 0},
        {"under it", 989, 1000, 10000, 1},
        {"a product of more than 64 bits", 1999998000000, 1000000000000, 999999, 0},
        {"nothing expected", 1, 0, 999999, 1},
};

START_TEST(beyond)
{
        for (size_t i = 0; i < sizeof bounds / sizeof *bounds; i++)
                ck_assert_msg(kw_beyond(bounds[i].got, bounds[i].expected, bounds[i].ppm) == bounds[i].beyond, "%s",
                              bounds[i].name);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, mass_of_length);
        tcase_add_test(tests, length_of_mass);
        tcase_add_test(tests, share);
        tcase_add_test(tests, drawing);
        tcase_add_test(tests, beyond);
}

int main(void)
{
        return run_suite("metal", add);
}
