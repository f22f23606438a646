/*
 * Instruments: what is measured with, and while its calibration holds. A later entry for the same instrument renews it.
 */
#include "judge.h"

#include <inttypes.h>

int kw_apply_instrument(struct kw_work *w)
{
        int64_t calibrated, valid_until;

        return kw_do(w->l,
                     "INSERT INTO instrument (seq, code, what, calibrated, valid_until, note, at, found)"
                     " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                     "ittIItit", w->seq, kw_json_text(w->body, "instrument"), kw_json_text(w->body, "what"),
                     kw_seconds(w->body, "calibrated", &calibrated), kw_seconds(w->body, "valid_until", &valid_until),
                     kw_json_text(w->body, "note"), w->at, kw_json_text(w->body, "found"));
}

/* The sentence is about the end of the validity that the test missed. */
static int out_of_calibration(struct kw_work *w, const char *instrument, const char *which, int64_t limit)
{
        char bound[KW_STAMP_LEN + 1], made[KW_STAMP_LEN + 1];

        kw_stamp_write(limit, bound);
        kw_stamp_write(w->at, made);
        return kw_finding_with(
                w, "out-of-calibration", which,
                KW_VALUES(KW_WORD("instrument", instrument), KW_WORD("bound_at", bound), KW_WORD("made_at", made)),
                "the calibration of %s holds %s %s; the test was made at %s", instrument, which, bound, made);
}

static int found_bad(struct kw_work *w, const char *instrument, int64_t seq)
{
        return kw_finding_with(w, "out-of-calibration", "bad",
                               KW_VALUES(KW_WORD("instrument", instrument), KW_FIGURE("seq", seq)),
                               "%s was found bad when it was last calibrated (entry %" PRId64 ")", instrument, seq);
}

int kw_check_calibration(struct kw_work *w, const char *instrument)
{
        int64_t bad = 0;
        int64_t from = INT64_MIN, until = INT64_MAX;
        struct kw_query q;
        int rc = kw_ask(w->l, &q,
                        "SELECT ifnull(calibrated, ?3), ifnull(valid_until, ?4), found IS 'bad', seq FROM instrument"
                        " WHERE code = ?1 AND seq < ?2 ORDER BY seq DESC LIMIT 1",
                        "tiii", instrument, w->seq, from, until);

        if (rc == 0)
                rc = kw_next(w->l, &q);
        if (rc == 1) {
                from = kw_int(&q, 0);
                until = kw_int(&q, 1);
                bad = kw_int(&q, 2) ? kw_int(&q, 3) : 0;
                rc = 0;
        }
        kw_end(&q);
        if (rc)
                return rc;
        if (bad)
                return found_bad(w, instrument, bad);
        if (w->at < from)
                return out_of_calibration(w, instrument, "from", from);
        return w->at > until ? out_of_calibration(w, instrument, "until", until) : 0;
}
