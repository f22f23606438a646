#ifndef KW_HTTP_SERVER_H
#define KW_HTTP_SERVER_H
/*
 * The server, as the files of this folder see it.
 *
 *      gate.c     what is refused before anything else is looked at     reply.c    everything that is sent
 *      request.c  a request's target taken apart                        pieces.c   replies too large to hold
 *      routes.c   the one table of what there is to ask                 files.c    pages and schemas
 *      intake.c   entries coming in                                     answers.c  questions to the ledger
 *      reaper.c   deadlines of connections                              figures.c  /metrics, /healthz
 *      readers.c  a ledger to read for whoever needs one                check.c    verifying, which takes long
 *      aside.c    other things that take long, each in a thread of its own
 *      server.c   the library's callbacks; start and stop               address.c  the address to listen on
 *      people.h   who asks, and what lets them in
 *      tls.c      the certificate                                       limits.c   how much is taken from whom
 *      say.c      what is told to whoever runs it                       rate.c     buckets of tokens
 *      gaps.c     gaps, which take long to find                         past.c     ledgers as they were
 *      months.c   months summed up for balances                         descriptors.c  how many can be let in
 *
 * A handler runs on one of the library's threads and must not wait for the disk or for another request: what takes long
 * is given to another thread while the connection is set aside (kw_request_aside), and taken up again when that is
 * done.
 */
#include "limit.h"

#include "kinwire/answer.h"
#include "kinwire/export.h"
#include "kinwire/http.h"
#include "kinwire/rights.h"
#include "kinwire/writer.h"

#include "people.h"

#include <microhttpd.h>
#include <pthread.h>
#include <stdatomic.h>

#define KW_JSON_BODY_MAX   ((uint64_t)1 << 20)
#define KW_NDJSON_BODY_MAX ((uint64_t)64 << 20)
#define KW_FILE_BODY_MAX   ((uint64_t)4 << 20)
#define KW_BODIES_MAX      ((uint64_t)128 << 20) /* of all requests together */
#define KW_QUERY_MAX       20
#define KW_PART_MAX        128

/* --- the deadlines of connections (reaper.c) ------------------------------------------------------ */

/** One connection and the moment at which it is cut. */
struct kw_peer {
        int fd;
        bool used;                /* has had a request */
        bool owes;                /* it is its client's turn to send something */
        int gone;                 /* looks in a row at which its client had hung up */
        int64_t due;              /* ms on the monotonic clock */
        struct kw_request *begun; /* the request that is under way; the server's */
        int64_t view;             /* since when what it is sent keeps a view of the ledger open; 0: it doesn't */
        struct kw_peer *prev, *next;
};

struct kw_reaper {
        pthread_t thread;
        pthread_mutex_t lock;
        pthread_cond_t wake;
        struct kw_peer *peers;
        int64_t cut; /* connections that ran into their deadline */
        int64_t open;
        struct kw_http *http;
        bool stopping, running;
};

int kw_reaper_start(struct kw_reaper *reaper, struct kw_http *http);
void kw_reaper_stop(struct kw_reaper *reaper);
int64_t kw_reaper_cut(struct kw_reaper *reaper);
int64_t kw_reaper_open(struct kw_reaper *reaper);
/** kw_peer_new - a connection that is to have sent its first request whole within the time for one. NULL: no memory. */
struct kw_peer *kw_peer_new(struct kw_reaper *reaper, int fd);
void kw_peer_free(struct kw_reaper *reaper, struct kw_peer *peer);
/** kw_peer_within - cut @peer @ms from now; < 0: never. */
void kw_peer_within(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms);
/** kw_peer_owes - as kw_peer_within, where its client is to send something: cut soon when that has hung up. */
void kw_peer_owes(struct kw_reaper *reaper, struct kw_peer *peer, int64_t ms);
/** kw_peer_views - what @peer is sent keeps a view open from now on, or no more. */
void kw_peer_views(struct kw_reaper *reaper, struct kw_peer *peer, bool views);

/* --- readers ---------------------------------------------------------------------------------- */

/** Ledgers open for reading that nobody uses at the moment. */
struct kw_readers {
        pthread_mutex_t lock;
        struct kw_ledger *idle[8];
        size_t n;
};

/** kw_reader_take - a ledger with a view on it, opened when none is idle; kw_reader_give ends the view. */
int kw_reader_take(struct kw_http *http, struct kw_ledger **out, struct kw_error *err);
void kw_reader_give(struct kw_http *http, struct kw_ledger *ledger);
void kw_readers_close(struct kw_readers *readers);

/** Who wants what takes long to read; kw_still_wanted - for kw_ledger_while(): not when its client was cut or hung up,
 * nor when the server stops. */
struct kw_wish {
        struct kw_http *http;
        struct kw_peer *peer;
};
bool kw_still_wanted(void *wish);

/* --- the server ------------------------------------------------------------------------------- */

#define KW_HOSTS_MAX 8
#define KW_URL_MAX   300

/** What is wanted: where to listen, and what keeps others from reading along. Names have commas between them. */
struct kw_wanted {
        const char *listen, *hosts, *proxy;
        bool tls, open, insecure_lan;
};

/** Where to listen, and under which names that is asked for. */
struct kw_address {
        int fd;
        char name[80]; /* "127.0.0.1:8420", with the port that it got */
        uint16_t port;
        char hosts[KW_HOSTS_MAX][254]; /* further names; a proxy's first */
        size_t n_hosts;
        bool loopback;     /* only this machine reaches it */
        bool tls, proxied; /* by this server; by a proxy before it */
        bool in_the_clear; /* neither, and others reach it */
};

struct kw_figures {
        atomic_llong by_status[600];
        atomic_llong refused[KW_REFUSALS];
        atomic_llong sign_ins[3];
};

/* --- how much is taken from whom (limits.c) --------------------------------------------------- */

/** What a request costs. */
enum kw_load {
        KW_ORDINARY,
        KW_FREE,    /* bytes from memory, not counted */
        KW_HEAVY,   /* a few at once, of all callers together */
        KW_SIGN_IN, /* a secret is tried: few a minute from one address */
};

enum kw_limit { KW_LIMIT_RATE, KW_LIMIT_SIGN_IN, KW_LIMIT_HEAVY, KW_LIMIT_ROOM, KW_LIMITS };

struct kw_limits {
        struct kw_rate rate, sign_in, lines;
        atomic_int heavy; /* under way */
        int64_t floor;    /* bytes of free space below which nothing is recorded; 0: none */
        atomic_llong looked, untold, refused[KW_LIMITS];
        atomic_bool full;
};

struct kw_request;
void kw_limits_start(struct kw_http *http, const struct kw_http_options *options);
void kw_limits_end(struct kw_http *http);
/** kw_limits_admit - once it is known who asks and for what. Return: 0; KW_TOO_MANY, KW_BUSY. */
int kw_limits_admit(struct kw_request *r, struct kw_error *err);
/** kw_limits_leave - the request is over. */
void kw_limits_leave(struct kw_request *r);
/** kw_limits_room - before something is recorded. Return: 0; KW_DISK_FULL. */
int kw_limits_room(struct kw_http *http, struct kw_error *err);
bool kw_is_full(struct kw_http *http);
/** kw_room - bytes free on the ledger's disk, -1 when that can't be said; kw_log_bytes - of the write-ahead log. */
int64_t kw_room(struct kw_http *http);
int64_t kw_log_bytes(struct kw_http *http);

struct kw_check;
struct kw_exporting;
struct kw_tracing;

/** Work under way in threads of its own. */
struct kw_asides {
        pthread_mutex_t lock;
        pthread_cond_t none;
        int n;
};
struct kw_gap_desk;
struct kw_past;
struct kw_month_desk;

struct kw_http {
        char *ledger, *web;
        int claim; /* holds the ledger against a second daemon */
        bool open;
        void (*say)(void *ctx, enum kw_level level, const char *sentence);
        void *ctx;
        enum kw_level told; /* what is less is not said */

        struct kw_limits limits;
        struct kw_address address;
        struct kw_tls *tls; /* NULL: none of its own */
        char url[96], known_as[KW_URL_MAX];
        char names[KW_NAMES_MAX + 1]; /* what things are named by in open formats */
        struct MHD_Daemon *daemon;
        struct kw_reaper reaper;
        struct kw_readers readers;
        struct kw_index *index; /* NULL: traces go to SQLite */
        struct kw_gap_desk *gaps;
        struct kw_past *past;
        struct kw_month_desk *months;

        /* of who may come in; none of these with --open */
        struct kw_access *access;
        struct kw_sessions *sessions;
        struct kw_doors *doors;
        struct kw_porters *porters;
        struct kw_refusals *refusals;

        pthread_mutex_t lock;     /* over the two that follow, which go away while requests still come in */
        struct kw_writer *writer; /* NULL once stopping */
        struct kw_check *check;   /* the one that runs, or NULL */

        struct kw_asides asides;
        atomic_bool stopping, failed;
        atomic_int requests;  /* begun and not completed */
        atomic_ullong bodies; /* bytes of bodies being held */
        struct kw_figures figures;
        int64_t started; /* ms on the monotonic clock */
};

int64_t kw_now_ms(void);
int64_t kw_now_us(void);
/** kw_say - an error, to whoever runs the server. kw_note - an event of a level, unless they come in floods. */
void kw_say(struct kw_http *http, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void kw_note(struct kw_http *http, enum kw_level level, const char *fmt, ...) __attribute__((format(printf, 3, 4)));
/** kw_tell_request - one line for a request that was answered, when that is wanted. */
void kw_tell_request(struct kw_request *r, unsigned status);

/**
 * kw_descriptors_spare - how many of @wanted connections there are descriptors for beside the server's own
 *
 * Raises the process's limit as far as that takes, if it may.
 */
unsigned kw_descriptors_spare(unsigned wanted);

/** kw_address_listen - Return: 0; KW_BAD_REQUEST with a sentence. */
int kw_address_listen(const struct kw_wanted *wanted, struct kw_address *out, struct kw_error *err);
/** kw_address_is_host - whether a Host header's value names this server. */
bool kw_address_is_host(const struct kw_address *address, const char *host);
/** kw_address_is_https - whether a browser that asks for @host speaks TLS, to this server or to its proxy. */
bool kw_address_is_https(const struct kw_address *address, const char *host);
/** kw_address_is_origin - whether an Origin header's value is a page of this server, as asked for under @host. */
bool kw_address_is_origin(const struct kw_address *address, const char *host, const char *origin);
/** kw_address_url - where people find it: "https://ledger.mill.example:8443/". */
void kw_address_url(const struct kw_address *address, char out[KW_URL_MAX]);

/* --- the certificate (tls.c) ------------------------------------------------------------------ */

/** What is shown to who connects by TLS. Renewed ones take the place of older ones, which live until the end. */
struct kw_tls;
/**
 * kw_tls_new - read a certificate (its chain after it) and its key, both PEM
 * Return: 0; KW_BAD_REQUEST with a sentence (unreadable, not a pair, over, the key open to others); -ENOMEM.
 */
int kw_tls_new(const char *cert, const char *key, struct kw_tls **out, struct kw_error *err);
/** kw_tls_renew - read the files again; when they can't be used what was there stays. Return: as kw_tls_new(). */
int kw_tls_renew(struct kw_tls *tls, struct kw_error *err);
/** kw_tls_until - seconds since 1970 at which the certificate is over. */
int64_t kw_tls_until(struct kw_tls *tls);
/** kw_tls_free - once the library has let go of every connection. NULL is fine. */
void kw_tls_free(struct kw_tls *tls);
/** The library's callback (gnutls_certificate_retrieve_function3), which shows the one that was read last. */
void *kw_tls_callback(void);
/** What is spoken: TLS 1.2 and 1.3 with at least 128 bits. */
#define KW_TLS_PRIORITIES "SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2"

/* --- a request -------------------------------------------------------------------------------- */

struct kw_intake;

/** One row a thing that can be asked. */
struct kw_route {
        const char *method;              /* GET answers HEAD too */
        const char *path;                /* "*" stands for one segment, which is decoded; a last "**" for any rest */
        enum kw_right right;             /* who may */
        const char *query[KW_QUERY_MAX]; /* parameters there are; the first "*": any, and they mean nothing */
        enum kw_load load;               /* what it costs */
        bool past;                       /* ?size=: as the ledger was */
        /* of three: what the ledger answers, as JSON; */
        int (*ask)(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
        /* whatever else, once the request is whole; */
        enum MHD_Result (*answer)(struct kw_request *r);
        /* what is to be looked at before a body is let in (0, a refusal), and each part of the body */
        int (*begin)(struct kw_request *r, struct kw_error *err);
        enum MHD_Result (*take)(struct kw_request *r, const char *bytes, size_t n);
};

struct kw_request {
        struct kw_http *http;
        struct MHD_Connection *connection;
        struct kw_peer *peer;
        const struct kw_route *route;
        const char *method;
        int64_t begun;       /* us on the monotonic clock */
        bool heavy;          /* counts among the heavy ones */
        int64_t retry_after; /* s, of a reply that refuses for now */
        const char *by;      /* who asks; NULL: nobody known */
        struct kw_identity identity;
        enum { KW_AT_HEAD, KW_IN_BODY, KW_ASIDE, KW_REPLIED } stage;
        enum MHD_Result (*again)(struct kw_request *r); /* what goes on after KW_ASIDE */
        bool closing;                                   /* the connection ends with this reply */
        char *target;                                   /* as sent, path and query */
        size_t path_len;
        char part[2][KW_PART_MAX]; /* what the path's "*" stand for */
        size_t n_parts;
        struct {
                const char *name, *value;
        } query[KW_QUERY_MAX];
        size_t n_query;
        struct {
                const char *name;
                char value[192];
        } header[5]; /* of the reply, beyond the usual ones */
        size_t n_headers;
        struct kw_intake *intake;       /* a POST's entries */
        struct kw_form *form;           /* a POST's few texts */
        struct kw_check *check;         /* a verification that it waits for */
        struct kw_exporting *exporting; /* an export that it waits for */
        struct kw_tracing *tracing;     /* a trace */
        int64_t asked_size;             /* of the ledger, when gaps were asked for */
        bool awaited;                   /* it has waited for gaps to be found */
        struct kw_request *next_waiting;
};

/** kw_request_new - @target as sent, which is copied. NULL: no memory. */
struct kw_request *kw_request_new(struct kw_http *http, struct MHD_Connection *connection, const char *target);
void kw_request_free(struct kw_request *r);

/** kw_request_route - find the route, its path's parts and its query. Return: 0; a refusal. */
int kw_request_route(struct kw_request *r, const char *method, struct kw_error *err);

/** kw_request_query - a parameter's value, NULL when it was not given. */
const char *kw_request_query(const struct kw_request *r, const char *name);
/** kw_request_int - a parameter as an integer from @low to @high (or KW_JSON_INT_MAX), @otherwise when it was not
 * given. */
int kw_request_int(const struct kw_request *r, const char *name, int64_t low, int64_t high, int64_t otherwise,
                   int64_t *out, struct kw_error *err);
/** kw_request_code - bring a code into its form, in @out. @what names it in the refusal. Return: 0; KW_BAD_REQUEST. */
int kw_request_code(const char *given, const char *what, char out[KW_CODE_MAX + 1], struct kw_error *err);

/** kw_request_time - a parameter as a time in RFC 3339, @otherwise when it was not given or left empty. */
int kw_request_time(const struct kw_request *r, const char *name, int64_t otherwise, int64_t *out,
                    struct kw_error *err);
/** kw_request_wants_csv - by its Accept header. */
bool kw_request_wants_csv(const struct kw_request *r);

/** kw_request_aside - set the connection aside; @again goes on with it after kw_request_resume(), from any thread. */
void kw_request_aside(struct kw_request *r, enum MHD_Result (*again)(struct kw_request *r));
void kw_request_resume(struct kw_request *r);

/**
 * kw_aside - set the connection aside while @work does what takes long, in another thread; then @again goes on with it
 * @ctx: @work's, and to be freed with the request, in case it is never gone on with
 */
enum MHD_Result kw_aside(struct kw_request *r, void (*work)(void *ctx), void *ctx,
                         enum MHD_Result (*again)(struct kw_request *r));
/** kw_asides_wait - until no such work is under way; once the server stops, as nobody wants anything more. */
void kw_asides_start(struct kw_asides *a);
void kw_asides_wait(struct kw_asides *a);
void kw_asides_end(struct kw_asides *a);

/** kw_gate - refuse what two readers of HTTP could take for different things, and what comes from another site. */
int kw_gate(struct kw_request *r, const char *method, const char *version, struct kw_error *err);

extern const struct kw_route kw_routes[]; /* ended by a row without a path */

/* --- replies ---------------------------------------------------------------------------------- */

/** kw_reply_header - a header for the reply to come; a value too long is cut. */
void kw_reply_header(struct kw_request *r, const char *name, const char *fmt, ...)
        __attribute__((format(printf, 3, 4)));
/** kw_reply - with the bytes of @body, which is emptied. */
enum MHD_Result kw_reply(struct kw_request *r, unsigned status, const char *type, struct kw_buf *body);
/** kw_reply_fixed - with bytes that outlive the server. */
enum MHD_Result kw_reply_fixed(struct kw_request *r, unsigned status, const char *type, const void *bytes, size_t n);
/** kw_reply_response - with a response of the library's, which is taken; NULL: no memory for it. */
enum MHD_Result kw_reply_response(struct kw_request *r, unsigned status, const char *type,
                                  struct MHD_Response *response);
/** kw_reply_problem - with problem+json for what a function returned. */
enum MHD_Result kw_reply_problem(struct kw_request *r, int rc, const struct kw_error *err);
/** kw_reply_problem_with - the same with one more member, JSON already; NULL: none. */
enum MHD_Result kw_reply_problem_with(struct kw_request *r, int rc, const struct kw_error *err, const char *member,
                                      const char *json);

/** What gives a reply in pieces. */
struct kw_source {
        /* append the next piece. Return: 1, more to come; 0, that was the last; a negative errno or a refusal (none of
           which is 1: nothing is parsed on the way out) */
        int (*more)(void *ctx, struct kw_buf *out, struct kw_error *err);
        void (*free)(void *ctx);
        void *ctx;
};

/** kw_reply_pieces - stream; what goes wrong with the first piece is replied as a problem. @source is taken. */
enum MHD_Result kw_reply_pieces(struct kw_request *r, const char *type, const struct kw_source *source);

/* --- the routes' functions, by file ----------------------------------------------------------- */

/* answers.c */
int kw_ask_lot(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_makeup(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_joints(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_balance(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_thing(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_find(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_attention(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
enum MHD_Result kw_answer_label_sheet(struct kw_request *r);
int kw_ask_floor(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_orders(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_strength(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_specs(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_instruments(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_instrument(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_judged(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_holds(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_hold(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_entries(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_entry(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_head(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_proof(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
enum MHD_Result kw_answer_ask(struct kw_request *r);
/* answers_certify.c */
/** kw_reply_not_certified - a certificate was refused for what is missing: list all of it. */
enum MHD_Result kw_reply_not_certified(struct kw_request *r, const cJSON *body, int rc, const struct kw_error *err);
int kw_ask_certifiable(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
int kw_ask_certificates(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
enum MHD_Result kw_answer_certificate_of(struct kw_request *r);
enum MHD_Result kw_answer_trial(struct kw_request *r);
/* streams.c */
enum MHD_Result kw_answer_chart_page(struct kw_request *r);
enum MHD_Result kw_answer_trace(struct kw_request *r);
enum MHD_Result kw_answer_stored(struct kw_request *r);
/* past.c */
int kw_past_new(const char *path, struct kw_past **out);
/** kw_past_stop - end the thread that makes a ledger as it was. */
void kw_past_stop(struct kw_past *past);
void kw_past_free(struct kw_past *past);
/**
 * kw_reader_take_then - a ledger to read, as it was at ?size= where that was given; for kw_reader_give()
 * @out is NULL unless 0 is returned: what was given back here is not given back again.
 * Return: as kw_reader_take(); -EINPROGRESS when it is being made: kw_reply_on_its_way().
 */
int kw_reader_take_then(struct kw_request *r, struct kw_ledger **out, struct kw_error *err);
/** kw_past_is - whether a ledger is one as it was. kw_past_give - Return: the same; it is given back then. */
bool kw_past_is(struct kw_past *past, const struct kw_ledger *ledger);
bool kw_past_give(struct kw_past *past, struct kw_ledger *ledger);
enum MHD_Result kw_reply_on_its_way(struct kw_request *r);
/* behind.c */
/** kw_is_large - whether what is summed up of a ledger of so many entries is not waited for. */
bool kw_is_large(int64_t entries);
/** kw_rest - sleep so long, or until @stop. kw_await_index - until the index stands, or @stop. Return: it stands. */
void kw_rest(int64_t ms, const atomic_bool *stop);
bool kw_await_index(struct kw_http *http, const atomic_bool *stop);
/** kw_file_beside - the ledger's name and @suffix, for the caller to free(); NULL: no memory. */
char *kw_file_beside(const struct kw_http *http, const char *suffix);
/** kw_note_fault - that the file was not used, for this reason; NULL: it was. kw_note_unsaved - nor written; 0: it was.
 */
void kw_note_fault(struct kw_http *http, const char *suffix, const char *fault);
void kw_note_unsaved(struct kw_http *http, const char *suffix, int rc);
/* months.c */
struct kw_months;
/** kw_month_desk_new - once there are a writer, which has had no job yet, and an index. *@out is to be freed anyway. */
int kw_month_desk_new(struct kw_http *http, struct kw_month_desk **out);
/** kw_month_desk_stop - end its thread; kw_month_desk_free - once the writer is gone as well. */
void kw_month_desk_stop(struct kw_month_desk *desk);
void kw_month_desk_free(struct kw_month_desk *desk);
struct kw_months *kw_months_kept(struct kw_http *http);
/** kw_reply_being_summed - how far it is, and have it gone on with. */
enum MHD_Result kw_reply_being_summed(struct kw_request *r);
/* answers_audit.c */
int kw_ask_size_at(struct kw_ledger *ledger, struct kw_request *r, struct kw_buf *out, struct kw_error *err);
enum MHD_Result kw_answer_balance_of(struct kw_request *r);
/* gaps.c */
int kw_gap_desk_new(struct kw_http *http, struct kw_gap_desk **out);
/** kw_gap_desk_begin - look for the usual gaps when nothing was found or is looked for. */
void kw_gap_desk_begin(struct kw_gap_desk *desk);
/** kw_gap_desk_stop - end the thread; whoever waits is told so. */
void kw_gap_desk_stop(struct kw_gap_desk *desk);
void kw_gap_desk_free(struct kw_gap_desk *desk);
enum MHD_Result kw_answer_gaps(struct kw_request *r);
/* exports.c */
enum MHD_Result kw_answer_export(struct kw_request *r);
/* intake.c */
int kw_intake_begin(struct kw_request *r, struct kw_error *err);
enum MHD_Result kw_intake_take(struct kw_request *r, const char *bytes, size_t n);
enum MHD_Result kw_intake_answer(struct kw_request *r);
/** kw_intake_check - what kw_intake_answer would say of the entry, with nothing recorded. */
enum MHD_Result kw_intake_check(struct kw_request *r);
/** kw_import_begin, _answer - a test machine's own file */
int kw_import_begin(struct kw_request *r, struct kw_error *err);
enum MHD_Result kw_import_answer(struct kw_request *r);
void kw_intake_free(struct kw_http *http, struct kw_intake *intake);
/* check.c */
enum MHD_Result kw_answer_verify(struct kw_request *r);
void kw_check_abandon(struct kw_http *http);
void kw_check_free(struct kw_check *check);
/* exports.c, streams.c */
void kw_exporting_free(struct kw_exporting *x);
void kw_tracing_free(struct kw_tracing *t);
/* files.c */
enum MHD_Result kw_answer_page(struct kw_request *r);
enum MHD_Result kw_answer_schema(struct kw_request *r);
/* figures.c */
enum MHD_Result kw_answer_health(struct kw_request *r);
enum MHD_Result kw_answer_metrics(struct kw_request *r);
void kw_count_reply(struct kw_http *http, unsigned status);
enum kw_sign_in { KW_SIGNED_IN, KW_SIGN_IN_REFUSED, KW_SIGN_IN_LOCKED };
void kw_count_sign_in(struct kw_http *http, enum kw_sign_in what);

#endif
