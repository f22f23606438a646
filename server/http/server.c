/*
 * The server: the library's callbacks, and starting and stopping.
 *
 *      a connection:  arrives -> on_connection
 *      a request:     its first line -> on_target; its headers -> on_request, which passes the gate and finds the
 * route; each part of its body -> on_request; its end -> on_request, which answers or sets it aside; taken up again ->
 * on_request; its reply sent, or its connection gone -> on_completed
 *
 * Stopping takes no more connections, lets the writer commit what it has, and waits for the replies to be taken.
 */
#include "server.h"

#include "kinwire/index.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define THREADS        4
#define CONNECTIONS    1000
#define PER_ADDRESS    32
#define IDLE_SECONDS   15
#define REQUEST_WITHIN 10000 /* ms for a request to be whole */
#define NEXT_WITHIN    15000 /* ms for the next one to begin */
#define HEADERS_MAX    (32 * 1024)
#define DRAIN_MS       5000

/* --- callbacks -------------------------------------------------------------------------------- */

/*
 * The library tells that a request is completed only of those whose headers it got through. One that ends before (more
 * parameters than it has room for) is forgotten with its connection, or when the next one begins.
 */
static void forget(struct kw_http *http, struct kw_peer *peer)
{
        if (!peer || !peer->begun)
                return;
        kw_request_free(peer->begun);
        peer->begun = NULL;
        atomic_fetch_sub(&http->requests, 1);
}

static void on_connection(void *cls, struct MHD_Connection *connection, void **context,
                          enum MHD_ConnectionNotificationCode code)
{
        struct kw_http *http = cls;

        if (code == MHD_CONNECTION_NOTIFY_STARTED) {
                *context =
                        kw_peer_new(&http->reaper,
                                    MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd);
        } else {
                forget(http, *context);
                kw_peer_free(&http->reaper, *context);
        }
}

static void *on_target(void *cls, const char *target, struct MHD_Connection *connection)
{
        struct kw_http *http = cls;
        struct kw_peer *peer = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT)->socket_context;
        struct kw_request *r;

        if (!peer)
                return NULL; /* there was no memory for it */
        forget(http, peer);
        r = kw_request_new(http, connection, target ? target : "");
        if (!r)
                return NULL;
        r->peer = peer;
        if (peer->used)
                kw_peer_owes(&http->reaper, peer, REQUEST_WITHIN);
        peer->used = true;
        peer->begun = r;
        atomic_fetch_add(&http->requests, 1);
        return r;
}

static void on_completed(void *cls, struct MHD_Connection *connection, void **context,
                         enum MHD_RequestTerminationCode code)
{
        struct kw_http *http = cls;
        struct kw_request *r = *context;
        struct kw_peer *peer;

        (void)connection;
        (void)code;
        if (!r)
                return;
        peer = r->peer;
        kw_peer_owes(&http->reaper, peer, NEXT_WITHIN);
        forget(http, peer);
        *context = NULL;
}

/* The headers are there: refuse, or let the body in. */
static int admit(struct kw_request *r, const char *method, const char *version, struct kw_error *err)
{
        int rc = kw_gate(r, method, version, err);

        if (!rc && atomic_load(&r->http->stopping))
                rc = kw_refuse_with(err, KW_BUSY, NULL, "stopping", NULL, "kinwire is stopping");
        if (rc)
                return rc;
        rc = kw_request_route(r, method, err);
        if (!rc)
                rc = kw_identify(r, err);
        if (!rc)
                rc = kw_limits_admit(r, err);
        if (!rc)
                rc = kw_admit(r, method, err);
        if (!rc && r->route->begin)
                rc = r->route->begin(r, err);
        return rc;
}

static enum MHD_Result on_head(struct kw_request *r, const char *method, const char *version)
{
        struct kw_error err = {0};
        int rc;

        r->method = method;
        rc = admit(r, method, version, &err);
        r->stage = KW_IN_BODY;
        if (!rc)
                return MHD_YES;
        r->closing = true; /* nothing that follows on the connection is taken for a request */
        return kw_reply_problem(r, rc, &err);
}

static enum MHD_Result on_request(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                                  const char *version, const char *bytes, size_t *n, void **context)
{
        struct kw_http *http = cls;
        struct kw_request *r = *context;
        enum MHD_Result result;

        (void)connection;
        (void)url;
        if (!r)
                return MHD_NO; /* there was no memory for it */
        switch (r->stage) {
        case KW_AT_HEAD:
                return on_head(r, method, version);
        case KW_IN_BODY:
                if (*n) {
                        result = r->route->take ? r->route->take(r, bytes, *n) : MHD_NO;
                        *n = 0;
                        return result;
                }
                kw_peer_within(&http->reaper, r->peer, -1); /* it is whole: from here on the time is ours */
                return r->route->ask ? kw_answer_ask(r) : r->route->answer(r);
        case KW_ASIDE:
                return r->again(r);
        case KW_REPLIED:
                break; /* once it is being stopped the library drops a reply without a word, and asks on */
        }
        return MHD_NO;
}

/*
 * What the library has to say: that it can let nobody in any more (no descriptor left, the limit reached) somebody
 * should know; the rest is of single clients and what they sent.
 */
static void on_complaint(void *cls, const char *fmt, va_list ap)
{
        char said[400];

        vsnprintf(said, sizeof said, fmt, ap);
        said[strcspn(said, "\n")] = '\0';
        kw_note(cls, strstr(said, "accept") || strstr(said, "limit") ? KW_LOG_WARNING : KW_LOG_INFO, "%s", said);
}

/* --- starting --------------------------------------------------------------------------------- */

/* The library is not asked to be strict: the gate is, and says what is wrong where the library would just hang up. */
static struct MHD_Daemon *start_daemon(struct kw_http *http)
{
        /* an address that a few hundred terminals or a proxy share must not run out of connections */
        bool each = !http->address.loopback && !http->address.proxied;
        const struct MHD_OptionItem options[] = {
                {MHD_OPTION_EXTERNAL_LOGGER, (intptr_t)on_complaint, http},
                {MHD_OPTION_LISTEN_SOCKET, http->address.fd, NULL},
                {MHD_OPTION_THREAD_POOL_SIZE, THREADS, NULL},
                {MHD_OPTION_THREAD_STACK_SIZE, 1024 * 1024, NULL},
                {MHD_OPTION_CONNECTION_LIMIT, kw_descriptors_spare(CONNECTIONS), NULL},
                {MHD_OPTION_PER_IP_CONNECTION_LIMIT, each ? PER_ADDRESS : 0, NULL},
                {MHD_OPTION_CONNECTION_TIMEOUT, IDLE_SECONDS, NULL},
                {MHD_OPTION_CONNECTION_MEMORY_LIMIT, HEADERS_MAX, NULL},
                {MHD_OPTION_NOTIFY_CONNECTION, (intptr_t)on_connection, http},
                {MHD_OPTION_NOTIFY_COMPLETED, (intptr_t)on_completed, http},
                {MHD_OPTION_URI_LOG_CALLBACK, (intptr_t)on_target, http},
                {MHD_OPTION_END, 0, NULL},
        };
        const unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG;

        if (!http->tls)
                return MHD_start_daemon(flags, 0, NULL, NULL, on_request, http, MHD_OPTION_ARRAY, options,
                                        MHD_OPTION_END);
        return MHD_start_daemon(flags | MHD_USE_TLS, 0, NULL, NULL, on_request, http, MHD_OPTION_ARRAY, options,
                                MHD_OPTION_HTTPS_PRIORITIES, KW_TLS_PRIORITIES, MHD_OPTION_HTTPS_CERT_CALLBACK2,
                                kw_tls_callback(), MHD_OPTION_END);
}

static int check_folder(const char *web, struct kw_error *err)
{
        struct stat st;

        if (!web || (stat(web, &st) == 0 && S_ISDIR(st.st_mode)))
                return 0;
        return kw_refuse(err, KW_BAD_REQUEST, NULL, "%s is not a folder to serve pages from", web);
}

/*
 * One daemon a ledger. The lock is on the file itself and apart from the store's own; its descriptor is closed last,
 * since closing any descriptor of the file takes the store's locks away.
 */
static int claim(struct kw_http *http, struct kw_error *err)
{
        http->claim = open(http->ledger, O_RDONLY | O_CLOEXEC);
        if (http->claim >= 0 && flock(http->claim, LOCK_EX | LOCK_NB) == 0)
                return 0;
        if (errno == EWOULDBLOCK)
                return kw_refuse(err, KW_BUSY, NULL, "another kinwire serves this ledger already");
        return kw_refuse(err, KW_INTERNAL, NULL, "the ledger file can't be locked: %s", strerror(errno));
}

static int copy_options(struct kw_http *http, const struct kw_http_options *options)
{
        http->open = options->open;
        http->say = options->say;
        http->ctx = options->ctx;
        http->told = options->told;
        http->ledger = strdup(options->ledger);
        http->web = options->web ? strdup(options->web) : NULL;
        return http->ledger && (http->web || !options->web) ? 0 : -ENOMEM;
}

/* Without an index every answer is the same, only later. */
static int start_index(struct kw_http *http)
{
        int rc = kw_index_new(http->ledger, &http->index);

        if (rc == 0)
                rc = kw_index_start(http->index);
        if (rc == 0)
                kw_writer_tell(http->writer, http->index);
        return rc;
}

static int start_listening(struct kw_http *http, const struct kw_http_options *options, struct kw_error *err)
{
        const struct kw_wanted wanted = {.listen = options->listen,
                                         .hosts = options->hosts,
                                         .proxy = options->proxy,
                                         .tls = options->cert != NULL,
                                         .open = options->open,
                                         .insecure_lan = options->insecure_lan};
        int rc = kw_names_read(options->names, http->names, err);

        if (rc)
                return rc;
        if (!options->cert != !options->key)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "--cert and --key go together");
        if (options->cert)
                rc = kw_tls_new(options->cert, options->key, &http->tls, err);
        if (!rc)
                rc = kw_address_listen(&wanted, &http->address, err);
        if (rc)
                return rc;
        snprintf(http->url, sizeof http->url, "http%s://%s/", http->tls ? "s" : "", http->address.name);
        kw_address_url(&http->address, http->known_as);
        return 0;
}

/* With --open nobody is asked who they are. */
static int start_admitting(struct kw_http *http, struct kw_error *err)
{
        int rc;

        if (http->open)
                return 0;
        rc = kw_access_open(http->ledger, &http->access, err);
        if (!rc)
                rc = kw_doors_new(http->access, &http->doors, err);
        if (!rc)
                rc = (http->sessions = kw_sessions_new()) ? 0 : -ENOMEM;
        if (!rc)
                rc = kw_refusals_new(http, &http->refusals);
        return rc ? rc : kw_porters_new(&http->porters);
}

static void stop_admitting(struct kw_http *http)
{
        kw_porters_free(http->porters);
        kw_refusals_free(http->refusals);
        kw_doors_free(http->doors);
        kw_sessions_free(http->sessions);
        kw_access_close(http->access);
}

static int start(struct kw_http *http, const struct kw_http_options *options, struct kw_error *err)
{
        int rc = copy_options(http, options);

        if (!rc)
                rc = check_folder(http->web, err);
        if (!rc)
                rc = start_listening(http, options, err);
        if (!rc)
                rc = kw_writer_new(http->ledger, &http->writer, err);
        if (!rc)
                rc = claim(http, err);
        if (!rc)
                rc = start_admitting(http, err);
        if (!rc)
                rc = start_index(http);
        if (!rc)
                rc = kw_gap_desk_new(http, &http->gaps);
        if (!rc)
                rc = kw_month_desk_new(http, &http->months);
        if (!rc)
                rc = kw_past_new(http->ledger, &http->past);
        if (!rc)
                rc = kw_reaper_start(&http->reaper, http);
        if (rc)
                return rc;
        http->daemon = start_daemon(http);
        return http->daemon
                       ? 0
                       : kw_refuse(err, KW_INTERNAL, NULL, "the HTTP library did not start on %s", http->address.name);
}

int kw_http_start(const struct kw_http_options *options, struct kw_http **out, struct kw_error *err)
{
        struct kw_http *http = calloc(1, sizeof *http);
        int rc;

        if (!http)
                return -ENOMEM;
        http->address.fd = http->claim = -1;
        http->started = kw_now_ms();
        pthread_mutex_init(&http->lock, NULL);
        pthread_mutex_init(&http->readers.lock, NULL);
        kw_asides_start(&http->asides);
        kw_limits_start(http, options);
        rc = start(http, options, err);
        if (rc)
                kw_http_stop(http);
        else
                *out = http;
        return rc;
}

const char *kw_http_url(const struct kw_http *http)
{
        return http->url;
}

const char *kw_http_known_as(const struct kw_http *http)
{
        return http->known_as;
}

int kw_http_renew(struct kw_http *http, struct kw_error *err)
{
        if (!http->tls)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "there is no certificate to read again");
        return kw_tls_renew(http->tls, err);
}

bool kw_http_failed(struct kw_http *http)
{
        pthread_mutex_lock(&http->lock);
        if (http->writer && kw_writer_failed(http->writer))
                atomic_store(&http->failed, true);
        pthread_mutex_unlock(&http->lock);
        return atomic_load(&http->failed);
}

/* --- stopping --------------------------------------------------------------------------------- */

static void stop_writer(struct kw_http *http)
{
        struct kw_writer *writer;

        pthread_mutex_lock(&http->lock);
        writer = http->writer;
        http->writer = NULL;
        pthread_mutex_unlock(&http->lock);
        kw_writer_free(writer); /* each job that it had is done, so its request goes on */
}

/* Replies that are under way get a few seconds; nothing is lost with one that isn't taken, since its entries are kept.
 */
static void wait_for_replies(struct kw_http *http)
{
        int64_t until = kw_now_ms() + DRAIN_MS;

        while (atomic_load(&http->requests) > 0 && kw_now_ms() < until)
                usleep(10000);
}

void kw_http_stop(struct kw_http *http)
{
        atomic_store(&http->stopping, true);
        if (http->daemon)
                MHD_quiesce_daemon(http->daemon);
        kw_porters_stop(http->porters); /* before the writer, for which they may wait */
        kw_refusals_stop(http->refusals);
        stop_writer(http);
        kw_check_abandon(http);
        kw_gap_desk_stop(http->gaps);
        kw_past_stop(http->past);
        kw_month_desk_stop(http->months);
        kw_asides_wait(&http->asides);
        if (http->daemon) {
                wait_for_replies(http);
                MHD_stop_daemon(http->daemon);
        }
        if (http->address.fd >= 0)
                close(http->address.fd);
        kw_reaper_stop(&http->reaper);
        kw_readers_close(&http->readers);
        kw_gap_desk_free(http->gaps);
        kw_past_free(http->past);
        kw_month_desk_free(http->months);
        stop_admitting(http);
        kw_index_free(http->index);
        kw_tls_free(http->tls);
        if (http->claim >= 0)
                close(http->claim);
        kw_limits_end(http);
        kw_asides_end(&http->asides);
        pthread_mutex_destroy(&http->lock);
        free(http->ledger);
        free(http->web);
        free(http);
}
