/*
 * What is told to whoever runs the server: one event, one line.
 *
 * A sentence may carry what came from outside; in it nothing ends the line or steers a terminal. What comes in floods
 * is told up to a rate, and then how much of it was not.
 */
#include "limit.h"
#include "server.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static bool is_continued(const unsigned char *at, size_t n)
{
        for (size_t i = 1; i <= n; i++) {
                if ((at[i] & 0xc0) != 0x80)
                        return false;
        }
        return true;
}

/* How many bytes at @at are one printable character; 0: it is none. C1 controls (U+0080 to U+009F) steer terminals. */
static size_t printable(const unsigned char *at)
{
        size_t more = at[0] < 0x80 ? 0 : at[0] >= 0xf0 ? 3 : at[0] >= 0xe0 ? 2 : 1;

        if (at[0] < 0x20 || at[0] == 0x7f || (at[0] >= 0x80 && at[0] < 0xc2) || at[0] > 0xf4 || at[0] == '\\')
                return 0;
        if (!is_continued(at, more) || (at[0] == 0xc2 && at[1] < 0xa0))
                return 0;
        /* line and paragraph separators, and what turns the direction of writing: U+2028 to U+202E, U+2066 to U+2069 */
        if (at[0] == 0xe2 &&
            ((at[1] == 0x80 && at[2] >= 0xa8 && at[2] <= 0xae) || (at[1] == 0x81 && at[2] >= 0xa6 && at[2] <= 0xa9)))
                return 0;
        return more + 1;
}

void kw_one_line(char *out, size_t size, const char *text)
{
        const unsigned char *at = (const unsigned char *)text;
        size_t used = 0;

        while (*at) {
                size_t n = printable(at);

                if (used + (n ? n : 4) >= size)
                        break;
                if (n)
                        memcpy(out + used, at, n);
                else
                        snprintf(out + used, 5, "\\x%02x", *at);
                used += n ? n : 4;
                at += n ? n : 1;
        }
        out[used] = '\0';
}

static void tell(struct kw_http *http, enum kw_level level, const char *fmt, va_list ap)
{
        char raw[1024], line[1400];

        vsnprintf(raw, sizeof raw, fmt, ap);
        kw_one_line(line, sizeof line, raw);
        http->say(http->ctx, level, line);
}

void kw_say(struct kw_http *http, const char *fmt, ...)
{
        va_list ap;

        if (!http->say)
                return;
        va_start(ap, fmt);
        tell(http, KW_LOG_ERROR, fmt, ap);
        va_end(ap);
}

static void tell_of_others(struct kw_http *http, const char *fmt, ...)
{
        va_list ap;

        va_start(ap, fmt);
        tell(http, KW_LOG_WARNING, fmt, ap);
        va_end(ap);
}

void kw_note(struct kw_http *http, enum kw_level level, const char *fmt, ...)
{
        va_list ap;
        long long others;

        if (!http->say || level > http->told)
                return;
        if (level < KW_LOG_REQUEST && kw_rate_take(&http->limits.lines, "", 0, kw_now_us()) > 0) {
                atomic_fetch_add(&http->limits.untold, 1);
                return;
        }
        others = atomic_exchange(&http->limits.untold, 0);
        if (others)
                tell_of_others(http, "%lld more events were not told, there were too many", others);
        va_start(ap, fmt);
        tell(http, level, fmt, ap);
        va_end(ap);
}

void kw_tell_request(struct kw_request *r, unsigned status)
{
        if (r->http->told >= KW_LOG_REQUEST)
                kw_note(r->http, KW_LOG_REQUEST, "%s %s %u %lld ms by %s", r->method, r->target, status,
                        (long long)((kw_now_us() - r->begun) / 1000), r->by ? r->by : "-");
}
