#ifndef KW_CORE_WIDE_H
#define KW_CORE_WIDE_H
/*
 * 128-bit integers: two lengths of up to 1e12 mm multiplied do not fit into 64 bits.
 */
#include <stdint.h>

__extension__ typedef __int128 kw_wide;
__extension__ typedef unsigned __int128 kw_uwide;

/** kw_div_down - floor of @n / @d; @n >= 0, @d > 0, the quotient fits. */
static inline int64_t kw_div_down(kw_wide n, int64_t d)
{
        return (int64_t)(n / d);
}

/** kw_div_up - ceiling of @n / @d; @n >= 0, @d > 0, the quotient fits. */
static inline int64_t kw_div_up(kw_wide n, int64_t d)
{
        return (int64_t)((n + d - 1) / d);
}

#endif
