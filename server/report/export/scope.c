/*
 * What is to be exported, read from the words in which it is asked for: "all", "month:2026-09", "lot:RL-0001", and
 * between which times or marks of a length.
 */
#include "inside.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_month(const char *text)
{
        for (int i = 0; i < 7; i++) {
                if (i == 4 ? text[i] != '-' : !isdigit((unsigned char)text[i]))
                        return false;
        }
        return !text[7] && strncmp(text, "0000", 4) != 0;
}

static int read_month(const char *text, struct kw_scope *out, struct kw_error *err)
{
        int year = 0, month = 0;

        if (is_month(text)) {
                year = (text[0] - '0') * 1000 + (text[1] - '0') * 100 + (text[2] - '0') * 10 + (text[3] - '0');
                month = (text[5] - '0') * 10 + (text[6] - '0');
        }
        if (month < 1 || month > 12)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "month", KW_VALUES(KW_WORD("text", text)),
                                      "'%.40s' is not a month: say for example month:2026-09", text);
        out->what = KW_SCOPE_TIMES;
        snprintf(out->since, sizeof(out->since), "%04u-%02u-01T00:00:00Z", (unsigned)year % 10000,
                 (unsigned)month % 100);
        snprintf(out->name, sizeof(out->name), "%.7s", out->since);
        /* December's end is the next year's beginning; that of 9999 has no stamp, but its letters are in order */
        month = month % 12 + 1;
        year += month == 1;
        snprintf(out->until, sizeof(out->until), "%04u-%02u-01T00:00:00Z", (unsigned)year % 10000,
                 (unsigned)month % 100);
        if (year > 9999)
                snprintf(out->until, sizeof(out->until), "~");
        return 0;
}

/* --- times ---------------------------------------------------------------------------------------- */

static bool said(const char *word)
{
        return word && *word;
}

static int read_time(const char *name, const char *text, int64_t otherwise, int64_t *out, struct kw_error *err)
{
        *out = otherwise;
        if (!said(text) || kw_stamp_read(text, out) == 0)
                return 0;
        return kw_refuse_with(err, KW_BAD_REQUEST, "", "time", KW_VALUES(KW_WORD("parameter", name)),
                              "%s is a time as in 2026-03-04T09:12:00Z, not '%.40s'", name, text);
}

static int read_times(const struct kw_scope_words *words, int64_t *since, int64_t *until, struct kw_error *err)
{
        int rc = read_time("since", words->since, INT64_MIN, since, err);

        if (rc == 0)
                rc = read_time("until", words->until, INT64_MAX, until, err);
        if (rc == 0 && *since > *until)
                rc = kw_refuse_with(err, KW_BAD_REQUEST, "", "since-until", NULL, "since is later than until");
        return rc;
}

/* "20260901T000000Z": a colon can't be in the name of a file everywhere. */
static void name_time(struct kw_scope *out, const char *word, int64_t seconds)
{
        size_t n = strlen(out->name);
        char stamp[KW_STAMP_LEN + 1];

        if (seconds == INT64_MIN || seconds == INT64_MAX)
                return;
        kw_stamp_write(seconds, stamp);
        snprintf(out->name + n, sizeof(out->name) - n, "-%s-%.4s%.2s%.5s%.2s%s", word, stamp, stamp + 5, stamp + 8,
                 stamp + 14, stamp + 17);
}

static void name_times(struct kw_scope *out, int64_t since, int64_t until)
{
        name_time(out, "since", since);
        name_time(out, "until", until);
}

static int read_all(const struct kw_scope_words *words, struct kw_scope *out, struct kw_error *err)
{
        int64_t since, until;
        int rc = read_times(words, &since, &until, err);

        if (rc)
                return rc;
        snprintf(out->name, sizeof(out->name), "all");
        out->what = said(words->since) || said(words->until) ? KW_SCOPE_TIMES : KW_SCOPE_ALL;
        snprintf(out->until, sizeof(out->until), "~");
        if (since != INT64_MIN)
                kw_stamp_write(since, out->since);
        if (until != INT64_MAX)
                kw_stamp_write(until, out->until);
        name_times(out, since, until);
        return 0;
}

/* --- an origin ------------------------------------------------------------------------------------- */

static bool read_mm(const char *text, int64_t *out)
{
        char *end;

        errno = 0;
        *out = isdigit((unsigned char)*text) ? strtoll(text, &end, 10) : -1;
        return *out >= 0 && !*end && !errno && *out <= KW_JSON_INT_MAX;
}

static int read_part(const struct kw_scope_words *words, struct kw_scope *out, struct kw_error *err)
{
        struct kw_question *q = &out->question;
        size_t n = strlen(out->name);

        if (!said(words->from_mm) && !said(words->to_mm))
                return 0;
        if (!said(words->from_mm) || !said(words->to_mm) || !read_mm(words->from_mm, &q->from_mm) ||
            !read_mm(words->to_mm, &q->to_mm))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "together",
                                      KW_VALUES(KW_WORD("a", "from_mm"), KW_WORD("b", "to_mm")),
                                      "from_mm and to_mm go together and are whole millimetres");
        q->part = true;
        snprintf(out->name + n, sizeof(out->name) - n, "-%" PRId64 "-%" PRId64, q->from_mm, q->to_mm);
        return 0;
}

static int read_origin(const struct kw_scope_words *words, struct kw_scope *out, struct kw_error *err)
{
        struct kw_question *q = &out->question;
        int rc = kw_question_read(words->origin, words->direction, q, err);

        if (rc)
                return rc;
        out->direction_said = said(words->direction);
        snprintf(out->asked, sizeof(out->asked), "%s:%s", q->type, q->code);
        snprintf(out->name, sizeof(out->name), "%s-%s", q->type, q->code);
        for (char *c = out->name; *c; c++) {
                if (*c == '/')
                        *c = '-'; /* a code's stroke can't be in the name of a file */
        }
        q->window = said(words->since) || said(words->until);
        rc = read_times(words, &q->since, &q->until, err);
        if (rc)
                return rc;
        name_times(out, q->since, q->until);
        return read_part(words, out, err);
}

/* --- names ------------------------------------------------------------------------------------------ */

int kw_names_read(const char *url, char out[KW_NAMES_MAX + 1], struct kw_error *err)
{
        static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~:/@%";
        const size_t n = said(url) ? strlen(url) : 0;
        const char *host = n ? strstr(url, "://") : NULL;

        if (!n) {
                snprintf(out, KW_NAMES_MAX + 1, KW_NAMES_NONE);
                return 0;
        }
        if (n >= KW_NAMES_MAX || strspn(url, letters) != n || !host || host[3] == '/' || !host[3] ||
            (strncmp(url, "https://", 8) != 0 && strncmp(url, "http://", 7) != 0))
                return kw_refuse_with(
                        err, KW_BAD_REQUEST, "", "names",
                        KW_VALUES(KW_WORD("text", url), KW_FIGURE("most", (int64_t)(KW_NAMES_MAX - 1))),
                        "things are named by an address that the mill owns, as in https://ropes.example/id/, "
                        "at most %d letters long, not by '%.40s'",
                        KW_NAMES_MAX - 1, url);
        snprintf(out, KW_NAMES_MAX + 1, "%s%s", url, url[n - 1] == '/' ? "" : "/");
        return 0;
}

/* --- the whole ------------------------------------------------------------------------------------- */

int kw_scope_read(const struct kw_scope_words *words, struct kw_scope *out, struct kw_error *err)
{
        const char *origin = words->origin;
        const bool all = strcmp(origin, "all") == 0, month = strncmp(origin, "month:", 6) == 0;
        int rc;

        *out = (struct kw_scope){.what = KW_SCOPE_ORIGIN};
        rc = kw_names_read(words->names, out->names, err);
        if (rc)
                return rc;
        if (!all && !month)
                return read_origin(words, out, err);
        snprintf(out->asked, sizeof(out->asked), "%.60s", origin);
        if (said(words->direction))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "of-origin", KW_VALUES(KW_WORD("text", out->asked)),
                                      "a direction is said of an origin, not of %.20s", origin);
        if (said(words->from_mm) || said(words->to_mm))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "of-lot", KW_VALUES(KW_WORD("text", out->asked)),
                                      "from_mm and to_mm are said of a lot, not of %.20s", origin);
        if (all)
                return read_all(words, out, err);
        if (said(words->since) || said(words->until))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "times-of-all", KW_VALUES(KW_WORD("text", out->asked)),
                                      "since and until are said of all, of a machine or of an instrument, not of %.20s",
                                      origin);
        return read_month(origin + 6, out, err);
}
