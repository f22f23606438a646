/*
 * Times: RFC 3339 with any offset in, seconds since 1970 inside, UTC to the second out.
 *
 * A leap second (23:59:60 in UTC, on the last day of a month) has no number of its own since 1970 and is read as the
 * second after it.
 */
#include "kinwire/entry.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#define FIRST_SECOND INT64_C(-62135596800) /* 0001-01-01T00:00:00Z */
#define LAST_SECOND  INT64_C(253402300799) /* 9999-12-31T23:59:59Z */

/* @digits of them at *text, as a number from @min to @max; *text moves on. -1 when they are not there. */
static int number(const char **text, int digits, int min, int max)
{
        int n = 0;

        for (; digits > 0; digits--, ++*text) {
                if (**text < '0' || **text > '9')
                        return -1;
                n = n * 10 + (**text - '0');
        }
        return n >= min && n <= max ? n : -1;
}

/* One of the characters of @set at *text. */
static bool sign(const char **text, const char *set)
{
        if (**text == '\0' || !strchr(set, **text))
                return false;
        ++*text;
        return true;
}

static int days_in(int month, int year)
{
        static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
        const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;

        return month == 2 && leap ? 29 : days[month - 1];
}

/* Z, or + or - and hh:mm, as seconds. */
static bool read_offset(const char **text, int *seconds)
{
        const bool west = **text == '-';
        int hours, minutes;

        *seconds = 0;
        if (sign(text, "Zz"))
                return true;
        if (!sign(text, "+-") || (hours = number(text, 2, 0, 23)) < 0 || !sign(text, ":") ||
            (minutes = number(text, 2, 0, 59)) < 0)
                return false;
        *seconds = (hours * 3600 + minutes * 60) * (west ? -1 : 1);
        return true;
}

static bool begins_a_month(int64_t seconds)
{
        const time_t t = (time_t)seconds;
        struct tm tm;

        return seconds % 86400 == 0 && gmtime_r(&t, &tm) && tm.tm_mday == 1;
}

int kw_stamp_read(const char *text, int64_t *seconds)
{
        struct tm tm = {0};
        int64_t at;
        int year, offset;
        bool leap;

        if ((year = number(&text, 4, 0, 9999)) < 0 || !sign(&text, "-") || (tm.tm_mon = number(&text, 2, 1, 12)) < 0 ||
            !sign(&text, "-") || (tm.tm_mday = number(&text, 2, 1, days_in(tm.tm_mon, year))) < 0 ||
            !sign(&text, "Tt") || (tm.tm_hour = number(&text, 2, 0, 23)) < 0 || !sign(&text, ":") ||
            (tm.tm_min = number(&text, 2, 0, 59)) < 0 || !sign(&text, ":") || (tm.tm_sec = number(&text, 2, 0, 60)) < 0)
                return KW_BAD_TIME;
        if (sign(&text, ".")) {
                const size_t fraction = strspn(text, "0123456789");

                if (fraction == 0)
                        return KW_BAD_TIME;
                text += fraction;
        }
        if (!read_offset(&text, &offset) || *text != '\0')
                return KW_BAD_TIME;
        tm.tm_year = year - 1900;
        tm.tm_mon--;
        leap = tm.tm_sec == 60;
        at = (int64_t)timegm(&tm) - offset;
        if (leap && !begins_a_month(at))
                return KW_BAD_TIME;
        if (at < FIRST_SECOND || at > LAST_SECOND)
                return KW_BAD_TIME;
        *seconds = at;
        return 0;
}

void kw_stamp_write(int64_t seconds, char out[KW_STAMP_LEN + 1])
{
        const time_t t = (time_t)(seconds < FIRST_SECOND  ? FIRST_SECOND
                                  : seconds > LAST_SECOND ? LAST_SECOND
                                                          : seconds);
        char text[64];
        struct tm tm;

        gmtime_r(&t, &tm); /* cannot fail within these years */
        snprintf(text, sizeof(text), "%04d-%02d-%02dT%02d:%02d:%02dZ", tm.tm_year + 1900, tm.tm_mon + 1, tm.tm_mday,
                 tm.tm_hour, tm.tm_min, tm.tm_sec);
        memcpy(out, text, KW_STAMP_LEN);
        out[KW_STAMP_LEN] = '\0';
}
