/*
 * The document of a certificate, written into its body before it is recorded: doing the entry again, after whatever
 * correction of what it quotes, leaves it as it was issued.
 */
#include "issued.h"

#include "read/certify.h"

#include <errno.h>

int kw_issued_set(cJSON *certify_body, const cJSON *document)
{
        cJSON *copy;

        cJSON_DeleteItemFromObjectCaseSensitive(certify_body, "document");
        if (!document)
                return 0;
        copy = cJSON_Duplicate(document, 1);
        if (!copy || !cJSON_AddItemToObject(certify_body, "document", copy)) {
                cJSON_Delete(copy);
                return -ENOMEM;
        }
        return 0;
}

int kw_issued_say(struct kw_ledger *l, cJSON *certify_body, const struct kw_issue *issue, struct kw_error *err)
{
        struct kw_reader *r = NULL;
        struct kw_buf text = {0};
        cJSON *document = NULL;
        int rc = kw_issued_set(certify_body, NULL);

        if (rc == 0)
                rc = kw_reader_new(l, &r);
        if (rc == 0)
                rc = kw_read_document(r, certify_body, issue, &text, err);
        if (rc == 0)
                rc = kw_json_read(kw_buf_text(&text), text.n, &kw_any_size, &document, NULL) ? -EIO : 0;
        if (rc == 0 && !cJSON_AddItemToObject(certify_body, "document", document)) {
                cJSON_Delete(document);
                rc = -ENOMEM;
        }
        kw_buf_free(&text);
        kw_reader_free(r);
        return rc;
}
