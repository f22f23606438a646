/*
 * What the kinds of entry share: codes, lots, claims and holds as they stand.
 */
#include "work.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const struct kw_kind kw_kinds[] = {
        {"heat", kw_apply_heat},         {"supply", kw_apply_supply},
        {"receive", kw_apply_receive},   {"batch", kw_apply_batch},
        {"run", kw_apply_run},           {"test", kw_apply_test},
        {"hold", kw_apply_hold},         {"release", kw_apply_release},
        {"scrap", kw_apply_scrap},       {"certify", kw_apply_certify},
        {"withdraw", kw_apply_withdraw}, {"dispatch", kw_apply_dispatch},
        {"order", kw_apply_order},       {"open", kw_apply_open},
        {"load", kw_apply_load},         {"doff", kw_apply_doff},
        {"close", kw_apply_close},       {"move", kw_apply_move},
        {"note", kw_apply_note},         {"instrument", kw_apply_instrument},
        {"spec", kw_apply_spec},         {"person", kw_apply_person},
        {"terminal", kw_apply_terminal}, {"token", kw_apply_token},
        {"access", kw_apply_access},     {"agree", kw_apply_agree},
        {"drill", kw_apply_drill},       {"sample", kw_apply_drill},
        {"clear", kw_apply_clear},       {NULL, NULL},
};

const struct kw_kind *kw_kind(const char *name)
{
        for (const struct kw_kind *k = kw_kinds; k->name; k++)
                if (strcmp(k->name, name) == 0)
                        return k;
        return NULL;
}

static const struct {
        const char *type;
        enum kw_refusal unknown;
} types[] = {
        {"heat", KW_UNKNOWN_HEAT},
        {"supply", KW_UNKNOWN_SUPPLY},
        {"lot", KW_UNKNOWN_LOT},
        {"batch", KW_UNKNOWN_BATCH},
        {"run", KW_UNKNOWN_RUN},
        {"weld", KW_UNKNOWN_WELD},
        {"test", KW_UNKNOWN_TEST},
        {"hold", KW_UNKNOWN_HOLD},
        {"certificate", KW_UNKNOWN_CERTIFICATE},
        {"consignment", KW_UNKNOWN_CONSIGNMENT},
        {"order", KW_UNKNOWN_ORDER},
};

int kw_need(struct kw_work *w, const char *type, const char *code, const char *pointer, int64_t *id)
{
        int rc = kw_thing_id(w->l, type, code, id);

        if (rc || *id)
                return rc;
        for (size_t i = 0; i < sizeof(types) / sizeof(types[0]); i++)
                if (strcmp(types[i].type, type) == 0)
                        return kw_refuse_with(w->err, types[i].unknown, pointer, NULL, KW_VALUES(KW_WORD("code", code)),
                                              "there is no %s %s in the ledger", type, code);
        return kw_refuse(w->err, KW_BAD_VALUE, pointer, "there is nothing of type %s", type);
}

int kw_define(struct kw_work *w, const char *type, const char *code, const char *pointer, int64_t id)
{
        int64_t seq;
        int rc = kw_do(w->l,
                       "INSERT INTO thing (type, code, id, seq) VALUES (?1, ?2, ?3, ?4)"
                       " ON CONFLICT (type, code) DO NOTHING",
                       "ttii", type, code, id, w->seq);

        if (rc || kw_changed(w->l))
                return rc;
        rc = kw_one(w->l, &seq, 0, "SELECT seq FROM thing WHERE type = ?1 AND code = ?2", "tt", type, code);
        if (rc)
                return rc;
        return kw_refuse_with(w->err, KW_CODE_TAKEN, pointer, NULL,
                              KW_VALUES(KW_WORD("code", code), KW_WORD("type", type), KW_FIGURE("seq", seq)),
                              "the code %s is in use for another %s (entry %" PRId64 "); a code is never used twice",
                              code, type, seq);
}

/* Why a person went on in spite of the warning, or NULL. */
static const char *accepted(const cJSON *body, const char *code)
{
        const cJSON *one;

        cJSON_ArrayForEach(one, kw_json_get(body, "accepted"))
        {
                if (strcmp(kw_json_text(one, "code"), code) == 0)
                        return kw_json_text(one, "reason");
        }
        return NULL;
}

static int insert_finding(struct kw_work *w, const char *code, const char *text, struct kw_said *said)
{
        const char *reason = accepted(w->body, code);
        struct kw_buf full = {0}, values = {0};
        int rc;

        kw_buf_text_add(&full, text);
        if (reason) {
                kw_buf_printf(&full, "; accepted: %s", reason);
                kw_said_add(said, (struct kw_value)KW_WORD("accepted", reason));
        }
        kw_put_said(&values, NULL, said);
        rc = values.failed || full.failed
                     ? -ENOMEM
                     : kw_do(w->l, "INSERT INTO finding (seq, ord, code, text, said) VALUES (?1, ?2, ?3, ?4, ?5)",
                             "iittt", w->seq, (int64_t)w->findings++, code, kw_buf_text(&full), kw_buf_text(&values));
        kw_buf_free(&full);
        kw_buf_free(&values);
        return rc;
}

int kw_finding(struct kw_work *w, const char *code, const char *text)
{
        struct kw_said said;

        kw_said_set(&said, NULL, NULL);
        return insert_finding(w, code, text, &said);
}

int kw_finding_with(struct kw_work *w, const char *code, const char *as, const struct kw_value *values, const char *fmt,
                    ...)
{
        char text[KW_FINDING_TEXT];
        struct kw_said said;
        va_list args;

        va_start(args, fmt);
        vsnprintf(text, sizeof(text), fmt, args);
        va_end(args);
        kw_text_trim(text);
        kw_said_set(&said, as, values);
        return insert_finding(w, code, text, &said);
}

int kw_finding_odd(struct kw_work *w, const char *code, const struct kw_odd *odd)
{
        struct kw_said said = odd->said;

        return insert_finding(w, code, odd->text, &said);
}

const int64_t *kw_seconds(const cJSON *object, const char *name, int64_t *room)
{
        const char *text = kw_json_text(object, name);

        return text && kw_stamp_read(text, room) == 0 ? room : NULL;
}

const int64_t *kw_maybe(const cJSON *object, const char *name, int64_t *room)
{
        if (!kw_json_get(object, name))
                return NULL;
        *room = kw_json_int(object, name, 0);
        return room;
}

/* --- lots ------------------------------------------------------------------------------------- */

#define LOT_HERE                                                                                                  \
        "lot.id, lot.seq, lot.code, kind, length_mm, ifnull(mass_g, -1), ifnull(diameter_um, 0), ifnull(run, 0)," \
        " ifnull(s0, 0), depth"

/* The row of LOT_HERE. Return: 0; -ENOENT; a negative errno. */
static int take_lot(struct kw_ledger *l, struct kw_query *q, struct kw_lot_here *out)
{
        int rc = kw_next(l, q);

        if (rc == 1) {
                memset(out, 0, sizeof(*out));
                out->id = kw_int(q, 0);
                out->seq = kw_int(q, 1);
                snprintf(out->code, sizeof(out->code), "%s", kw_text(q, 2));
                snprintf(out->kind, sizeof(out->kind), "%s", kw_text(q, 3));
                out->length_mm = kw_int(q, 4);
                out->mass_g = kw_int(q, 5);
                out->diameter_um = kw_int(q, 6);
                out->run = kw_int(q, 7);
                out->s0 = kw_int(q, 8);
                out->depth = (uint32_t)kw_int(q, 9);
                rc = 0;
        } else if (rc == 0) {
                rc = -ENOENT;
        }
        kw_end(q);
        return rc;
}

int kw_lot_by_id(struct kw_ledger *l, int64_t id, struct kw_lot_here *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT " LOT_HERE " FROM lot WHERE id = ?1", "i", id);

        return rc ? rc : take_lot(l, &q, out);
}

int kw_need_lot(struct kw_work *w, const char *code, const char *pointer, struct kw_lot_here *out)
{
        struct kw_query q;
        int64_t none;
        int rc = kw_ask(w->l, &q,
                        "SELECT " LOT_HERE " FROM thing JOIN lot ON lot.id = thing.id"
                        " WHERE thing.type = 'lot' AND thing.code = ?1",
                        "t", code);

        rc = rc ? rc : take_lot(w->l, &q, out);
        if (rc != -ENOENT)
                return rc;
        rc = kw_need(w, "lot", code, pointer, &none);
        return rc ? rc : -ENOENT; /* a code without its lot */
}

static int add_claims(struct kw_ledger *l, struct kw_query *q, struct kw_stock *stock, const char *fmt)
{
        char name[KW_CLAIM_NAME];
        int rc;

        while ((rc = kw_next(l, q)) == 1) {
                const char *what = kw_text(q, 2), *code = kw_text(q, 3);

                if (strcmp(fmt, "run") == 0)
                        snprintf(name, sizeof(name), "run %s", code);
                else if (strcmp(what, "sample") == 0)
                        snprintf(name, sizeof(name), "the sample of test %s", code);
                else if (strcmp(what, "dispatch") == 0)
                        snprintf(name, sizeof(name), "consignment %s, which has left", code);
                else
                        snprintf(name, sizeof(name), "scrap (entry %" PRId64 ")", kw_int(q, 4));
                rc = kw_stock_claim(stock, kw_int(q, 0), kw_int(q, 1), name, NULL);
                if (rc)
                        break;
        }
        kw_end(q);
        /* claims were checked when they were made: one that does not fit is a damaged table */
        return rc > 0 ? -EIO : rc;
}

int kw_stock_load(struct kw_ledger *l, const struct kw_lot_here *lot, struct kw_stock *stock)
{
        struct kw_query q;
        int rc;

        memset(stock, 0, sizeof(*stock));
        stock->code = lot->code;
        stock->length_mm = lot->length_mm;
        rc = kw_ask(l, &q,
                    "SELECT feed.from_mm, feed.to_mm, 'feed', run.code FROM feed JOIN run ON run.id = feed.run"
                    " WHERE feed.lot = ?1 ORDER BY feed.from_mm",
                    "i", lot->id);
        if (rc == 0)
                rc = add_claims(l, &q, stock, "run");
        if (rc == 0)
                rc = kw_ask(l, &q, "SELECT from_mm, to_mm, what, code, seq FROM taken WHERE lot = ?1 ORDER BY from_mm",
                            "i", lot->id);
        if (rc == 0)
                rc = add_claims(l, &q, stock, "taken");
        if (rc)
                kw_stock_free(stock);
        return rc;
}

int kw_take_rows(struct kw_work *w, int64_t lot, const struct kw_spans *pieces, const char *what, const char *code)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < pieces->n; i++)
                rc = kw_do(w->l,
                           "INSERT INTO taken (lot, from_mm, to_mm, what, code, at, seq) VALUES (?1, ?2, ?3, ?4, ?5, "
                           "?6, ?7)",
                           "iiittii", lot, pieces->at[i].from, pieces->at[i].to, what, code, w->at, w->seq);
        return rc;
}

int kw_item_span(struct kw_work *w, const cJSON *item, const char *pointer, const struct kw_lot_here *lot,
                 struct kw_span *out, bool *whole)
{
        char at[KW_ITEM_POINTER + 16];
        bool none = !kw_json_get(item, "from_mm");

        if (whole)
                *whole = none;
        out->from = kw_json_int(item, "from_mm", 0);
        out->to = kw_json_int(item, "to_mm", lot->length_mm);
        if (out->to <= lot->length_mm)
                return 0;
        snprintf(at, sizeof(at), "%s/to_mm", pointer);
        return kw_refuse_with(w->err, KW_OUT_OF_RANGE, at, "interval",
                              KW_VALUES(KW_WORD("lot", lot->code), KW_FIGURE("length_mm", lot->length_mm),
                                        KW_FIGURE("from_mm", out->from), KW_FIGURE("to_mm", out->to)),
                              "%s is %" PRId64 " mm long; %" PRId64 " to %" PRId64 " mm is not a length of it",
                              lot->code, lot->length_mm, out->from, out->to);
}
