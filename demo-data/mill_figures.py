"""Figures of standards that the demo mill's specifications and the shipped set are made of, each with its source.

Whole numbers in the unit of the name. What nobody read in its source is not here; see make_specifications.py.
"""
from fractions import Fraction

# EN 10264-1:2002, Table 1: by how much the tensile strength of a wire may exceed its grade. (from um, below um, MPa)
TENSILE_EXCESS = [(200, 500, 390), (500, 1000, 350), (1000, 1500, 320), (1500, 2000, 290), (2000, 3500, 260),
                  (3500, 8000, 250)]

# EN 10244-2: least mass of zinc, g/m2, by class. (from um, below um, A, B, C)
ZINC = [(200, 250, 30, 20, 20), (250, 320, 45, 30, 25), (320, 400, 60, 30, 25), (400, 500, 85, 40, 30),
        (500, 600, 100, 50, 35), (600, 700, 115, 60, 40), (700, 800, 130, 60, 45), (800, 900, 145, 70, 50),
        (900, 1000, 155, 70, 55), (1000, 1200, 165, 80, 60), (1200, 1400, 180, 90, 65), (1400, 1650, 195, 100, 70),
        (1650, 1850, 205, 100, 75), (1850, 2150, 215, 115, 80), (2150, 2500, 230, 125, 85), (2500, 2800, 245, 125, 95),
        (2800, 3200, 255, 135, 100), (3200, 3800, 265, 135, 105), (3800, 4400, 275, 135, 110)]

# EN 12385-4:2002: rope diameter above nominal, and greatest difference of two readings, %. (from um, above, wire, fibre)
ROPE_DIAMETER = [(2000, 8, 7, None), (4000, 7, 6, 8), (6000, 6, 5, 7), (8000, 5, 4, 6)]

# EN 12385-4 factors of breaking force, thousandths: class -> {core: K}. FC fibre, IWRC steel rope, WSC wire strand.
BREAKING = {
    "6X7": {"FC": 332, "IWRC": 359, "WSC": 388}, "8X7": {"FC": 291, "IWRC": 359}, "6X19": {"FC": 330, "IWRC": 356},
    "8X19": {"FC": 293, "IWRC": 356}, "6X36": {"FC": 330, "IWRC": 356}, "8X36": {"FC": 293, "IWRC": 356},
    "6X19M": {"FC": 307, "IWRC": 332, "WSC": 362}, "6X37M": {"FC": 295, "IWRC": 319, "WSC": 346},
    "18X7": {"FC": 328, "IWRC": 328}, "34X7": {"FC": 318, "IWRC": 318}}


def three_figures(n):
    """To three significant figures, halves away from zero, as the tables of API Spec 9A round."""
    unit = 1
    while n >= 1000 * unit:
        unit *= 10
    return (2 * n + unit) // (2 * unit) * unit


def minimum_force_n(k_milli, d_um, grade):
    """F = K d2 R / 1000, d in mm, R in N/mm2, F in kN."""
    exact = Fraction(k_milli, 1000) * Fraction(d_um, 1000) ** 2 * grade
    return three_figures(int(exact + Fraction(1, 2)))


def rope_diameter_um(d_um, fibre):
    """Least, greatest, and greatest difference of two readings of a rope's diameter."""
    _, plus, wire, spread = [row for row in ROPE_DIAMETER if row[0] <= d_um][-1]
    return d_um, d_um * (100 + plus) // 100, d_um * (spread if fibre and spread else wire) // 100


def tensile_excess_kpa(d_um):
    return next(x for low, high, x in TENSILE_EXCESS if low <= d_um < high) * 1000


def zinc_minimum_mg_m2(d_um, zinc_class):
    row = next(r for r in ZINC if r[0] <= d_um < r[1])
    return row["ABC".index(zinc_class) + 2] * 1000
