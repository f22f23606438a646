#ifndef KINWIRE_DISPOSITION_H
#define KINWIRE_DISPOSITION_H
/*
 * What becomes of metal whose hold is released, and what may then be done with it.
 *
 *                     fed                       sent    certified   a failed test    needs a second person
 *      release        yes                       yes     yes         stands           yes
 *      concession     yes                       yes     yes         is excused       yes
 *      rework         into what was stated      no      no          stands           yes
 *      regrade        yes, as the new grade     yes     yes         stands           yes
 *      scrap          no: it is gone            no      no          stands           no
 *
 * A second person is needed only where the metal failed a test or was recalled. What was made of reworked metal is
 * other metal, and free. A lot under several releases is under the strictest of them at each place.
 */
#include <stdbool.h>

enum kw_purpose { KW_TO_FEED, KW_TO_SEND, KW_TO_CERTIFY, KW_PURPOSES };

enum kw_allowed {
        KW_ALLOWED_NOT,
        KW_ALLOWED_STATED, /* into the processes that the release states; where it states none, into all but cutting */
        KW_ALLOWED
};

struct kw_disposition {
        const char *name;
        enum kw_allowed allowed[KW_PURPOSES];
        bool excuses; /* a certificate need not wait for a test that failed on it before */
        bool second;  /* metal that failed or was recalled is not disposed of so by one person alone */
};

/** Ended by a row without a name. */
extern const struct kw_disposition kw_dispositions[];
/** kw_disposition - NULL for a name that is not in the list. */
const struct kw_disposition *kw_disposition(const char *name);

/**
 * kw_disposition_may - whether metal disposed of so may be used for a purpose
 * @process: of the run that it is to be fed into; not looked at for another purpose
 * @stated:  processes with commas between them, "draw,patent"; NULL: none were stated
 */
bool kw_disposition_may(const struct kw_disposition *disposition, enum kw_purpose purpose, const char *process,
                        const char *stated);

#endif
