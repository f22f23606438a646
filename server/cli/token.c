/*
 * kinwire token: what a program signs with.
 */
#include "cli.h"

#include "kinwire/access.h"
#include "kinwire/people.h"

#include <stdlib.h>
#include <string.h>

struct make {
        struct kw_console console;
        const char *role, *name, *only, *expires;
        char code[KW_CODE_MAX + 1];
};

/* "kind=test,instrument=UTM-1" as the members of an object. Return: whether it reads so. */
static bool put_only(struct kw_buf *out, const char *only)
{
        char *copy = strdup(only), *rest = copy;
        bool fine = copy != NULL;

        kw_put_object(out, "only");
        for (char *part; fine && (part = strsep(&rest, ","));) {
                char *value = strchr(part, '=');

                fine = value && value > part && value[1];
                if (fine) {
                        *value = '\0';
                        kw_put_string(out, part, value + 1);
                }
        }
        kw_put_object_end(out);
        free(copy);
        return fine;
}

static int add_token(struct make *m)
{
        struct kw_buf body = {0};
        int status = KW_EXIT_DONE;

        kw_put_object(&body, NULL);
        kw_put_string(&body, "token", m->name);
        kw_put_string(&body, "role", m->role);
        if (m->only && !put_only(&body, m->only))
                status = kw_misused(m->console.self, "--only is as in kind=test,instrument=UTM-1");
        if (m->expires)
                kw_put_string(&body, "expires", m->expires);
        kw_put_object_end(&body);
        if (!status)
                status = kw_console_add(&m->console, "token", kw_buf_text(&body));
        kw_buf_free(&body);
        return status;
}

static int say_given(struct make *m)
{
        struct kw_buf body = {0};
        int status;

        kw_put_object(&body, NULL);
        kw_put_string(&body, "what", "token-given");
        kw_put_string(&body, "token", m->code);
        kw_put_string(&body, "why", "on the console");
        kw_put_object_end(&body);
        status = kw_console_add(&m->console, "access", kw_buf_text(&body));
        kw_buf_free(&body);
        return status;
}

static int make(struct make *m)
{
        struct kw_console *c = &m->console;
        char secret[KW_SECRET_TEXT_MAX];
        struct kw_error err = {0};
        int status = kw_console_begin(c), rc;

        if (status)
                return status;
        status = add_token(m);
        if (!status)
                status = say_given(m);
        if (!status) {
                rc = kw_bearer_give(c->access, KW_TOKEN, m->code, secret, &err);
                status = rc ? kw_failed(c->self, c->name, rc, &err) : KW_EXIT_DONE;
        }
        status = kw_console_end(c, status);
        if (status)
                return status;
        printf("%s\n", secret);
        fprintf(stderr, "kinwire token: send it as \"Authorization: Bearer ...\"; it is not shown again\n");
        return kw_flush(c->self);
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct make m = {.console.self = self};
        const struct kw_option options[] = {{"ledger", &m.console.name, NULL}, {"role", &m.role, NULL},
                                            {"name", &m.name, NULL},           {"only", &m.only, NULL},
                                            {"expires", &m.expires, NULL},     {0}};
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        if (rc != KW_GO_ON)
                return rc;
        if (!m.role || !kw_role_bit(m.role))
                return kw_misused(self, "--role is operator, quality, auditor or administrator");
        if (!m.name || strlen(m.name) > KW_CODE_MAX)
                return kw_misused(self, "--name NAME has 1 to %d of A-Z 0-9 . / -", KW_CODE_MAX);
        for (size_t i = 0; m.name[i]; i++)
                m.code[i] = (char)(m.name[i] >= 'a' && m.name[i] <= 'z' ? m.name[i] - 'a' + 'A' : m.name[i]);
        if (!kw_code_ok(m.code))
                return kw_misused(self, "--name NAME has 1 to %d of A-Z 0-9 . / -", KW_CODE_MAX);
        return make(&m);
}

const struct kw_command kw_token_command = {
        .name = "token",
        .does = "make an access token for a program, and print it once",
        .usage = "--ledger FILE --role ROLE --name NAME [--only WHAT=WHICH,...] [--expires TIME]",
        .help = "  --ledger FILE        the ledger; made when it isn't there\n"
                "  --role ROLE          what it may do: operator, quality, auditor or administrator\n"
                "  --name NAME          the code with which its entries are signed; an earlier secret of that\n"
                "                       name is good no longer\n"
                "  --only WHAT=WHICH    its one purpose: kind=test, machine=DRAW-1 or instrument=UTM-1 (entries\n"
                "                       of that kind, or that name it; several with commas between them), or\n"
                "                       read=ledger (the entries and proofs) or read=metrics\n"
                "  --expires TIME       until when it is good, as in 2027-01-01T00:00:00Z (default: for ever)\n"
                "\n"
                "The token is sent as \"Authorization: Bearer TOKEN\". Only its hash is kept. It works while a\n"
                "daemon serves the ledger; an administrator closes a token on the pages.\n"
                "\n"
                "Exit status: 0 done, 2 wrong usage, 3 it can't be recorded, 4 the ledger can't be used.\n",
        .run = run,
};
