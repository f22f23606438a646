/*
 * Entries as they were sent and as they stand: the ledger page, one entry, a thing of any type, and what to find by a
 * code.
 */
#include "put.h"

#include <string.h>

#include <ctype.h>
#include <errno.h>
#include <string.h>

#define ENTRIES_DEFAULT 50
#define ENTRIES_MOST    1000

static int answer_entries(struct kw_reader *r, const struct kw_entry_filter *f, const struct kw_head *head,
                          struct kw_buf *out)
{
        char code[KW_CODE_MAX + 2]; /* one more than a code has, so that a longer one finds nothing */
        const struct kw_entries_wanted wanted = {.before = f->before,
                                                 .limit = f->limit <= 0             ? ENTRIES_DEFAULT
                                                          : f->limit > ENTRIES_MOST ? ENTRIES_MOST
                                                                                    : (size_t)f->limit,
                                                 .kind = f->kind,
                                                 .by = f->by,
                                                 .code = f->code ? code : NULL};
        const struct kw_entry_row *rows;
        size_t n;
        int64_t next;
        int rc;

        if (f->code)
                kw_as_code(f->code, code, sizeof(code));
        rc = kw_read_entries(r, &wanted, &rows, &n, &next);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_int(out, "size", head->size);
        kw_put_array(out, "entries");
        for (size_t i = 0; i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_entry_head(out, &rows[i]);
                kw_put_raw(out, "body", rows[i].body);
                kw_put_string(out, "standing", kw_standing_text(rows[i].standing));
                kw_put_findings(out, rows[i].findings, rows[i].n_findings, false);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_number(out, "next", next ? next : KW_NONE);
        kw_put_object_end(out);
        return 0;
}

static bool is_kind(const char *name)
{
        for (size_t i = 0; kw_kind_name(i); i++) {
                if (strcmp(kw_kind_name(i), name) == 0)
                        return true;
        }
        return false;
}

int kw_answer_entries(struct kw_ledger *ledger, const struct kw_entry_filter *filter, struct kw_buf *out,
                      struct kw_error *err)
{
        struct kw_reader *r = NULL;
        struct kw_head head;
        int rc;

        if (filter->kind && !is_kind(filter->kind))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "choice", KW_VALUES(KW_WORD("text", filter->kind)),
                                      "'%.40s' is not a kind of entry", filter->kind);
        rc = kw_ledger_head(ledger, &head, err);
        if (rc == 0)
                rc = kw_reader_new(ledger, &r);
        if (r) {
                rc = answer_entries(r, filter, &head, out);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}

static int answer_entry(struct kw_reader *r, int64_t seq, struct kw_buf *out, struct kw_error *err)
{
        struct kw_entry_row entry;
        char hex[KW_HASH_HEX];
        int rc = kw_read_entry(r, seq, &entry, err);

        if (rc)
                return rc;
        kw_hash_hex(&entry.hash, hex);
        kw_put_object(out, NULL);
        kw_put_entry_head(out, &entry);
        kw_put_raw(out, "body", entry.body);
        kw_put_string(out, "standing", kw_standing_text(entry.standing));
        kw_put_findings(out, entry.findings, entry.n_findings, false);
        kw_put_string(out, "leaf", entry.leaf);
        kw_put_string(out, "hash", hex);
        kw_put_corrections(out, &entry);
        kw_put_object_end(out);
        return 0;
}

int kw_answer_entry(struct kw_ledger *ledger, int64_t seq, struct kw_buf *out, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer_entry(r, seq, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}
