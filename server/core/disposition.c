/*
 * Dispositions, one row each, and what each allows.
 */
#include "kinwire/disposition.h"

#include <stddef.h>
#include <string.h>

const struct kw_disposition kw_dispositions[] = {
        {"release", {KW_ALLOWED, KW_ALLOWED, KW_ALLOWED}, false, true},
        {"concession", {KW_ALLOWED, KW_ALLOWED, KW_ALLOWED}, true, true},
        {"rework", {KW_ALLOWED_STATED, KW_ALLOWED_NOT, KW_ALLOWED_NOT}, false, true},
        {"regrade", {KW_ALLOWED, KW_ALLOWED, KW_ALLOWED}, false, true},
        {"scrap", {KW_ALLOWED_NOT, KW_ALLOWED_NOT, KW_ALLOWED_NOT}, false, false},
        {NULL, {KW_ALLOWED_NOT, KW_ALLOWED_NOT, KW_ALLOWED_NOT}, false, false},
};

const struct kw_disposition *kw_disposition(const char *name)
{
        for (const struct kw_disposition *d = kw_dispositions; d->name; d++)
                if (strcmp(d->name, name) == 0)
                        return d;
        return NULL;
}

/* Cutting only shortens it: the pieces would be the same metal under other names. */
static bool is_stated(const char *process, const char *stated)
{
        size_t n = strlen(process);

        if (!stated)
                return strcmp(process, "cut") != 0;
        while (stated) {
                if (strncmp(stated, process, n) == 0 && (stated[n] == ',' || !stated[n]))
                        return true;
                stated = strchr(stated, ',');
                stated = stated ? stated + 1 : NULL;
        }
        return false;
}

bool kw_disposition_may(const struct kw_disposition *disposition, enum kw_purpose purpose, const char *process,
                        const char *stated)
{
        switch (disposition->allowed[purpose]) {
        case KW_ALLOWED:
                return true;
        case KW_ALLOWED_STATED:
                return is_stated(process, stated);
        default:
                return false;
        }
}
