/*
 * Reading about instruments: their calibrations, and the tests that were made outside of them.
 */
#include "quality.h"

#include "reader.h"

#include <errno.h>
#include <string.h>

int kw_read_instruments(struct kw_reader *r, const struct kw_instrument_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT i.seq, i.at, i.code, i.what, i.note, i.calibrated, i.valid_until, x.entries,"
                        " (SELECT max(t.at) FROM test t WHERE t.instrument = i.code), i.found"
                        " FROM (SELECT max(seq) AS seq, count(*) AS entries FROM instrument GROUP BY code) x"
                        " JOIN instrument i ON i.seq = x.seq ORDER BY i.code",
                        "");

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_instrument_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_instrument_row){.seq = kw_int(&q, 0),
                                                          .at = kw_int(&q, 1),
                                                          .code = kw_keep_text(r, &q, 2, &failed),
                                                          .what = kw_keep_text(r, &q, 3, &failed),
                                                          .note = kw_keep_text(r, &q, 4, &failed),
                                                          .calibrated = kw_int_or(&q, 5, KW_NONE),
                                                          .valid_until = kw_int_or(&q, 6, KW_NONE),
                                                          .entries = kw_int(&q, 7),
                                                          .last_used = kw_int_or(&q, 8, KW_NONE),
                                                          .found = kw_keep_text(r, &q, 9, &failed)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

/* --- one instrument ---------------------------------------------------------------------------------------- */

int kw_read_calibrations(struct kw_reader *r, const char *code, const struct kw_calibration_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT seq, at, what, note, found, calibrated, valid_until FROM instrument"
                        " WHERE code = ?1 ORDER BY seq",
                        "t", code);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_calibration_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_calibration_row){.seq = kw_int(&q, 0),
                                                           .at = kw_int(&q, 1),
                                                           .what = kw_keep_text(r, &q, 2, &failed),
                                                           .note = kw_keep_text(r, &q, 3, &failed),
                                                           .found = kw_keep_text(r, &q, 4, &failed),
                                                           .calibrated = kw_int_or(&q, 5, KW_NONE),
                                                           .valid_until = kw_int_or(&q, 6, KW_NONE)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}

static bool is_bad(const struct kw_calibration_row *row)
{
        return row->found && strcmp(row->found, "bad") == 0;
}

int64_t kw_doubtful_since(const struct kw_calibration_row *rows, size_t i)
{
        while (i-- > 0)
                if (!is_bad(&rows[i]) && rows[i].calibrated != KW_NONE)
                        return rows[i].calibrated;
        return KW_NONE;
}

int64_t kw_doubtful_until(const struct kw_calibration_row *rows, size_t n, size_t i)
{
        while (++i < n)
                if (!is_bad(&rows[i]) && rows[i].calibrated != KW_NONE)
                        return rows[i].calibrated;
        return KW_NONE;
}

int kw_read_outside(struct kw_reader *r, const char *code, size_t most, const struct kw_outside_row **out, size_t *n)
{
        struct kw_list list = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q,
                        "SELECT t.code, l.code, t.at, t.seq FROM test t JOIN lot l ON l.id = t.lot"
                        " WHERE t.instrument = ?1 AND EXISTS"
                        " (SELECT 1 FROM finding f WHERE f.seq = t.seq AND f.code = 'out-of-calibration')"
                        " ORDER BY t.at DESC, t.seq DESC LIMIT ?2",
                        "ti", code, (int64_t)most);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_outside_row *row = kw_list_more(&r->arena, &list, sizeof(*row));

                rc = row ? 0 : -ENOMEM;
                if (row)
                        *row = (struct kw_outside_row){kw_keep_text(r, &q, 0, &failed), kw_keep_text(r, &q, 1, &failed),
                                                       kw_int(&q, 2), kw_int(&q, 3)};
        }
        kw_end(&q);
        *out = list.at;
        *n = list.n;
        return failed ? -ENOMEM : rc;
}
