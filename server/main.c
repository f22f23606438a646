/*
 * kinwire: the program. Its commands are rows of one table, each with a file of its own in server/cli.
 */
#include "cli/cli.h"

#include <string.h>

static const struct kw_command *const commands[] = {
        &kw_serve,          &kw_load,       &kw_trace,        &kw_export_command, &kw_certificate_command,
        &kw_drill_command,  &kw_verify,     &kw_witness,      &kw_backup,         &kw_restore,
        &kw_follow_command, &kw_admin_init, &kw_token_command};

#define COMMANDS (sizeof commands / sizeof commands[0])

static void print_commands(FILE *to)
{
        fprintf(to, "usage:\n");
        for (size_t i = 0; i < COMMANDS; i++)
                fprintf(to, "kinwire %s %s\n        %s\n", commands[i]->name, commands[i]->usage, commands[i]->does);
        fprintf(to, "\n`kinwire COMMAND --help` says more about one; `kinwire --version` says which kinwire it is.\n");
}

static int help(void)
{
        printf("kinwire keeps what a wire rope mill made of what, to the metre, and proves it unchanged.\n\n");
        print_commands(stdout);
        printf("\nExit status: 0 done, 1 the answer is no, 2 wrong usage, 3 the input is bad, 4 the ledger\n"
               "can't be used.\n");
        return fflush(stdout) == 0 ? KW_EXIT_DONE : KW_EXIT_LEDGER;
}

#ifdef __SANITIZE_ADDRESS__
/* The font libraries keep what they have loaded until the process ends; a leak checker is told so. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
        return "leak:libfontconfig\nleak:libpango\n";
}
#endif

int main(int argc, char **argv)
{
        const char *name = argc > 1 ? argv[1] : "";

        kw_say_brought_up();
        for (size_t i = 0; i < COMMANDS; i++) {
                if (strcmp(commands[i]->name, name) == 0)
                        return commands[i]->run(commands[i], argc - 1, argv + 1);
        }
        if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0 || strcmp(name, "help") == 0)
                return help();
        if (strcmp(name, "--version") == 0) {
                printf("kinwire %s\n", KW_VERSION);
                return KW_EXIT_DONE;
        }
        if (*name)
                fprintf(stderr, "kinwire: there is no command \"%s\"\n\n", name);
        print_commands(stderr);
        return KW_EXIT_USAGE;
}
