/*
 * Ropes: the catalogue's factors, and what they make of a diameter and a grade.
 *
 *      F = K d^2 R / 1000 kN      mass W d^2 kg/100 m      metallic area C d^2 mm2      d in mm, R in N/mm2
 *
 * Each is one exact fraction of whole numbers, rounded once.
 */
#include "kinwire/quality.h"

#include "kinwire/metal.h"
#include "wide.h"

#include <string.h>
#include <strings.h>

#define NONE KW_NO_FIGURE
#define NO                       \
        {                        \
                NONE, NONE, NONE \
        }
#define HANDBOOK "EN 12385-4 factors, as a wire rope handbook tabulates them (Table 1.9)"

/*
 * Two pages disagree on the mass of 6x19M and 6x37M, so it is left out.
 */
const struct kw_rope_class kw_rope_classes[] = {
        {"6x7", {{345, 369, 332}, {384, 432, 359}, {NONE, NONE, 388}}, KW_READ_IN_SOURCE, HANDBOOK},
        {"8x7", {{327, 335, 291}, {391, 439, 359}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"6x19", {{359, 384, 330}, {400, 449, 356}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"8x19", {{340, 349, 293}, {407, 457, 356}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"6x36", {{367, 393, 330}, {409, 460, 356}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"8x36", {{348, 357, 293}, {417, 468, 356}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"6x35", {{352, 377, 317}, {392, 441, 345}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"6x19M", {{NONE, 357, 307}, {NONE, 418, 332}, {NONE, NONE, 362}}, KW_READ_IN_SOURCE, HANDBOOK},
        {"6x37M", {{NONE, 357, 295}, {NONE, 418, 319}, {NONE, NONE, 346}}, KW_READ_IN_SOURCE, HANDBOOK},
        {"18x7", {{382, 408, 328}, {401, 433, 328}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        {"34x7", {{390, 416, 318}, {401, 428, 318}, NO}, KW_READ_IN_SOURCE, HANDBOOK},
        /* up to grade 1960 */
        {"35(W)x7", {NO, NO, {454, 480, 360}}, KW_RECALLED, "EN 12385-4:2002 and ISO 2408"},
        {NULL, {NO, NO, NO}, KW_RECALLED, NULL},
};

static bool core_of(const char *text, enum kw_rope_core *core)
{
        static const struct {
                const char *name;
                enum kw_rope_core core;
        } cores[] = {{"FC", KW_FIBRE_CORE},
                     {"NFC", KW_FIBRE_CORE},
                     {"SFC", KW_FIBRE_CORE},
                     {"IWRC", KW_ROPE_CORE},
                     {"WSC", KW_STRAND_CORE}};

        for (size_t i = 0; i < sizeof(cores) / sizeof(*cores); i++)
                if (strcasecmp(text, cores[i].name) == 0) {
                        *core = cores[i].core;
                        return true;
                }
        return false;
}

const struct kw_rope_class *kw_rope_class_of(const char *construction, enum kw_rope_core *core)
{
        const struct kw_rope_class *best = NULL;
        const char *dash = construction ? strrchr(construction, '-') : NULL;
        size_t length = 0;

        if (!dash || !core_of(dash + 1, core))
                return NULL;
        for (const struct kw_rope_class *c = kw_rope_classes; c->name; c++) {
                size_t n = strlen(c->name);
                char next = '\0';

                if (n <= length || strncasecmp(construction, c->name, n) != 0)
                        continue;
                /* 6x36WS is of class 6x36; 6x361 is not, nor is 6x36M: cross laid strands are classes of their own */
                next = construction[n];
                if ((next < '0' || next > '9') && next != 'M' && next != 'm') {
                        best = c;
                        length = n;
                }
        }
        return best;
}

/* --- rounding ------------------------------------------------------------------------------------------- */

/* To the nearest, halves away from zero. */
static int64_t nearest(kw_uwide n, kw_uwide d)
{
        return (int64_t)((n + d / 2) / d);
}

/* @n / @d to three significant figures, or to the whole number where that is coarser. */
static int64_t figures(kw_uwide n, kw_uwide d)
{
        kw_uwide step = 1;

        while (n / d / step >= 1000)
                step *= 10;
        /* 999.5 becomes 1000, which has three significant figures as well */
        return (int64_t)((kw_uwide)nearest(n, d * step) * step);
}

int64_t kw_three_figures(int64_t n)
{
        return n < 0 ? -figures((kw_uwide)(-(kw_wide)n), 1) : figures((kw_uwide)n, 1);
}

/* --- what the factors give ----------------------------------------------------------------------------- */

static kw_uwide square(int64_t diameter_um)
{
        return (kw_uwide)diameter_um * (kw_uwide)diameter_um;
}

/* (k/10^3) (d^2/10^6) (R/10^3) N */
int64_t kw_minimum_force_n(const struct kw_rope_factors *factors, int64_t diameter_um, int64_t grade_kpa)
{
        return factors->k == NONE ? NONE
                                  : figures((kw_uwide)factors->k * square(diameter_um) * (kw_uwide)grade_kpa,
                                            (kw_uwide)UINT64_C(1000000000000));
}

/* (w/10^3) (d^2/10^6) kg/100 m, which is 10^4 g/km */
int64_t kw_rope_mass_g_km(const struct kw_rope_factors *factors, int64_t diameter_um)
{
        return factors->w == NONE ? NONE : figures((kw_uwide)factors->w * square(diameter_um), 100000);
}

int64_t kw_rope_area_um2(const struct kw_rope_factors *factors, int64_t diameter_um)
{
        return factors->c == NONE ? NONE : nearest((kw_uwide)factors->c * square(diameter_um), 1000);
}

bool kw_rope_diameter_limits(int64_t diameter_um, struct kw_rope_limits *out)
{
        static const struct {
                int64_t from_um, plus, wire, fibre; /* per cent of nominal */
        } bands[] = {{8000, 5, 4, 6}, {6000, 6, 5, 7}, {4000, 7, 6, 8}, {2000, 8, 7, 0}};

        for (size_t i = 0; i < sizeof(bands) / sizeof(*bands); i++) {
                if (diameter_um < bands[i].from_um)
                        continue;
                *out = (struct kw_rope_limits){.min_um = diameter_um,
                                               .max_um = diameter_um * (100 + bands[i].plus) / 100,
                                               .spread_wire_um = diameter_um * bands[i].wire / 100,
                                               .spread_fibre_um =
                                                       bands[i].fibre ? diameter_um * bands[i].fibre / 100 : NONE};
                return true;
        }
        return false;
}

/* --- from the wires themselves -------------------------------------------------------------------------- */

#define WHOLE       UINT64_C(1000000000) /* ppb */
#define PI_BY_4     UINT64_C(785398163397448)
#define PI_BY_4_DIV UINT64_C(1000000000000000)

void kw_aggregate_of(const struct kw_wire_part *parts, size_t n, struct kw_aggregate *out)
{
        kw_uwide force = 0, squares = 0, all = 0, tested = 0;
        bool measured = true;
        int64_t mass = 0;

        for (size_t i = 0; i < n; i++) {
                const kw_uwide share = (kw_uwide)parts[i].share_ppb, breaking = (kw_uwide)parts[i].breaking_n;

                all += share;
                if (parts[i].breaking_n != NONE) {
                        tested += share;
                        force += share * breaking;
                }
                measured = measured && parts[i].diameter_um > 0;
                squares += share * square(parts[i].diameter_um);
                if (measured)
                        mass += kw_mass_of_length(parts[i].length_mm, parts[i].diameter_um);
        }
        out->wires_milli = nearest(all, WHOLE / 1000);
        out->tested_milli = nearest(tested, WHOLE / 1000);
        out->force_n = nearest(force, WHOLE);
        out->area_um2 = measured ? nearest(squares / WHOLE * PI_BY_4, PI_BY_4_DIV) : NONE;
        out->mass_g = measured ? mass : NONE;
}

/* R kPa x pi/4 d^2 um2 is 10^-9 N */
int64_t kw_wire_force_n(int64_t tensile_kpa, int64_t diameter_um)
{
        return nearest((kw_uwide)tensile_kpa * square(diameter_um) / 1000 * PI_BY_4, (kw_uwide)PI_BY_4_DIV * 1000000);
}

int64_t kw_realisation_ppm(int64_t measured_n, int64_t aggregate_n)
{
        return aggregate_n > 0 ? nearest((kw_uwide)measured_n * 1000000, (kw_uwide)aggregate_n) : NONE;
}
