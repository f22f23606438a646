/*
 * The ledger as it was: its first entries replayed into a ledger of their own, which then answers as this one did when
 * it had no more.
 *
 * What is answered depends on the entries alone, so nothing has to be kept for it but the entries.
 */
#include "scratch.h"
#include "stored.h"

#include <errno.h>
#include <inttypes.h>

struct past {
        struct kw_ledger *scratch;
        kw_progress progress;
        void *ctx;
        const atomic_bool *stop;
        int64_t size;
        struct kw_error *err;
};

static int replay_one(void *ctx, const struct kw_stored *e)
{
        struct past *p = ctx;
        int rc = p->stop && atomic_load(p->stop) ? -ECANCELED : kw_replay(p->scratch, e, p->err);

        if (rc == 0 && p->progress && e->seq % 256 == 0)
                p->progress(p->ctx, "entries", e->seq, p->size);
        return rc;
}

static int fill(struct kw_ledger *ledger, struct past *p)
{
        int rc = kw_ledger_begin(p->scratch, p->err);

        if (rc)
                return rc;
        if (p->size)
                rc = kw_ledger_entries(ledger, 0, p->size, replay_one, p, p->err);
        if (rc) {
                kw_ledger_rollback(p->scratch);
                return rc < 0 ? rc
                              : kw_refuse(p->err, KW_INTERNAL, "", "the ledger is damaged: kinwire verify says where");
        }
        return kw_ledger_commit(p->scratch, p->err);
}

int kw_ledger_as_was(struct kw_ledger *ledger, int64_t size, kw_progress progress, void *ctx, const atomic_bool *stop,
                     struct kw_ledger **out, struct kw_error *err)
{
        struct past p = {.progress = progress, .ctx = ctx, .stop = stop, .size = size, .err = err};
        struct kw_head head;
        int rc = kw_ledger_head(ledger, &head, err);

        if (rc)
                return rc;
        if (size < 0 || size > head.size)
                return kw_refuse_with(err, KW_OUT_OF_RANGE, "", "ledger-size",
                                      KW_VALUES(KW_FIGURE("entries", head.size), KW_FIGURE("size", size)),
                                      "the ledger has %" PRId64 " entries; it never was of size %" PRId64 " so far",
                                      head.size, size);
        rc = kw_scratch_open(ledger, &p.scratch, err);
        if (rc)
                return rc;
        rc = fill(ledger, &p);
        if (rc) {
                kw_ledger_close(p.scratch);
                return rc;
        }
        *out = p.scratch;
        return 0;
}
