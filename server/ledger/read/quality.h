#ifndef KW_READ_QUALITY_H
#define KW_READ_QUALITY_H
/* What is read about quality: specifications, instruments, how a test was judged, how strong a wire is. */
#include "read.h"

#include "kinwire/quality.h"

struct kw_limit_row {
        const char *property;
        struct kw_limit limit;
};

/** A version of a specification. */
struct kw_spec_row {
        int64_t id, seq, at;
        const char *code;
        int64_t version;
        const char *what, *grade, *construction;
        int64_t from_um, below_um;
        int64_t joint_multiple, joint_of_um;
        const char *heats;
        const char *tests, *tolerance; /* JSON */
        const char *source;            /* where its figures come from */
        int64_t tensile_kpa, retests;
        bool stands; /* the greatest version of its code */
        const struct kw_limit_row *limits;
        size_t n_limits;
};
/** kw_read_specs - every version, in order of code and version. */
int kw_read_specs(struct kw_reader *r, const struct kw_spec_row **out, size_t *n);
/** kw_spec_close - how close a fit a specification is for a lot, as kw_spec_fits() says. */
int kw_spec_close(const struct kw_spec_row *spec, const struct kw_lot_row *lot);
/** kw_spec_is_for - whether a specification is for a lot. */
bool kw_spec_is_for(const struct kw_spec_row *spec, const struct kw_lot_row *lot);
/** kw_read_test_lot - the lot that a test was made on. Return: 0; KW_NOT_FOUND; a negative errno. */
int kw_read_test_lot(struct kw_reader *r, const char *test, const struct kw_lot_row **lot, struct kw_error *err);
/** kw_read_spec_for - the specification that a test on the lot would be judged by now; NULL when none is for it. */
int kw_read_spec_for(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_spec_row **out);

/**
 * How far joints in one strand of a lot have to be apart: as the order says that the run was made for which made the
 * lot, or else as its specification says.
 */
struct kw_distance_row {
        const char *order;              /* NULL: the specification says it */
        const struct kw_spec_row *spec; /* NULL: the order says it, or nobody does */
        int64_t of_um;                  /* the diameter that a specification counts in; KW_NONE: the order says it */
        int64_t entry;                  /* that says it */
        int64_t gap_mm;                 /* the least that passes; KW_NONE: nobody says, or there is no diameter */
};
/** Two joints in one strand that are nearer. */
struct kw_near_row {
        const char *a, *b;  /* welds */
        const char *strand; /* "close 3": the way to it; NULL where the lot is that strand */
        int64_t gap_mm;     /* between their nominal places; KW_NONE where one has none */
        bool surely;
};
/** kw_read_near - of the joints on a lot (kw_joints_on()), those too near to each other. */
int kw_read_near(struct kw_reader *r, const struct kw_lot_row *lot, const struct kw_joints *joints,
                 struct kw_distance_row *distance, const struct kw_near_row **out, size_t *n);

/** An instrument, as the last entry for it has it. */
struct kw_instrument_row {
        int64_t seq, at;
        const char *code, *what, *note, *found;
        int64_t calibrated, valid_until;
        int64_t entries;   /* how many there are for it */
        int64_t last_used; /* time of the last test made with it */
};
/** What was said of an instrument: one calibration. */
struct kw_calibration_row {
        int64_t seq, at;
        const char *what, *note;
        const char *found; /* good, bad; NULL: it was not said */
        int64_t calibrated, valid_until;
};
/** kw_read_calibrations - every entry for an instrument, the first one first. */
int kw_read_calibrations(struct kw_reader *r, const char *code, const struct kw_calibration_row **out, size_t *n);
/**
 * kw_doubtful_since - from when on measurements are in doubt that calibration @i found bad
 *
 * From the last calibration before it that did not find it bad, or KW_NONE where there is none: all time. They are in
 * doubt until kw_doubtful_until(): the first good calibration after it, or KW_NONE where there is none: until now.
 */
int64_t kw_doubtful_since(const struct kw_calibration_row *rows, size_t i);
int64_t kw_doubtful_until(const struct kw_calibration_row *rows, size_t n, size_t i);

/** A test that was made while its instrument's calibration did not hold. */
struct kw_outside_row {
        const char *test, *lot;
        int64_t at, seq;
};
/** kw_read_outside - newest first, @most at most. */
int kw_read_outside(struct kw_reader *r, const char *code, size_t most, const struct kw_outside_row **out, size_t *n);
/** kw_read_instruments - in order of code. */
int kw_read_instruments(struct kw_reader *r, const struct kw_instrument_row **out, size_t *n);

/** One result of a test beside the limit that it was judged by. */
struct kw_margin_row {
        const char *property;
        int64_t value;
        struct kw_limit limit;
        int64_t margin;
};
/** kw_read_margins - of a test that has a specification; in order of property. */
int kw_read_margins(struct kw_reader *r, const struct kw_test_row *test, const struct kw_margin_row **out, size_t *n);

/** How strong a lot of wire is, by the tests of it. */
struct kw_wire_strength {
        int64_t breaking_n;       /* mean, KW_NONE: no test says */
        const char *from;         /* "lot": tests of it; "run": of others out of its run; NULL: none */
        const char *const *tests; /* codes, in order */
        size_t n_tests;
};
/**
 * kw_read_wire_strength - the mean breaking force of the tests on a lot, or where it has none on the packages of the
 * run that made it
 *
 * A test says it by breaking_n, or else by tensile_kpa and diameter_um; the lot's own diameter where it measured none.
 */
int kw_read_wire_strength(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_wire_strength *out);

#endif
