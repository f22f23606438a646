/*
 * Entries on standard input, one a line; for each a line out: "ok" with the body in its normal form, or the last part
 * of the problem type and the pointer.
 */
#include "kinwire/entry.h"

#include <stdio.h>
#include <stdlib.h>

static void answer(const char *line, size_t n)
{
        struct kw_buf canonical = {0};
        struct kw_error err = {0};
        struct kw_draft draft;
        const int rc = kw_draft_read(line, n, &draft, &err);

        if (rc < 0) {
                printf("no-memory\n");
        } else if (rc > 0) {
                printf("%s %s\t%s\n", kw_refusal_row((enum kw_refusal)rc)->slug, err.pointer, err.text);
        } else {
                kw_json_canonical(draft.body, &canonical);
                printf("ok %s\n", kw_buf_text(&canonical));
                kw_buf_free(&canonical);
                kw_draft_free(&draft);
        }
}

int main(void)
{
        char *line = NULL;
        size_t room = 0;
        ssize_t n;

        while ((n = getline(&line, &room, stdin)) > 0)
                answer(line, (size_t)n - (line[n - 1] == '\n'));
        free(line);
        return 0;
}
