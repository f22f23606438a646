/*
 * Everything on one lot: what it is, what is left, where it came from and where it went, and its papers.
 */
#include "put.h"

#include "ledger/read/certify.h"
#include "ledger/read/quality.h"

#include <errno.h>

static int put_identity(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        struct kw_source_row source;
        int rc = kw_read_source(r, lot, &source);

        if (rc)
                return rc;
        kw_put_string(out, "lot", lot->code);
        kw_put_string(out, "kind", lot->kind);
        kw_put_int(out, "length_mm", lot->length_mm);
        kw_put_string(out, "length_from", lot->length_from);
        kw_put_number(out, "mass_g", lot->mass_g);
        kw_put_string(out, "mass_from", lot->mass_from);
        kw_put_number(out, "diameter_um", lot->diameter_um);
        kw_put_string(out, "construction", lot->construction);
        kw_put_string(out, "grade", source.grade);
        kw_put_number(out, "tensile_grade_kpa", lot->tensile_kpa);
        kw_put_string(out, "heat", source.heat);
        kw_put_string(out, "supply", source.supply);
        kw_put_string(out, "order", lot->order);
        kw_put_raw(out, "measured_um", lot->measured ? lot->measured : "[]");
        return 0;
}

static int put_state(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        struct kw_lot_state state;
        int rc = kw_read_state(r, lot, &state);

        if (rc)
                return rc;
        kw_put_string(out, "location", state.location);
        kw_put_string(out, "state", kw_lot_is_text(state.is));
        kw_put_spans(out, "left", &state.left);
        kw_put_int(out, "left_mm", state.left_mm);
        kw_put_number(out, "left_g", kw_part_mass(lot, state.left_mm));
        if (!state.consignment) {
                kw_put_null(out, "consignment");
                return 0;
        }
        kw_put_object(out, "consignment");
        kw_put_string(out, "consignment", state.consignment);
        kw_put_string(out, "consignee", state.consignee);
        kw_put_time(out, "at", state.dispatched);
        kw_put_object_end(out);
        return 0;
}

/* Received from outside, or made by a run: one of the two is null. */
static int put_from(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_run_row *run;
        const char *batch;
        int rc = kw_read_run(r, lot->run, &run);

        if (rc == 0)
                rc = kw_read_code(r, KW_NAMED_BATCH, run ? run->batch : 0, &batch);
        if (rc)
                return rc;
        if (!run) {
                kw_put_object(out, "received");
                kw_put_time(out, "at", lot->at);
                kw_put_int(out, "seq", lot->seq);
                kw_put_object_end(out);
                kw_put_null(out, "from");
                return 0;
        }
        kw_put_null(out, "received");
        kw_put_object(out, "from");
        kw_put_string(out, "run", run->code);
        kw_put_string(out, "process", run->process);
        kw_put_string(out, "machine", run->machine);
        kw_put_time(out, "started", run->started);
        kw_put_time(out, "ended", run->ended);
        kw_put_time(out, "at", run->at);
        kw_put_int(out, "s0", lot->s0);
        kw_put_int(out, "s1", lot->s0 + lot->length_mm);
        kw_put_string(out, "batch", batch);
        kw_put_object_end(out);
        return 0;
}

static int put_claim(struct kw_reader *r, const struct kw_claim_row *claim, const char *consignee, struct kw_buf *out)
{
        static const char *const what[] = {[KW_CLAIM_FEED] = "feed",
                                           [KW_CLAIM_SAMPLE] = "sample",
                                           [KW_CLAIM_SCRAP] = "scrap",
                                           [KW_CLAIM_DISPATCH] = "dispatch"};
        const struct kw_run_row *run = NULL;
        int rc = claim->run ? kw_read_run(r, claim->run, &run) : 0;

        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "what", what[claim->what]);
        kw_put_int(out, "from_mm", claim->from);
        kw_put_int(out, "to_mm", claim->to);
        if (run) {
                kw_put_string(out, "run", run->code);
                kw_put_string(out, "process", run->process);
                kw_put_string(out, "machine", run->machine);
                kw_put_string(out, "line", claim->line);
                kw_put_string(out, "off", claim->inner ? "inner" : "outer");
        } else if (claim->what == KW_CLAIM_SAMPLE) {
                kw_put_string(out, "test", claim->code);
        } else if (claim->what == KW_CLAIM_SCRAP) {
                kw_put_string(out, "reason", claim->reason);
        } else {
                kw_put_string(out, "consignment", claim->code);
                kw_put_string(out, "consignee", consignee);
        }
        kw_put_time(out, "at", claim->at);
        kw_put_object_end(out);
        return 0;
}

static int put_to(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_claim_row *claims;
        struct kw_lot_state state;
        size_t n;
        int rc = kw_read_claims(r, lot, &claims, &n);

        if (rc == 0)
                rc = kw_read_state(r, lot, &state);
        kw_put_array(out, "to");
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = put_claim(r, &claims[i], state.consignee, out);
        kw_put_array_end(out);
        return rc;
}

static int put_judged(struct kw_reader *r, const struct kw_test_row *test, struct kw_buf *out)
{
        const struct kw_margin_row *rows;
        size_t n = 0;
        int rc = test->spec ? kw_read_margins(r, test, &rows, &n) : 0;

        if (rc || !test->spec) {
                kw_put_null(out, "judged");
                return rc;
        }
        kw_put_object(out, "judged");
        kw_put_string(out, "spec", test->spec_code);
        kw_put_int(out, "version", test->spec_version);
        kw_put_string(out, "verdict", test->judged);
        kw_put_margins(out, rows, n);
        kw_put_object_end(out);
        return 0;
}

static int put_test(struct kw_reader *r, const struct kw_test_row *test, struct kw_buf *out)
{
        int rc;

        kw_put_object(out, NULL);
        kw_put_string(out, "test", test->code);
        kw_put_number(out, "at_mm", test->at_mm);
        kw_put_number(out, "sample_mm", test->sample_mm);
        kw_put_string(out, "instrument", test->instrument);
        kw_put_string(out, "retest_of", test->retest_of);
        kw_put_string(out, "verdict", test->verdict);
        kw_put_string(out, "said", test->said);
        rc = put_judged(r, test, out);
        kw_put_time(out, "at", test->at);
        kw_put_object(out, "results");
        for (size_t i = 0; i < test->n_results; i++)
                kw_put_int(out, test->results[i].property, test->results[i].value);
        kw_put_object_end(out);
        kw_put_object_end(out);
        return rc;
}

static int put_tests(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_test_row *tests;
        size_t n;
        int rc = kw_read_tests_of(r, lot->id, &tests, &n);

        kw_put_array(out, "tests");
        for (size_t i = 0; rc == 0 && i < n; i++)
                rc = put_test(r, &tests[i], out);
        kw_put_array_end(out);
        return rc;
}

static void put_hold(const struct kw_hold_row *hold, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "hold", hold->code);
        kw_put_string(out, "reason", hold->reason);
        kw_put_time(out, "at", hold->at);
        kw_put_bool(out, "open", hold->open.n > 0);
        kw_put_spans(out, "spans", &hold->spans);
        kw_put_spans(out, "open_spans", &hold->open);
        kw_put_array(out, "released");
        for (size_t i = 0; i < hold->n_freed; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "disposition", hold->freed[i].disposition);
                kw_put_works(out, "into", hold->freed[i].works);
                kw_put_string(out, "grade", hold->freed[i].grade);
                kw_put_string(out, "reason", hold->freed[i].reason);
                kw_put_time(out, "at", hold->freed[i].at);
                kw_put_spans(out, "spans", &hold->freed[i].spans);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
}

static int put_holds(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_hold_row *holds;
        size_t n;
        int rc = kw_read_holds_on(r, lot->id, &holds, &n);

        kw_put_array(out, "holds");
        for (size_t i = 0; rc == 0 && i < n; i++)
                put_hold(&holds[i], out);
        kw_put_array_end(out);
        return rc;
}

/* Whether it stands, and what speaks against it. */
static int put_standing(struct kw_reader *r, const char *code, struct kw_buf *out)
{
        const struct kw_certificate_whole_row *c;
        struct kw_error none;
        int rc = kw_read_certificate(r, code, &c, &none);

        if (rc)
                return rc > 0 ? -EIO : rc;
        kw_put_string(out, "state", kw_certificate_is_text(c->is));
        kw_put_string(out, "replaces", c->replaces);
        kw_put_string(out, "replaced_by", c->replaced_by);
        kw_put_marks(out, c);
        return 0;
}

static int put_certificates(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_certificate_row *rows;
        size_t n;
        int rc = kw_read_certificates_of(r, lot->id, &rows, &n);

        kw_put_array(out, "certificates");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "certificate", rows[i].code);
                kw_put_string(out, "type", rows[i].type);
                kw_put_time(out, "at", rows[i].at);
                if (rows[i].withdrawn == KW_NONE) {
                        kw_put_null(out, "withdrawn");
                } else {
                        kw_put_object(out, "withdrawn");
                        kw_put_time(out, "at", rows[i].withdrawn);
                        kw_put_string(out, "reason", rows[i].withdrawn_reason);
                        kw_put_object_end(out);
                }
                rc = put_standing(r, rows[i].code, out);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

/* One element for each length that a batch treated. */
static int put_batches(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_treatment_row *rows;
        size_t n;
        int rc = kw_read_batches_of(r, lot, &rows, &n);

        kw_put_array(out, "batches");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                for (size_t k = 0; k < rows[i].spans.n; k++) {
                        kw_put_object(out, NULL);
                        kw_put_string(out, "batch", rows[i].code);
                        kw_put_string(out, "process", rows[i].process);
                        kw_put_string(out, "machine", rows[i].machine);
                        kw_put_time(out, "started", rows[i].started);
                        kw_put_time(out, "ended", rows[i].ended);
                        kw_put_int(out, "from_mm", rows[i].spans.at[k].from);
                        kw_put_int(out, "to_mm", rows[i].spans.at[k].to);
                        kw_put_object_end(out);
                }
        }
        kw_put_array_end(out);
        return rc;
}

static int put_margin(struct kw_reader *r, const struct kw_lot_row *lot, struct kw_buf *out)
{
        const struct kw_note_row *notes;
        const struct kw_finding_row *findings;
        struct kw_entry_row entry;
        size_t n_notes, n_findings;
        int rc = kw_read_notes(r, "lot", lot->code, &notes, &n_notes);

        if (rc == 0)
                rc = kw_read_findings_of(r, lot->seq, lot->id, &findings, &n_findings);
        if (rc == 0)
                rc = kw_read_entry(r, lot->seq, &entry, NULL);
        if (rc)
                return rc;
        kw_put_notes(out, notes, n_notes);
        kw_put_findings(out, findings, n_findings, false);
        kw_put_object(out, "entry");
        kw_put_int(out, "seq", entry.seq);
        kw_put_string(out, "key", entry.key);
        kw_put_string(out, "kind", entry.kind);
        kw_put_bool(out, "corrected", entry.standing == KW_CORRECTED);
        kw_put_object_end(out);
        return 0;
}

static int answer(struct kw_ledger *ledger, struct kw_reader *r, const char *code, struct kw_buf *out,
                  struct kw_error *err)
{
        static int (*const parts[])(struct kw_reader *, const struct kw_lot_row *, struct kw_buf *) = {
                put_identity, put_state,        put_from,    put_to,    put_tests,
                put_holds,    put_certificates, put_batches, put_margin};
        const struct kw_lot_row *lot;
        struct kw_head head;
        int rc = kw_read_lot_named(r, code, &lot, err);

        if (rc == 0)
                rc = kw_ledger_head(ledger, &head, err);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        for (size_t i = 0; rc == 0 && i < sizeof(parts) / sizeof(*parts); i++)
                rc = parts[i](r, lot, out);
        kw_put_head(out, "ledger", &head);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_lot(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0)
                rc = answer(ledger, r, lot, out, err);
        rc = r ? kw_finish(r, out, rc, err) : rc;
        kw_reader_free(r);
        return rc;
}
