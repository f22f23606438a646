/*
 * What is done on the console to who may come in. It needs the files' owner and no password, so it is how the first
 * administrator gets in, and the last one back in.
 *
 * It works while a daemon serves the ledger: both write in turn.
 */
#include "cli.h"

#include "kinwire/access.h"
#include "kinwire/ledger.h"

#include <errno.h>

#include <stdlib.h>
#include <time.h>

int kw_console_begin(struct kw_console *c)
{
        struct kw_error err = {0};
        int rc = kw_ledger_open(c->name, KW_OPEN_WRITE, &c->ledger, &err);

        if (!rc)
                rc = kw_access_open(c->name, &c->access, &err);
        if (!rc)
                rc = kw_ledger_begin(c->ledger, &err);
        if (!rc)
                return KW_EXIT_DONE;
        rc = kw_failed(c->self, c->name, rc, &err);
        kw_access_close(c->access);
        kw_ledger_close(c->ledger);
        return rc;
}

static bool is_the_ledgers(int rc)
{
        return rc == KW_BUSY || rc == KW_DISK_FULL || rc == KW_INTERNAL || rc < 0;
}

int kw_console_add(struct kw_console *c, const char *kind, const char *body)
{
        const struct kw_sender sender = {.by = "console", .terminal = "CONSOLE"};
        struct kw_receipt receipt = {0};
        struct kw_error err = {0};
        struct kw_buf text = {0};
        struct kw_draft draft;
        char key[KW_KEY_LEN + 1];
        int rc;

        kw_key_new(key);
        kw_put_object(&text, NULL);
        kw_put_string(&text, "key", key);
        kw_put_string(&text, "kind", kind);
        kw_put_raw(&text, "body", body);
        kw_put_object_end(&text);
        rc = text.failed ? -ENOMEM : kw_draft_read(kw_buf_text(&text), text.n, &draft, &err);
        kw_buf_free(&text);
        if (!rc) {
                rc = kw_ledger_append(c->ledger, &draft, &sender, (int64_t)time(NULL), &receipt, &err);
                kw_draft_free(&draft);
        }
        free(receipt.json);
        if (!rc)
                return KW_EXIT_DONE;
        if (is_the_ledgers(rc))
                return kw_failed(c->self, c->name, rc, &err);
        kw_complain(c->self, "%s%s%s", err.pointer, err.pointer[0] ? ": " : "", err.text);
        return KW_EXIT_INPUT;
}

int kw_console_end(struct kw_console *c, int status)
{
        struct kw_error err = {0};
        int rc;

        if (status == KW_EXIT_DONE) {
                rc = kw_ledger_commit(c->ledger, &err);
                if (rc)
                        status = kw_failed(c->self, c->name, rc, &err);
        } else {
                kw_ledger_rollback(c->ledger);
        }
        kw_access_close(c->access);
        kw_ledger_close(c->ledger);
        return status;
}
