/*
 * Metal: the mass of round wire and what drawing does to its length.
 *
 *   m = rho x pi/4 x d^2 x L;  with d in um, L in mm and m in g:  m = 7850 x pi/4 x d^2 x L / 10^12
 *
 * pi as 3141592653589793 / 10^15 makes that  157 x 3141592653589793 x d^2 x L / (8 x 10^25),
 * since 7850 / (4 x 10^27) = 157 / (8 x 10^25).
 */
#include "kinwire/metal.h"

#include "wide.h"

#define NUMERATOR (157 * (kw_uwide)UINT64_C(3141592653589793))
/* 10^25 as a product, because no literal is that wide; the step keeps each half of the division exact in 128 bits */
#define STEP                UINT64_C(1000000)
#define DENOMINATOR_BY_STEP (8 * (kw_uwide)UINT64_C(10000000000000000000))
#define DENOMINATOR         (DENOMINATOR_BY_STEP * STEP)

/* @n / @d to the nearest, halves upwards; what does not fit gives the greatest number that does. */
static int64_t nearest(kw_uwide n, kw_uwide d)
{
        kw_uwide q = n / d, rest = n % d;

        if (rest >= d - rest)
                q++;
        return q > INT64_MAX ? INT64_MAX : (int64_t)q;
}

int64_t kw_mass_of_length(int64_t length_mm, int64_t diameter_um)
{
        kw_uwide per_mm = NUMERATOR * (kw_uwide)(diameter_um * diameter_um);
        kw_uwide high = (kw_uwide)length_mm / STEP, low = (kw_uwide)length_mm % STEP;

        /* 1e12 mm of 100 mm bar is 5e39 in the numerator, more than 128 bits hold: divide the high part first */
        kw_uwide whole = per_mm * high / DENOMINATOR_BY_STEP;
        kw_uwide rest = per_mm * high % DENOMINATOR_BY_STEP;
        return (int64_t)whole + nearest(rest * STEP + per_mm * low, DENOMINATOR);
}

int64_t kw_length_of_mass(int64_t mass_g, int64_t diameter_um)
{
        return nearest((kw_uwide)mass_g * DENOMINATOR, NUMERATOR * (kw_uwide)(diameter_um * diameter_um));
}

int64_t kw_share(int64_t whole, int64_t part, int64_t of)
{
        return nearest((kw_uwide)whole * (kw_uwide)part, (kw_uwide)of);
}

int64_t kw_drawn_length(int64_t length_mm, int64_t d0_um, int64_t d1_um)
{
        return kw_share(length_mm, d0_um * d0_um, d1_um * d1_um);
}

int64_t kw_reduction_ppm(int64_t d0_um, int64_t d1_um)
{
        return 1000000 - kw_share(1000000, d1_um * d1_um, d0_um * d0_um);
}

int kw_beyond(int64_t got, int64_t expected, int32_t ppm)
{
        kw_wide off = (kw_wide)got - expected;

        if (off < 0)
                off = -off;
        return off * 1000000 > (kw_wide)ppm * expected;
}
