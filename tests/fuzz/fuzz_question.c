/*
 * Any text as the origin of a trace and its direction, a line each. What is taken names a type and a code in upper
 * case, and is taken again as the same.
 */
#include "fuzz.h"

#include "kinwire/answer.h"

#include <string.h>

static char *line(const uint8_t **at, const uint8_t *end)
{
        const uint8_t *stop = memchr(*at, '\n', (size_t)(end - *at));
        size_t n = (size_t)((stop ? stop : end) - *at);
        char *text = malloc(n + 1);

        MUST(text);
        memcpy(text, *at, n);
        text[n] = '\0';
        *at = stop ? stop + 1 : end;
        return text;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        static const char *const directions[] = {"forward", "back", "kin"};
        const uint8_t *at = bytes;
        char *origin = line(&at, bytes + n), *direction = line(&at, bytes + n);
        char again_text[sizeof(((struct kw_question *)0)->type) + KW_CODE_MAX + 2];
        struct kw_question q, again;
        struct kw_error err = {0};
        int rc = kw_question_read(origin, direction, &q, &err);

        if (rc) {
                MUST(rc == KW_BAD_REQUEST && err.text[0]);
        } else {
                MUST(kw_code_ok(q.code) && q.direction <= KW_KIN);
                snprintf(again_text, sizeof(again_text), "%s:%s", q.type, q.code);
                MUST(kw_question_read(again_text, directions[q.direction], &again, &err) == 0);
                MUST(strcmp(again.type, q.type) == 0 && strcmp(again.code, q.code) == 0 &&
                     again.direction == q.direction);
        }
        free(origin);
        free(direction);
        return 0;
}
