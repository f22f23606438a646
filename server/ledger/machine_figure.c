/*
 * A cell of a machine's file as the stored whole number: "1,812.5 MPa" to 1812500 kPa.
 *
 * Units are exact fractions of the stored one, by definition (web/units.js says of which); a figure is taken as a
 * fraction and rounded once, half away from zero.
 */
#include "kinwire/machine_file.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

__extension__ typedef __int128 wide;

#define DIGITS 15 /* of a figure: its fraction times the largest unit stays within 128 bits */

struct unit {
        const char *name;
        int64_t top, bottom;
};

static const struct unit mm[] = {{"m", 1000, 1}, {"mm", 1, 1},    {"cm", 10, 1},   {"km", 1000000, 1}, {"in", 127, 5},
                                 {"\"", 127, 5}, {"ft", 1524, 5}, {"yd", 4572, 5}, {NULL, 0, 0}};
static const struct unit small_mm[] = {{"mm", 1, 1},       {"m", 1000, 1},  {"cm", 10, 1},
                                       {"km", 1000000, 1}, {"in", 127, 5},  {"\"", 127, 5},
                                       {"ft", 1524, 5},    {"yd", 4572, 5}, {NULL, 0, 0}};
static const struct unit um[] = {{"mm", 1000, 1},     {"um", 1, 1},     {"\xc2\xb5m", 1, 1},
                                 {"\xce\xbcm", 1, 1}, {"cm", 10000, 1}, {"in", 25400, 1},
                                 {"\"", 25400, 1},    {"mil", 127, 5},  {NULL, 0, 0}};
static const struct unit kpa[] = {{"mpa", 1000, 1},
                                  {"kpa", 1, 1},
                                  {"gpa", 1000000, 1},
                                  {"n/mm2", 1000, 1},
                                  {"n/mm\xc2\xb2", 1000, 1},
                                  {"psi", 44482216152605, 6451600000000},
                                  {"ksi", 44482216152605, 6451600000},
                                  {NULL, 0, 0}};
static const struct unit newton[] = {{"kn", 1000, 1},
                                     {"n", 1, 1},
                                     {"lbf", 44482216152605, 10000000000000},
                                     {"kip", 44482216152605, 10000000000},
                                     {NULL, 0, 0}};
static const struct unit zinc[] = {{"g/m2", 1000, 1}, {"mg/m2", 1, 1}, {"g/m\xc2\xb2", 1000, 1}, {NULL, 0, 0}};

/* The first unit is what is meant where none is named. */
static const struct {
        const char *target;
        const struct unit *units;
} targets[] = {
        {"at_mm", mm},        {"sample_mm", small_mm}, {"diameter_um", um},  {"lay_um", um},
        {"tensile_kpa", kpa}, {"breaking_n", newton},  {"zinc_mg_m2", zinc},
};

static const struct unit *unit_of(const struct unit *units, const char *name)
{
        for (; units->name; units++)
                if (strcasecmp(units->name, name) == 0)
                        return units;
        return NULL;
}

struct figure {
        wide top;
        int64_t bottom;
        size_t digits;
};

static bool digit(struct figure *f, char c)
{
        f->top = f->top * 10 + (c - '0');
        return ++f->digits <= DIGITS;
}

/* "1812" or "1,812": a group has three digits, the first one to three. */
static bool whole(const char **at, char group, struct figure *f)
{
        size_t run = 0;
        bool parted = false;

        for (;; ++*at) {
                if (isdigit((unsigned char)**at)) {
                        run++;
                        if (!digit(f, **at) || (parted && run > 3))
                                return false;
                } else if (**at == group) {
                        if (run == 0 || run > 3 || (parted && run != 3))
                                return false;
                        parted = true;
                        run = 0;
                } else {
                        return !parted || run == 3;
                }
        }
}

static bool fraction(const char **at, struct figure *f)
{
        if (!isdigit((unsigned char)**at))
                return false;
        for (; isdigit((unsigned char)**at); ++*at) {
                if (!digit(f, **at))
                        return false;
                f->bottom *= 10;
        }
        return true;
}

bool kw_machine_figure(const char *text, const char *target, const char *unit, char decimal, int64_t *out)
{
        const struct unit *units = NULL, *size;
        struct figure f = {0, 1, 0};
        bool negative = *text == '-';
        wide top, bottom, value;

        for (size_t i = 0; i < sizeof(targets) / sizeof(targets[0]); i++)
                if (strcmp(targets[i].target, target) == 0)
                        units = targets[i].units;
        if (*text == '-' || *text == '+')
                text++;
        if (!units || !whole(&text, decimal == ',' ? '.' : ',', &f))
                return false;
        if (*text == decimal) {
                text++;
                if (!fraction(&text, &f))
                        return false;
        }
        if (!f.digits)
                return false;
        while (*text == ' ' || *text == '\t')
                text++;
        size = *text ? unit_of(units, text) : unit && *unit ? unit_of(units, unit) : units;
        if (!size)
                return false;
        top = f.top * size->top;
        bottom = (wide)f.bottom * size->bottom;
        value = (2 * top + bottom) / (2 * bottom);
        if (value > KW_JSON_INT_MAX)
                return false;
        *out = (int64_t)(negative ? -value : value);
        return true;
}
