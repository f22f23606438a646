#ifndef KINWIRE_METAL_H
#define KINWIRE_METAL_H
/*
 * Metal: length, mass and section of round wire, in exact integers.
 *
 * m = rho x pi/4 x d^2 x L with rho = 7850 kg/m3, the density ISO 16124 and the trade's tables use
 * (6.165375 d^2 kg/km, d in mm). pi is taken as 3141592653589793 / 10^15.
 */
#include <stdint.h>

#define KW_DENSITY_KG_M3 7850

/** kw_mass_of_length - g of a round wire, to the nearest gram. @length_mm 0..1e12, @diameter_um 1..100000. */
int64_t kw_mass_of_length(int64_t length_mm, int64_t diameter_um);
/** kw_length_of_mass - mm of a round wire, to the nearest mm. @mass_g 0..1e11. */
int64_t kw_length_of_mass(int64_t mass_g, int64_t diameter_um);
/** kw_share - @whole x @part / @of to the nearest, halves upwards; @of > 0, all not negative, in 128 bits. */
int64_t kw_share(int64_t whole, int64_t part, int64_t of);
/**
 * kw_drawn_length - length out of drawing @length_mm from @d0_um to @d1_um at constant volume:
 * L1 = L0 (d0/d1)^2 (wire-drawing handbooks: area ratio = length ratio).
 */
int64_t kw_drawn_length(int64_t length_mm, int64_t d0_um, int64_t d1_um);
/** kw_reduction_ppm - area reduction 1 - (d1/d0)^2, ppm. */
int64_t kw_reduction_ppm(int64_t d0_um, int64_t d1_um);
/** kw_beyond - whether |got - expected| > ppm x expected / 1e6, in 128 bits. */
int kw_beyond(int64_t got, int64_t expected, int32_t ppm);

#endif
