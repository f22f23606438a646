#ifndef KINWIRE_PLAN_H
#define KINWIRE_PLAN_H
/*
 * Conservation: what of a lot is still there, and what a run may take of it.
 *
 * A length of a lot is taken once. What is taken is a claim with the name of who took it; a second claim on any
 * millimetre is refused with that name.
 */
#include "kinwire/error.h"
#include "kinwire/process.h"
#include "kinwire/runmap.h"

#define KW_CLAIM_NAME 80

struct kw_claim {
        int64_t from, to;
        char name[KW_CLAIM_NAME]; /* "run DR-1", "the sample of test T-7" */
};

/** A lot's length and the claims on it, in order of from and disjoint. */
struct kw_stock {
        const char *code;
        int64_t length_mm;
        struct kw_claim *claims;
        size_t n, cap;
};

void kw_stock_free(struct kw_stock *stock);
/**
 * kw_stock_claim - add a claim
 * Return: 0; KW_ALREADY_CONSUMED naming the earlier claim; KW_OUT_OF_RANGE when it is not on the lot; -ENOMEM.
 */
int kw_stock_claim(struct kw_stock *stock, int64_t from, int64_t to, const char *name, struct kw_error *err);
/** kw_stock_left - append what is left, in order. Return: 0; -ENOMEM. */
int kw_stock_left(const struct kw_stock *stock, struct kw_spans *out);

enum kw_take_how {
        KW_TAKE_ALL,   /* all that is left */
        KW_TAKE_SPAN,  /* from..to */
        KW_TAKE_LENGTH /* so much from the end that it pays off from */
};

struct kw_take {
        enum kw_take_how how;
        int64_t from, to; /* KW_TAKE_SPAN */
        int64_t length;   /* KW_TAKE_LENGTH */
        enum kw_off off;
};

/**
 * kw_stock_take - claim what a take asks for
 * @pieces: receives the intervals in the order in which they pay off: several when a length was taken out of the middle
 *          before, so that the rest is in pieces
 * Return: 0; KW_ALREADY_CONSUMED; KW_OUT_OF_RANGE; -ENOMEM. On failure @stock is as it was.
 */
int kw_stock_take(struct kw_stock *stock, const struct kw_take *take, const char *name, struct kw_spans *pieces,
                  struct kw_error *err);

/* --- a run ------------------------------------------------------------------------------------ */

struct kw_feed_draft {
        struct kw_stock *stock; /* shared by all feeds of one lot */
        int64_t lot;
        int64_t diameter_um; /* of the lot; 0: not known */
        int64_t mass_g;      /* of the lot; -1: not known */
        struct kw_take take;
        int64_t seen_mm; /* where on the output the join before it was seen; 0: not seen */
};

struct kw_line_draft {
        struct kw_feed_draft *feeds;
        size_t n;
};

struct kw_package_draft {
        int64_t length_mm;
        int64_t diameter_um; /* 0: not stated */
        int64_t mass_g;      /* weighed; -1: not */
        bool scrap;
};

struct kw_run_draft {
        const char *name; /* for claims: "run DR-1" */
        const struct kw_process *process;
        int32_t tolerance_ppm;
        struct kw_line_draft *lines;
        size_t n_lines;
        const struct kw_package_draft *packages;
        size_t n_packages;
        bool under_way; /* not closed: lines and packages may be missing, a join may have been seen beyond the last
                           package */
};

/** A feed as it stands on its line. A feed whose lot is in pieces becomes several, @piece counted from 0. */
struct kw_planned {
        size_t line, feed, piece;
        int64_t lot;
        int64_t from, to, v0;
        enum kw_off off;
        int64_t seen_mm; /* 0: not seen */
};

struct kw_plan {
        struct kw_planned *feeds;
        size_t n, cap;
        int64_t *line_mm;  /* V of each line */
        int64_t length_mm; /* S */
        int64_t in_g;      /* mass of all that went in; -1: not known */
        int64_t wire_um;   /* the one diameter of every feed of a run with one line; 0: not one, or not known */
};

/**
 * kw_plan_run - lay a run's feeds on its lines and its packages on the output
 * @draft: stocks are claimed as feeds are planned
 * @err:   pointers are relative to the body: "/lines/0/feeds/1/lot"
 *
 * Return: 0; KW_ALREADY_CONSUMED, KW_OUT_OF_RANGE; KW_BAD_ORDER for known points that do not increase; -ENOMEM.
 * Free @plan with kw_plan_free() in every case.
 */
int kw_plan_run(const struct kw_run_draft *draft, struct kw_plan *plan, struct kw_error *err);
void kw_plan_free(struct kw_plan *plan);

/** kw_package_mass - mass of the packages' stretch of length_mm by its share of what went in; -1 when that is not
 * known. */
int64_t kw_package_mass(const struct kw_plan *plan, int64_t length_mm);

#define KW_FINDING_TEXT 400

/** What is odd: a sentence with both figures, and the figures. */
struct kw_odd {
        char text[KW_FINDING_TEXT];
        struct kw_said said;
};

/**
 * kw_plan_odd_length - whether the length out differs from what diameters or lay imply by more than the tolerance
 * Return: true when it does; false also when the diameters are not known.
 */
bool kw_plan_odd_length(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *out);
/** kw_plan_odd_mass - whether weighed packages and what went in differ by more than the tolerance. */
bool kw_plan_odd_mass(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *out);

#endif
