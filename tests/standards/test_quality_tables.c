/*
 * Published tables for ropes and wire, against what the core computes or holds. Each table is named with its source.
 */
#include "suite.h"

#include "kinwire/quality.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof(*(a)))

/*
 * API Spec 9A Table C.1 (also ISO 10425), ropes of class 6x7 with a fibre core: d mm, greatest diameter mm, mass
 * kg/100 m, minimum breaking force kN at 1770 and at 1960 N/mm2. Figures in thousandths.
 */
static const struct {
        int64_t d, d_max, mass, f_1770, f_1960;
} table_c1[] = {
        {6000, 6360, 12400, 21200, 23400},      {7000, 7420, 16900, 28800, 31900},
        {8000, 8400, 22100, 37600, 41600},      {9000, 9450, 27900, 47600, 52700},
        {10000, 10500, 34500, 58800, 65100},    {11000, 11600, 41700, 71100, 78700},
        {12000, 12600, 49700, 84600, 93700},    {13000, 13700, 58300, 99300, 110000},
        {14000, 14700, 67600, 115000, 128000},  {16000, 16800, 88300, 150000, 167000},
        {18000, 18900, 112000, 190000, 211000}, {19000, 20000, 125000, 212000, 235000},
        {20000, 21000, 138000, 235000, 260000}, {22000, 23100, 167000, 284000, 315000},
        {24000, 25200, 199000, 338000, 375000}, {26000, 27300, 233000, 397000, 440000},
        {28000, 29400, 270000, 461000, 510000}, {32000, 33600, 353000, 602000, 666000},
        {35000, 36800, 423000, 720000, 797000}, {36000, 37800, 447000, 762000, 843000},
        {38000, 39900, 498000, 849000, 940000}, {40000, 42000, 552000, 940000, 1040000},
};

START_TEST(api_9a_table_c1)
{
        enum kw_rope_core core;
        const struct kw_rope_class *c = kw_rope_class_of("6x7-FC", &core);
        int compared = 0;

        ck_assert_ptr_nonnull(c);
        for (size_t i = 0; i < COUNT(table_c1); i++) {
                const struct kw_rope_factors *f = &c->with[core];
                struct kw_rope_limits limits;

                ck_assert(kw_rope_diameter_limits(table_c1[i].d, &limits));
                ck_assert_int_eq(limits.min_um, table_c1[i].d);
                ck_assert_int_eq(kw_three_figures(limits.max_um), table_c1[i].d_max);
                /* g/km: 10 a kg/100 m, so 10 a thousandth of it in the table's figures */
                ck_assert_int_eq(kw_rope_mass_g_km(f, table_c1[i].d), table_c1[i].mass * 10);
                ck_assert_int_eq(kw_minimum_force_n(f, table_c1[i].d, 1770000), table_c1[i].f_1770);
                ck_assert_int_eq(kw_minimum_force_n(f, table_c1[i].d, 1960000), table_c1[i].f_1960);
                compared += 4;
        }
        ck_assert_int_eq(compared, 88);
}
END_TEST

/* EN 12385-4 factors, as a wire rope handbook tabulates them (Table 1.9): W, C, K for fibre and for rope cores. */
static const struct {
        const char *construction;
        double w, c, k;
} factors[] = {
        {"6x7-FC", 0.345, 0.369, 0.332},     {"6x7-IWRC", 0.384, 0.432, 0.359},   {"8x7-FC", 0.327, 0.335, 0.291},
        {"8x7-IWRC", 0.391, 0.439, 0.359},   {"6x19S-FC", 0.359, 0.384, 0.33},    {"6x19S-IWRC", 0.4, 0.449, 0.356},
        {"8x19S-FC", 0.34, 0.349, 0.293},    {"8x19S-IWRC", 0.407, 0.457, 0.356}, {"6x36WS-FC", 0.367, 0.393, 0.33},
        {"6x36WS-IWRC", 0.409, 0.46, 0.356}, {"8x36WS-FC", 0.348, 0.357, 0.293},  {"8x36WS-IWRC", 0.417, 0.468, 0.356},
        {"6x35-FC", 0.352, 0.377, 0.317},    {"6x35-IWRC", 0.392, 0.441, 0.345},  {"18x7-FC", 0.382, 0.408, 0.328},
        {"18x7-IWRC", 0.401, 0.433, 0.328},  {"34x7-FC", 0.39, 0.416, 0.318},     {"34x7-IWRC", 0.401, 0.428, 0.318},
        {"6x19M-FC", -1, 0.357, 0.307},      {"6x19M-IWRC", -1, 0.418, 0.332},    {"6x19M-WSC", -1, -1, 0.362},
        {"6x37M-FC", -1, 0.357, 0.295},      {"6x37M-IWRC", -1, 0.418, 0.319},    {"6x37M-WSC", -1, -1, 0.346},
        {"6x7-WSC", -1, -1, 0.388},
};

static int64_t thousandths(double factor)
{
        return factor < 0 ? KW_NO_FIGURE : (int64_t)lround(factor * 1000);
}

START_TEST(en_12385_4_factors)
{
        for (size_t i = 0; i < COUNT(factors); i++) {
                enum kw_rope_core core;
                const struct kw_rope_class *c = kw_rope_class_of(factors[i].construction, &core);

                ck_assert_msg(c != NULL, "%s", factors[i].construction);
                ck_assert_msg(c->known == KW_READ_IN_SOURCE, "%s", c->name);
                ck_assert_int_eq(c->with[core].w, thousandths(factors[i].w));
                ck_assert_int_eq(c->with[core].c, thousandths(factors[i].c));
                ck_assert_int_eq(c->with[core].k, thousandths(factors[i].k));
        }
}
END_TEST

/* A figure from memory says so. */
START_TEST(recalled_class)
{
        enum kw_rope_core core;
        const struct kw_rope_class *c = kw_rope_class_of("35(W)x7-WSC", &core);

        ck_assert_ptr_nonnull(c);
        ck_assert_int_eq(c->known, KW_RECALLED);
}
END_TEST

/* EN 10264-1:2002 Table 1, applied to the grades: from mm/1000, below, least and greatest N/mm2 at 1770. */
static const struct {
        int64_t from, below, min, max;
} tensile[] = {
        {200, 500, 1770, 2160},   {500, 1000, 1770, 2120},  {1000, 1500, 1770, 2090},
        {1500, 2000, 1770, 2060}, {2000, 3500, 1770, 2030}, {3500, 8000, 1770, 2020},
};

START_TEST(en_10264_1_tensile)
{
        for (size_t i = 0; i < COUNT(tensile); i++) {
                ck_assert_int_eq(tensile[i].min * 1000 + kw_wire_tensile_excess_kpa(tensile[i].from),
                                 tensile[i].max * 1000);
                ck_assert_int_eq(kw_wire_tensile_excess_kpa(tensile[i].below - 1),
                                 kw_wire_tensile_excess_kpa(tensile[i].from));
        }
        ck_assert_int_eq(kw_wire_tensile_excess_kpa(199), KW_NO_FIGURE);
        ck_assert_int_eq(kw_wire_tensile_excess_kpa(8000), KW_NO_FIGURE);
}
END_TEST

/* EN 10244-2, least mass of zinc, g/m2; 0: none. Diameters in um. */
static const struct {
        int64_t from, below, a, b, c;
} zinc[] = {
        {150, 200, 0, 15, 0},        {200, 250, 30, 20, 20},      {250, 320, 45, 30, 25},
        {320, 400, 60, 30, 25},      {400, 500, 85, 40, 30},      {500, 600, 100, 50, 35},
        {600, 700, 115, 60, 40},     {700, 800, 130, 60, 45},     {800, 900, 145, 70, 50},
        {900, 1000, 155, 70, 55},    {1000, 1200, 165, 80, 60},   {1200, 1400, 180, 90, 65},
        {1400, 1650, 195, 100, 70},  {1650, 1850, 205, 100, 75},  {1850, 2150, 215, 115, 80},
        {2150, 2500, 230, 125, 85},  {2500, 2800, 245, 125, 95},  {2800, 3200, 255, 135, 100},
        {3200, 3800, 265, 135, 105}, {3800, 4400, 275, 135, 110},
};

static int64_t mg(int64_t g)
{
        return g ? g * 1000 : KW_NO_FIGURE;
}

START_TEST(en_10244_2_zinc)
{
        for (size_t i = 0; i < COUNT(zinc); i++)
                for (int end = 0; end < 2; end++) {
                        int64_t d = end ? zinc[i].below - 1 : zinc[i].from;

                        ck_assert_int_eq(kw_zinc_minimum_mg_m2(d, 'A'), mg(zinc[i].a));
                        ck_assert_int_eq(kw_zinc_minimum_mg_m2(d, 'B'), mg(zinc[i].b));
                        ck_assert_int_eq(kw_zinc_minimum_mg_m2(d, 'C'), mg(zinc[i].c));
                }
        ck_assert_int_eq(kw_zinc_minimum_mg_m2(149, 'B'), KW_NO_FIGURE);
        ck_assert_int_eq(kw_zinc_minimum_mg_m2(4400, 'A'), KW_NO_FIGURE);
        ck_assert_int_eq(kw_zinc_minimum_mg_m2(1000, 'D'), KW_NO_FIGURE);
}
END_TEST

/* EN 12385-4:2002, rope diameter: plus per cent, spread per cent with wire and with fibre centres, at the bands' ends.
 */
static const struct {
        int64_t d, max, wire, fibre;
} rope_bands[] = {
        {2000, 2160, 140, KW_NO_FIGURE}, {3999, 4318, 279, KW_NO_FIGURE}, {4000, 4280, 240, 320},
        {5999, 6418, 359, 479},          {6000, 6360, 300, 420},          {7999, 8478, 399, 559},
        {8000, 8400, 320, 480},          {40000, 42000, 1600, 2400},
};

START_TEST(en_12385_4_diameter)
{
        struct kw_rope_limits limits;

        for (size_t i = 0; i < COUNT(rope_bands); i++) {
                ck_assert(kw_rope_diameter_limits(rope_bands[i].d, &limits));
                ck_assert_int_eq(limits.max_um, rope_bands[i].max);
                ck_assert_int_eq(limits.spread_wire_um, rope_bands[i].wire);
                ck_assert_int_eq(limits.spread_fibre_um, rope_bands[i].fibre);
        }
        ck_assert(!kw_rope_diameter_limits(1999, &limits));
}
END_TEST

/* ISO 16124:2015, 2.1: +-0.30 mm allows 0.48 mm. EN 10264-1:2002, 5.1: half the tolerance. */
START_TEST(out_of_round)
{
        ck_assert_int_eq(kw_rod_out_of_round_um(600), 480);
        ck_assert_int_eq(kw_wire_out_of_round_um(60), 30);
}
END_TEST

/*
 * Constants of control charts as tabulated for n = 2 to 10 (Shewhart constants; d2, d3, D4). The factor of individuals
 * is 3 / d2(2). For two values both follow exactly: d2 = 2 / sqrt(pi), d3 = sqrt(2 - 4 / pi), D4 = 1 + 3 d3 / d2.
 */
START_TEST(chart_constants)
{
        static const double d2[] = {1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078};
        const double pi = acos(-1.0), exact = 2 / sqrt(pi);

        for (int n = 2; n <= 10; n++)
                ck_assert_int_eq(kw_d2(n), lround(d2[n - 2] * 1000));
        ck_assert_int_eq(kw_d2(1), KW_NO_FIGURE);
        ck_assert_int_eq(kw_d2(11), KW_NO_FIGURE);
        ck_assert_int_eq(kw_d2(2), lround(exact * 1000));
        ck_assert_int_eq(KW_INDIVIDUALS_FACTOR, 10 * lround(3 / 1.128 * 100));
        ck_assert_int_eq(KW_MOVING_RANGE_FACTOR, lround((1 + 3 * sqrt(2 - 4 / pi) / exact) * 1000));
}
END_TEST

/* --- run rules: how often chance alone makes a pattern ----------------------------------------------------- */

static double uniform(uint64_t *state)
{
        *state = *state * 6364136223846793005ULL + 1442695040888963407ULL;
        return ((double)(*state >> 11) + 0.5) / 9007199254740992.0;
}

/* Normal, by Box and Muller; a standard deviation is 10^6, so that rounding counts for nothing. */
static int64_t normal(uint64_t *state)
{
        double far = sqrt(-2 * log(uniform(state)));

        return llround(1e6 * far * cos(2 * acos(-1.0) * uniform(state)));
}

/* How many results until one meets a rule of @rules, itself counted; 0 when none of the @n does. */
static size_t until_alarm(const int64_t *values, size_t n, uint8_t rules)
{
        static const struct kw_chart known = {.range_mean = 1128000000, .lower = -3000000000, .upper = 3000000000};
        static uint8_t met[1 << 20];

        for (size_t look = n < 64 ? n : 64;; look = look * 2 < n ? look * 2 : n) {
                kw_run_rules_met(values, look, &known, met);
                for (size_t i = 0; i < look; i++)
                        if (met[i] & rules)
                                return i + 1;
                if (look == n)
                        return 0;
        }
}

/*
 * The mean number of results until the first alarm in a process that stays as it is, whose mean and deviation are
 * known. A row of eight on one side is awaited for 2^8 - 1 = 255; 3 sigma are passed once in 1 / 0.0027 = 370.4; all
 * four of the Western Electric handbook (1956): 91.75 (Champ and Woodall, Technometrics 29, 1987). One in 25 is the
 * noise of some thousands of alarms.
 */
static const struct {
        const char *name;
        uint8_t rules;
        double published;
} alarms[] = {{"beyond 3 sigma", 1, 370.4}, {"8 on one side", 8, 255}, {"all four", 15, 91.75}};

START_TEST(run_rules)
{
        static int64_t values[1 << 20];
        const size_t n = COUNT(values);
        uint64_t state = 1956;
        size_t at = 0, count = 0, waited;

        for (size_t i = 0; i < n; i++)
                values[i] = normal(&state);
        while ((waited = until_alarm(values + at, n - at, alarms[_i].rules)) > 0) {
                at += waited;
                count++;
        }
        ck_assert_msg(fabs((double)at / (double)count / alarms[_i].published - 1) < 0.04,
                      "%s: once in %.2f, published %.2f", alarms[_i].name, (double)at / (double)count,
                      alarms[_i].published);
}
END_TEST

/* API Spec 9A 25th ed. and ISO 10425:2003, 4.2.2: 18 rope diameters within a strand; ISO 3444:2023: 50. */
static const struct {
        int64_t multiple, d, gap;
} gaps[] = {{18, 16000, 288}, {18, 20000, 360}, {18, 26000, 468}, {50, 16000, 800}, {36, 26000, 936}};

START_TEST(joint_distance)
{
        for (size_t i = 0; i < COUNT(gaps); i++) {
                const struct kw_span a = {1000, 1000}, at = {1000 + gaps[i].gap, 1000 + gaps[i].gap},
                                     nearer = {at.from - 1, at.to - 1};

                ck_assert_int_eq(kw_joint_gap_mm(gaps[i].multiple, gaps[i].d), gaps[i].gap);
                ck_assert_int_eq(kw_joints_near(a, at, gaps[i].multiple, gaps[i].d), KW_NOT_NEAR);
                ck_assert_int_eq(kw_joints_near(nearer, a, gaps[i].multiple, gaps[i].d), KW_SURELY_NEAR);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, api_9a_table_c1);
        tcase_add_test(tests, en_12385_4_factors);
        tcase_add_test(tests, recalled_class);
        tcase_add_test(tests, en_10264_1_tensile);
        tcase_add_test(tests, en_10244_2_zinc);
        tcase_add_test(tests, en_12385_4_diameter);
        tcase_add_test(tests, out_of_round);
        tcase_add_test(tests, chart_constants);
        tcase_add_loop_test(tests, run_rules, 0, (int)COUNT(alarms));
        tcase_add_test(tests, joint_distance);
}

int main(void)
{
        return run_suite("tables of quality", add);
}
