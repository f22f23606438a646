/*
 * A ledger for a test: recording and asking, with every failure told.
 */
#include "recorder.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NOW INT64_C(1780000000)

static unsigned number;
static char key[40];

struct kw_ledger *recorder_new(void)
{
        struct kw_ledger *ledger = NULL;
        struct kw_error err = {0};

        number = 0;
        ck_assert_msg(kw_ledger_open(":memory:", KW_OPEN_WRITE, &ledger, &err) == 0, "%s", err.text);
        return ledger;
}

static int append(struct kw_ledger *ledger, const char *line, size_t n, struct kw_error *err)
{
        const struct kw_sender sender = {.by = "open", .terminal = "TEST", .may_override = true};
        struct kw_receipt receipt = {0};
        struct kw_draft draft;
        int rc = kw_draft_read(line, n, &draft, err);

        if (rc)
                return rc;
        ck_assert_msg(kw_ledger_begin(ledger, err) == 0, "%s", err->text);
        rc = kw_ledger_append(ledger, &draft, &sender, NOW, &receipt, err);
        if (rc == 0)
                ck_assert_msg(kw_ledger_commit(ledger, err) == 0, "%s", err->text);
        else
                kw_ledger_rollback(ledger);
        free(receipt.json);
        kw_draft_free(&draft);
        return rc;
}

void record_line(struct kw_ledger *ledger, const char *line, size_t n)
{
        struct kw_error err = {0};

        ck_assert_msg(append(ledger, line, n, &err) == 0, "%s: %s\n%.*s", err.pointer, err.text, (int)n, line);
}

static char *entry(const char *kind, const char *at, const char *body)
{
        size_t room = strlen(body) + 200;
        char *text = malloc(room);

        ck_assert_ptr_nonnull(text);
        snprintf(key, sizeof(key), "%08x-0000-4000-8000-000000000000", ++number);
        snprintf(text, room, "{\"key\":\"%s\",\"kind\":\"%s\",\"at\":\"%s\",\"body\":%s}", key, kind, at, body);
        return text;
}

void record(struct kw_ledger *ledger, const char *kind, const char *at, const char *body)
{
        char *text = entry(kind, at, body);

        record_line(ledger, text, strlen(text));
        free(text);
}

int record_refused(struct kw_ledger *ledger, const char *kind, const char *at, const char *body)
{
        char *text = entry(kind, at, body);
        struct kw_error err = {0};
        int rc = append(ledger, text, strlen(text), &err);

        ck_assert_msg(rc > 0, "taken: %s", text);
        free(text);
        return rc;
}

const char *recorder_key(void)
{
        return key;
}

char *recorder_file(const char *path, size_t *n)
{
        FILE *f = fopen(path, "rb");
        char *text;

        ck_assert_msg(f != NULL, "can't open %s", path);
        fseek(f, 0, SEEK_END);
        *n = (size_t)ftell(f);
        rewind(f);
        text = malloc(*n + 1);
        ck_assert_ptr_nonnull(text);
        ck_assert_uint_eq(fread(text, 1, *n, f), *n);
        text[*n] = '\0';
        fclose(f);
        return text;
}

void ask_trace(struct kw_ledger *ledger, const struct kw_question *q, enum kw_trace_as as, struct kw_buf *out)
{
        struct kw_trace_writer writer = {.as = as};
        struct kw_trace_answer *answer;
        struct kw_error err = {0};

        ck_assert_int_eq(kw_ledger_look(ledger, &err), 0);
        ck_assert_msg(kw_trace_ask(ledger, q, &answer, &err) == 0, "%s:%s: %s", q->type, q->code, err.text);
        kw_ledger_done(ledger);
        writer.answer = answer;
        while (kw_trace_write(&writer, out) == 1)
                ;
        ck_assert(!out->failed);
        kw_trace_answer_free(answer);
}

cJSON *ask_json(struct kw_buf *out)
{
        cJSON *json = cJSON_Parse(kw_buf_text(out));

        ck_assert_msg(json != NULL, "not JSON: %.400s", kw_buf_text(out));
        kw_buf_free(out);
        return json;
}
