/*
 * What a sheet of paper that stands for one entry has in common with every other: its words, the proof of the entry
 * under the head which that entry made, and the writing of it.
 */
#include "certificate.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *kw_sheet_words(struct kw_sheet *s, const char *fmt, ...)
{
        const char *text;
        va_list ap;

        va_start(ap, fmt);
        text = kw_arena_words(kw_reader_arena(s->r), fmt, ap);
        va_end(ap);
        s->failed = s->failed || !text;
        return text ? text : "";
}

const char *kw_sheet_entry(struct kw_sheet *s, int64_t entry)
{
        return entry ? kw_sheet_words(s, "#%" PRId64, entry) : NULL;
}

const char *kw_sheet_link(struct kw_sheet *s, int64_t entry)
{
        return entry && s->address ? kw_sheet_words(s, "%sledger.html?seq=%" PRId64, s->address, entry) : NULL;
}

/* --- proof ----------------------------------------------------------------------------------------------- */

static int take_hash(void *ctx, const struct kw_stored *entry)
{
        memcpy(((struct kw_hash *)ctx)->bytes, entry->hash, KW_HASH);
        return 0;
}

int kw_sheet_prove(struct kw_ledger *ledger, struct kw_sheet *s, int64_t seq, struct kw_error *err)
{
        int rc = kw_ledger_root(ledger, seq, &s->root, err);

        if (rc == 0)
                rc = kw_ledger_inclusion(ledger, seq, seq, &s->proof, err);
        return rc ? rc : kw_ledger_entries(ledger, seq - 1, 1, take_hash, &s->leaf, err);
}

void kw_sheet_hash(struct kw_sheet *s, const char *name, const struct kw_hash *hash)
{
        char hex[KW_HASH_HEX];

        kw_hash_hex(hash, hex);
        kw_paper_text(s->p, name);
        kw_paper_code(s->p, hex);
}

void kw_sheet_proof(struct kw_sheet *s)
{
        char hex[KW_HASH_HEX];

        kw_paper_text(s->p, kw_sheet_words(s, "Proof, %zu hashes", s->proof.n));
        for (size_t i = 0; i < s->proof.n; i++) {
                kw_hash_hex(&s->proof.at[i], hex);
                kw_paper_code(s->p, hex);
        }
}

/* --- writing ---------------------------------------------------------------------------------------------- */

int kw_sheet_write(struct kw_sheet *s, int (*write)(struct kw_sheet *s), const char *title, const char *foot,
                   const char *created, struct kw_buf *out)
{
        struct kw_paper *first = kw_paper_new(NULL, NULL, title, foot, created), *second = NULL;
        int rc;

        s->p = first;
        rc = first ? write(s) : -ENOMEM;
        if (rc == 0) {
                second = kw_paper_new(out, first, title, foot, created);
                s->p = second;
                rc = second ? write(s) : -ENOMEM;
        }
        kw_paper_free(second);
        kw_paper_free(first);
        return rc == 0 && s->failed ? -ENOMEM : rc;
}
