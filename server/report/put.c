/*
 * The small pieces that every answer is written with.
 */
#include "put.h"

#include "ledger/read/quality.h"

#include "kinwire/metal.h"

#include <ctype.h>
#include <errno.h>
#include <string.h>

void kw_put_number(struct kw_buf *b, const char *name, int64_t value)
{
        if (value == KW_NONE)
                kw_put_null(b, name);
        else
                kw_put_int(b, name, value);
}

void kw_put_time(struct kw_buf *b, const char *name, int64_t seconds)
{
        char stamp[KW_STAMP_LEN + 1];

        if (seconds == KW_NONE) {
                kw_put_null(b, name);
                return;
        }
        kw_stamp_write(seconds, stamp);
        kw_put_string(b, name, stamp);
}

void kw_put_spans(struct kw_buf *b, const char *name, const struct kw_spans *spans)
{
        kw_put_array(b, name);
        for (size_t i = 0; i < spans->n; i++)
                kw_put_span(b, NULL, spans->at[i].from, spans->at[i].to);
        kw_put_array_end(b);
}

void kw_put_few(struct kw_buf *b, const struct kw_few_words *few)
{
        kw_put_string(b, "text", few->text);
        if (few->kind) {
                kw_put_string(b, "kind", few->kind);
                kw_put_int(b, "length_mm", few->length_mm);
        }
        if (few->process)
                kw_put_string(b, "process", few->process);
        if (few->machine)
                kw_put_string(b, "machine", few->machine);
}

void kw_put_texts(struct kw_buf *b, const char *name, const char *const *texts, size_t n)
{
        kw_put_array(b, name);
        for (size_t i = 0; i < n; i++)
                kw_put_string(b, NULL, texts[i]);
        kw_put_array_end(b);
}

int64_t kw_part_mass(const struct kw_lot_row *lot, int64_t part_mm)
{
        if (lot->mass_g == KW_NONE || lot->length_mm <= 0)
                return KW_NONE;
        return kw_share(lot->mass_g, part_mm, lot->length_mm);
}

void kw_put_head(struct kw_buf *b, const char *name, const struct kw_head *head)
{
        char hex[KW_HASH_HEX];

        kw_hash_hex(&head->root, hex);
        kw_put_object(b, name);
        kw_put_int(b, "size", head->size);
        kw_put_string(b, "root", hex);
        kw_put_object_end(b);
}

void kw_put_notes(struct kw_buf *b, const struct kw_note_row *notes, size_t n)
{
        kw_put_array(b, "notes");
        for (size_t i = 0; i < n; i++) {
                kw_put_object(b, NULL);
                kw_put_int(b, "seq", notes[i].seq);
                kw_put_time(b, "at", notes[i].at);
                kw_put_string(b, "by", notes[i].by);
                kw_put_string(b, "text", notes[i].text);
                kw_put_object_end(b);
        }
        kw_put_array_end(b);
}

void kw_put_findings(struct kw_buf *b, const struct kw_finding_row *findings, size_t n, bool whole)
{
        kw_put_array(b, "findings");
        for (size_t i = 0; i < n; i++) {
                kw_put_object(b, NULL);
                kw_put_int(b, "seq", findings[i].seq);
                kw_put_string(b, "code", findings[i].code);
                kw_put_string(b, "text", findings[i].text);
                kw_put_raw(b, "values", findings[i].said);
                if (whole) {
                        kw_put_time(b, "at", findings[i].at);
                        kw_put_string(b, "about", findings[i].about);
                }
                kw_put_object_end(b);
        }
        kw_put_array_end(b);
}

void kw_put_entry_head(struct kw_buf *out, const struct kw_entry_row *e)
{
        kw_put_int(out, "seq", e->seq);
        kw_put_string(out, "key", e->key);
        kw_put_string(out, "kind", e->kind);
        kw_put_string(out, "at", e->at);
        kw_put_string(out, "logged", e->logged);
        kw_put_string(out, "by", e->by);
        kw_put_string(out, "terminal", e->terminal);
}

void kw_put_corrections(struct kw_buf *out, const struct kw_entry_row *e)
{
        kw_put_array(out, "corrections");
        for (size_t i = 0; i < e->n_corrections; i++) {
                kw_put_object(out, NULL);
                kw_put_int(out, "seq", e->corrections[i].seq);
                kw_put_string(out, "reason", e->corrections[i].reason);
                kw_put_bool(out, "void", e->corrections[i].is_void);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

void kw_as_code(const char *text, char *code, size_t size)
{
        size_t n;

        while (isspace((unsigned char)*text))
                text++;
        for (n = 0; n + 1 < size && text[n]; n++)
                code[n] = (char)toupper((unsigned char)text[n]);
        while (n && isspace((unsigned char)code[n - 1]))
                n--;
        code[n] = '\0';
}

int kw_each_code(const char *codes, size_t most, int (*fn)(void *ctx, const char *code), void *ctx,
                 struct kw_error *err)
{
        size_t n = 0;
        int rc = 0;

        for (const char *at = codes; rc == 0 && *at;) {
                size_t len = strcspn(at, ",");
                char given[KW_CODE_MAX + 2], code[KW_CODE_MAX + 1];

                if (len > KW_CODE_MAX || ++n > most)
                        return kw_refuse_with(err, KW_BAD_REQUEST, "", "codes",
                                              KW_VALUES(KW_FIGURE("most", (int64_t)most)),
                                              "at most %zu codes with commas between them", most);
                memcpy(given, at, len);
                given[len] = '\0';
                kw_as_code(given, code, sizeof(code));
                if (*code)
                        rc = fn(ctx, code);
                at += len + (at[len] == ',');
        }
        return rc;
}

int kw_finish(struct kw_reader *r, struct kw_buf *out, int rc, struct kw_error *err)
{
        if (rc == 0 && out->failed)
                return -ENOMEM;
        return r ? kw_reader_failed(r, rc, err) : rc;
}

void kw_put_margins(struct kw_buf *b, const struct kw_margin_row *rows, size_t n)
{
        kw_put_array(b, "margins");
        for (size_t i = 0; i < n; i++) {
                kw_put_object(b, NULL);
                kw_put_string(b, "property", rows[i].property);
                kw_put_int(b, "value", rows[i].value);
                kw_put_number(b, "min", rows[i].limit.min);
                kw_put_number(b, "max", rows[i].limit.max);
                kw_put_int(b, "margin", rows[i].margin);
                kw_put_object_end(b);
        }
        kw_put_array_end(b);
}

int kw_answer_of(struct kw_ledger *ledger, const char *code, kw_answer_fn *answer, struct kw_buf *out,
                 struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer(r, code, out, err);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}
