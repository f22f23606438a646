/*
 * Joints too near to each other: the gap between two places that are known only as ranges.
 *
 *      a  |----|                 least gap: from a's end to b's beginning, 0 where the ranges meet
 *      b           |------|      greatest: from the outer end of one to the outer end of the other
 */
#include "kinwire/quality.h"

#include "wide.h"

enum kw_nearness kw_joints_near(struct kw_span a, struct kw_span b, int64_t multiple, int64_t diameter_um)
{
        /* mm against um: both sides in um */
        kw_wide limit = (kw_wide)multiple * diameter_um;
        int64_t ahead = b.to - a.from, behind = a.to - b.from;
        int64_t greatest = ahead > behind ? ahead : behind;
        int64_t least = b.from - a.to > a.from - b.to ? b.from - a.to : a.from - b.to;

        if ((kw_wide)greatest * 1000 < limit)
                return KW_SURELY_NEAR;
        return (kw_wide)(least > 0 ? least : 0) * 1000 < limit ? KW_POSSIBLY_NEAR : KW_NOT_NEAR;
}

int64_t kw_joint_gap_mm(int64_t multiple, int64_t diameter_um)
{
        return kw_div_up((kw_wide)multiple * diameter_um, 1000);
}
