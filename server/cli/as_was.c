/*
 * A ledger opened for a question, as it is or, with --at-size, as it was.
 */
#include "cli.h"

#include "kinwire/ledger.h"

static bool read_size(const char *text, int64_t *out)
{
        *out = 0;
        for (const char *c = text; *c; c++) {
                if (*c < '0' || *c > '9' || *out > INT64_MAX / 100)
                        return false;
                *out = *out * 10 + (*c - '0');
        }
        return *text != '\0';
}

static int go_back(const struct kw_command *self, const char *name, int64_t size, struct kw_ledger **ledger)
{
        struct kw_ledger *was = NULL;
        struct kw_error err = {0};
        struct kw_meter meter;
        int rc = kw_ledger_look(*ledger, &err);

        if (rc)
                return kw_failed(self, name, rc, &err);
        kw_meter_start(&meter, self);
        rc = kw_ledger_as_was(*ledger, size, kw_meter_show, &meter, NULL, &was, &err);
        kw_meter_end(&meter);
        kw_ledger_done(*ledger);
        if (rc == KW_OUT_OF_RANGE)
                return kw_misused(self, "%s", err.text);
        if (rc)
                return kw_failed(self, name, rc, &err);
        kw_ledger_close(*ledger);
        *ledger = was;
        return KW_EXIT_DONE;
}

int kw_open_as_was(const struct kw_command *self, const char *name, const char *at_size, struct kw_ledger **out)
{
        struct kw_error err = {0};
        int64_t size;
        int rc;

        if (at_size && !read_size(at_size, &size))
                return kw_misused(self, "--at-size is a number of entries");
        rc = kw_ledger_open(name, KW_OPEN_READ, out, &err);
        if (rc)
                return kw_failed(self, name, rc, &err);
        rc = at_size ? go_back(self, name, size, out) : KW_EXIT_DONE;
        if (rc)
                kw_ledger_close(*out);
        return rc;
}
