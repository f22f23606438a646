/*
 * Certificates: an inspection document for finished reels, its withdrawal, and the clearing of what speaks against it.
 *
 * What a reel needs to be certified is said in read/complete.c, which the question "may it be certified?" asks too.
 */
#include "read/certify.h"
#include "work.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- may it be certified? ------------------------------------------------------------------------------- */

/* All sentences that fit, each whole. */
static int refuse_lacking(struct kw_work *w, const struct kw_lacking_row *rows, size_t n, const char *pointer)
{
        static const size_t room = sizeof(w->err->text) - 16;
        struct kw_buf text = {0};
        size_t i = 0;
        int rc;

        for (; i < n && kw_lack_row(rows[i].what)->bars; i++) {
                if (i && text.n + strlen(rows[i].text) + 2 > room)
                        break;
                kw_buf_printf(&text, "%s%s", i ? "; " : "", rows[i].text);
        }
        if (i < n && kw_lack_row(rows[i].what)->bars)
                kw_buf_text_add(&text, "; and more");
        rc = text.failed ? -ENOMEM : kw_refuse(w->err, KW_NOT_COMPLETE, pointer, "%s", kw_buf_text(&text));
        kw_buf_free(&text);
        return rc;
}

static int judge_reel(struct kw_work *w, struct kw_reader *r, const struct kw_certify_wanted *wanted,
                      const struct kw_lot_here *lot, const char *pointer)
{
        struct kw_span whole = {0, lot->length_mm};
        const struct kw_spans all = {.at = &whole, .n = 1, .cap = 1};
        const struct kw_lacking_row *rows;
        const struct kw_lot_row *row;
        size_t n = 0;
        int rc = kw_check_wish(w, lot, &all, &(struct kw_wish){KW_TO_CERTIFY, NULL}, pointer);

        if (rc == 0)
                rc = kw_read_lot(r, lot->id, &row);
        if (rc == 0)
                rc = kw_read_lacking(r, row, wanted, &rows, &n);
        return rc || !n || !kw_lack_row(rows[0].what)->bars ? rc : refuse_lacking(w, rows, n, pointer);
}

static int certify_reel(struct kw_work *w, struct kw_reader *r, int64_t certificate, const char *code, size_t i)
{
        const struct kw_certify_wanted wanted = {kw_document(kw_json_text(w->body, "type")),
                                                 kw_json_text(w->body, "replaces")};
        char pointer[KW_ITEM_POINTER];
        struct kw_lot_here lot;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/reels/%zu", i);
        rc = kw_need_lot(w, code, pointer, &lot);
        if (rc == 0 && w->judge)
                rc = judge_reel(w, r, &wanted, &lot, pointer);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO certificate_reel (certificate, lot, seq) VALUES (?1, ?2, ?3)", "iii",
                           certificate, lot.id, w->seq);
        return rc;
}

static int certify_test(struct kw_work *w, int64_t certificate, const char *code, size_t i)
{
        char pointer[KW_ITEM_POINTER];
        int64_t test;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/tests/%zu", i);
        rc = kw_need(w, "test", code, pointer, &test);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO certificate_test (certificate, test, seq) VALUES (?1, ?2, ?3)", "iii",
                           certificate, test, w->seq);
        return rc;
}

/* --- what it stands in for ------------------------------------------------------------------------------- */

static int judge_replaced(struct kw_work *w, struct kw_reader *r, const char *code)
{
        const struct kw_certificate_whole_row *old;
        int rc = kw_read_certificate(r, code, &old, w->err);

        if (rc)
                return rc;
        if (old->replaced_by)
                return kw_refuse_with(w->err, KW_NOT_OPEN, "/body/replaces", "replaced",
                                      KW_VALUES(KW_WORD("certificate", code), KW_WORD("by", old->replaced_by)),
                                      "certificate %s is replaced by %s already", code, old->replaced_by);
        if (old->is == KW_CERTIFICATE_STANDS)
                return kw_refuse_with(w->err, KW_NOT_COMPLETE, "/body/replaces", "stands",
                                      KW_VALUES(KW_WORD("certificate", code)),
                                      "certificate %s stands, and nothing speaks against it: withdraw it first", code);
        return 0;
}

/* @id: of the certificate that it stands in for, 0: of none */
static int find_replaced(struct kw_work *w, struct kw_reader *r, int64_t *id)
{
        const char *code = kw_json_text(w->body, "replaces");
        int rc = code ? kw_need(w, "certificate", code, "/body/replaces", id) : 0;

        return rc || !code || !w->judge ? rc : judge_replaced(w, r, code);
}

/* --- who signs it ---------------------------------------------------------------------------------------- */

/* Whoever validates a 3.1 is independent of manufacturing. */
static int check_signer(struct kw_work *w)
{
        const char *signer = kw_json_text(kw_json_get(w->body, "signed"), "name");
        struct kw_query q;
        int rc;

        if (!signer)
                return 0;
        rc = kw_ask(
                w->l, &q,
                "SELECT l.code, l.seq FROM certificate_reel c JOIN lot l ON l.id = c.lot JOIN entry e ON e.seq = l.seq"
                " WHERE c.certificate = ?1 AND e.by = ?2 ORDER BY l.code LIMIT 1",
                "it", w->seq * KW_IDS, signer);
        if (rc == 0 && (rc = kw_next(w->l, &q)) == 1) {
                rc = kw_finding_with(w, "signer-made-it", NULL,
                                     KW_VALUES(KW_WORD("signer", signer), KW_WORD("lot", kw_text(&q, 0)),
                                               KW_FIGURE("seq", kw_int(&q, 1))),
                                     "%s signs and recorded what made %s (entry %" PRId64
                                     "); who validates is independent of manufacturing",
                                     signer, kw_text(&q, 0), kw_int(&q, 1));
        }
        kw_end(&q);
        return rc;
}

static int check_signatures(struct kw_work *w)
{
        const char *type = kw_json_text(w->body, "type");
        int rc = kw_document(type)->specific ? check_signer(w) : 0;

        if (rc == 0 && kw_document(type)->countersigned && !kw_json_get(w->body, "countersigned"))
                rc = kw_finding(w, "countersignature",
                                "a 3.2 is signed for the purchaser or an authority too, and nobody is named for it: it "
                                "is to be countersigned on paper");
        return rc;
}

/* --- the entries ------------------------------------------------------------------------------------------- */

static int apply_certify(struct kw_work *w, struct kw_reader *r)
{
        int64_t id = w->seq * KW_IDS, replaces = 0;
        const char *code = kw_json_text(w->body, "certificate");
        const cJSON *item;
        size_t i = 0;
        int rc = kw_define(w, "certificate", code, "/body/certificate", id);

        if (rc == 0)
                rc = find_replaced(w, r, &replaces);
        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO certificate (id, seq, code, type, statement, at, replaces)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                           "iitttiI", id, w->seq, code, kw_json_text(w->body, "type"),
                           kw_json_text(w->body, "statement"), w->at, replaces ? &replaces : NULL);
        cJSON_ArrayForEach(item, kw_json_get(w->body, "reels"))
        {
                if (rc == 0)
                        rc = certify_reel(w, r, id, item->valuestring, i++);
        }
        i = 0;
        cJSON_ArrayForEach(item, kw_json_get(w->body, "tests"))
        {
                if (rc == 0)
                        rc = certify_test(w, id, item->valuestring, i++);
        }
        return rc ? rc : check_signatures(w);
}

int kw_apply_certify(struct kw_work *w)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(w->l, &r);

        if (rc == 0)
                rc = apply_certify(w, r);
        kw_reader_free(r);
        return rc;
}

int kw_apply_withdraw(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "certificate");
        int64_t id, withdrawn = 0;
        int rc = kw_need(w, "certificate", code, "/body/certificate", &id);

        if (rc == 0)
                rc = kw_one(w->l, &withdrawn, 0, "SELECT seq FROM withdrawal WHERE certificate = ?1", "i", id);
        if (rc == 0 && withdrawn)
                rc = kw_refuse_with(w->err, KW_NOT_OPEN, "/body/certificate", "withdrawn",
                                    KW_VALUES(KW_WORD("certificate", code), KW_FIGURE("seq", withdrawn)),
                                    "certificate %s was withdrawn already (entry %" PRId64 ")", code, withdrawn);
        if (rc == 0)
                rc = kw_do(w->l, "INSERT INTO withdrawal (seq, certificate, reason, at) VALUES (?1, ?2, ?3, ?4)",
                           "iiti", w->seq, id, kw_json_text(w->body, "reason"), w->at);
        return rc;
}

/* --- clearing --------------------------------------------------------------------------------------------- */

static bool is_open_mark(const struct kw_certificate_whole_row *c, const char *hold)
{
        for (size_t i = 0; i < c->n_marks; i++)
                if (!c->marks[i].cleared &&
                    (!hold || (c->marks[i].what == KW_MARK_RECALLED && strcmp(c->marks[i].code, hold) == 0)))
                        return true;
        return false;
}

static int judge_clearing(struct kw_work *w, struct kw_reader *r, const char *code)
{
        const struct kw_certificate_whole_row *c;
        const cJSON *hold;
        char pointer[KW_ITEM_POINTER];
        size_t i = 0;
        int rc = kw_read_certificate(r, code, &c, w->err);

        if (rc)
                return rc;
        if (c->is != KW_CERTIFICATE_MARKED)
                return kw_refuse_with(w->err, KW_NOT_OPEN, "/body/certificate", "nothing-to-clear",
                                      KW_VALUES(KW_WORD("certificate", code)),
                                      "certificate %s %s, and there is nothing to clear", code,
                                      c->is == KW_CERTIFICATE_STANDS      ? "stands"
                                      : c->is == KW_CERTIFICATE_WITHDRAWN ? "was withdrawn"
                                                                          : "was replaced");
        cJSON_ArrayForEach(hold, kw_json_get(w->body, "holds"))
        {
                snprintf(pointer, sizeof(pointer), "/body/holds/%zu", i++);
                if (!is_open_mark(c, hold->valuestring))
                        return kw_refuse_with(
                                w->err, KW_NOT_OPEN, pointer, "not-marked",
                                KW_VALUES(KW_WORD("hold", hold->valuestring), KW_WORD("certificate", code)),
                                "hold %s does not mark certificate %s", hold->valuestring, code);
        }
        return 0;
}

int kw_apply_clear(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "certificate");
        const cJSON *holds = kw_json_get(w->body, "holds");
        struct kw_reader *r = NULL;
        struct kw_buf list = {0};
        int64_t id;
        int rc = kw_need(w, "certificate", code, "/body/certificate", &id);

        if (rc == 0 && w->judge)
                rc = kw_reader_new(w->l, &r);
        if (rc == 0 && w->judge)
                rc = judge_clearing(w, r, code);
        kw_reader_free(r);
        if (rc == 0 && holds)
                kw_json_canonical(holds, &list);
        if (rc == 0)
                rc = kw_do(
                        w->l, "INSERT INTO clearing (seq, certificate, reason, holds, at) VALUES (?1, ?2, ?3, ?4, ?5)",
                        "iitti", w->seq, id, kw_json_text(w->body, "reason"), holds ? kw_buf_text(&list) : NULL, w->at);
        if (rc == 0 && list.failed)
                rc = -ENOMEM;
        kw_buf_free(&list);
        return rc;
}
