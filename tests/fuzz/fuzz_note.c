/*
 * Any bytes as a witness note. A note that is read and written again says the same; of a signed one no byte above the
 * signature can be changed unseen.
 */
#include "fuzz.h"

#include "kinwire/witness.h"

#include <stdlib.h>
#include <string.h>

static void check_signed(const char *text, size_t n)
{
        const char *line = strstr(text, "\nsignature ");
        struct kw_note other;
        char *copy = strdup(text);

        MUST(copy && line);
        for (size_t i = 0; i < (size_t)(line - text); i += 7) {
                copy[i] ^= 1;
                MUST(kw_note_read(copy, n, &other, NULL) == KW_BAD_VALUE);
                copy[i] ^= 1;
        }
        free(copy);
}

static void check_again(const struct kw_note *note)
{
        struct kw_buf again = {0};
        struct kw_note other;
        int64_t at;

        MUST(kw_stamp_read(note->time, &at) == 0);
        MUST(kw_note_write(&note->head, at, NULL, &again) == 0);
        MUST(kw_note_read(kw_buf_text(&again), again.n, &other, NULL) == 0);
        MUST(other.head.size == note->head.size && memcmp(&other.head.root, &note->head.root, KW_HASH) == 0);
        kw_buf_free(&again);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        char *text = malloc(n + 1);
        struct kw_note note;
        struct kw_error err = {0};
        int rc;

        MUST(text);
        memcpy(text, bytes, n);
        text[n] = '\0';
        rc = kw_note_read(text, n, &note, &err);
        MUST(rc == 0 || (rc == KW_BAD_VALUE && err.text[0]));
        if (rc == 0)
                check_again(&note);
        if (rc == 0 && note.is_signed)
                check_signed(text, n);
        free(text);
        return 0;
}
