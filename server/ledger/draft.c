/*
 * An entry as it is sent: {"key","kind","at","body"}.
 *
 * What is wrong with the envelope is not an entry at all (400); what is wrong within the body is data (422).
 */
#include "shape.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A text of the envelope, by its pointer; NULL when it is absent and may be. Return: 0; KW_NOT_ENTRY. */
static int envelope_text(const cJSON *entry, const char *pointer, bool needed, char **out, struct kw_error *err)
{
        const cJSON *member = kw_json_get(entry, pointer + 1);

        *out = cJSON_IsString(member) ? member->valuestring : NULL;
        if (*out || (!member && !needed))
                return 0;
        return kw_refuse(err, KW_NOT_ENTRY, pointer,
                         member ? "\"%s\" has to be a text, in quotation marks." : "\"%s\" is missing from the entry.",
                         pointer + 1);
}

static int check_envelope_names(const cJSON *entry, struct kw_error *err)
{
        static const char *const names[] = {"key", "kind", "at", "body"};

        if (!cJSON_IsObject(entry))
                return kw_refuse(err, KW_NOT_ENTRY, "", "An entry is an object with \"key\", \"kind\" and \"body\".");
        for (const cJSON *member = entry->child; member; member = member->next) {
                struct kw_pointer p = kw_pointer_at("");
                char excerpt[KW_EXCERPT];
                size_t i = 0;

                while (i < 4 && strcmp(names[i], member->string) != 0)
                        i++;
                if (i < 4)
                        continue;
                kw_pointer_name(&p, member->string);
                return kw_refuse(err, KW_NOT_ENTRY, p.text,
                                 "There is no \"%s\" in an entry; it may have: key, kind, at, body.",
                                 kw_excerpt(member->string, excerpt));
        }
        return 0;
}

static int read_key(const cJSON *entry, struct kw_draft *out, struct kw_error *err)
{
        char excerpt[KW_EXCERPT];
        char *key;
        int rc = envelope_text(entry, "/key", true, &key, err);

        if (rc)
                return rc;
        if (!kw_key_lower(key))
                return kw_refuse(err, KW_NOT_ENTRY, "/key",
                                 "\"key\" is \"%s\"; it has to be a UUID, made by whoever sends.",
                                 kw_excerpt(key, excerpt));
        memcpy(out->key, key, sizeof(out->key));
        return 0;
}

static int read_kind(const cJSON *entry, struct kw_draft *out, struct kw_error *err)
{
        char excerpt[KW_EXCERPT];
        char *kind;
        int rc = envelope_text(entry, "/kind", true, &kind, err);

        if (rc)
                return rc;
        if (!kw_kind_shape(kind))
                return kw_refuse(err, KW_NOT_ENTRY, "/kind", "There is no kind of entry called \"%s\".",
                                 kw_excerpt(kind, excerpt));
        strcpy(out->kind, kind);
        return 0;
}

static int read_at(const cJSON *entry, struct kw_draft *out, struct kw_error *err)
{
        char excerpt[KW_EXCERPT];
        int64_t seconds;
        char *at;
        int rc = envelope_text(entry, "/at", false, &at, err);

        out->at[0] = '\0';
        if (rc || !at)
                return rc;
        if (kw_stamp_read(at, &seconds) != 0)
                return kw_refuse(
                        err, KW_NOT_ENTRY, "/at",
                        "\"at\" is \"%s\"; a time is written as in 2026-03-04T09:12:00Z, or with +01:00 in place "
                        "of Z.",
                        kw_excerpt(at, excerpt));
        kw_stamp_write(seconds, out->at);
        return 0;
}

static int read_envelope(cJSON *entry, struct kw_draft *out, struct kw_error *err)
{
        const cJSON *body = kw_json_get(entry, "body");
        int rc = check_envelope_names(entry, err);

        if (rc == 0)
                rc = read_key(entry, out, err);
        if (rc == 0)
                rc = read_kind(entry, out, err);
        if (rc == 0)
                rc = read_at(entry, out, err);
        if (rc == 0 && !cJSON_IsObject(body))
                rc = kw_refuse(err, KW_NOT_ENTRY, "/body",
                               body ? "\"body\" has to be an object." : "\"body\" is missing from the entry.");
        return rc;
}

int kw_draft_read(const char *text, size_t n, struct kw_draft *out, struct kw_error *err)
{
        struct kw_error own;
        struct kw_draft draft = {0};
        cJSON *entry = NULL, *body;
        int rc;

        if (!err)
                err = &own;
        rc = kw_json_read(text, n, &kw_json_entry_limits, &entry, err);
        if (rc == KW_BAD_TYPE && strncmp(err->pointer, "/body/", 6) != 0)
                rc = err->what = KW_NOT_ENTRY; /* a number where the envelope has none */
        if (rc)
                return rc;
        rc = read_envelope(entry, &draft, err);
        if (rc == 0) {
                body = cJSON_GetObjectItemCaseSensitive(entry, "body");
                rc = kw_body_check(draft.kind, body, "/body", err);
                if (rc == 0) {
                        draft.body = cJSON_DetachItemViaPointer(entry, body);
                        *out = draft;
                }
        }
        cJSON_Delete(entry);
        return rc;
}

void kw_draft_free(struct kw_draft *draft)
{
        cJSON_Delete(draft->body);
        draft->body = NULL;
}
