/*
 * The small bodies of signing in and what belongs to it: one JSON object of texts, held in memory that is wiped.
 */
#include "server.h"

#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FORM_MAX 4096 /* bytes */

struct kw_form {
        char text[FORM_MAX];
        size_t n;
        uint64_t taken; /* counted in http->bodies */
        bool too_large;
        cJSON *json;
        struct kw_waiting waiting;
};

static const struct kw_json_limits limits = {.bytes = FORM_MAX, .nodes = 16};

int kw_form_begin(struct kw_request *r, struct kw_error *err)
{
        const char *type = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_CONTENT_TYPE);
        size_t n = strlen("application/json");

        if (!type || strncasecmp(type, "application/json", n) != 0 || (type[n] && !strchr("; \t", type[n])))
                return kw_refuse_with(err, KW_WRONG_MEDIA, NULL, "form", NULL, "this comes as application/json");
        r->form = calloc(1, sizeof *r->form);
        return r->form ? 0 : -ENOMEM;
}

enum MHD_Result kw_form_take(struct kw_request *r, const char *bytes, size_t n)
{
        struct kw_form *f = r->form;

        f->taken += n;
        if (f->taken > KW_JSON_BODY_MAX)
                return MHD_NO;
        if (n > sizeof f->text - f->n) {
                f->too_large = true;
                return MHD_YES;
        }
        memcpy(f->text + f->n, bytes, n);
        f->n += n;
        return MHD_YES;
}

void kw_form_free(struct kw_form *f)
{
        const cJSON *member;

        if (!f)
                return;
        cJSON_ArrayForEach(member, f->json)
        {
                if (cJSON_IsString(member))
                        sodium_memzero(member->valuestring, strlen(member->valuestring));
        }
        cJSON_Delete(f->json);
        if (f->waiting.out.at)
                sodium_memzero(f->waiting.out.at, f->waiting.out.n);
        kw_buf_free(&f->waiting.out);
        sodium_memzero(f, sizeof *f);
        free(f);
}

struct kw_waiting *kw_form_waiting(struct kw_request *r)
{
        return &r->form->waiting;
}

static int parse(struct kw_form *f, struct kw_error *err)
{
        if (f->too_large)
                return kw_refuse_with(err, KW_TOO_LARGE, NULL, "bytes", KW_VALUES(KW_FIGURE("most", FORM_MAX)),
                                      "this may have at most %d bytes", FORM_MAX);
        if (f->n == 0) {
                f->json = cJSON_CreateObject();
                return f->json ? 0 : -ENOMEM;
        }
        return kw_json_read(f->text, f->n, &limits, &f->json, err);
}

static const struct kw_field *field_of(const struct kw_field *fields, const char *name)
{
        for (; fields->name; fields++) {
                if (strcmp(fields->name, name) == 0)
                        return fields;
        }
        return NULL;
}

int kw_form_read(struct kw_request *r, const struct kw_field *fields, struct kw_error *err)
{
        struct kw_form *f = r->form;
        const cJSON *member;
        int rc = f->json ? 0 : parse(f, err);
        char pointer[64];

        if (rc)
                return rc;
        if (!cJSON_IsObject(f->json))
                return kw_refuse_with(err, KW_BAD_TYPE, "", "form", NULL, "this has to be an object");
        cJSON_ArrayForEach(member, f->json)
        {
                const struct kw_field *field = field_of(fields, member->string);

                snprintf(pointer, sizeof pointer, "/%.40s", field ? field->name : "");
                if (!field)
                        return kw_refuse_with(err, KW_UNKNOWN_MEMBER, "", "form", NULL,
                                              "there is a field that doesn't belong here");
                if (!cJSON_IsString(member))
                        return kw_refuse_with(err, KW_BAD_TYPE, pointer, "text", NULL, "\"%s\" is a text", field->name);
                *field->value = member->valuestring;
        }
        for (; fields->name; fields++) {
                snprintf(pointer, sizeof pointer, "/%.40s", fields->name);
                if (fields->needed && !*fields->value)
                        return kw_refuse_with(err, KW_MISSING, pointer, "says", NULL, "\"%s\" is missing",
                                              fields->name);
        }
        return 0;
}
