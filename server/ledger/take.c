/*
 * Taking an entry as another ledger stored it: with its number, its times and its names.
 *
 * It comes from outside, so it passes everything that a draft passes; and since it was hashed there, it has to be in
 * its normal form already: what the ledger here would have stored is held against it to the byte.
 */
#include "correct.h"
#include "receipt.h"
#include "scratch.h"
#include "stored.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

/* What the ledger there added to a draft. */
struct envelope {
        int64_t seq;
        char logged[KW_STAMP_LEN + 1];
        char by[128], terminal[KW_CODE_MAX + 1];
};

static int not_stored(struct kw_error *err, int64_t seq, const char *why)
{
        return kw_refuse(err, KW_BAD_VALUE, "", "entry %" PRId64 " is not as a ledger stores one: %s", seq, why);
}

static bool take_text(cJSON *leaf, const char *name, char *out, size_t size)
{
        const char *text = kw_json_text(leaf, name);
        size_t n = text ? strlen(text) : size;

        if (n >= size)
                return false;
        memcpy(out, text, n + 1);
        cJSON_DeleteItemFromObjectCaseSensitive(leaf, name);
        return true;
}

/* Read the leaf, and leave in @draft_text what was sent. */
static int take_apart(const char *text, size_t n, struct envelope *e, struct kw_buf *draft_text, struct kw_error *err)
{
        const struct kw_json_limits limits = {kw_json_entry_limits.bytes + 4096, kw_json_entry_limits.nodes + 16};
        cJSON *leaf = NULL;
        int64_t logged;
        int rc = kw_json_read(text, n, &limits, &leaf, NULL);

        if (rc)
                return rc < 0 ? rc : not_stored(err, e->seq, "it can't be read");
        if (kw_json_int(leaf, "seq", 0) != e->seq)
                rc = kw_refuse(err, KW_BAD_VALUE, "", "entry %" PRId64 " is not there; in its place is %" PRId64,
                               e->seq, kw_json_int(leaf, "seq", 0));
        else if (!take_text(leaf, "logged", e->logged, sizeof(e->logged)) || kw_stamp_read(e->logged, &logged) ||
                 !take_text(leaf, "by", e->by, sizeof(e->by)) ||
                 !take_text(leaf, "terminal", e->terminal, sizeof(e->terminal)))
                rc = not_stored(err, e->seq, "it does not say when, by whom and where it was logged");
        cJSON_DeleteItemFromObjectCaseSensitive(leaf, "seq");
        if (rc == 0)
                kw_json_canonical(leaf, draft_text);
        cJSON_Delete(leaf);
        return rc == 0 && draft_text->failed ? -ENOMEM : rc;
}

/* As kw_draft_read checks a body, so the one inside a correction is checked by the kind of what it puts right. */
static int check_inner(struct kw_ledger *l, struct kw_draft *draft, struct kw_error *err)
{
        cJSON *inner = cJSON_GetObjectItemCaseSensitive(draft->body, "body");
        char kind[16];
        int64_t target;
        int rc;

        if (strcmp(draft->kind, "correct") != 0 || !inner)
                return 0;
        rc = kw_find_target(l, kw_json_text(draft->body, "entry"), "/body/entry", &target, kind, err);
        return rc ? rc : kw_body_check(kind, inner, "/body/body", err);
}

static int write_leaf(const struct envelope *e, const struct kw_draft *draft, struct kw_buf *leaf)
{
        struct kw_buf body = {0};

        kw_json_canonical(draft->body, &body);
        kw_leaf_write(leaf, e->seq, draft->key, draft->kind, draft->at, e->logged, e->by, e->terminal,
                      kw_buf_text(&body));
        leaf->failed |= body.failed;
        kw_buf_free(&body);
        kw_buf_text(leaf);
        return leaf->failed ? -ENOMEM : 0;
}

static int put(struct kw_ledger *l, const struct envelope *e, const struct kw_draft *draft, const struct kw_buf *leaf,
               struct kw_error *err)
{
        struct kw_hash hash;
        const struct kw_stored stored = {.seq = e->seq,
                                         .key = draft->key,
                                         .kind = draft->kind,
                                         .at = draft->at,
                                         .logged = e->logged,
                                         .by = e->by,
                                         .terminal = e->terminal,
                                         .leaf = leaf->at,
                                         .hash = hash.bytes};
        struct kw_buf findings = {0};
        int64_t target = 0;
        int rc;

        kw_hash_leaf(leaf->at, leaf->n, &hash);
        rc = kw_replay(l, &stored, err);
        if (rc == 0)
                rc = kw_one(l, &target, 0, "SELECT target FROM correction WHERE seq = ?1", "i", e->seq);
        if (rc == 0)
                rc = kw_keep_findings(l, e->seq, target, &findings);
        kw_buf_free(&findings);
        return rc;
}

/* The sentence of a check of shape, with the entry that it is about before it. */
static int in_entry(struct kw_error *err, int64_t seq, int rc)
{
        struct kw_error why = *err;

        if (rc <= 0 || why.what == KW_BAD_VALUE)
                return rc;
        return kw_refuse(err, KW_BAD_VALUE, "",
                         "entry %" PRId64
                         " is not one that this kinwire would have taken (%s%s%s); is the other one newer?",
                         seq, why.pointer, why.pointer[0] ? ": " : "", why.text);
}

int kw_ledger_take(struct kw_ledger *ledger, const char *text, size_t n, struct kw_error *err)
{
        struct envelope e = {.seq = 0};
        struct kw_draft draft = {.body = NULL};
        struct kw_buf sent = {0}, leaf = {0};
        struct kw_error own;
        int rc = kw_ledger_size(ledger, &e.seq);

        if (!err)
                err = &own;
        e.seq++;
        if (rc == 0)
                rc = take_apart(text, n, &e, &sent, err);
        if (rc == 0)
                rc = in_entry(err, e.seq, kw_draft_read(kw_buf_text(&sent), sent.n, &draft, err));
        if (rc == 0)
                rc = in_entry(err, e.seq, check_inner(ledger, &draft, err));
        if (rc == 0)
                rc = write_leaf(&e, &draft, &leaf);
        if (rc == 0 && (leaf.n != n || memcmp(leaf.at, text, n) != 0))
                rc = not_stored(err, e.seq, "its text is not in its normal form");
        if (rc == 0)
                rc = put(ledger, &e, &draft, &leaf, err);
        kw_draft_free(&draft);
        kw_buf_free(&sent);
        kw_buf_free(&leaf);
        return rc < 0 && rc != -ENOMEM ? kw_store_failed(ledger, rc, err) : rc;
}
