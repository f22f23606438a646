/*
 * Find: whatever was typed or scanned, as a code or the beginning of one.
 */
#include "put.h"

#include "ledger/read/certify.h"

#include <errno.h>
#include <string.h>

#define FIND_MOST 50

/* A certificate that something speaks against says so wherever it is shown. */
static int put_state(struct kw_reader *r, const struct kw_thing_row *thing, struct kw_buf *out)
{
        const struct kw_certificate_whole_row *c;
        struct kw_error none;
        int rc;

        if (strcmp(thing->type, "certificate") != 0)
                return 0;
        rc = kw_read_certificate(r, thing->code, &c, &none);
        if (rc == 0)
                kw_put_string(out, "state", kw_certificate_is_text(c->is));
        return rc > 0 ? -EIO : rc;
}

static int answer_find(struct kw_reader *r, const char *text, struct kw_buf *out)
{
        const struct kw_thing_row *found;
        char code[256];
        size_t n;
        int rc;

        kw_as_code(text, code, sizeof(code));
        rc = kw_read_find(r, code, FIND_MOST, &found, &n);
        if (rc)
                return rc;
        kw_put_object(out, NULL);
        kw_put_string(out, "q", text);
        kw_put_array(out, "found");
        for (size_t i = 0; rc == 0 && i < n; i++) {
                kw_put_object(out, NULL);
                kw_put_string(out, "type", found[i].type);
                kw_put_string(out, "code", found[i].code);
                kw_put_few(out, &found[i].few);
                kw_put_bool(out, "exact", found[i].exact);
                rc = put_state(r, &found[i], out);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
        return rc;
}

int kw_answer_find(struct kw_ledger *ledger, const char *text, struct kw_buf *out, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        int rc = kw_reader_new(ledger, &r);

        if (rc == 0) {
                rc = answer_find(r, text, out);
                rc = kw_finish(r, out, rc, err);
        }
        kw_reader_free(r);
        return rc;
}
