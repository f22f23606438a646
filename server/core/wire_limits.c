/*
 * Wire for ropes, and rod: what the standards allow by diameter, and how readings are judged.
 *
 * Bands are closed below and open above.
 */
#include "kinwire/quality.h"

#define NONE KW_NO_FIGURE

int64_t kw_wire_tensile_excess_kpa(int64_t diameter_um)
{
        /* EN 10264-1:2002 Table 1, N/mm2 */
        static const struct {
                int64_t below_um, plus;
        } bands[] = {{500, 390}, {1000, 350}, {1500, 320}, {2000, 290}, {3500, 260}, {8000, 250}};

        if (diameter_um < 200)
                return NONE;
        for (size_t i = 0; i < sizeof(bands) / sizeof(*bands); i++)
                if (diameter_um < bands[i].below_um)
                        return bands[i].plus * 1000;
        return NONE;
}

int64_t kw_zinc_minimum_mg_m2(int64_t diameter_um, char zinc_class)
{
        /* EN 10244-2, g/m2; 0: the class has no figure */
        static const struct {
                int64_t below_um;
                int16_t least[3];
        } bands[] = {
                {200, {0, 15, 0}},      {250, {30, 20, 20}},     {320, {45, 30, 25}},     {400, {60, 30, 25}},
                {500, {85, 40, 30}},    {600, {100, 50, 35}},    {700, {115, 60, 40}},    {800, {130, 60, 45}},
                {900, {145, 70, 50}},   {1000, {155, 70, 55}},   {1200, {165, 80, 60}},   {1400, {180, 90, 65}},
                {1650, {195, 100, 70}}, {1850, {205, 100, 75}},  {2150, {215, 115, 80}},  {2500, {230, 125, 85}},
                {2800, {245, 125, 95}}, {3200, {255, 135, 100}}, {3800, {265, 135, 105}}, {4400, {275, 135, 110}},
        };

        if (diameter_um < 150 || zinc_class < 'A' || zinc_class > 'C')
                return NONE;
        for (size_t i = 0; i < sizeof(bands) / sizeof(*bands); i++) {
                int16_t least = bands[i].least[zinc_class - 'A'];

                if (diameter_um < bands[i].below_um)
                        return least ? least * INT64_C(1000) : NONE;
        }
        return NONE;
}

int64_t kw_wire_out_of_round_um(int64_t whole_tolerance_um)
{
        return whole_tolerance_um / 2;
}

int64_t kw_rod_out_of_round_um(int64_t whole_tolerance_um)
{
        return whole_tolerance_um * 8 / 10;
}

struct kw_readings kw_readings_of(const int64_t *values, size_t n)
{
        struct kw_readings out = {.min = values[0], .max = values[0]};
        const int64_t count = (int64_t)n;
        int64_t sum = 0;

        for (size_t i = 0; i < n; i++) {
                sum += values[i];
                out.min = values[i] < out.min ? values[i] : out.min;
                out.max = values[i] > out.max ? values[i] : out.max;
        }
        out.mean = (sum + (sum < 0 ? -count : count) / 2) / count;
        out.range = out.max - out.min;
        return out;
}
