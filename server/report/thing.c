/*
 * A thing of any type: the entry that made it, as it stands, and what it leads to.
 */
#include "put.h"

/* The entry that made the thing, with the body that stands for it. */
static int put_entry_of(struct kw_reader *r, int64_t seq, struct kw_buf *out)
{
        struct kw_entry_row entry;
        const char *body;
        int rc;

        if (!seq) {
                kw_put_null(out, "entry");
                return 0;
        }
        rc = kw_read_entry(r, seq, &entry, NULL);
        if (rc == 0)
                rc = kw_read_standing_body(r, &entry, &body);
        if (rc)
                return rc;
        kw_put_object(out, "entry");
        kw_put_entry_head(out, &entry);
        kw_put_raw(out, "body", body ? body : "null");
        kw_put_string(out, "standing", kw_standing_text(entry.standing));
        kw_put_corrections(out, &entry);
        kw_put_object_end(out);
        return 0;
}

static int put_links(struct kw_reader *r, const struct kw_thing_row *thing, struct kw_buf *out)
{
        const struct kw_link_row *links;
        size_t n;
        int rc = kw_read_links(r, thing, &links, &n);

        kw_put_array(out, "links");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "rel", links[i].rel);
                kw_put_string(out, "type", links[i].type);
                kw_put_string(out, "code", links[i].code);
                kw_put_few(out, &links[i].few);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        return rc;
}

static int answer_thing(struct kw_reader *r, const char *type, const char *code, struct kw_buf *out,
                        struct kw_error *err)
{
        const struct kw_note_row *notes;
        const struct kw_finding_row *findings;
        struct kw_thing_row thing;
        size_t n_notes, n_findings;
        int rc = kw_read_thing(r, type, code, &thing, err);

        if (rc == 0)
                rc = kw_read_notes(r, type, code, &notes, &n_notes);
        if (rc == 0)
                rc = kw_read_findings_of(r, thing.seq, 0, &findings, &n_findings);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "type", thing.type);
        kw_put_string(out, "code", thing.code);
        kw_put_few(out, &thing.few);
        rc = put_entry_of(r, thing.seq, out);
        if (rc == 0)
                rc = put_links(r, &thing, out);
        kw_put_notes(out, notes, n_notes);
        kw_put_findings(out, findings, n_findings, false);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_thing(struct kw_ledger *ledger, const char *type, const char *code, struct kw_buf *out,
                    struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer_thing(r, type, code, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}
