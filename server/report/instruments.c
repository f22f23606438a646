/*
 * What is measured with: every instrument as it is now; one with its calibrations, the time that a bad one makes
 * doubtful, and the tests that were made while none held.
 */
#include "put.h"

#include "ledger/read/quality.h"

#include <string.h>

#define OUTSIDE_SHOWN 200

int kw_answer_instruments(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_instrument_row *rows;
        struct kw_reader *r = NULL;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = kw_read_instruments(r, &rows, &n);
        kw_put_object(out, NULL);
        kw_put_array(out, "instruments");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "instrument", rows[i].code);
                kw_put_string(out, "what", rows[i].what);
                kw_put_time(out, "calibrated", rows[i].calibrated);
                kw_put_time(out, "valid_until", rows[i].valid_until);
                kw_put_string(out, "found", rows[i].found);
                kw_put_string(out, "note", rows[i].note);
                kw_put_time(out, "last_used", rows[i].last_used);
                kw_put_int(out, "entries", rows[i].entries);
                kw_put_int(out, "entry", rows[i].seq);
                kw_put_time(out, "at", rows[i].at);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}

static void put_calibration(const struct kw_calibration_row *rows, size_t n, size_t i, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_int(out, "entry", rows[i].seq);
        kw_put_time(out, "at", rows[i].at);
        kw_put_time(out, "calibrated", rows[i].calibrated);
        kw_put_time(out, "valid_until", rows[i].valid_until);
        kw_put_string(out, "found", rows[i].found);
        kw_put_string(out, "note", rows[i].note);
        if (rows[i].found && strcmp(rows[i].found, "bad") == 0) {
                kw_put_object(out, "doubtful");
                kw_put_time(out, "since", kw_doubtful_since(rows, i));
                kw_put_time(out, "until", kw_doubtful_until(rows, n, i));
                kw_put_object_end(out);
        } else {
                kw_put_null(out, "doubtful");
        }
        kw_put_object_end(out);
}

static int put_outside(struct kw_reader *r, const char *code, struct kw_buf *out)
{
        const struct kw_outside_row *rows;
        size_t n;
        int rc = kw_read_outside(r, code, OUTSIDE_SHOWN, &rows, &n);

        kw_put_array(out, "outside");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "test", rows[i].test);
                kw_put_string(out, "lot", rows[i].lot);
                kw_put_time(out, "at", rows[i].at);
                kw_put_int(out, "entry", rows[i].seq);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int put_one(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_calibration_row *rows;
        size_t n;
        int rc = kw_read_calibrations(r, code, &rows, &n);

        if (rc == 0 && !n)
                return kw_refuse_with(err, KW_NOT_FOUND, NULL, "says",
                                      KW_VALUES(KW_WORD("type", "instrument"), KW_WORD("code", code)),
                                      "there is no instrument %s", code);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "instrument", code);
        kw_put_string(out, "what", rows[n - 1].what);
        kw_put_array(out, "calibrations");
        for (size_t i = 0; i < n; i++)
                put_calibration(rows, n, i, out);
        kw_put_array_end(out);
        rc = put_outside(r, code, out);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_instrument(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_of(ledger, code, put_one, out, err);
}
