/*
 * The files that the daemon needs while it serves:
 *
 *      the ledger's folder     the ledger with its log, its index and what else stands beside it
 *      temporary files         what SQLite sorts, and the ledger that verifying makes again
 *      certificate and key     their folders, and those that they point to, since they are renewed there
 *      pages                   the folder given, when they aren't those of the program
 *      fonts, time zone        for labels and reports: readable by everyone on any system
 */
#include "confine.h"

#include "kinwire/sandbox.h"

#include <errno.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define REACHABLE_MAX 48
#define NAMES_MAX     16

static const char *const readable[] = {
        "/usr/share",  "/usr/local/share", "/usr/lib",        "/lib",
        "/etc/fonts",  "/etc/localtime",   "/etc/timezone",   "/var/cache/fontconfig",
        "/dev/random", "/dev/urandom",     "/proc/sys/vm",    "/sys/devices/system/cpu",
        "/proc/stat",  "/proc/meminfo",    "/usr/lib/locale",
};

static const char *const writable[] = {"/var/tmp", "/usr/tmp", "/tmp", "/dev/null"};

struct list {
        struct kw_reachable at[REACHABLE_MAX + 1];
        size_t n;
        char *names[NAMES_MAX]; /* made here */
        size_t n_names;
        bool failed;
};

static void reach(struct list *l, const char *path, bool write, bool needed)
{
        if (path && *path && l->n < REACHABLE_MAX)
                l->at[l->n++] = (struct kw_reachable){path, write, needed};
        else if (path && *path)
                l->failed = true;
}

/* The list keeps a name that was made for it; NULL: there was no memory. */
static char *keep(struct list *l, char *name)
{
        if (!name || l->n_names == NAMES_MAX) {
                free(name);
                l->failed = true;
                return NULL;
        }
        return l->names[l->n_names++] = name;
}

static void reach_folder_of(struct list *l, const char *file, bool write)
{
        char *name = file ? keep(l, strdup(file)) : NULL;

        if (name)
                reach(l, dirname(name), write, true);
}

/* A file that is a link stands in two folders: where it is found, and where it is changed. */
static void reach_both(struct list *l, const char *file, bool write)
{
        char *target = file ? realpath(file, NULL) : NULL;

        reach_folder_of(l, file, write);
        if (target) {
                reach_folder_of(l, target, write);
                free(target);
        }
}

static void reach_in(struct list *l, const char *variable, const char *below)
{
        const char *folder = getenv(variable);
        char *name = NULL;

        if (folder && *folder && asprintf(&name, "%s%s", folder, below) > 0)
                reach(l, keep(l, name), false, false);
}

static void list_all(struct list *l, const struct kw_http_options *how)
{
        reach_both(l, how->ledger, true);
        reach(l, how->web, false, true);
        reach_both(l, how->cert, false);
        reach_both(l, how->key, false);
        reach(l, getenv("SQLITE_TMPDIR"), true, false);
        reach(l, getenv("TMPDIR"), true, false);
        reach_in(l, "HOME", "/.fonts");
        reach_in(l, "HOME", "/.local/share/fonts");
        reach_in(l, "HOME", "/.cache/fontconfig");
        reach_in(l, "XDG_DATA_HOME", "/fonts");
        reach_in(l, "XDG_CACHE_HOME", "/fontconfig");
        for (size_t i = 0; i < sizeof readable / sizeof readable[0]; i++)
                reach(l, readable[i], false, false);
        for (size_t i = 0; i < sizeof writable / sizeof writable[0]; i++)
                reach(l, writable[i], true, false);
}

int kw_confine_files(const struct kw_http_options *how, struct kw_error *err)
{
        struct list list = {0};
        int rc = -ENOMEM;

        list_all(&list, how);
        if (!list.failed)
                rc = kw_sandbox_files(list.at, err);
        for (size_t i = 0; i < list.n_names; i++)
                free(list.names[i]);
        return rc;
}
