/*
 * Any bytes as an entry. A draft that is taken is in its normal form: put together again and read again, it gives the
 * same body, and naming its welds twice names them the same.
 */
#include "fuzz.h"

#include "kinwire/entry.h"

#include <string.h>

static void body_text(const struct kw_draft *draft, struct kw_buf *out)
{
        kw_json_canonical(draft->body, out);
        MUST(!out->failed);
}

static void write_again(const struct kw_draft *draft, struct kw_buf *body, struct kw_buf *out)
{
        kw_put_object(out, NULL);
        kw_put_string(out, "key", draft->key);
        kw_put_string(out, "kind", draft->kind);
        if (draft->at[0])
                kw_put_string(out, "at", draft->at);
        kw_put_raw(out, "body", kw_buf_text(body));
        kw_put_object_end(out);
        MUST(!out->failed);
}

static void check_normal(const struct kw_draft *draft)
{
        struct kw_buf body = {0}, text = {0}, again_body = {0};
        struct kw_draft again;
        struct kw_error err;

        body_text(draft, &body);
        write_again(draft, &body, &text);
        if (text.n <= kw_json_entry_limits.bytes) {
                MUST(kw_draft_read(text.at, text.n, &again, &err) == 0);
                body_text(&again, &again_body);
                MUST(strcmp(again.key, draft->key) == 0 && strcmp(again.at, draft->at) == 0);
                MUST(again_body.n == body.n && memcmp(again_body.at, body.at, body.n) == 0);
                kw_draft_free(&again);
        }
        kw_buf_free(&body);
        kw_buf_free(&text);
        kw_buf_free(&again_body);
}

static void check_weld_names(struct kw_draft *draft)
{
        struct kw_buf once = {0}, twice = {0};

        MUST(kw_body_name_welds(draft->body, draft->key) == 0);
        body_text(draft, &once);
        MUST(kw_body_name_welds(draft->body, draft->key) == 0);
        body_text(draft, &twice);
        MUST(once.n == twice.n && memcmp(once.at, twice.at, once.n) == 0);
        kw_buf_free(&once);
        kw_buf_free(&twice);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        struct kw_error err = {0};
        struct kw_draft draft;
        int rc = kw_draft_read((const char *)bytes, n, &draft, &err);

        if (rc) {
                MUST(rc < 0 || (err.text[0] && (err.pointer[0] == '\0' || err.pointer[0] == '/')));
                return 0;
        }
        MUST(strlen(draft.key) == KW_KEY_LEN && draft.body);
        check_normal(&draft);
        if (strcmp(draft.kind, "run") == 0)
                check_weld_names(&draft);
        kw_draft_free(&draft);
        return 0;
}
