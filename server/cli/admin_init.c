/*
 * kinwire admin-init: the first administrator.
 */
#include "cli.h"

#include "kinwire/access.h"
#include "kinwire/people.h"

#include <string.h>
#include <time.h>

#define CODE_GOOD (24 * 3600) /* s */

struct init {
        struct kw_console console;
        const char *person, *name;
        bool again;
        char code[KW_CODE_MAX + 1];
};

static int add_person(struct init *in)
{
        struct kw_buf body = {0};
        int rc;

        kw_put_object(&body, NULL);
        kw_put_string(&body, "person", in->code);
        kw_put_string(&body, "name", in->name);
        kw_put_array(&body, "roles");
        kw_put_string(&body, NULL, "administrator");
        kw_put_array_end(&body);
        kw_put_object_end(&body);
        rc = kw_console_add(&in->console, "person", kw_buf_text(&body));
        kw_buf_free(&body);
        return rc;
}

/* Only as long as nobody is there; with --again, only for who is an administrator. */
static int check(struct init *in)
{
        struct kw_console *c = &in->console;
        struct kw_error err = {0};
        int64_t people, administrators;
        struct kw_person person;
        int rc = kw_count_people(c->ledger, NULL, &people, &administrators, &err);

        if (!rc)
                rc = kw_find_person(c->ledger, in->code, &person, &err);
        if (rc)
                return kw_failed(c->self, c->name, rc, &err);
        if (!in->again && people) {
                kw_complain(c->self,
                            "there are people in this ledger already: an administrator adds others, and --again gives "
                            "an administrator a new code");
                return KW_EXIT_NO;
        }
        if (in->again && (!person.code[0] || person.closed || !(person.roles & KW_ADMINISTRATOR))) {
                kw_complain(c->self, "%s is no administrator in this ledger", in->code);
                return KW_EXIT_NO;
        }
        return KW_EXIT_DONE;
}

static int say_given(struct init *in)
{
        struct kw_buf body = {0};
        int rc;

        kw_put_object(&body, NULL);
        kw_put_string(&body, "what", "code-given");
        kw_put_string(&body, "person", in->code);
        kw_put_string(&body, "why", "on the console");
        kw_put_object_end(&body);
        rc = kw_console_add(&in->console, "access", kw_buf_text(&body));
        kw_buf_free(&body);
        return rc;
}

static int give(struct init *in, char secret[KW_SECRET_TEXT_MAX])
{
        struct kw_console *c = &in->console;
        struct kw_error err = {0};
        int rc = kw_code_give(c->access, KW_CODE_PASSWORD, in->code, (int64_t)time(NULL) + CODE_GOOD, secret, &err);

        return rc ? kw_failed(c->self, c->name, rc, &err) : KW_EXIT_DONE;
}

static int init(struct init *in)
{
        char secret[KW_SECRET_TEXT_MAX];
        int status = kw_console_begin(&in->console);

        if (status)
                return status;
        status = check(in);
        if (!status && !in->again)
                status = add_person(in);
        if (!status)
                status = say_given(in);
        if (!status)
                status = give(in, secret);
        status = kw_console_end(&in->console, status);
        if (status)
                return status;
        printf("%s\n", secret);
        fprintf(stderr,
                "kinwire admin-init: with this code %s sets a password on the sign-in page; it does once, and for 24 "
                "hours\n",
                in->code);
        return kw_flush(in->console.self);
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct init in = {.console.self = self};
        const struct kw_option options[] = {{"ledger", &in.console.name, NULL},
                                            {"person", &in.person, NULL},
                                            {"name", &in.name, NULL},
                                            {"again", NULL, &in.again},
                                            {0}};
        int rc = kw_options(self, argc, argv, options, NULL, NULL);

        if (rc != KW_GO_ON)
                return rc;
        if (!in.person)
                return kw_misused(self, "--person CODE is missing");
        if (!in.again && !in.name)
                return kw_misused(self, "--name NAME is missing");
        if (strlen(in.person) > KW_CODE_MAX)
                return kw_misused(self, "--person CODE has 1 to %d of A-Z 0-9 . / -", KW_CODE_MAX);
        for (size_t i = 0; in.person[i]; i++)
                in.code[i] =
                        (char)(in.person[i] >= 'a' && in.person[i] <= 'z' ? in.person[i] - 'a' + 'A' : in.person[i]);
        if (!kw_code_ok(in.code))
                return kw_misused(self, "--person CODE has 1 to %d of A-Z 0-9 . / -", KW_CODE_MAX);
        return init(&in);
}

const struct kw_command kw_admin_init = {
        .name = "admin-init",
        .does = "make the first administrator, and print the code that sets the first password",
        .usage = "--ledger FILE --person CODE --name NAME",
        .help = "  --ledger FILE   the ledger; made when it isn't there\n"
                "  --person CODE   the code with which the administrator's entries are signed\n"
                "  --name NAME     the name\n"
                "  --again         give one who is an administrator already a new code: for a password that is\n"
                "                  forgotten, or secrets that are lost\n"
                "\n"
                "The code is good for 24 hours and does once; who has it sets a password on the sign-in page.\n"
                "There is no other way in before that, and no default account. It works while a daemon serves\n"
                "the ledger.\n"
                "\n"
                "Exit status: 0 done, 1 there are people in the ledger already (or, with --again, no such\n"
                "administrator), 2 wrong usage, 3 the name can't be recorded, 4 the ledger can't be used.\n",
        .run = run,
};
