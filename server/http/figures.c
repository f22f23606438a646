/*
 * Figures for whoever watches the server: /healthz for a yes or no, /metrics for the rest (Prometheus text format
 * 0.0.4).
 */
#include "server.h"

#include <inttypes.h>

void kw_count_reply(struct kw_http *http, unsigned status)
{
        if (status < sizeof http->figures.by_status / sizeof http->figures.by_status[0])
                atomic_fetch_add(&http->figures.by_status[status], 1);
}

static int read_head(struct kw_http *http, struct kw_head *head, struct kw_error *err)
{
        struct kw_ledger *ledger;
        int rc = kw_reader_take(http, &ledger, err);

        if (rc)
                return rc;
        rc = kw_ledger_head(ledger, head, err);
        kw_reader_give(http, ledger);
        return rc;
}

enum MHD_Result kw_answer_health(struct kw_request *r)
{
        struct kw_error err = {0};
        struct kw_head head;
        struct kw_buf out = {0};
        char root[KW_HASH_HEX];
        int rc = read_head(r->http, &head, &err);

        if (!rc && kw_http_failed(r->http))
                rc = kw_refuse(&err, KW_BUSY, NULL,
                               "the disk did not confirm what was written; kinwire has to be started anew");
        if (rc)
                return kw_reply_problem(r, rc, &err);
        kw_hash_hex(&head.root, root);
        kw_put_object(&out, NULL);
        kw_put_bool(&out, "ok", true);
        kw_put_int(&out, "size", head.size);
        kw_put_string(&out, "root", root);
        kw_put_object_end(&out);
        return kw_reply(r, MHD_HTTP_OK, "application/json", &out);
}

/* --- metrics ---------------------------------------------------------------------------------- */

static void name(struct kw_buf *out, const char *metric, const char *type, const char *help)
{
        kw_buf_printf(out, "# HELP %s %s\n# TYPE %s %s\n", metric, help, metric, type);
}

static void put(struct kw_buf *out, const char *metric, const char *type, const char *help, int64_t value)
{
        name(out, metric, type, help);
        kw_buf_printf(out, "%s %" PRId64 "\n", metric, value);
}

static void put_us(struct kw_buf *out, const char *metric, const char *help, int64_t us)
{
        name(out, metric, "gauge", help);
        kw_buf_printf(out, "%s %" PRId64 ".%06" PRId64 "\n", metric, us / 1000000, us % 1000000);
}

static void put_writer(struct kw_buf *out, struct kw_http *http)
{
        struct kw_writer_figures f = {0};

        pthread_mutex_lock(&http->lock);
        if (http->writer)
                kw_writer_figures(http->writer, &f);
        pthread_mutex_unlock(&http->lock);
        put(out, "kinwire_entries_total", "counter", "Entries added since the start.", f.entries);
        put(out, "kinwire_jobs_total", "counter", "Requests to record that the writer dealt with.", f.jobs);
        put(out, "kinwire_jobs_refused_total", "counter", "Those of them that were refused.", f.refused);
        put(out, "kinwire_commits_total", "counter", "Commits, each with one sync of the disk.", f.commits);
        put_us(out, "kinwire_commit_seconds_last", "How long the last commit took.", f.commit_us_last);
        put_us(out, "kinwire_commit_seconds_max", "How long the longest commit took.", f.commit_us_max);
        put(out, "kinwire_queue", "gauge", "Requests that wait for the writer.", f.queue);
        put(out, "kinwire_queue_max", "gauge", "The most that ever waited.", f.queue_max);
        put(out, "kinwire_writer_failed", "gauge", "1 when the disk did not confirm a commit.", kw_http_failed(http));
}

static void put_replies(struct kw_buf *out, struct kw_figures *f)
{
        name(out, "kinwire_http_requests_total", "counter", "Replies by status.");
        for (size_t i = 0; i < sizeof f->by_status / sizeof f->by_status[0]; i++) {
                long long n = atomic_load(&f->by_status[i]);
                if (n)
                        kw_buf_printf(out, "kinwire_http_requests_total{status=\"%zu\"} %lld\n", i, n);
        }
        name(out, "kinwire_refused_total", "counter", "Problems replied, by type.");
        for (int i = 1; i < KW_REFUSALS; i++) {
                long long n = atomic_load(&f->refused[i]);
                if (n)
                        kw_buf_printf(out, "kinwire_refused_total{type=\"%s\"} %lld\n",
                                      kw_refusal_row((enum kw_refusal)i)->slug, n);
        }
}

enum MHD_Result kw_answer_metrics(struct kw_request *r)
{
        struct kw_http *http = r->http;
        struct kw_error err = {0};
        struct kw_head head;
        struct kw_buf out = {0};
        int rc = read_head(http, &head, &err);

        if (rc)
                return kw_reply_problem(r, rc, &err);
        put(&out, "kinwire_ledger_size", "gauge", "Entries in the ledger.", head.size);
        put_writer(&out, http);
        put_replies(&out, &http->figures);
        put(&out, "kinwire_http_requests_open", "gauge", "Requests begun and not completed.",
            atomic_load(&http->requests));
        put(&out, "kinwire_http_cut_total", "counter", "Connections that ran into their deadline.",
            kw_reaper_cut(&http->reaper));
        put(&out, "kinwire_http_body_bytes", "gauge", "Bytes of bodies being held.",
            (int64_t)atomic_load(&http->bodies));
        put(&out, "kinwire_uptime_seconds", "gauge", "Seconds since the start.", (kw_now_ms() - http->started) / 1000);
        return kw_reply(r, MHD_HTTP_OK, "text/plain; version=0.0.4; charset=utf-8", &out);
}
