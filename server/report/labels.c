/*
 * Labels of things in the ledger: which texts stand on them.
 */
#include "put.h"

#include "kinwire/label.h"
#include "ledger/read/certify.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define HEATS_ON_LABEL 12
#define HOLDS_ON_LABEL 3

/* Everything said on one label; the texts live in the reader's arena. */
struct sheet {
        struct kw_reader *r;
        const struct kw_label_question *q;
        struct kw_list labels;
        int64_t created; /* when the newest of what is labelled was logged */
};

static const char *keep(struct sheet *s, bool *failed, const char *fmt, double value)
{
        char text[64];

        snprintf(text, sizeof(text), fmt, value);
        return kw_arena_text(kw_reader_arena(s->r), text, failed);
}

/* 1 ft = 304.8 mm and 1 in = 25.4 mm, by definition. */
static const char *length_text(struct sheet *s, bool *failed, int64_t mm)
{
        return s->q->us ? keep(s, failed, "%.0f ft", (double)mm / 304.8)
                        : keep(s, failed, "%.1f m", (double)mm / 1000.0);
}

static const char *size_text(struct sheet *s, bool *failed, int64_t um)
{
        if (um == KW_NONE)
                return NULL;
        return s->q->us ? keep(s, failed, "%.4f in", (double)um / 25400.0)
                        : keep(s, failed, "%.3f mm", (double)um / 1000.0);
}

/* What a rope or strand is known by: its diameter and its construction, as far as either was said. */
static const char *made_text(struct sheet *s, bool *failed, const struct kw_lot_row *lot)
{
        const char *size = size_text(s, failed, lot->diameter_um);
        char text[1024];

        if (!lot->construction || !size)
                return size ? size : lot->construction;
        snprintf(text, sizeof(text), "%s, %s", size, lot->construction);
        kw_text_trim(text);
        return kw_arena_text(kw_reader_arena(s->r), text, failed);
}

static const char *kind_text(struct sheet *s, bool *failed, const char *kind)
{
        char text[32];

        snprintf(text, sizeof(text), "%s", kind);
        if (text[0] >= 'a' && text[0] <= 'z')
                text[0] = (char)(text[0] - 'a' + 'A');
        return kw_arena_text(kw_reader_arena(s->r), text, failed);
}

static int heats_text(struct sheet *s, const struct kw_lot_row *lot, const char **out)
{
        const char *const *codes;
        char text[HEATS_ON_LABEL * (KW_CODE_MAX + 2) + 8] = "";
        size_t n = 0, at = 0;
        bool failed = false;
        int rc = kw_read_heats_in(s->r, lot, &codes, &n);

        for (size_t i = 0; rc == 0 && i < n && i < HEATS_ON_LABEL; i++)
                at += (size_t)snprintf(text + at, sizeof(text) - at, "%s%s", i ? ", " : "", codes[i]);
        if (n > HEATS_ON_LABEL)
                snprintf(text + at, sizeof(text) - at, ", ...");
        *out = rc == 0 && n ? kw_arena_text(kw_reader_arena(s->r), text, &failed) : NULL;
        return failed ? -ENOMEM : rc;
}

/* Who logged the entry, and the day it happened. */
static int entry_texts(struct sheet *s, int64_t seq, struct kw_label *label, struct kw_error *err)
{
        struct kw_entry_row entry;
        char day[11];
        int64_t logged;
        bool failed = false;
        int rc = kw_read_entry(s->r, seq, &entry, err);

        if (rc)
                return rc;
        snprintf(day, sizeof(day), "%.10s", entry.at);
        label->date = kw_arena_text(kw_reader_arena(s->r), day, &failed);
        label->who = entry.by;
        if (kw_stamp_read(entry.logged, &logged) == 0 && logged > s->created)
                s->created = logged;
        return failed ? -ENOMEM : 0;
}

/* The unique number of a rope is that of the rope it was cut from and of its reel. */
static int rope_text(struct sheet *s, const struct kw_lot_row *lot, struct kw_label *label)
{
        const struct kw_lot_row *rope = NULL;
        const struct kw_run_row *run = NULL;
        char text[2 * KW_CODE_MAX + 8];
        bool failed = false;
        int rc = kw_read_run(s->r, lot->run, &run);

        if (rc == 0 && run && run->map.n_lines && run->map.lines[0].n_feeds)
                rc = kw_read_lot(s->r, run->map.lines[0].feeds[0].lot, &rope);
        if (rope && strcmp(rope->kind, "rope") == 0)
                snprintf(text, sizeof(text), "%s / %s", rope->code, lot->code);
        else
                snprintf(text, sizeof(text), "%s", lot->code);
        label->rope = kw_arena_text(kw_reader_arena(s->r), text, &failed);
        return failed ? -ENOMEM : rc;
}

/* --- what stands against it ------------------------------------------------------------------------------- */

static void warn(struct kw_buf *text, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

static void warn(struct kw_buf *text, const char *fmt, ...)
{
        char part[KW_CODE_MAX + 64];
        va_list ap;

        va_start(ap, fmt);
        vsnprintf(part, sizeof(part), fmt, ap);
        va_end(ap);
        kw_buf_printf(text, "%s%s", text->n ? ". " : "", part);
}

static int warn_of_holds(struct sheet *s, const struct kw_lot_row *lot, struct kw_buf *text)
{
        struct kw_lot_state state;
        int rc = kw_read_state(s->r, lot, &state);

        for (size_t i = 0; rc == 0 && i < state.n_holds; i++) {
                if (i == HOLDS_ON_LABEL) {
                        kw_buf_printf(text, " and %zu more", state.n_holds - i);
                        break;
                }
                if (i)
                        kw_buf_printf(text, ", %s", state.holds[i]);
                else
                        warn(text, "ON HOLD %s", state.holds[i]);
        }
        return rc;
}

/* A certificate that another took the place of says nothing any more; that one is looked at itself. */
static int warn_of_certificates(struct sheet *s, const struct kw_lot_row *lot, struct kw_buf *text,
                                struct kw_error *err)
{
        const struct kw_certificate_row *rows;
        size_t n;
        int rc = kw_read_certificates_of(s->r, lot->id, &rows, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_certificate_whole_row *c;

                rc = kw_read_certificate(s->r, rows[i].code, &c, err);
                if (rc || c->replaced_by)
                        continue;
                if (c->is == KW_CERTIFICATE_MARKED)
                        warn(text, "CERTIFICATE %s OVERTAKEN", c->code);
                else if (c->is == KW_CERTIFICATE_WITHDRAWN)
                        warn(text, "CERTIFICATE %s WITHDRAWN", c->code);
        }
        return rc;
}

static int warning_text(struct sheet *s, const struct kw_lot_row *lot, struct kw_label *label, struct kw_error *err)
{
        struct kw_buf text = {0};
        bool failed = false;
        int rc = warn_of_holds(s, lot, &text);

        if (rc == 0 && label->what == KW_LABEL_REEL)
                rc = warn_of_certificates(s, lot, &text, err);
        if (rc == 0 && text.n)
                label->warning = kw_arena_text(kw_reader_arena(s->r), kw_buf_text(&text), &failed);
        failed = failed || text.failed;
        kw_buf_free(&text);
        return failed ? -ENOMEM : rc;
}

static int label_lot(struct sheet *s, const char *code, struct kw_label *label, struct kw_error *err)
{
        const struct kw_lot_row *lot;
        bool failed = false;
        int rc = kw_read_lot_named(s->r, code, &lot, err);

        if (rc)
                return rc;
        label->what = strcmp(lot->kind, "reel") == 0 ? KW_LABEL_REEL : KW_LABEL_LOT;
        label->code = lot->code;
        label->kind = kind_text(s, &failed, lot->kind);
        label->size = made_text(s, &failed, lot);
        label->length = length_text(s, &failed, lot->length_mm);
        label->grade = lot->grade;
        rc = failed ? -ENOMEM : heats_text(s, lot, &label->heat);
        if (rc == 0 && label->what == KW_LABEL_REEL)
                rc = rope_text(s, lot, label);
        if (rc == 0)
                rc = warning_text(s, lot, label, err);
        return rc ? rc : entry_texts(s, lot->seq, label, err);
}

static int label_thing(struct sheet *s, const char *type, const char *code, struct kw_label *label,
                       struct kw_error *err)
{
        struct kw_thing_row thing;
        int rc = kw_read_thing(s->r, type, code, &thing, err);

        if (rc)
                return rc;
        label->what = strcmp(type, "weld") == 0 ? KW_LABEL_WELD : KW_LABEL_BATCH;
        label->code = thing.code;
        return entry_texts(s, thing.seq, label, err);
}

/* Codes with commas between them, each one label. */
static int label_all(struct sheet *s, const char *type, const char *codes, struct kw_error *err)
{
        char text[512], code[KW_CODE_MAX + 1];

        while (codes && *codes) {
                size_t n = strcspn(codes, ",");
                struct kw_label *label = kw_list_more(kw_reader_arena(s->r), &s->labels, sizeof(*label));
                int rc;

                if (!label)
                        return -ENOMEM;
                snprintf(text, sizeof(text), "%.*s", (int)(n < 511 ? n : 511), codes);
                kw_as_code(text, code, sizeof(code));
                rc = strcmp(type, "lot") == 0 ? label_lot(s, code, label, err) : label_thing(s, type, code, label, err);
                if (rc)
                        return rc;
                codes += n + (codes[n] == ',');
        }
        return 0;
}

int kw_answer_labels(struct kw_ledger *ledger, const struct kw_label_question *q, struct kw_buf *out,
                     struct kw_error *err)
{
        struct sheet s = {.q = q};
        enum kw_label_size size;
        int rc = kw_label_size_read(q->size, &size, err);

        if (rc == 0)
                rc = kw_reader_new(ledger, &s.r);
        if (rc)
                return rc;
        rc = label_all(&s, "lot", q->lots, err);
        if (rc == 0)
                rc = label_all(&s, "weld", q->welds, err);
        if (rc == 0)
                rc = label_all(&s, "batch", q->batches, err);
        if (rc == 0 && !s.labels.n)
                rc = kw_refuse_with(err, KW_BAD_REQUEST, "", "labels", NULL,
                                    "say which lots, welds or batches the labels are for");
        if (rc == 0)
                rc = q->pdf ? kw_labels_pdf(s.labels.at, s.labels.n, size, NULL, s.created, out, err)
                            : kw_labels_svg(s.labels.at, s.labels.n, size, out, err);
        rc = kw_finish(s.r, out, rc, err);
        kw_reader_free(s.r);
        return rc;
}
