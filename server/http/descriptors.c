/*
 * How many connections there are descriptors for.
 *
 * A process that has none left can't open the ledger for whoever has been let in, so that a crowd that only connects
 * would keep the others from being answered. kinwire's own are therefore kept back: whoever comes beyond the rest waits
 * at the door.
 */
#include "server.h"

#include <sys/resource.h>

/*
 * The daemon itself holds 25 to 30 (measured); a ledger takes two, and there are the four threads', four heavy
 * replies', two kept ones as they were, one being verified, and the files that packs and backups are written to.
 */
#define OWN   64
#define LEAST 16 /* let in however few there are */

unsigned kw_descriptors_spare(unsigned wanted)
{
        struct rlimit limit;
        rlim_t all = (rlim_t)wanted + OWN;

        if (getrlimit(RLIMIT_NOFILE, &limit))
                return LEAST;
        if (limit.rlim_cur < all && limit.rlim_cur < limit.rlim_max) {
                limit.rlim_cur = limit.rlim_max < all ? limit.rlim_max : all;
                if (setrlimit(RLIMIT_NOFILE, &limit) && getrlimit(RLIMIT_NOFILE, &limit))
                        return LEAST;
        }
        if (limit.rlim_cur >= all)
                return wanted;
        return limit.rlim_cur > OWN + LEAST ? (unsigned)(limit.rlim_cur - OWN) : LEAST;
}
