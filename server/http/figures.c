/*
 * Figures for whoever watches the server: /healthz for a yes or no, /metrics for the rest (Prometheus text format
 * 0.0.4).
 */
#include "server.h"

#include <inttypes.h>
#include <time.h>

void kw_count_reply(struct kw_http *http, unsigned status)
{
        if (status < sizeof http->figures.by_status / sizeof http->figures.by_status[0])
                atomic_fetch_add(&http->figures.by_status[status], 1);
}

void kw_count_sign_in(struct kw_http *http, enum kw_sign_in what)
{
        atomic_fetch_add(&http->figures.sign_ins[what], 1);
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

static void put_seconds(struct kw_buf *out, const char *metric, int64_t us)
{
        kw_buf_printf(out, "%s %" PRId64 ".%06" PRId64 "\n", metric, us / 1000000, us % 1000000);
}

static void put_us(struct kw_buf *out, const char *metric, const char *help, int64_t us)
{
        name(out, metric, "gauge", help);
        put_seconds(out, metric, us);
}

static void put_commits(struct kw_buf *out, const struct kw_writer_figures *f)
{
        static const int64_t step_ms[KW_COMMIT_STEPS] = KW_COMMIT_STEP_MS;
        int64_t within = 0;

        name(out, "kinwire_commit_seconds", "histogram", "How long commits took, each with one sync of the disk.");
        for (size_t i = 0; i < KW_COMMIT_STEPS; i++) {
                within += f->commits_within[i];
                kw_buf_printf(out, "kinwire_commit_seconds_bucket{le=\"%g\"} %" PRId64 "\n", (double)step_ms[i] / 1000,
                              within);
        }
        kw_buf_printf(out, "kinwire_commit_seconds_bucket{le=\"+Inf\"} %" PRId64 "\n", f->commits);
        put_seconds(out, "kinwire_commit_seconds_sum", f->commit_us_all);
        kw_buf_printf(out, "kinwire_commit_seconds_count %" PRId64 "\n", f->commits);
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
        put_commits(out, &f);
        put_us(out, "kinwire_commit_seconds_last", "How long the last commit took.", f.commit_us_last);
        put_us(out, "kinwire_commit_seconds_waiting", "How long the commit under way has taken.", f.waiting_us);
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

static void put_limits(struct kw_buf *out, struct kw_http *http)
{
        static const char *const limits[KW_LIMITS] = {"rate", "sign-in", "heavy", "room"};
        static const char *const outcomes[] = {"signed-in", "refused", "locked"};

        name(out, "kinwire_limited_total", "counter", "Requests refused because there were too many, by limit.");
        for (size_t i = 0; i < KW_LIMITS; i++)
                kw_buf_printf(out, "kinwire_limited_total{limit=\"%s\"} %lld\n", limits[i],
                              atomic_load(&http->limits.refused[i]));
        put(out, "kinwire_heavy_open", "gauge", "Exports being made.", atomic_load(&http->limits.heavy));
        name(out, "kinwire_sign_ins_total", "counter", "Tries to sign in, by what came of them.");
        for (size_t i = 0; i < sizeof outcomes / sizeof outcomes[0]; i++)
                kw_buf_printf(out, "kinwire_sign_ins_total{outcome=\"%s\"} %lld\n", outcomes[i],
                              atomic_load(&http->figures.sign_ins[i]));
}

static void put_disk(struct kw_buf *out, struct kw_http *http)
{
        put(out, "kinwire_disk_free_bytes", "gauge", "Free space on the ledger's disk.", kw_room(http));
        put(out, "kinwire_disk_floor_bytes", "gauge", "Free space below which nothing is recorded.",
            http->limits.floor);
        put(out, "kinwire_read_only", "gauge", "1 when nothing is recorded for want of free space.", kw_is_full(http));
        put(out, "kinwire_log_bytes", "gauge", "Size of the ledger's write-ahead log.", kw_log_bytes(http));
        if (http->tls)
                put(out, "kinwire_certificate_seconds_left", "gauge", "Until the certificate is over.",
                    kw_tls_until(http->tls) - (int64_t)time(NULL));
}

static int keep_logged(void *ctx, const struct kw_stored *e)
{
        int64_t *logged = ctx;

        return kw_stamp_read(e->logged, logged);
}

/* Seconds since the last entry was recorded; -1: there is none. */
static int read_age(struct kw_http *http, int64_t size, int64_t *age, struct kw_error *err)
{
        struct kw_ledger *ledger;
        int64_t logged = 0;
        int rc;

        *age = -1;
        if (!size)
                return 0;
        rc = kw_reader_take(http, &ledger, err);
        if (rc)
                return rc;
        rc = kw_ledger_entries(ledger, size - 1, 1, keep_logged, &logged, err);
        kw_reader_give(http, ledger);
        if (!rc)
                *age = (int64_t)time(NULL) - logged;
        return rc;
}

enum MHD_Result kw_answer_metrics(struct kw_request *r)
{
        struct kw_http *http = r->http;
        struct kw_error err = {0};
        struct kw_head head;
        struct kw_buf out = {0};
        int64_t age;
        int rc = read_head(http, &head, &err);

        if (!rc)
                rc = read_age(http, head.size, &age, &err);
        if (rc)
                return kw_reply_problem(r, rc, &err);
        put(&out, "kinwire_ledger_size", "gauge", "Entries in the ledger.", head.size);
        put(&out, "kinwire_head_age_seconds", "gauge", "Since the last entry was recorded; -1: there is none.", age);
        put_writer(&out, http);
        put_disk(&out, http);
        put_replies(&out, &http->figures);
        put_limits(&out, http);
        put(&out, "kinwire_http_connections", "gauge", "Connections open.", kw_reaper_open(&http->reaper));
        put(&out, "kinwire_http_requests_open", "gauge", "Requests begun and not completed.",
            atomic_load(&http->requests));
        put(&out, "kinwire_http_cut_total", "counter", "Connections that ran into their deadline.",
            kw_reaper_cut(&http->reaper));
        put(&out, "kinwire_http_body_bytes", "gauge", "Bytes of bodies being held.",
            (int64_t)atomic_load(&http->bodies));
        put(&out, "kinwire_uptime_seconds", "gauge", "Seconds since the start.", (kw_now_ms() - http->started) / 1000);
        return kw_reply(r, MHD_HTTP_OK, "text/plain; version=0.0.4; charset=utf-8", &out);
}
