/*
 * Replaying: every entry once more, in order, into an empty ledger.
 *
 * What is rebuilt so depends on the entries' leaves alone, so a table that was touched, a leaf that was edited and a
 * node that was replaced all show.
 */
#include "correct.h"
#include "scratch.h"
#include "stored.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static int wrong(struct kw_error *err, int64_t seq, const char *what)
{
        return kw_refuse(err, KW_BAD_VALUE, "", "entry %" PRId64 " is wrong: %s", seq, what);
}

static bool says(const cJSON *leaf, const char *name, const char *column)
{
        const char *text = kw_json_text(leaf, name);

        return text && column && strcmp(text, column) == 0;
}

/* The leaf must be canonical, and say what the columns say. */
static int check_leaf(const struct kw_stored *e, cJSON **leaf, struct kw_error *err)
{
        struct kw_buf canonical = {0};
        bool same;
        int rc = kw_json_read(e->leaf, strlen(e->leaf), &kw_stored_limits, leaf, NULL);

        if (rc)
                return rc < 0 ? rc : wrong(err, e->seq, "its text is not an entry");
        kw_json_canonical(*leaf, &canonical);
        if (canonical.failed) {
                kw_buf_free(&canonical);
                return -ENOMEM;
        }
        same = strcmp(kw_buf_text(&canonical), e->leaf) == 0;
        kw_buf_free(&canonical);
        if (!same)
                return wrong(err, e->seq, "its text is not canonical");
        if (kw_json_int(*leaf, "seq", 0) != e->seq || !says(*leaf, "key", e->key) || !says(*leaf, "kind", e->kind) ||
            !says(*leaf, "at", e->at) || !says(*leaf, "logged", e->logged) || !says(*leaf, "by", e->by) ||
            !says(*leaf, "terminal", e->terminal))
                return wrong(err, e->seq, "its columns do not say what its text says");
        return 0;
}

static int check_hash(const struct kw_stored *e, struct kw_error *err)
{
        struct kw_hash hash;

        kw_hash_leaf(e->leaf, strlen(e->leaf), &hash);
        if (memcmp(hash.bytes, e->hash, KW_HASH) != 0)
                return wrong(err, e->seq, "its text does not have the hash that is stored for it");
        return 0;
}

static int derive(struct kw_ledger *l, const struct kw_stored *e, const cJSON *leaf, struct kw_error *err)
{
        struct kw_error why = {0};
        struct kw_work w = {
                .l = l,
                .seq = e->seq,
                .body_seq = e->seq,
                .key = e->key,
                .kind = e->kind,
                .body = kw_json_get(leaf, "body"),
                .may_override = true,
                .err = &why,
        };
        bool correction = strcmp(e->kind, "correct") == 0 || strcmp(e->kind, "void") == 0;
        int rc;

        if (!correction && !kw_kind(e->kind))
                return wrong(err, e->seq, "its kind is not one that there is");
        if (kw_stamp_read(e->at, &w.at))
                return wrong(err, e->seq, "its time can't be read");
        rc = correction ? kw_apply_correction(&w) : kw_kind(e->kind)->apply(&w);
        if (rc == KW_INTERNAL) { /* the store's own failure, such as no memory, says nothing of the entry */
                if (err)
                        *err = why;
                return rc;
        }
        return rc > 0 ? wrong(err, e->seq, why.text) : rc;
}

int kw_replay_check(const struct kw_stored *e, cJSON **leaf, struct kw_error *err)
{
        int rc = check_hash(e, err);

        return rc ? rc : check_leaf(e, leaf, err);
}

int kw_replay_checked(struct kw_ledger *scratch, const struct kw_stored *e, const cJSON *leaf, struct kw_error *err)
{
        int rc = derive(scratch, e, leaf, err);

        if (rc == 0)
                rc = kw_tree_add(scratch, e);
        return rc < 0 ? kw_store_failed(scratch, rc, err) : rc;
}

int kw_replay_in_turn(const struct kw_stored *e, int64_t size, struct kw_error *err)
{
        return e->seq == size + 1 ? 0 : wrong(err, size + 1, "it is not there");
}

int kw_replay(struct kw_ledger *scratch, const struct kw_stored *e, struct kw_error *err)
{
        cJSON *leaf = NULL;
        int64_t size;
        int rc = kw_ledger_size(scratch, &size);

        if (rc)
                return kw_store_failed(scratch, rc, err);
        rc = kw_replay_in_turn(e, size, err);
        if (rc == 0)
                rc = kw_replay_check(e, &leaf, err);
        if (rc == 0)
                rc = kw_replay_checked(scratch, e, leaf, err);
        cJSON_Delete(leaf);
        return rc;
}

/* --- the derived tables of a ledger that is brought up ------------------------------------------- */

#define TELL_EVERY 1024 /* entries */

static struct {
        kw_progress progress;
        void *ctx;
} told;

void kw_ledger_tell_of_bringing_up(kw_progress progress, void *ctx)
{
        told.progress = progress;
        told.ctx = ctx;
}

static void tell(int64_t done, int64_t of)
{
        if (told.progress && (done % TELL_EVERY == 0 || done == of))
                told.progress(told.ctx, "entries derived again", done, of);
}

struct rebuild {
        struct kw_ledger *l;
        struct kw_error *err;
        struct kw_stored e; /* its texts are the three here */
        char key[KW_KEY_LEN + 1], kind[16], at[KW_STAMP_LEN + 1];
        cJSON *leaf;
};

static int take_out(void *ctx, const struct kw_stored *e)
{
        struct rebuild *r = ctx;
        int rc = check_leaf(e, &r->leaf, r->err);

        snprintf(r->key, sizeof(r->key), "%s", e->key);
        snprintf(r->kind, sizeof(r->kind), "%s", e->kind);
        snprintf(r->at, sizeof(r->at), "%s", e->at);
        r->e = (struct kw_stored){.seq = e->seq, .key = r->key, .kind = r->kind, .at = r->at};
        return rc;
}

/*
 * The next entry after @seq. It is taken out before anything is derived of it: an entry may be tried and taken back
 * meanwhile, and where a step has changed the tables that ends every statement that is being read.
 */
static int rebuild_next(struct rebuild *r, int64_t seq)
{
        int rc = kw_ledger_entries(r->l, seq, 1, take_out, r, r->err);

        if (rc == 0 && !r->leaf)
                rc = wrong(r->err, seq + 1, "it is not there");
        if (rc == 0)
                rc = derive(r->l, &r->e, r->leaf, r->err);
        cJSON_Delete(r->leaf);
        r->leaf = NULL;
        return rc < 0 ? kw_store_failed(r->l, rc, r->err) : rc;
}

int kw_rebuild(struct kw_ledger *l, struct kw_error *err)
{
        struct rebuild r = {.l = l, .err = err};
        int64_t size;
        int rc = kw_ledger_size(l, &size);
        char sql[64];

        if (rc)
                return kw_store_failed(l, rc, err);
        for (const struct kw_derived *t = kw_derived; t->name; t++) {
                snprintf(sql, sizeof(sql), "DELETE FROM %s", t->name);
                if (sqlite3_exec(l->db, sql, NULL, NULL, NULL))
                        return kw_store_failed(l, -EIO, err);
        }
        for (int64_t seq = 0; rc == 0 && seq < size; seq++) {
                rc = rebuild_next(&r, seq);
                if (rc == 0)
                        tell(seq + 1, size);
        }
        return rc;
}
