/*
 * A command's line of options, read into the places that the command names for them.
 */
#include "cli.h"

#include <assert.h>
#include <getopt.h>
#include <string.h>

#define OPTIONS_MAX 24
#define HELP        OPTIONS_MAX

/* The library's table, with each option's number as its value. */
static void make_table(const struct kw_option *options, struct option table[OPTIONS_MAX + 2])
{
        size_t n = 0;

        for (; options[n].name; n++) {
                assert(n < OPTIONS_MAX);
                table[n] = (struct option){options[n].name, options[n].value ? required_argument : no_argument, NULL,
                                           (int)n};
        }
        table[n] = (struct option){"help", no_argument, NULL, HELP};
        table[n + 1] = (struct option){0};
}

static int read_options(const struct kw_command *self, int argc, char **argv, const struct kw_option *options)
{
        struct option table[OPTIONS_MAX + 2];
        int c;

        make_table(options, table);
        while ((c = getopt_long(argc, argv, ":", table, NULL)) != -1) {
                if (c == HELP)
                        return kw_help(self);
                if (c == ':')
                        return kw_misused(self, "%s needs a value", argv[optind - 1]);
                if (c == '?')
                        return kw_misused(self, "there is no option %s", argv[optind - 1]);
                if (options[c].value)
                        *options[c].value = optarg;
                else
                        *options[c].given = true;
        }
        return KW_GO_ON;
}

int kw_options(const struct kw_command *self, int argc, char **argv, const struct kw_option *options, const char *what,
               const char **word)
{
        int rc = read_options(self, argc, argv, options);

        if (rc != KW_GO_ON)
                return rc;
        for (; options->name; options++) {
                if (strcmp(options->name, "ledger") == 0 && !*options->value)
                        return kw_misused(self, "--ledger FILE is missing");
        }
        if (word && optind == argc)
                return kw_misused(self, "%s is missing", what);
        if (word)
                *word = argv[optind++];
        if (optind < argc)
                return kw_misused(self, "\"%s\" is one word too many", argv[optind]);
        return KW_GO_ON;
}
