"""The trade of the demo mill: what it makes, from what, on which machines and for whom.

All of it is invented. Lengths are mm, diameters um, strengths MPa, masses g, unless a name says otherwise.

    rod --clean--> draw --> process coil --patent--> (galvanise) --> finish draw --> bobbin
    bobbins --> strand --(compact)--> close, round a fibre core or a steel core --> rope --cut--> reels
"""
import math

DENSITY = 7850  # kg/m3
DRAFT_STRAIN = 0.223  # true strain of one die of 20 %

# Strength of patented wire drawn through a true strain e: Y0 exp(a e). Y0 as patented; a fitted so that nine
# tenths of the area drawn away gives about 2,260 MPa.
Y0 = 1207
DRAW_HARDENING = 0.277


def mass_g(length_mm, d_um):
    """Grams of a round wire."""
    return DENSITY * math.pi / 4 * d_um * d_um * length_mm * 1e-12


def length_of(mass_kg, d_um):
    """Millimetres of a round wire of so many kilograms."""
    return int(mass_kg * 1000 / mass_g(1, d_um))


def drawn_strength(y0, d0_um, d1_um):
    return y0 * math.exp(DRAW_HARDENING * 2 * math.log(d0_um / d1_um))


# Finished wires: diameter, grade, finish, size it is patented at, steel, size patented at before that, rod.
WIRES = {
    "Z112": (1120, 1770, "drawn galvanised", 2550, "C82D", None, 5500),
    "Z105": (1050, 1770, "drawn galvanised", 2400, "C82D", None, 5500),
    "B120": (1200, 1770, "bright", 2700, "C82D", None, 5500),
    "B105": (1050, 1770, "bright", 2400, "C82D", None, 5500),
    "B050": (500, 1770, "bright", 1150, "C82D", 3000, 5500),
    "L105": (1050, 1570, "bright", 1950, "C66D", 3000, 5500),
    "C145": (1450, 1960, "bright", 3900, "C86D", None, 8000),
    "C128": (1280, 1960, "bright", 3450, "C86D", None, 8000),
    "C112": (1120, 1960, "bright", 3000, "C82D", None, 5500),
    "C105": (1050, 1960, "bright", 2800, "C82D", None, 5500),
    "C082": (820, 1960, "bright", 2200, "C82D", None, 5500),
    "C085": (850, 1960, "bright", 2200, "C82D", None, 5500),
    "C062": (620, 1960, "bright", 1700, "C82D", 3000, 5500),
    "C065": (650, 1960, "bright", 1700, "C82D", 3000, 5500),
    "T145": (1450, 2160, "bright", 4500, "C86D", None, 8000),
    "T128": (1280, 2160, "bright", 4000, "C86D", None, 8000),
    "T062": (620, 2160, "bright", 1950, "C86D", 3000, 5500),
    "A160": (1600, 1570, "galvanised", 3000, "C62D", None, 5500),
    "H260": (2600, 1770, "bright", 5900, "C76D", None, 11000),
    "H290": (2900, 1770, "bright", 6600, "C76D", None, 13000),
    "H295": (2950, 1770, "bright", 6600, "C76D", None, 13000),
    "H310": (3100, 1770, "bright", 7000, "C76D", None, 13000),
}


class Wire:
    def __init__(self, name):
        self.name = name
        self.d, self.grade, self.finish, self.process, self.steel, self.via, self.rod = WIRES[name]
        self.text = "%d.%02d mm %d %s" % (self.d // 1000, self.d // 10 % 100, self.grade, self.finish)
        kg = next(kg for top, kg in ((550, 45), (700, 90), (900, 110), (1200, 160), (2000, 250), (9999, 420))
                  if self.d < top)
        self.bobbin_mm = length_of(kg, self.d)

    def strength(self, y0):
        return drawn_strength(y0, self.process, self.d)


WIRE = {name: Wire(name) for name in WIRES}

# A strand: its layers from the centre outwards, as (wire, number, wire length per strand length).
# The length factors are sqrt(1 + (pi D / lay)^2) of each layer's pitch circle.
STRANDS = {
    "6X7-10": ("1+6", 3300, 25000, [("Z112", 1, 1.000), ("Z105", 6, 1.038)]),
    "SEALE-13": ("1+9+9", 4300, 30000, [("B120", 1, 1.000), ("B050", 9, 1.015), ("B105", 9, 1.053)]),
    "SEALE-13L": ("1+9+9", 4300, 30000, [("B120", 1, 1.000), ("B050", 9, 1.015), ("L105", 9, 1.053)]),
    "SEALE-16": ("1+9+9", 5150, 36000, [("C145", 1, 1.000), ("C062", 9, 1.016), ("C128", 9, 1.052)]),
    "SEALE-16T": ("1+9+9", 5150, 36000, [("T145", 1, 1.000), ("T062", 9, 1.016), ("T128", 9, 1.052)]),
    "WS-22": ("1+7+7/7+14", 7250, 52000, [("C145", 1, 1.000), ("C105", 7, 1.012), ("C112", 7, 1.031),
                                          ("C082", 7, 1.031), ("C112", 14, 1.056)]),
    "SEALE-32": ("1+9+9", 10300, 72000, [("H290", 1, 1.000), ("B120", 9, 1.016), ("H260", 9, 1.053)]),
    "6X7-28": ("1+6", 9000, 66000, [("H310", 1, 1.000), ("H295", 6, 1.039)]),
    "1X19-8": ("1+6+12", 8000, 72000, [("A160", 1, 1.000), ("A160", 6, 1.010), ("A160", 12, 1.034)]),
    "CORE-16": ("1+6", 1890, 14000, [("C065", 1, 1.000), ("C062", 6, 1.040)]),
    "KING-16": ("1+6", 1950, 14500, [("C065", 1, 1.000), ("C065", 6, 1.040)]),
    "CORE-20": ("1+6", 3220, 24000, [("C112", 1, 1.000), ("C105", 6, 1.040)]),
    "KING-20": ("1+6", 3360, 25000, [("C112", 1, 1.000), ("C112", 6, 1.040)]),
    "CORE-22": ("1+6", 2490, 18500, [("C085", 1, 1.000), ("C082", 6, 1.040)]),
    "KING-22": ("1+6", 2550, 19000, [("C085", 1, 1.000), ("C085", 6, 1.040)]),
}

# A steel core (independent wire rope core, 7x7): outer strand, king strand, diameter, lay.
STEEL_CORES = {
    "IWRC-16": ("CORE-16", "KING-16", 5750, 38000),
    "IWRC-20": ("CORE-20", "KING-20", 9900, 66000),
    "IWRC-22": ("CORE-22", "KING-22", 7700, 52000),
}


class Product:
    """A rope: strand, number of strands, core, grade, K of its breaking force, lay."""

    def __init__(self, name, d, strands, strand, core, grade, k_ppm, compacted=False, lengths=(2000,)):
        self.name, self.d, self.strands, self.strand, self.core = name, d, strands, strand, core
        self.grade, self.k, self.compacted, self.lengths = grade, k_ppm / 1e6, compacted, lengths
        self.lay_um = int(d * 6.5)

    def breaking_n(self):
        """F = K d^2 R."""
        return self.k * (self.d / 1000) ** 2 * self.grade


PRODUCTS = {
    "P1": Product("6X7-FC", 10000, 6, "6X7-10", "FC", 1770, 332000, lengths=(3200, 4000)),
    "P2": Product("6X19S-FC", 13000, 6, "SEALE-13", "FC", 1770, 330000, lengths=(2400, 3000)),
    "P3": Product("6X19S-IWRC", 16000, 6, "SEALE-16", "IWRC-16", 1960, 356000, lengths=(1500, 2000)),
    "P4": Product("6X36WS-IWRC", 22000, 6, "WS-22", "IWRC-22", 1960, 356000, lengths=(1200, 1500)),
    "P5": Product("8X19S-FC", 16000, 8, "SEALE-13L", "FC", 1570, 293000, lengths=(1800, 2400)),
    "P6": Product("8XK19S-IWRC", 20000, 8, "SEALE-16T", "IWRC-20", 2160, 380000, compacted=True, lengths=(900, 1200)),
    "P7": Product("1X19", 8000, 1, "1X19-8", None, 1570, 545000, lengths=(4500, 6000)),
    "P8": Product("6X19S-FC", 32000, 6, "SEALE-32", "FC", 1770, 330000, lengths=(1000, 1500)),
    "P9": Product("6X7-FC", 28000, 6, "6X7-28", "FC", 1770, 332000, lengths=(1200, 1800)),
}

# What the order book asks for, over and over.
ORDER_BOOK = ["P2", "P3", "P5", "P2", "P4", "P8", "P3", "P1", "P2", "P9", "P3", "P5", "P6", "P7", "P4", "P2",
              "P3", "P8", "P5", "P2", "P1", "P4", "P3", "P9"]

CUSTOMERS = {
    "P1": ["Tarn and Fell Ropeways", "Quernmoor Rigging"],
    "P2": ["Quernmoor Rigging", "Calder Quay Port", "Selwick Trawlers"],
    "P3": ["Calder Quay Port", "Aldmoor Crane Hire", "Quernmoor Rigging"],
    "P4": ["Aldmoor Crane Hire", "Calder Quay Port"],
    "P5": ["Brindlow Lifts", "Overwater Elevators"],
    "P6": ["Aldmoor Crane Hire"],
    "P7": ["Selwick Trawlers", "Quernmoor Rigging"],
    "P8": ["Ostermoor Mining", "Selwick Trawlers"],
    "P9": ["Tarn and Fell Ropeways", "Ostermoor Mining"],
}

REEL_M = {"P1": (200, 600), "P2": (150, 500), "P3": (100, 420), "P4": (90, 300), "P5": (180, 480), "P6": (110, 300),
          "P7": (300, 900), "P8": (150, 500), "P9": (250, 600)}

# Carbon of the middle of each grade's range, % x 10^4.
CARBON = {"C62D": 6250, "C66D": 6600, "C76D": 7600, "C82D": 8200, "C86D": 8550}

STEELMAKERS = {
    "Northmark Steel": ("48", 301),
    "Aldervane Rod Mill": ("A7", 2204),
    "Corvala Wire Rod": ("CV", 9061),
}

OPERATORS = ["R. Osei", "M. Kallis", "T. Brannoch", "L. Duvane", "S. Ibarrola", "P. Wendt", "A. Quill", "J. Morrow"]

MACHINES = {
    "pickle": (["PICKLE-1"], 1),
    "breakdown": (["BLOCK-1", "BLOCK-2", "BLOCK-3"], 1),
    "finish": (["BLOCK-4", "BLOCK-5", "BLOCK-6", "BLOCK-7", "BLOCK-8"], 1),
    "wet": (["WET-1", "WET-2", "WET-3"], 1),
    "furnace": (["F-1"], 24),
    "fine furnace": (["F-2"], 12),
    "galvanise": (["GALV-1"], 12),
    "wind": (["WIND-1", "WIND-2"], 1),
    "strand 7": (["STR-7A", "STR-7B"], 1),
    "strand 19": (["STR-19A", "STR-19B", "STR-19C"], 1),
    "strand 36": (["STR-36"], 1),
    "close": (["CLOSE-1", "CLOSE-2", "CLOSE-3"], 1),
    "core": (["CLOSE-4"], 1),
    "compact": (["COMP-1"], 1),
    "cut": (["CUT-1", "CUT-2"], 1),
}

# Turns on 100 d that a good wire stands, by grade; the limit is four below.
TORSIONS = {1570: 31, 1770: 29, 1960: 26, 2160: 24}
