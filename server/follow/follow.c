/*
 * Following another kinwire's ledger, step by step.
 */
#include "kinwire/follow.h"

#include "client.h"

#include "kinwire/ledger.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PAGE_ENTRIES 1000 /* asked for at once; fewer where they are large */
#define PAGE_BYTES   ((size_t)64 << 20)
#define ANSWER_BYTES ((size_t)64 << 10) /* a head, or a proof of at most KW_PROOF_MAX hashes */

struct kw_follow {
        struct kw_client *client;
        struct kw_ledger *ledger;
        char *url;
        int64_t page; /* entries to ask for */
        struct kw_buf text;
        const volatile sig_atomic_t *stop;
};

/* A head somewhere: the other's as it says, or this copy's own. */
struct seen {
        struct kw_follow *f;
        struct kw_head theirs, own;
        struct kw_error *err;
};

static const struct kw_json_limits answer_limits = {ANSWER_BYTES, 4 * KW_PROOF_MAX};

int kw_follow_open(const struct kw_follow_options *options, struct kw_follow **out, struct kw_error *err)
{
        struct kw_follow *f = calloc(1, sizeof(*f));
        int rc;

        if (!f)
                return -ENOMEM;
        f->page = PAGE_ENTRIES;
        f->stop = options->stop;
        f->url = strdup(options->url);
        rc = f->url ? kw_client_new(options, &f->client, err) : -ENOMEM;
        if (rc == 0)
                rc = kw_ledger_open(options->ledger, KW_OPEN_WRITE, &f->ledger, err);
        if (rc) {
                kw_follow_close(f);
                return rc;
        }
        *out = f;
        return 0;
}

void kw_follow_close(struct kw_follow *f)
{
        if (!f)
                return;
        kw_client_free(f->client);
        if (f->ledger)
                kw_ledger_close(f->ledger);
        kw_buf_free(&f->text);
        free(f->url);
        free(f);
}

static int not_an_answer(struct seen *s, const char *what)
{
        return kw_refuse(s->err, KW_BAD_VALUE, "", "%s does not give %s as a kinwire does", s->f->url, what);
}

/* --- heads and proofs -------------------------------------------------------------------------------- */

static int ask_json(struct seen *s, const char *path, const char *what, cJSON **out)
{
        struct kw_buf *text = &s->f->text;
        int rc = kw_client_get(s->f->client, path, ANSWER_BYTES, text, s->err);

        if (rc == KW_TOO_LARGE)
                return not_an_answer(s, what);
        if (rc == 0) {
                rc = kw_json_read(kw_buf_text(text), text->n, &answer_limits, out, NULL);
                if (rc > 0)
                        rc = not_an_answer(s, what);
        }
        return rc;
}

static bool read_hash(const cJSON *text, struct kw_hash *out)
{
        return cJSON_IsString(text) && kw_hash_unhex(text->valuestring, out) == 0;
}

static int ask_head(struct seen *s)
{
        cJSON *json = NULL;
        const cJSON *size;
        int rc = ask_json(s, "/api/ledger/head", "its head", &json);

        if (rc)
                return rc;
        size = kw_json_get(json, "size");
        if (!cJSON_IsNumber(size) || size->valuedouble < 0 || !read_hash(kw_json_get(json, "root"), &s->theirs.root))
                rc = not_an_answer(s, "its head");
        s->theirs.size = rc ? 0 : kw_json_int(json, "size", 0);
        cJSON_Delete(json);
        return rc;
}

static bool read_proof(const cJSON *list, struct kw_proof *out)
{
        const cJSON *hash;

        out->n = 0;
        if (!cJSON_IsArray(list))
                return false;
        cJSON_ArrayForEach(hash, list)
        {
                if (out->n == KW_PROOF_MAX || !read_hash(hash, &out->at[out->n++]))
                        return false;
        }
        return true;
}

/* That the other's head grew from @own. Nothing has to be shown of a copy that is still empty. */
static int check_growth(struct seen *s, const struct kw_head *own)
{
        char path[96];
        cJSON *json = NULL;
        struct kw_proof proof = {.n = 0};
        int rc = 0;

        if (own->size == 0)
                return 0;
        if (own->size < s->theirs.size) {
                snprintf(path, sizeof(path), "/api/ledger/proof?from=%" PRId64 "&size=%" PRId64, own->size,
                         s->theirs.size);
                rc = ask_json(s, path, "a proof", &json);
                if (rc == 0 && !read_proof(kw_json_get(json, "proof"), &proof))
                        rc = not_an_answer(s, "a proof");
                cJSON_Delete(json);
        }
        if (rc)
                return rc;
        if (kw_merkle_check_consistency((uint64_t)own->size, (uint64_t)s->theirs.size, &own->root, &s->theirs.root,
                                        &proof))
                return kw_refuse(s->err, KW_BAD_VALUE, "",
                                 "the first %" PRId64
                                 " entries at %s are not those that this copy holds: one of the two "
                                 "was altered",
                                 own->size, s->f->url);
        return 0;
}

static int check_head(struct seen *s)
{
        int rc = kw_ledger_head(s->f->ledger, &s->own, s->err);

        if (rc == 0)
                rc = ask_head(s);
        if (rc)
                return rc;
        if (s->theirs.size < s->own.size)
                return kw_refuse(s->err, KW_BAD_VALUE, "",
                                 "%s has %" PRId64 " entries, and had at least the %" PRId64
                                 " of this copy before: its last ones were cut off",
                                 s->f->url, s->theirs.size, s->own.size);
        return check_growth(s, &s->own);
}

/* --- entries --------------------------------------------------------------------------------------- */

/* A page into f->text, smaller where the entries are large. */
static int ask_page(struct seen *s)
{
        char path[96];
        int rc;

        for (;;) {
                int64_t left = s->theirs.size - s->own.size;

                snprintf(path, sizeof(path), "/api/ledger/entries?after=%" PRId64 "&limit=%" PRId64, s->own.size,
                         left < s->f->page ? left : s->f->page);
                rc = kw_client_get(s->f->client, path, PAGE_BYTES, &s->f->text, s->err);
                if (rc != KW_TOO_LARGE || s->f->page == 1)
                        return rc == KW_TOO_LARGE ? not_an_answer(s, "its entries") : rc;
                s->f->page = s->f->page / 2;
        }
}

static int take_lines(struct seen *s)
{
        struct kw_buf *text = &s->f->text;
        const char *at = kw_buf_text(text), *end = at + text->n;
        int64_t before = s->own.size;
        int rc = 0;

        while (rc == 0 && at < end && s->own.size < s->theirs.size) {
                const char *stop = memchr(at, '\n', (size_t)(end - at));

                if (!stop)
                        break; /* it ended in the middle of one */
                rc = kw_ledger_take(s->f->ledger, at, (size_t)(stop - at), s->err);
                at = stop + 1;
                s->own.size++;
        }
        if (rc == 0 && s->own.size == before)
                rc = not_an_answer(s, "its entries");
        return rc;
}

/* The lines of one page, kept once the root that they lead to is found under the other's head. */
static int take_page(struct seen *s)
{
        int64_t before = s->own.size;
        int rc = kw_ledger_begin(s->f->ledger, s->err);

        if (rc)
                return rc;
        rc = take_lines(s);
        if (rc == 0)
                rc = kw_ledger_root(s->f->ledger, s->own.size, &s->own.root, s->err);
        if (rc == 0)
                rc = check_growth(s, &s->own);
        if (rc == 0)
                return kw_ledger_commit(s->f->ledger, s->err);
        kw_ledger_rollback(s->f->ledger);
        s->own.size = before;
        return rc;
}

int kw_follow_step(struct kw_follow *f, kw_progress progress, void *ctx, struct kw_followed *out, struct kw_error *err)
{
        struct seen s = {.f = f, .err = err};
        int64_t before;
        int rc = check_head(&s);

        before = s.own.size;
        while (rc == 0 && s.own.size < s.theirs.size) {
                rc = f->stop && *f->stop ? kw_refuse(err, KW_BUSY, "", "stopped") : ask_page(&s);
                if (rc == 0)
                        rc = take_page(&s);
                if (rc == 0 && progress)
                        progress(ctx, "entries", s.own.size, s.theirs.size);
        }
        *out = (struct kw_followed){s.own.size, s.own.root, s.own.size - before};
        return rc;
}
