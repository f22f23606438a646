/*
 * A question for a trace, read from the words in which it is asked: "heat:H1", "forward".
 */
#include "kinwire/answer.h"
#include "ledger/read/read.h"

#include <ctype.h>
#include <string.h>

static int read_code(const char *text, struct kw_question *q, struct kw_error *err)
{
        size_t n = strlen(text);

        if (n > KW_CODE_MAX)
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "code", NULL, "a code has at most %d characters",
                                      KW_CODE_MAX);
        for (size_t i = 0; i <= n; i++)
                q->code[i] = (char)toupper((unsigned char)text[i]);
        if (!kw_code_ok(q->code))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "code", NULL,
                                      "'%.40s' is not a code: codes are of A-Z 0-9 . / -", text);
        return 0;
}

static int read_direction(const char *text, struct kw_question *q, struct kw_error *err)
{
        static const char *const directions[] = {[KW_FORWARD] = "forward", [KW_BACK] = "back", [KW_KIN] = "kin"};

        if (!text || !*text)
                return 0;
        for (size_t i = 0; i < sizeof(directions) / sizeof(*directions); i++) {
                if (strcmp(directions[i], text) == 0) {
                        q->direction = (enum kw_direction)i;
                        return 0;
                }
        }
        return kw_refuse_with(err, KW_BAD_REQUEST, "", "choice", KW_VALUES(KW_WORD("text", text)),
                              "a trace goes forward, back or kin, not '%.40s'", text);
}

int kw_question_read(const char *origin, const char *direction, struct kw_question *out, struct kw_error *err)
{
        const char *colon = strchr(origin, ':');
        size_t n = colon ? (size_t)(colon - origin) : 0;
        int rc;

        *out = (struct kw_question){.direction = KW_FORWARD, .since = INT64_MIN, .until = INT64_MAX};
        if (!n || n >= sizeof(out->type))
                return kw_refuse_with(err, KW_BAD_REQUEST, "", "origin", KW_VALUES(KW_WORD("text", origin)),
                                      "'%.60s' is not an origin: say for example heat:H1 or lot:BB-12", origin);
        for (size_t i = 0; i < n; i++)
                out->type[i] = (char)tolower((unsigned char)origin[i]);
        if (!kw_origin_known(out->type))
                return kw_refuse_with(
                        err, KW_BAD_REQUEST, "", "start", KW_VALUES(KW_WORD("text", out->type)),
                        "a trace can't start from '%s': it starts from a heat, lot, run, batch, weld, test,"
                        " certificate, machine, instrument, consignment, supply or hold",
                        out->type);
        rc = read_code(colon + 1, out, err);
        return rc ? rc : read_direction(direction, out, err);
}
