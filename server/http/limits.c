/*
 * What one caller, and all of them together, may ask of the server.
 *
 *      rate      each person, token or address: so many requests a second, and a burst of them
 *      sign-in   each address: ten tries a minute, whoever they are for; not behind a proxy, where all have one address
 *      heavy     all together: a few exports at once, since each takes a processor and memory
 *      room      below a floor of free space nothing is recorded, while there is still room to work in
 *
 * Pages and schemas come from memory and are not counted: one page asks for many files at once.
 */
#include "limit.h"

#include "server.h"

#include <errno.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>

#define BURST         2 /* seconds' worth at once */
#define SIGN_INS      10
#define HEAVY         4
#define ROOM_EVERY_MS 500
#define SAY_A_MINUTE  60
#define SAY_AT_ONCE   20

/* --- who ------------------------------------------------------------------------------------- */

/* An address as one caller has it: of IPv6 the network, since a host there has a whole one. Return: bytes. */
static size_t address_of(const struct kw_request *r, unsigned char out[16])
{
        const union MHD_ConnectionInfo *info =
                MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
        struct sockaddr_in6 in6;
        struct sockaddr_in in;

        if (info && info->client_addr->sa_family == AF_INET) {
                memcpy(&in, info->client_addr, sizeof in);
                memcpy(out, &in.sin_addr, 4);
                return 4;
        }
        if (info && info->client_addr->sa_family == AF_INET6) {
                memcpy(&in6, info->client_addr, sizeof in6);
                memcpy(out, &in6.sin6_addr, 16);
                return IN6_IS_ADDR_V4MAPPED(&in6.sin6_addr) ? 16 : 8;
        }
        return 0;
}

/* --- limits ----------------------------------------------------------------------------------- */

void kw_limits_start(struct kw_http *http, const struct kw_http_options *options)
{
        kw_rate_init(&http->limits.rate, options->rate * 60, options->rate * BURST);
        kw_rate_init(&http->limits.sign_in, options->open || !options->rate || options->proxy ? 0 : SIGN_INS, SIGN_INS);
        kw_rate_init(&http->limits.lines, SAY_A_MINUTE, SAY_AT_ONCE);
        http->limits.floor = options->floor_bytes;
}

void kw_limits_end(struct kw_http *http)
{
        kw_rate_end(&http->limits.rate);
        kw_rate_end(&http->limits.sign_in);
        kw_rate_end(&http->limits.lines);
}

static int too_many(struct kw_request *r, int64_t wait_us, enum kw_limit limit, struct kw_error *err)
{
        r->retry_after = (wait_us + 999999) / 1000000;
        atomic_fetch_add(&r->http->limits.refused[limit], 1);
        return kw_refuse_with(err, KW_TOO_MANY, NULL, "seconds", KW_VALUES(KW_FIGURE("seconds", r->retry_after)),
                              "that is too much at once: ask again in %lld s", (long long)r->retry_after);
}

/* Without a name a caller is the address; with one the name counts, apart for each address that it comes from. */
static int take_token(struct kw_request *r, struct kw_error *err)
{
        unsigned char who[16 + 64];
        size_t n = r->http->address.proxied && r->by ? 0 : address_of(r, who);
        int64_t wait;

        if (r->by) {
                size_t by_n = strnlen(r->by, 64);
                memcpy(who + n, r->by, by_n);
                n += by_n;
        }
        wait = kw_rate_take(&r->http->limits.rate, who, n, kw_now_us());
        return wait ? too_many(r, wait, KW_LIMIT_RATE, err) : 0;
}

static int take_sign_in(struct kw_request *r, struct kw_error *err)
{
        unsigned char who[16];
        size_t n = address_of(r, who);
        int64_t wait = kw_rate_take(&r->http->limits.sign_in, who, n, kw_now_us());

        return wait ? too_many(r, wait, KW_LIMIT_SIGN_IN, err) : 0;
}

static int take_heavy(struct kw_request *r, struct kw_error *err)
{
        if (atomic_fetch_add(&r->http->limits.heavy, 1) < HEAVY) {
                r->heavy = true;
                return 0;
        }
        atomic_fetch_sub(&r->http->limits.heavy, 1);
        atomic_fetch_add(&r->http->limits.refused[KW_LIMIT_HEAVY], 1);
        r->retry_after = 5;
        return kw_refuse_with(err, KW_BUSY, NULL, "heavy", KW_VALUES(KW_FIGURE("seconds", r->retry_after)),
                              "%d of these are being made already: ask again in %lld s", HEAVY,
                              (long long)r->retry_after);
}

int kw_limits_admit(struct kw_request *r, struct kw_error *err)
{
        int rc = r->route->load == KW_FREE ? 0 : take_token(r, err);

        if (!rc && r->route->load == KW_SIGN_IN)
                rc = take_sign_in(r, err);
        if (!rc && r->route->load == KW_HEAVY)
                rc = take_heavy(r, err);
        return rc;
}

void kw_limits_leave(struct kw_request *r)
{
        if (r->heavy)
                atomic_fetch_sub(&r->http->limits.heavy, 1);
        r->heavy = false;
}

/* --- room on the disk ------------------------------------------------------------------------- */

int64_t kw_room(struct kw_http *http)
{
        struct statvfs fs;

        if (statvfs(http->ledger, &fs) < 0)
                return -1;
        return (int64_t)((uint64_t)fs.f_bavail * fs.f_frsize);
}

/* The file system is asked twice a second at most; what it says is told once each time it changes. */
static bool look(struct kw_http *http)
{
        int64_t now = kw_now_ms(), since = atomic_load(&http->limits.looked), room;
        bool full;

        if (now - since < ROOM_EVERY_MS || !atomic_compare_exchange_strong(&http->limits.looked, &since, now))
                return atomic_load(&http->limits.full);
        room = kw_room(http);
        full = room >= 0 && room < http->limits.floor;
        if (atomic_exchange(&http->limits.full, full) != full)
                kw_note(http, full ? KW_LOG_ERROR : KW_LOG_NOTICE,
                        full ? "%lld MiB are free on the ledger's disk, less than the floor of %lld: nothing is "
                               "recorded"
                             : "%lld MiB are free on the ledger's disk, more than the floor of %lld: recording goes on",
                        (long long)(room >> 20), (long long)(http->limits.floor >> 20));
        return full;
}

bool kw_is_full(struct kw_http *http)
{
        return http->limits.floor > 0 && look(http);
}

int kw_limits_room(struct kw_http *http, struct kw_error *err)
{
        if (!kw_is_full(http))
                return 0;
        atomic_fetch_add(&http->limits.refused[KW_LIMIT_ROOM], 1);
        return kw_refuse_with(
                err, KW_DISK_FULL, NULL, "nearly", NULL,
                "the ledger's disk is nearly full, so that nothing is recorded until there is room; what is "
                "recorded can be read. Send it again then");
}

int64_t kw_log_bytes(struct kw_http *http)
{
        char path[4096];
        struct stat st;

        return snprintf(path, sizeof path, "%s-wal", http->ledger) < (int)sizeof path && stat(path, &st) == 0
                       ? (int64_t)st.st_size
                       : 0;
}
