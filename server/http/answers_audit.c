/*
 * What an auditor asks: balances of mass, and how large the ledger was.
 */
#include "server.h"

#include "kinwire/export.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static int read_month(const char *month, struct kw_balance_question *q, struct kw_error *err)
{
        struct kw_scope scope;
        char text[64];
        int rc;

        snprintf(text, sizeof text, "month:%.40s", month);
        rc = kw_scope_read(&(struct kw_scope_words){.origin = text}, &scope, err);
        if (rc)
                return rc;
        if (kw_stamp_read(scope.since, &q->since))
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "month", KW_VALUES(KW_WORD("text", month)),
                                      "\"%.40s\" is not a month", month);
        if (kw_stamp_read(scope.until, &q->until))
                q->until = INT64_MAX; /* the last month that has a stamp */
        return 0;
}

static int read_time(const struct kw_request *r, struct kw_balance_question *q, struct kw_error *err)
{
        const char *month = kw_request_query(r, "month");
        const bool bounded = kw_request_query(r, "since") || kw_request_query(r, "until");
        int rc;

        if (month && bounded)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "month-or-times", NULL,
                                      "give a month, or \"since\" and \"until\", not both");
        if ((month || bounded) && q->type[0] && strcmp(q->type, "machine") != 0)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "times-whole", KW_VALUES(KW_WORD("type", q->type)),
                                      "a time is said of a machine or of the whole mill, not of a %s", q->type);
        if (month)
                return read_month(month, q, err);
        rc = kw_request_time(r, "since", INT64_MIN, &q->since, err);
        return rc ? rc : kw_request_time(r, "until", INT64_MAX, &q->until, err);
}

static int read_balance(const struct kw_request *r, struct kw_balance_question *q, struct kw_error *err)
{
        const char *origin = kw_request_query(r, "origin");
        struct kw_question of = {0};
        int rc = origin ? kw_question_read(origin, NULL, &of, err) : 0;

        if (rc)
                return rc;
        memcpy(q->type, of.type, sizeof q->type);
        memcpy(q->code, of.code, sizeof q->code);
        q->csv = kw_request_wants_csv(r);
        return read_time(r, q, err);
}

/* A name for a file out of what was asked: a code's "/" can't be in one. */
static void name_file(struct kw_request *r, const struct kw_balance_question *q)
{
        char code[KW_CODE_MAX + 1];

        memcpy(code, q->code, sizeof code);
        for (char *slash; (slash = strchr(code, '/'));)
                *slash = '-';
        kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "attachment; filename=\"balance-%s%s%s.csv\"",
                        q->type[0] ? q->type : "mill", code[0] ? "-" : "", code);
}

enum MHD_Result kw_answer_balance_of(struct kw_request *r)
{
        struct kw_balance_question q = {0};
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = read_balance(r, &q, &err);

        if (!rc)
                rc = kw_reader_take_then(r, &ledger, &err);
        if (rc == -EINPROGRESS)
                return kw_reply_on_its_way(r);
        if (!rc) {
                bool now;

                /* what is kept is of the ledger as it is now */
                now = !kw_past_is(r->http->past, ledger);
                rc = kw_answer_masses(ledger, now ? kw_months_kept(r->http) : NULL, &q, &out, &err);
                kw_reader_give(r->http, ledger);
        }
        if (rc == -EINPROGRESS) {
                kw_buf_free(&out);
                return kw_reply_being_summed(r);
        }
        kw_reply_header(r, MHD_HTTP_HEADER_VARY, MHD_HTTP_HEADER_ACCEPT);
        if (rc) {
                kw_buf_free(&out);
                return kw_reply_problem(r, rc, &err);
        }
        if (q.csv)
                name_file(r, &q);
        return kw_reply(r, MHD_HTTP_OK, q.csv ? "text/csv; charset=utf-8; header=present" : "application/json", &out);
}

/* --- drills and samples --------------------------------------------------------------------------- */

/* SEQ.pdf */
enum MHD_Result kw_answer_trial(struct kw_request *r)
{
        struct kw_buf out = {0};
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        const int64_t seq = kw_seq_read(r->part[0], ".pdf");
        int rc = 0;

        if (!seq)
                rc = kw_refuse_with(&err, KW_NOT_FOUND, NULL, "trial-number", NULL,
                                    "a drill or a sample is asked for by the number of its entry, as in 4711.pdf");
        if (!rc)
                rc = kw_reader_take(r->http, &ledger, &err);
        if (!rc) {
                rc = kw_trial_pdf(ledger, seq, &out, &err);
                kw_reader_give(r->http, ledger);
        }
        if (rc) {
                kw_buf_free(&out);
                return kw_reply_problem(r, rc, &err);
        }
        kw_reply_header(r, MHD_HTTP_HEADER_CONTENT_DISPOSITION, "inline; filename=\"entry-%s\"", r->part[0]);
        return kw_reply(r, MHD_HTTP_OK, "application/pdf", &out);
}

/* --- as it was ------------------------------------------------------------------------------------ */

/* ?time=T: how many entries the ledger had then. */
int kw_ask_size_at(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err)
{
        int64_t at;
        int rc = kw_request_time(r, "time", INT64_MIN, &at, err);

        if (!rc && at == INT64_MIN)
                rc = kw_refuse_with(err, KW_BAD_REQUEST, NULL, "time", KW_VALUES(KW_WORD("parameter", "time")),
                                    "\"time\" says when, as in 2026-03-04T09:12:00Z");
        return rc ? rc : kw_answer_size_at(ledger, at, out, err);
}
