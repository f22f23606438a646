/*
 * The parts that EPCIS events have in common: names of things, papers, lists of lots.
 */
#include "event.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* --- names ------------------------------------------------------------------------------------ */

/* "https://.../lot/RL-1": what is not a letter, digit, dot or hyphen is percent-encoded. */
void kw_event_url(struct kw_event *e, const char *name, const char *type, const char *text)
{
        struct kw_buf url = {0};

        kw_buf_printf(&url, "%s%s/", e->x->scope.names, type);
        for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
                if ((*c < 0x80 && isalnum(*c)) || *c == '.' || *c == '-')
                        kw_buf_add(&url, c, 1);
                else
                        kw_buf_printf(&url, "%%%02X", *c);
        }
        kw_put_string(e->out, name, kw_buf_text(&url));
        e->out->failed = e->out->failed || url.failed;
        kw_buf_free(&url);
}

void kw_event_place(struct kw_event *e, const char *name, const char *type, const char *text)
{
        kw_put_object(e->out, name);
        kw_event_url(e, "id", type, text);
        kw_put_object_end(e->out);
}

void kw_event_transaction(struct kw_event *e, const char *type, const char *what, const char *code)
{
        kw_put_array(e->out, "bizTransactionList");
        kw_put_object(e->out, NULL);
        kw_put_string(e->out, "type", type);
        kw_event_url(e, "bizTransaction", what, code);
        kw_put_object_end(e->out);
        kw_put_array_end(e->out);
}

/* --- lists of lots ------------------------------------------------------------------------------ */

static int by_text(const void *a, const void *b)
{
        return strcmp(*(const char *const *)a, *(const char *const *)b);
}

int kw_event_add(struct kw_event *e, struct kw_list *codes, const char *code)
{
        const char **at = code ? kw_list_more(kw_reader_arena(e->x->reader), codes, sizeof(*at)) : NULL;

        if (at)
                *at = code;
        return at || !code ? 0 : -ENOMEM;
}

/* A lot that is named twice is in a list once. */
void kw_event_list(struct kw_event *e, const char *name, struct kw_list *codes)
{
        const char **at = codes->at;

        if (!codes->n)
                return;
        qsort(at, codes->n, sizeof(*at), by_text);
        kw_put_array(e->out, name);
        for (size_t i = 0; i < codes->n; i++) {
                if (!i || strcmp(at[i], at[i - 1]) != 0)
                        kw_event_url(e, NULL, "lot", at[i]);
        }
        kw_put_array_end(e->out);
}

const char *kw_event_lot(const cJSON *item)
{
        return cJSON_IsString(item) ? item->valuestring : kw_json_text(item, "lot");
}
