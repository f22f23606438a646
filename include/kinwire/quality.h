#ifndef KINWIRE_QUALITY_H
#define KINWIRE_QUALITY_H
/*
 * Quality: what wire and rope have to be, what was measured, and by how much the two differ.
 *
 * All of it is pure and in whole numbers. Figures out of published tables stand here with their source; a figure that
 * nobody has read in its source is KW_RECALLED: it may be shown, and it is never a limit unless a mill enters it
 * itself.
 */
#include "kinwire/trace.h"

enum kw_known {
        KW_READ_IN_SOURCE, /* read in the source named, or in a page that quotes it */
        KW_RECALLED        /* from memory */
};

#define KW_NO_FIGURE INT64_MIN

/* --- rounding --------------------------------------------------------------------------------------- */

/**
 * kw_three_figures - @n to three significant figures, halves away from zero: 13650 gives 13700
 *
 * So the tables of API Spec 9A round (13 mm x 1.05 = 13.65 is printed 13.7).
 */
int64_t kw_three_figures(int64_t n);

/* --- ropes ------------------------------------------------------------------------------------------ */

enum kw_rope_core { KW_FIBRE_CORE, KW_ROPE_CORE, KW_STRAND_CORE, KW_ROPE_CORES };

/** Factors of a class with one kind of core, in thousandths; KW_NO_FIGURE where none is known. */
struct kw_rope_factors {
        int64_t w; /* mass:  W d^2 kg/100 m, d in mm */
        int64_t c; /* metallic area: C d^2 mm2 */
        int64_t k; /* breaking force: F = K d^2 R / 1000 kN, R in N/mm2 */
};

/** A class of rope out of the catalogue. */
struct kw_rope_class {
        const char *name; /* "6x36"; NULL ends the catalogue */
        struct kw_rope_factors with[KW_ROPE_CORES];
        enum kw_known known;
        const char *source;
};

extern const struct kw_rope_class kw_rope_classes[];

/**
 * kw_rope_class_of - the class and core that a construction names: "6x36WS-IWRC" is of 6x36 with a rope core
 * @core: receives the core: FC, NFC, SFC fibre; IWRC rope; WSC strand; in either case
 *
 * Return: NULL where either is not named, or the class is not in the catalogue.
 */
const struct kw_rope_class *kw_rope_class_of(const char *construction, enum kw_rope_core *core);

/**
 * kw_minimum_force_n - minimum breaking force F = K d^2 R / 1000, to three significant figures (EN 12385-4, API Spec
 * 9A)
 * @diameter_um: nominal, 100 .. 200000; @grade_kpa: rope grade R, at most 3000000
 *
 * The figures are for 100 N and more; below, it is to the newton. Return: N; KW_NO_FIGURE when @factors has no K.
 */
int64_t kw_minimum_force_n(const struct kw_rope_factors *factors, int64_t diameter_um, int64_t grade_kpa);
/** kw_rope_mass_g_km - nominal mass W d^2, g/km, to three significant figures; KW_NO_FIGURE when there is no W. */
int64_t kw_rope_mass_g_km(const struct kw_rope_factors *factors, int64_t diameter_um);
/** kw_rope_area_um2 - nominal metallic area C d^2, um2, to the nearest; KW_NO_FIGURE when there is no C. */
int64_t kw_rope_area_um2(const struct kw_rope_factors *factors, int64_t diameter_um);

/** What a measured rope diameter may be, um, and by how much any two readings may differ. */
struct kw_rope_limits {
        int64_t min_um, max_um;
        int64_t spread_wire_um;  /* rope whose strands have wire centres */
        int64_t spread_fibre_um; /* with fibre centres; KW_NO_FIGURE below 4 mm */
};
/**
 * kw_rope_diameter_limits - for general lifting ropes, unloaded (EN 12385-4:2002)
 *
 * From 2 mm below 4: -0 +8 %, spread 7 %; from 4: +7, 6 (fibre 8); from 6: +6, 5 (7); from 8: +5, 4 (6). Limits are
 * exact, cut to the um. Return: false below 2 mm, where the standard has no band.
 */
bool kw_rope_diameter_limits(int64_t diameter_um, struct kw_rope_limits *out);

/* --- wire for ropes, rod ------------------------------------------------------------------------------ */

/**
 * kw_wire_tensile_excess_kpa - by how much a wire's tensile strength may exceed its grade (EN 10264-1:2002 Table 1)
 *
 * The grade is the lower limit: 1770 N/mm2 at 1.2 mm is 1770 to 2090. Bands are closed below and open above.
 * Return: kPa; KW_NO_FIGURE below 0.2 mm and from 8 mm on.
 */
int64_t kw_wire_tensile_excess_kpa(int64_t diameter_um);

/**
 * kw_zinc_minimum_mg_m2 - least mass of zinc (EN 10244-2)
 * @zinc_class: 'A', 'B' or 'C'
 * Return: mg/m2; KW_NO_FIGURE below 0.15 mm, from 4.4 mm on, and where a class has no figure.
 */
int64_t kw_zinc_minimum_mg_m2(int64_t diameter_um, char zinc_class);

/** kw_wire_out_of_round_um - most of max - min in one section of wire: half the whole tolerance (EN 10264-1:2002, 5.1)
 */
int64_t kw_wire_out_of_round_um(int64_t whole_tolerance_um);
/** kw_rod_out_of_round_um - the same of rod: 0.8 of the whole tolerance, +-0.30 mm gives 0.48 mm (ISO 16124:2015, 2.1)
 */
int64_t kw_rod_out_of_round_um(int64_t whole_tolerance_um);

/** Several readings of one measure. */
struct kw_readings {
        int64_t mean, min, max; /* mean to the nearest, halves away from zero */
        int64_t range;          /* max - min: of diameters in one section, the out-of-roundness */
};
/** kw_readings_of - @n >= 1 */
struct kw_readings kw_readings_of(const int64_t *values, size_t n);

/**
 * kw_range_property - by what name the range of several readings of a property is a result: before its unit, as in
 * diameter_range_um; of what has no unit at the end, as in torsions_range
 * @property: at most 34 characters
 */
#define KW_PROPERTY_MAX 40
void kw_range_property(const char *property, char out[KW_PROPERTY_MAX + 1]);

/**
 * kw_property_unit - the unit of a property's stored integer, which its name ends in, as others write it: the common
 * code of UN/CEFACT Recommendation 20, read in published copies of its list: 4H micrometre, MMT millimetre, GRM gram,
 * KPA kilopascal, NEW newton, GO milligram per square metre, 59 part per million, C62 one. A literal; never NULL.
 */
const char *kw_property_unit(const char *property);

/* --- the strength of a rope from its own wires --------------------------------------------------------- */

/** A length of one wire that lies in a rope. */
struct kw_wire_part {
        int64_t breaking_n;  /* tested; KW_NO_FIGURE where it was not */
        int64_t diameter_um; /* 0: not known */
        int64_t share_ppb;   /* how much of the rope's length it is in, of 10^9; a wire's parts make up 10^9 */
        int64_t length_mm;   /* of the wire: with the take-up of its lay */
};

struct kw_aggregate {
        int64_t wires_milli;  /* wires in the section, thousandths */
        int64_t tested_milli; /* of them with a breaking force */
        int64_t force_n;      /* sum over the section of those tested; whole only if all are */
        int64_t area_um2;     /* metallic area from the diameters; KW_NO_FIGURE if one is not known */
        int64_t mass_g;       /* of all parts; KW_NO_FIGURE likewise */
};
/** kw_aggregate_of - a sum over the parts of every wire, each weighed by its share of the length. */
void kw_aggregate_of(const struct kw_wire_part *parts, size_t n, struct kw_aggregate *out);

/**
 * kw_realisation_ppm - measured breaking force of the rope by the aggregate of its wires, ppm
 * Return: to the nearest; KW_NO_FIGURE when @aggregate_n is not positive.
 */
int64_t kw_realisation_ppm(int64_t measured_n, int64_t aggregate_n);

/** kw_wire_force_n - breaking force of round wire, tensile strength x pi/4 d^2, to the nearest N. */
int64_t kw_wire_force_n(int64_t tensile_kpa, int64_t diameter_um);

/** A lot of wire in a rope: over how much of the rope's length, counted in wires, and how long it is itself. */
struct kw_wire_in {
        int64_t lot;
        int64_t share_ppb; /* 10^9: one wire all along; more where the lot went into several wires */
        int64_t length_mm;
};
struct kw_wires {
        struct kw_wire_in *at;
        size_t n, cap;
};
/** Whether a lot is a wire, at which the way back ends. Return: 0 or a negative errno. */
typedef int kw_is_wire(void *ctx, int64_t lot, bool *wire);
/**
 * kw_wires_in - every lot of wire that lies in a lot, nominally, from the outermost run back to the wires that were
 * laid
 * @length_mm: of @lot
 * @out:       one row a lot, in order of lot; free with kw_wires_free(), also after a failure
 *
 * What was received as a strand or a core, and is no wire, has none.
 *
 * Return: 0; -ENOMEM; what the genealogy returned.
 */
int kw_wires_in(const struct kw_genealogy *g, int64_t lot, int64_t length_mm, kw_is_wire *is_wire, void *ctx,
                struct kw_wires *out);
void kw_wires_free(struct kw_wires *wires);

/* --- limits and verdicts ------------------------------------------------------------------------------ */

/** What a property has to be; min and max are within. KW_NO_FIGURE: not bounded on that side. */
struct kw_limit {
        int64_t min, max;
};
/** kw_margin - how far @value is inside the nearer limit: 0 on it, negative outside; KW_NO_FIGURE without limits. */
int64_t kw_margin(const struct kw_limit *limit, int64_t value);

/** What a specification is for; KW_NO_FIGURE and NULL where it does not say. */
struct kw_spec_scope {
        const char *what; /* rod, wire, strand, core, rope */
        const char *grade, *construction;
        int64_t from_um, below_um; /* from_um <= diameter < below_um */
        int64_t tensile_kpa;       /* tensile grade; 0: it does not say */
};
/** A lot as a specification looks at it. */
struct kw_spec_lot {
        const char *kind; /* rod, coil, bobbin, ... */
        const char *grade, *construction;
        int64_t diameter_um; /* 0: not known */
        int64_t tensile_kpa; /* 0: not known */
};
/** kw_spec_what - what a lot of a kind is to a specification: a bobbin is wire, a reel is rope. */
const char *kw_spec_what(const char *kind);
/**
 * kw_spec_fits - whether a specification is for a lot
 *
 * What the specification says the lot has to say too.
 *
 * Return: -1 when it is not; else how many of grade, tensile grade, diameter and construction it says: the greater is
 * the closer fit.
 */
int kw_spec_fits(const struct kw_spec_scope *scope, const struct kw_spec_lot *lot);

/* --- tests and their retests ---------------------------------------------------------------------------- */

/** How many retests have to pass after a test that failed, where the specification does not say: common practice, no
 * source. */
#define KW_RETESTS 2

/** A test of one property. */
struct kw_tried {
        int64_t id;
        int64_t retest_of; /* the test that it repeats; 0: none */
        bool passed;
};
enum kw_standing_of {
        KW_NOT_TESTED,
        KW_TEST_FAILED,   /* a test failed and its retests do not make it good */
        KW_RETEST_PASSED, /* a test failed, and its retests make it good */
        KW_TEST_PASSED
};
/**
 * kw_tests_stand - what the tests of one property come to
 * @tried:   in any order; a retest whose test is not among them counts as a test
 * @retests: of a test that failed this many retests have to pass, and none may fail; a retest of a retest is one of
 *           the first test. The failed test stays a failed test: what it makes doubtful is for a trace.
 */
enum kw_standing_of kw_tests_stand(const struct kw_tried *tried, size_t n, int64_t retests);

/* --- charts ------------------------------------------------------------------------------------------- */

/* Constants of control charts (tables of ASTM and of the handbooks; 2.66 = 3 / d2(2), 3.267 = D4(2)), thousandths. */
#define KW_INDIVIDUALS_FACTOR  2660
#define KW_MOVING_RANGE_FACTOR 3267
/** kw_d2 - expected range of @n (2..10) normal values, in standard deviations, thousandths; KW_NO_FIGURE for other n.
 */
int64_t kw_d2(int n);

/** A chart of individuals with its moving ranges. In thousandths of the value's unit; limits by the constants above. */
struct kw_chart {
        int64_t mean, range_mean;
        int64_t lower, upper; /* mean -+ 2.66 mean moving range */
        int64_t range_upper;  /* 3.267 mean moving range */
        size_t beyond;        /* values outside lower..upper */
};
/** kw_chart_of - @n values in order; values within +-10^15. Return: false when @n is less than 2. */
bool kw_chart_of(const int64_t *values, size_t n, struct kw_chart *out);

/**
 * A pattern that chance seldom makes while a process stays as it is: @need of @of results one after another on one side
 * of the mean, and each further from it than @sigmas standard deviations. The standard deviation is a third of the way
 * from the mean to a limit, so that the first rule and the limits say the same of a result.
 */
struct kw_run_rule {
        const char *name; /* "2-of-3-beyond-2-sigma" */
        int need, of, sigmas;
        const char *source;
};
#define KW_RUN_RULES 4
extern const struct kw_run_rule kw_run_rules[KW_RUN_RULES];

/**
 * kw_run_rules_met - which rules a result meets, as the one that completes a pattern: it lies in the zone itself, and
 *                    so do enough of those right before it
 * @values: @n of them, in order, of which @chart was made
 * @met:    receives for each a bit a rule: 1 << i for kw_run_rules[i]
 *
 * A result on a line is not beyond it. Where nothing varies no rule is met.
 */
void kw_run_rules_met(const int64_t *values, size_t n, const struct kw_chart *chart, uint8_t *met);

/** Cp and Cpk, thousandths; KW_NO_FIGURE where a limit is missing (Cp needs both) or nothing varies. */
struct kw_capability {
        int64_t cp, cpk;
};
/**
 * kw_capability_of - against limits, with sigma = mean moving range / d2(2)
 * Cp = (max - min) / 6 sigma; Cpk = the smaller of (max - mean) / 3 sigma and (mean - min) / 3 sigma
 */
struct kw_capability kw_capability_of(const struct kw_chart *chart, const struct kw_limit *limit);

/* --- joints too near to each other ---------------------------------------------------------------------- */

enum kw_nearness { KW_NOT_NEAR, KW_POSSIBLY_NEAR, KW_SURELY_NEAR };

/**
 * kw_joints_near - whether two joints in one strand are nearer to each other than @multiple diameters
 * @a, @b: where each may lie, mm
 *
 * A gap of exactly multiple x diameter passes (API Spec 9A and ISO 10425, 4.2.2: 18 rope diameters in a strand, so
 * 288 mm for 16 mm). Surely near: wherever in their ranges the two lie; possibly: somewhere.
 */
enum kw_nearness kw_joints_near(struct kw_span a, struct kw_span b, int64_t multiple, int64_t diameter_um);
/** kw_joint_gap_mm - the least gap in whole mm that passes. */
int64_t kw_joint_gap_mm(int64_t multiple, int64_t diameter_um);

#endif
