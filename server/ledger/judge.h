#ifndef KW_LEDGER_JUDGE_H
#define KW_LEDGER_JUDGE_H
/*
 * How a test is judged: by the calibration of its instrument, and by the specification that stood when it was made.
 */
#include "leaning.h"
#include "work.h"

#include "kinwire/quality.h"

#define KW_NOT_JUDGED 0

/** A version of a specification. */
struct kw_spec_named {
        int64_t id; /* KW_NOT_JUDGED: none */
        char code[KW_CODE_MAX + 1];
        int64_t version;
};

/**
 * kw_spec_for - the specification that stands for a lot
 *
 * Of each specification the greatest version among earlier entries stands; of those that are for the lot, the one that
 * says most about it, and of these the last entered.
 */
int kw_spec_for(struct kw_work *w, const struct kw_lot_here *lot, struct kw_spec_named *out);

/** kw_spec_choose - the same for anything that a specification looks at, as the ledger stood before entry @seq. */
int kw_spec_choose(struct kw_ledger *l, int64_t seq, const struct kw_spec_lot *lot, struct kw_spec_named *out);

/** What a specification says of a test. */
struct kw_judgement {
        int64_t spec;        /* id, KW_NOT_JUDGED: none is for its lot */
        const char *verdict; /* "pass", "fail"; NULL where the specification limits nothing that was measured */
};

/** kw_check_calibration - a test made outside the validity of its instrument's last calibration is a finding. */
int kw_check_calibration(struct kw_work *w, const char *instrument);

/**
 * kw_judge_test - the verdict of the specification that stands for a lot
 * @test: its id; its results are written already
 * @said: the sender's verdict or NULL; where it is another than the computed one, that is a finding
 */
int kw_judge_test(struct kw_work *w, int64_t test, const struct kw_lot_here *lot, const char *said,
                  struct kw_judgement *out);

/** kw_leaning_on_judges - tests after @seq that an instrument or specification entry may judge: as it stands, and as
 * @body (may be NULL) puts it right. With all that lean on them. */
int kw_leaning_on_judges(struct kw_ledger *l, int64_t seq, const char *kind, const cJSON *body, struct kw_again **set);

#endif
