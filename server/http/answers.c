/*
 * Questions to the ledger whose answer is one piece of JSON: the parameters of each, and whom it is put to.
 */
#include "kinwire/process.h"
#include "server.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

#define FIND_MAX 1024 /* bytes of a text to look for */

/* --- lots and things -------------------------------------------------------------------------- */

typedef int lot_answer(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err);

static int ask_of_lot(struct kw_ledger *ledger, struct kw_request *r, lot_answer *answer, struct kw_buf *out,
                      struct kw_error *err)
{
        char lot[KW_CODE_MAX + 1];
        int rc = kw_request_code(r->part[0], "lot", lot, err);

        return rc ? rc : answer(ledger, lot, out, err);
}

int kw_ask_lot(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return ask_of_lot(ledger, r, kw_answer_lot, out, err);
}

int kw_ask_joints(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return ask_of_lot(ledger, r, kw_answer_joints, out, err);
}

int kw_ask_balance(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return ask_of_lot(ledger, r, kw_answer_balance, out, err);
}

int kw_ask_makeup(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *by = kw_request_query(r, "by"), *kind = kw_request_query(r, "kind");
        char lot[KW_CODE_MAX + 1];
        int rc = kw_request_code(r->part[0], "lot", lot, err);

        if (!rc && kind && !kw_lot_kind(kind))
                rc = kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", kind)),
                                    "there is no kind of lot \"%.40s\"", kind);
        return rc ? rc : kw_answer_makeup(ledger, lot, by ? by : "heat", kind, out, err);
}

int kw_ask_thing(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        int rc = kw_request_code(r->part[1], "code", code, err);

        return rc ? rc : kw_answer_thing(ledger, r->part[0], code, out, err);
}

int kw_ask_find(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *text = kw_request_query(r, "q");

        if (!text || strlen(text) > FIND_MAX)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "find", KW_VALUES(KW_FIGURE("most", FIND_MAX)),
                                      "\"q\" is what to look for, at most %d bytes", FIND_MAX);
        return kw_answer_find(ledger, text, out, err);
}

int kw_ask_attention(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        (void)r;
        return kw_answer_attention(ledger, out, err);
}

int kw_ask_floor(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *given = kw_request_query(r, "machine");
        char machine[KW_CODE_MAX + 1];
        int rc = given ? kw_request_code(given, "machine", machine, err) : 0;

        return rc ? rc : kw_answer_floor(ledger, given ? machine : NULL, out, err);
}

int kw_ask_orders(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        (void)r;
        return kw_answer_orders(ledger, out, err);
}

int kw_ask_strength(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        return ask_of_lot(ledger, r, kw_answer_strength, out, err);
}

int kw_ask_specs(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        (void)r;
        return kw_answer_specs(ledger, out, err);
}

int kw_ask_instruments(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        (void)r;
        return kw_answer_instruments(ledger, out, err);
}

int kw_ask_holds(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const char *state = kw_request_query(r, "state");
        int64_t before, limit;
        int rc = kw_request_int(r, "before", 1, INT64_MAX / 4096, 0, &before, err);

        if (!rc)
                rc = kw_request_int(r, "limit", 1, 1000, 100, &limit, err);
        return rc ? rc : kw_answer_holds(ledger, state ? state : "any", before, limit, out, err);
}

int kw_ask_hold(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        int rc = kw_request_code(r->part[0], "hold", code, err);

        return rc ? rc : kw_answer_hold(ledger, code, out, err);
}

/* --- the ledger itself ------------------------------------------------------------------------ */

static bool is_kind(const char *name)
{
        const char *kind;

        for (size_t i = 0; (kind = kw_kind_name(i)); i++) {
                if (strcmp(kind, name) == 0)
                        return true;
        }
        return false;
}

int kw_ask_entries(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        struct kw_entry_filter filter = {.kind = kw_request_query(r, "kind"), .by = kw_request_query(r, "by")};
        const char *code = kw_request_query(r, "q");
        char upper[KW_CODE_MAX + 1];
        int rc = kw_request_int(r, "before", 1, INT64_MAX, 0, &filter.before, err);

        if (!rc && filter.kind && !is_kind(filter.kind))
                rc = kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", filter.kind)),
                                    "there is no kind of entry \"%.40s\"", filter.kind);
        if (!rc)
                rc = kw_request_int(r, "limit", 1, 1000, 100, &filter.limit, err);
        if (!rc && code && *code) {
                rc = kw_request_code(code, "parameter \"q\"", upper, err);
                filter.code = upper;
        }
        return rc ? rc : kw_answer_entries(ledger, &filter, out, err);
}

int kw_ask_entry(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        const int64_t seq = kw_seq_read(r->part[0], "");

        if (!seq)
                return kw_refuse_with(err, KW_NOT_FOUND, NULL, "entry-number", NULL, "there is no entry %s",
                                      r->part[0]);
        return kw_answer_entry(ledger, seq, out, err);
}

int kw_ask_head(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        (void)r;
        return kw_answer_head(ledger, out, err);
}

/* ?seq=S&size=N: that entry S is under the head of N; ?from=M&size=N: that the head of N grew from that of M. */
int kw_ask_proof(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        bool inclusion = kw_request_query(r, "seq") != NULL;
        struct kw_head head;
        int64_t of, size;
        int rc;

        if (inclusion == (kw_request_query(r, "from") != NULL))
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "proof", NULL,
                                      "give \"seq\" for an entry's proof, or \"from\" for that of an earlier head");
        rc = kw_ledger_head(ledger, &head, err);
        if (!rc)
                rc = kw_request_int(r, "size", 0, INT64_MAX, head.size, &size, err);
        if (!rc)
                rc = kw_request_int(r, inclusion ? "seq" : "from", 0, INT64_MAX, 0, &of, err);
        if (rc)
                return rc;
        return inclusion ? kw_answer_inclusion(ledger, of, size, out, err)
                         : kw_answer_consistency(ledger, of, size, out, err);
}

/* --- handing them over ------------------------------------------------------------------------ */

enum MHD_Result kw_answer_ask(struct kw_request *r)
{
        struct kw_wish wish = {r->http, r->peer};
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = r->route->past ? kw_reader_take_then(r, &ledger, &err) : kw_reader_take(r->http, &ledger, &err);

        if (rc == -EINPROGRESS)
                return kw_reply_on_its_way(r);
        if (!rc) {
                kw_ledger_while(ledger, r->route->past ? kw_still_wanted : NULL, &wish); /* these follow traces */
                rc = r->route->ask(ledger, r, &out, &err);
                kw_ledger_while(ledger, NULL, NULL);
                kw_reader_give(r->http, ledger);
        }
        if (!rc)
                return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
        kw_buf_free(&out);
        return kw_reply_problem(r, rc, &err);
}

enum MHD_Result kw_answer_label_sheet(struct kw_request *r)
{
        const char *as = kw_request_query(r, "as"), *units = kw_request_query(r, "units"),
                   *size = kw_request_query(r, "size");
        struct kw_label_question q = {.lots = kw_request_query(r, "lots"),
                                      .welds = kw_request_query(r, "welds"),
                                      .batches = kw_request_query(r, "batches"),
                                      .size = size ? size : "100x60",
                                      .pdf = as && strcmp(as, "pdf") == 0,
                                      .us = units && strcmp(units, "us") == 0};
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = 0;

        if (units && !q.us && strcmp(units, "si") != 0)
                rc = kw_refuse_with(&err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", units)),
                                    "units are si or us, not \"%.20s\"", units);
        if (!rc && as && !q.pdf && strcmp(as, "svg") != 0)
                rc = kw_refuse_with(&err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", as)),
                                    "labels come as svg or pdf, not as \"%.20s\"", as);
        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (!rc) {
                rc = kw_answer_labels(ledger, &q, &out, &err);
                kw_reader_give(r->http, ledger);
        }
        if (!rc)
                return kw_reply(r, MHD_HTTP_OK, q.pdf ? "application/pdf" : "image/svg+xml", &out);
        kw_buf_free(&out);
        return kw_reply_problem(r, rc, &err);
}
