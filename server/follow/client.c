/*
 * Asking another kinwire, by libcurl.
 *
 * No redirect is followed and no proxy of the environment is used, so that a token goes nowhere but to the address that
 * was given. An answer that trickles is given up like one that does not come.
 */
#include "client.h"

#include <curl/curl.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define CONNECT_WITHIN 10L /* s */
#define SLOWEST        64L /* bytes a second, over SLOW_FOR seconds */
#define SLOW_FOR       30L

struct kw_client {
        CURL *curl;
        struct curl_slist *headers;
        char *url; /* without a slash at its end */
        const volatile sig_atomic_t *stop;
        struct kw_buf *out; /* of the answer under way */
        size_t most;
        bool too_large;
        char said[CURL_ERROR_SIZE];
};

static size_t take(char *bytes, size_t one, size_t n, void *ctx)
{
        struct kw_client *c = ctx;

        c->too_large = n > c->most - c->out->n;
        if (c->too_large)
                return 0;
        kw_buf_add(c->out, bytes, n * one);
        return c->out->failed ? 0 : n;
}

static int go_on(void *ctx, curl_off_t total, curl_off_t now, curl_off_t up_total, curl_off_t up)
{
        const struct kw_client *c = ctx;

        (void)total;
        (void)now;
        (void)up_total;
        (void)up;
        return c->stop && *c->stop;
}

static char *without_slash(const char *url)
{
        size_t n = strlen(url);

        while (n && url[n - 1] == '/')
                n--;
        return strndup(url, n);
}

static bool add_token(struct kw_client *c, const char *token)
{
        struct kw_buf line = {0};

        kw_buf_printf(&line, "Authorization: Bearer %s", token);
        c->headers = curl_slist_append(NULL, kw_buf_text(&line));
        kw_buf_free(&line);
        return c->headers != NULL;
}

static bool set_up(struct kw_client *c, const struct kw_follow_options *options)
{
        CURLcode rc = curl_easy_setopt(c->curl, CURLOPT_NOSIGNAL, 1L);

#define SET(option, value) rc = rc ? rc : curl_easy_setopt(c->curl, option, value)
        SET(CURLOPT_PROTOCOLS_STR, "http,https");
        SET(CURLOPT_FOLLOWLOCATION, 0L);
        SET(CURLOPT_PROXY, "");
        SET(CURLOPT_CONNECTTIMEOUT, CONNECT_WITHIN);
        SET(CURLOPT_LOW_SPEED_LIMIT, SLOWEST);
        SET(CURLOPT_LOW_SPEED_TIME, SLOW_FOR);
        SET(CURLOPT_USERAGENT, "kinwire");
        SET(CURLOPT_ERRORBUFFER, c->said);
        SET(CURLOPT_WRITEFUNCTION, take);
        SET(CURLOPT_WRITEDATA, c);
        SET(CURLOPT_XFERINFOFUNCTION, go_on);
        SET(CURLOPT_XFERINFODATA, c);
        SET(CURLOPT_NOPROGRESS, 0L);
        if (options->ca)
                SET(CURLOPT_CAINFO, options->ca);
        if (c->headers)
                SET(CURLOPT_HTTPHEADER, c->headers);
#undef SET
        return rc == CURLE_OK;
}

int kw_client_new(const struct kw_follow_options *options, struct kw_client **out, struct kw_error *err)
{
        struct kw_client *c;

        if (strncasecmp(options->url, "http://", 7) != 0 && strncasecmp(options->url, "https://", 8) != 0)
                return kw_refuse(
                        err, KW_BAD_REQUEST, "",
                        "\"%.200s\" is not the address of a kinwire; one is written as in https://mill.example",
                        options->url);
        c = calloc(1, sizeof(*c));
        if (!c)
                return -ENOMEM;
        c->stop = options->stop;
        c->url = without_slash(options->url);
        c->curl = curl_easy_init();
        if (!c->url || !c->curl || (options->token && !add_token(c, options->token)) || !set_up(c, options)) {
                kw_client_free(c);
                return -ENOMEM;
        }
        *out = c;
        return 0;
}

void kw_client_free(struct kw_client *c)
{
        if (!c)
                return;
        curl_easy_cleanup(c->curl);
        curl_slist_free_all(c->headers);
        free(c->url);
        free(c);
}

/* What a status other than 200 means for whoever follows. */
static int judge_status(const struct kw_client *c, long status, const char *path, struct kw_error *err)
{
        if (status == 200)
                return 0;
        if (status == 401 || status == 403)
                return kw_refuse(err, KW_NOT_ALLOWED, "",
                                 "%s lets nobody in without a token that may read (it answered %ld)", c->url, status);
        if (status == 429 || status >= 500)
                return kw_refuse(err, KW_BUSY, "", "%s answered %ld", c->url, status);
        return kw_refuse(err, KW_BAD_VALUE, "", "%s%s answered %ld, as no ledger does", c->url, path, status);
}

int kw_client_get(struct kw_client *c, const char *path, size_t most, struct kw_buf *out, struct kw_error *err)
{
        struct kw_buf url = {0};
        CURLcode rc;
        long status = 0;

        kw_buf_clear(out);
        kw_buf_printf(&url, "%s%s", c->url, path);
        c->out = out;
        c->most = most;
        c->too_large = false;
        c->said[0] = '\0';
        rc = url.failed ? CURLE_OUT_OF_MEMORY : curl_easy_setopt(c->curl, CURLOPT_URL, kw_buf_text(&url));
        if (rc == CURLE_OK)
                rc = curl_easy_perform(c->curl);
        kw_buf_free(&url);
        if (rc == CURLE_OUT_OF_MEMORY || out->failed)
                return -ENOMEM;
        if (c->too_large)
                return kw_refuse(err, KW_TOO_LARGE, "", "%s%s is answered with more than %zu bytes", c->url, path,
                                 most);
        if (rc)
                return kw_refuse(err, KW_BUSY, "", "%s does not answer: %s", c->url,
                                 c->said[0] ? c->said : curl_easy_strerror(rc));
        curl_easy_getinfo(c->curl, CURLINFO_RESPONSE_CODE, &status);
        return judge_status(c, status, path, err);
}
