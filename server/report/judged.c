/*
 * A test judged by another version of a specification than the one that stood when it was made. Nothing is changed.
 */
#include "put.h"

#include "ledger/read/quality.h"

#include <inttypes.h>
#include <string.h>

static int find_test(struct kw_reader *r, const char *code, const struct kw_lot_row **lot,
                     const struct kw_test_row **test, struct kw_error *err)
{
        const struct kw_test_row *tests;
        size_t n;
        int rc = kw_read_test_lot(r, code, lot, err);

        if (rc == 0)
                rc = kw_read_tests_of(r, (*lot)->id, &tests, &n);
        for (size_t i = 0; rc == 0 && i < n; i++)
                if (strcmp(tests[i].code, code) == 0)
                        *test = &tests[i];
        return rc;
}

static int find_spec(struct kw_reader *r, const char *code, int64_t version, const struct kw_spec_row **spec,
                     struct kw_error *err)
{
        const struct kw_spec_row *specs;
        size_t n;
        int rc = kw_read_specs(r, &specs, &n);

        *spec = NULL;
        for (size_t i = 0; rc == 0 && i < n; i++)
                if (strcmp(specs[i].code, code) == 0 && (version ? specs[i].version == version : specs[i].stands))
                        *spec = &specs[i];
        if (rc || *spec)
                return rc;
        return version ? kw_refuse_with(err, KW_NOT_FOUND, NULL, "version",
                                        KW_VALUES(KW_WORD("code", code), KW_FIGURE("version", version)),
                                        "there is no version %" PRId64 " of specification %s", version, code)
                       : kw_refuse_with(err, KW_NOT_FOUND, NULL, "spec", KW_VALUES(KW_WORD("code", code)),
                                        "there is no specification %s", code);
}

/* Null where nothing that was measured is limited. */
static const char *verdict_of(const struct kw_margin_row *rows, size_t n)
{
        for (size_t i = 0; i < n; i++)
                if (rows[i].margin < 0)
                        return "fail";
        return n ? "pass" : NULL;
}

static int put_judged(struct kw_reader *r, const char *code, const char *spec_code, int64_t version, struct kw_buf *out,
                      struct kw_error *err)
{
        const struct kw_lot_row *lot;
        const struct kw_test_row *test = NULL;
        const struct kw_spec_row *spec;
        const struct kw_margin_row *rows;
        struct kw_test_row other;
        size_t n;
        int rc = find_test(r, code, &lot, &test, err);

        if (rc == 0)
                rc = find_spec(r, spec_code, version, &spec, err);
        if (rc || !test)
                return rc;
        other = *test;
        other.spec = spec->id;
        rc = kw_read_margins(r, &other, &rows, &n);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "test", test->code);
        kw_put_string(out, "lot", lot->code);
        kw_put_object(out, "recorded");
        kw_put_string(out, "verdict", test->verdict);
        kw_put_string(out, "spec", test->spec_code);
        kw_put_number(out, "version", test->spec ? test->spec_version : KW_NONE);
        kw_put_object_end(out);
        kw_put_string(out, "spec", spec->code);
        kw_put_int(out, "version", spec->version);
        kw_put_bool(out, "fits", kw_spec_is_for(spec, lot));
        kw_put_string(out, "verdict", verdict_of(rows, n));
        kw_put_margins(out, rows, n);
        kw_put_object_end(out);
        return 0;
}

int kw_answer_judged(struct kw_ledger *ledger, const char *test, const char *spec, int64_t version, struct kw_buf *out,
                     struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc)
                return rc;
        rc = put_judged(r, test, spec, version, out, err);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}
