/*
 * Processes and kinds of lot, one row each.
 *
 * The tolerance of lengths is 1 % wherever nothing else is set (design: "How sure a position is"); counters on a
 * measuring wheel keep 0.5 to 1 % uncorrected (common practice, no source).
 */
#include "kinwire/process.h"

#include <string.h>

#define TOLERANCE_PPM 10000

const struct kw_process kw_processes[] = {
        {"clean", KW_RATIO_SAME, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"draw", KW_RATIO_AREA, KW_GIVES_STRENGTH, TOLERANCE_PPM},
        {"patent", KW_RATIO_SAME, KW_GIVES_STRENGTH, TOLERANCE_PPM},
        {"galvanise", KW_RATIO_SAME, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"wind", KW_RATIO_SAME, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"strand", KW_RATIO_LAY, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"close", KW_RATIO_LAY, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"compact", KW_RATIO_AREA, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"coat", KW_RATIO_SAME, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {"cut", KW_RATIO_SAME, KW_KEEPS_STRENGTH, TOLERANCE_PPM},
        {NULL, KW_RATIO_SAME, KW_KEEPS_STRENGTH, 0},
};

const struct kw_process *kw_process(const char *name)
{
        for (const struct kw_process *p = kw_processes; p->name; p++)
                if (strcmp(p->name, name) == 0)
                        return p;
        return NULL;
}

const struct kw_lot_kind kw_lot_kinds[] = {
        {"rod", true},   {"coil", true},  {"bobbin", true}, {"strand", false},
        {"core", false}, {"rope", false}, {"reel", false},  {NULL, false},
};

const struct kw_lot_kind *kw_lot_kind(const char *name)
{
        for (const struct kw_lot_kind *k = kw_lot_kinds; k->name; k++)
                if (strcmp(k->name, name) == 0)
                        return k;
        return NULL;
}
