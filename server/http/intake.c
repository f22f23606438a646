/*
 * Entries coming in: POST /api/entries.
 *
 * One entry as JSON, or one a line as NDJSON. Lines are read as they arrive, so that a large upload never holds up the
 * thread for long. When all are there and of a shape that can be right, they are one job for the writer, taken whole or
 * not at all; the connection is set aside until the commit has returned.
 *
 * A body that turns out wrong half way is still read to its end (the library can't reply before), but not kept.
 */
#include "server.h"

#include "kinwire/import.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#define UPLOAD_WITHIN 60000 /* ms for a whole NDJSON body */

struct kw_intake {
        bool ndjson;
        bool file;           /* a machine's: rows become entries once it is whole */
        uint64_t max, taken; /* bytes of the body; taken ones are counted in http->bodies */
        struct kw_buf text;  /* the entry, or the line that is being received */
        size_t line;         /* lines ended so far */
        struct kw_draft *drafts;
        size_t *lines;
        size_t n, cap;
        int rc; /* what is wrong with it, once something is */
        struct kw_error err;
        char terminal[KW_CODE_MAX + 1];
        struct kw_job job;
};

void kw_intake_free(struct kw_http *http, struct kw_intake *in)
{
        if (!in)
                return;
        for (size_t i = 0; i < in->n; i++)
                kw_draft_free(&in->drafts[i]);
        for (size_t i = 0; in->job.receipts && i < in->job.n; i++)
                free(in->job.receipts[i].json);
        free(in->job.receipts);
        free(in->drafts);
        free(in->lines);
        kw_buf_free(&in->text);
        atomic_fetch_sub(&http->bodies, in->taken);
        free(in);
}

/* --- before the body -------------------------------------------------------------------------- */

static const char *header(struct kw_request *r, const char *name)
{
        return MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, name);
}

/* Whether a Content-Type is @type, with or without parameters. */
static bool is_media(const char *value, const char *type)
{
        size_t n = strlen(type);

        return strncasecmp(value, type, n) == 0 && (value[n] == '\0' || strchr("; \t", value[n]));
}

static int read_terminal(struct kw_request *r, struct kw_error *err)
{
        const char *given = r->http->open ? header(r, "Kinwire-Terminal") : r->identity.terminal;

        return kw_request_code(given ? given : "WEB", "header Kinwire-Terminal", r->intake->terminal, err);
}

static int too_large(const struct kw_intake *in, struct kw_error *err)
{
        return kw_refuse_with(err, KW_TOO_LARGE, NULL, "bytes", KW_VALUES(KW_FIGURE("most", (int64_t)in->max)),
                              "the body may have at most %" PRIu64 " bytes", in->max);
}

int kw_intake_begin(struct kw_request *r, struct kw_error *err)
{
        const char *type = header(r, MHD_HTTP_HEADER_CONTENT_TYPE), *length = header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
        struct kw_intake *in;

        if (!type || !(is_media(type, "application/json") || is_media(type, "application/x-ndjson")))
                return kw_refuse_with(err, KW_WRONG_MEDIA, NULL, "entries", NULL,
                                      "entries come as application/json or application/x-ndjson");
        in = r->intake = calloc(1, sizeof *in);
        if (!in)
                return -ENOMEM;
        if (kw_limits_room(r->http, err))
                return KW_DISK_FULL;
        in->ndjson = is_media(type, "application/x-ndjson");
        in->max = in->ndjson ? KW_NDJSON_BODY_MAX : KW_JSON_BODY_MAX;
        if (length && strtoull(length, NULL, 10) > in->max)
                return too_large(in, err);
        if (in->ndjson)
                kw_peer_owes(&r->http->reaper, r->peer, UPLOAD_WITHIN);
        return read_terminal(r, err);
}

/* A machine's own file: text/csv. */
int kw_import_begin(struct kw_request *r, struct kw_error *err)
{
        const char *type = header(r, MHD_HTTP_HEADER_CONTENT_TYPE), *length = header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
        struct kw_intake *in;

        if (!type || !is_media(type, "text/csv"))
                return kw_refuse_with(err, KW_WRONG_MEDIA, NULL, "machine-file", NULL,
                                      "a test machine's file comes as text/csv");
        if (!kw_request_query(r, "instrument"))
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "parameter",
                                      KW_VALUES(KW_WORD("parameter", "instrument")),
                                      "\"instrument\" says whose file it is");
        in = r->intake = calloc(1, sizeof *in);
        if (!in)
                return -ENOMEM;
        if (kw_limits_room(r->http, err))
                return KW_DISK_FULL;
        in->file = true;
        in->ndjson = true; /* of what becomes of it: several entries, each with its line */
        in->max = KW_FILE_BODY_MAX;
        if (length && strtoull(length, NULL, 10) > in->max)
                return too_large(in, err);
        return read_terminal(r, err);
}

/* --- the body --------------------------------------------------------------------------------- */

static int make_room(struct kw_intake *in)
{
        size_t cap = in->cap ? 2 * in->cap : in->ndjson ? 64 : 1;
        struct kw_draft *drafts;
        size_t *lines;

        if (in->n < in->cap)
                return 0;
        drafts = reallocarray(in->drafts, cap, sizeof *drafts);
        if (drafts)
                in->drafts = drafts;
        lines = reallocarray(in->lines, cap, sizeof *lines);
        if (lines)
                in->lines = lines;
        if (!drafts || !lines)
                return -ENOMEM;
        in->cap = cap;
        return 0;
}

/* The text gathered so far is one entry. */
static int read_entry(struct kw_intake *in)
{
        int rc = in->text.failed ? -ENOMEM : make_room(in);

        if (rc)
                return rc;
        rc = kw_draft_read(kw_buf_text(&in->text), in->text.n, &in->drafts[in->n], &in->err);
        if (rc) {
                in->err.line = in->ndjson ? in->line : 0;
                return rc;
        }
        in->lines[in->n++] = in->ndjson ? in->line : 0;
        return 0;
}

static bool is_blank(const struct kw_buf *text)
{
        for (size_t i = 0; i < text->n; i++) {
                if (!strchr(" \t\r", text->at[i]) || !text->at[i])
                        return false;
        }
        return true;
}

static int end_line(struct kw_intake *in)
{
        int rc = 0;

        in->line++;
        if (!is_blank(&in->text) || in->text.failed)
                rc = read_entry(in);
        kw_buf_clear(&in->text);
        return rc;
}

static int gather(struct kw_intake *in, const char *bytes, size_t n)
{
        if (in->file) {
                kw_buf_add(&in->text, bytes, n);
                return 0;
        }
        while (n) {
                const char *end = in->ndjson ? memchr(bytes, '\n', n) : NULL;
                size_t part = end ? (size_t)(end - bytes) : n;
                int rc;

                kw_buf_add(&in->text, bytes, part);
                if (in->text.n > KW_JSON_BODY_MAX) {
                        in->err.line = in->ndjson ? in->line + 1 : 0;
                        return kw_refuse_with(&in->err, KW_TOO_LARGE, NULL, "bytes",
                                              KW_VALUES(KW_FIGURE("most", (int64_t)KW_JSON_BODY_MAX)),
                                              "one entry may have at most %" PRIu64 " bytes", KW_JSON_BODY_MAX);
                }
                if (!end)
                        return 0;
                rc = end_line(in);
                if (rc)
                        return rc;
                bytes = end + 1;
                n -= part + 1;
        }
        return 0;
}

enum MHD_Result kw_intake_take(struct kw_request *r, const char *bytes, size_t n)
{
        struct kw_intake *in = r->intake;
        uint64_t held = atomic_fetch_add(&r->http->bodies, n) + n;

        in->taken += n;
        if (in->taken > 2 * in->max)
                return MHD_NO; /* its length wasn't declared and it doesn't end: no reply would reach its sender */
        if (in->rc)
                return MHD_YES;
        if (in->taken > in->max)
                in->rc = too_large(in, &in->err);
        else if (held > KW_BODIES_MAX)
                in->rc = kw_refuse_with(&in->err, KW_BUSY, NULL, "uploads", NULL,
                                        "too many uploads at once; send it again");
        else
                in->rc = gather(in, bytes, n);
        return MHD_YES;
}

/* --- the answer ------------------------------------------------------------------------------- */

/* Of the entry that was refused, which for several is the one on the line that the refusal names. */
static const char *refused_kind(const struct kw_intake *in)
{
        for (size_t i = 0; i < in->n; i++) {
                if (!in->ndjson || in->lines[i] == in->job.err.line)
                        return in->drafts[i].kind;
        }
        return NULL;
}

static enum MHD_Result reply_refused(struct kw_request *r)
{
        const struct kw_intake *in = r->intake;
        bool certify = in->n == 1 && strcmp(in->drafts[0].kind, "certify") == 0;

        if (certify && (in->job.rc == KW_NOT_COMPLETE || in->job.rc == KW_ON_HOLD || in->job.rc == KW_TO_REWORK))
                return kw_reply_not_certified(r, in->drafts[0].body, in->job.rc, &in->job.err);
        if (in->job.rc == KW_NOT_ALLOWED)
                kw_note_denied(r, refused_kind(in));
        return kw_reply_problem(r, in->job.rc, &in->job.err);
}

static enum MHD_Result reply_receipts(struct kw_request *r)
{
        struct kw_intake *in = r->intake;
        struct kw_buf out = {0};
        bool added = false;

        if (in->job.rc)
                return reply_refused(r);
        for (size_t i = 0; i < in->job.n; i++) {
                kw_buf_text_add(&out, in->job.receipts[i].json);
                if (in->ndjson)
                        kw_buf_text_add(&out, "\n");
                added |= !in->job.receipts[i].repeated;
        }
        return kw_reply(r, added ? MHD_HTTP_CREATED : MHD_HTTP_OK,
                        in->ndjson ? "application/x-ndjson" : "application/json", &out);
}

/* The same without what nobody got: a number in the ledger, and a head. */
static enum MHD_Result reply_check(struct kw_request *r)
{
        struct kw_intake *in = r->intake;
        struct kw_buf out = {0};

        if (in->job.rc)
                return reply_refused(r);
        for (size_t i = 0; i < in->job.n; i++) {
                kw_buf_text_add(&out, "{");
                kw_buf_text_add(&out, strstr(in->job.receipts[i].json, "\"body\":"));
                if (in->ndjson)
                        kw_buf_text_add(&out, "\n");
        }
        return kw_reply(r, MHD_HTTP_OK, in->ndjson ? "application/x-ndjson" : "application/json", &out);
}

static void job_done(struct kw_job *job)
{
        kw_request_resume(job->ctx);
}

/* Hand the job to the writer, unless there is none to take it. */
static int submit(struct kw_http *http, struct kw_job *job)
{
        int rc = KW_BUSY;

        pthread_mutex_lock(&http->lock);
        if (http->writer)
                rc = kw_writer_submit(http->writer, job);
        pthread_mutex_unlock(&http->lock);
        if (rc)
                job->rc = kw_refuse_with(&job->err, KW_BUSY, NULL, "recording", NULL,
                                         "kinwire has all the entries that it can take now; send it again");
        return rc;
}

static enum MHD_Result hand_over(struct kw_request *r, bool check, enum MHD_Result (*reply)(struct kw_request *r))
{
        struct kw_intake *in = r->intake;

        if (!in->rc && in->text.n)
                in->rc = in->ndjson ? end_line(in) : read_entry(in);
        if (!in->rc && !in->n)
                in->rc = kw_refuse_with(&in->err, KW_NOT_JSON, NULL, "nothing", NULL, "there is no entry in it");
        if (in->rc)
                return kw_reply_problem(r, in->rc, &in->err);
        kw_buf_free(&in->text);

        in->job = (struct kw_job){.drafts = in->drafts,
                                  .n = in->n,
                                  .lines = in->ndjson ? in->lines : NULL,
                                  .by = r->by,
                                  .terminal = in->terminal,
                                  .may_override = (r->identity.who.roles & KW_QUALITY) != 0,
                                  .second_person = !r->http->open,
                                  .who = &r->identity.who,
                                  .check = check,
                                  .receipts = calloc(in->n, sizeof(struct kw_receipt)),
                                  .done = job_done,
                                  .ctx = r};
        if (!in->job.receipts) {
                in->job.n = 0;
                return kw_reply_problem(r, -ENOMEM, NULL);
        }
        /* aside first: the writer may be done before this returns */
        kw_request_aside(r, reply);
        if (submit(r->http, &in->job))
                kw_request_resume(r);
        return MHD_YES;
}

enum MHD_Result kw_intake_answer(struct kw_request *r)
{
        return hand_over(r, false, reply_receipts);
}

enum MHD_Result kw_intake_check(struct kw_request *r)
{
        return hand_over(r, true, reply_check);
}

/* --- a machine's file -------------------------------------------------------------------------- */

static enum MHD_Result reply_import(struct kw_request *r)
{
        struct kw_intake *in = r->intake;
        struct kw_buf out = {0};
        int64_t taken = 0;

        if (in->job.rc)
                return reply_refused(r);
        for (size_t i = 0; i < in->job.n; i++)
                taken += !in->job.receipts[i].repeated;
        kw_put_object(&out, NULL);
        kw_put_int(&out, "taken", taken);
        kw_put_int(&out, "repeated", (int64_t)in->job.n - taken);
        kw_put_array(&out, "rows");
        for (size_t i = 0; i < in->job.n; i++) {
                kw_put_object(&out, NULL);
                kw_put_int(&out, "line", (int64_t)in->lines[i]);
                kw_put_bool(&out, "repeated", in->job.receipts[i].repeated);
                kw_put_raw(&out, "receipt", in->job.receipts[i].json);
                kw_put_object_end(&out);
        }
        kw_put_array_end(&out);
        kw_put_object_end(&out);
        return kw_reply(r, taken ? MHD_HTTP_CREATED : MHD_HTTP_OK, "application/json", &out);
}

/* A row is read as if it had been sent by itself. */
static int take_row(void *ctx, const struct kw_buf *entry, size_t line)
{
        struct kw_intake *in = ctx;

        kw_buf_clear(&in->text);
        kw_buf_add(&in->text, entry->at, entry->n);
        in->line = line;
        return read_entry(in);
}

static int read_file(struct kw_request *r)
{
        struct kw_intake *in = r->intake;
        struct kw_buf file = in->text;
        char instrument[KW_CODE_MAX + 1];
        struct kw_ledger *ledger;
        int rc = file.failed ? -ENOMEM
                             : kw_request_code(kw_request_query(r, "instrument"), "instrument", instrument, &in->err);

        in->text = (struct kw_buf){0};
        if (rc == 0)
                rc = kw_reader_take(r->http, &ledger, &in->err);
        if (rc == 0) {
                rc = kw_import_read(ledger, instrument, file.at ? file.at : "", file.n, take_row, in, &in->err);
                kw_reader_give(r->http, ledger);
        }
        kw_buf_free(&file);
        kw_buf_free(&in->text);
        if (rc == 0 && !in->n)
                rc = kw_refuse_with(&in->err, KW_BAD_VALUE, NULL, "empty", NULL, "there is no row in the file");
        return rc;
}

enum MHD_Result kw_import_answer(struct kw_request *r)
{
        if (!r->intake->rc)
                r->intake->rc = read_file(r);
        return hand_over(r, false, reply_import);
}
