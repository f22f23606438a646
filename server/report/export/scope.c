/*
 * What is to be exported, read from the words in which it is asked for: "all", "month:2026-09", "lot:RL-0001".
 */
#include "inside.h"

#include <ctype.h>
#include <stdio.h>
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
                return kw_refuse(err, KW_BAD_REQUEST, "", "'%.40s' is not a month: say for example month:2026-09",
                                 text);
        out->what = KW_SCOPE_MONTH;
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

int kw_scope_read(const char *origin, const char *direction, struct kw_scope *out, struct kw_error *err)
{
        int rc;

        *out = (struct kw_scope){.direction_said = direction && *direction};
        if (strcmp(origin, "all") == 0 || strncmp(origin, "month:", 6) == 0) {
                if (out->direction_said)
                        return kw_refuse(err, KW_BAD_REQUEST, "", "a direction is said of an origin, not of %.20s",
                                         origin);
                if (origin[0] == 'm')
                        return read_month(origin + 6, out, err);
                out->what = KW_SCOPE_ALL;
                snprintf(out->name, sizeof(out->name), "all");
                return 0;
        }
        rc = kw_question_read(origin, direction, &out->question, err);
        snprintf(out->name, sizeof(out->name), "%s-%s", out->question.type, out->question.code);
        for (char *c = out->name; *c; c++) {
                if (*c == '/')
                        *c = '-'; /* a code's stroke can't be in the name of a file */
        }
        return rc;
}
