#ifndef KINWIRE_PROCESS_H
#define KINWIRE_PROCESS_H
/*
 * Processes and kinds of lot: what the trade knows of each, one row each.
 */
#include "kinwire/error.h"

#include <stdbool.h>
#include <stdint.h>

/** What the output's length has to do with the input's. */
enum kw_ratio {
        KW_RATIO_SAME, /* what goes in comes out: patenting, winding, cutting, ... */
        KW_RATIO_AREA, /* constant volume: drawing, L1 = L0 (d0/d1)^2 */
        KW_RATIO_LAY   /* twisted: every input is as long as the output or longer by its lay */
};

/** Whether what comes out is as strong as what went in: drawing and patenting make another wire of it. */
enum kw_strength { KW_KEEPS_STRENGTH, KW_GIVES_STRENGTH };

struct kw_process {
        const char *name;
        enum kw_ratio ratio;
        enum kw_strength strength;
        int32_t tolerance_ppm; /* of lengths, where a run states none */
};

/** Ended by a row without a name. */
extern const struct kw_process kw_processes[];
/** kw_process - NULL for a name that is not in the list. */
const struct kw_process *kw_process(const char *name);

struct kw_lot_kind {
        const char *name;
        bool wire; /* one round wire: its mass follows from its length and diameter */
};

extern const struct kw_lot_kind kw_lot_kinds[];
const struct kw_lot_kind *kw_lot_kind(const char *name);

/**
 * The greatest share by which a wire, strand or core is longer than what is twisted from it before it is called odd,
 * ppm. 1/cos(30 degrees) = 1.155 and two layers of twist: common practice, no source.
 */
#define KW_LAY_MOST_PPM 350000

#endif
