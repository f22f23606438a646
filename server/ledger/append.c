/*
 * The append: the one way in.
 *
 * An entry is brought into its normal form, looked up by its key, checked and derived by its kind, and then written
 * with its leaf and the nodes that become complete with it. Whatever refuses it, the ledger is as it was.
 */
#include "agreed.h"
#include "correct.h"
#include "drilled.h"
#include "issued.h"
#include "overridden.h"
#include "receipt.h"
#include "steps.h"
#include "stored.h"
#include "tolerance.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct append {
        struct kw_ledger *l;
        struct kw_draft *draft;
        const struct kw_sender *sender;
        struct kw_error *err;
        int64_t seq;
        int64_t target; /* of a correction */
        char target_kind[16];
        char at[KW_STAMP_LEN + 1], logged[KW_STAMP_LEN + 1];
        struct kw_buf body, leaf;
        struct kw_hash hash;
};

static bool is_correction(const char *kind)
{
        return strcmp(kind, "correct") == 0 || strcmp(kind, "void") == 0;
}

/* --- rights --------------------------------------------------------------------------------------- */

static bool is_of_people(const char *kind)
{
        static const char *const kinds[] = {"person", "terminal", "token", "access"};

        for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]); i++)
                if (strcmp(kinds[i], kind) == 0)
                        return true;
        return false;
}

/* A step of a run names the run, and with it the machine. Appended to @out; nothing when there is no such run. */
static int machine_of_run(struct append *a, struct kw_buf *out)
{
        const char *run = kw_json_text(a->draft->body, "run");
        struct kw_query q;
        int64_t id;
        int rc = run ? kw_thing_id(a->l, "run", run, &id) : 0;

        if (rc || !run)
                return rc;
        rc = kw_ask(a->l, &q, "SELECT machine FROM run WHERE id = ?1", "i", id);
        if (rc == 0)
                rc = kw_next(a->l, &q);
        if (rc == 1)
                kw_buf_text_add(out, kw_text(&q, 0));
        kw_end(&q);
        return rc < 0 ? rc : out->failed ? -ENOMEM : 0;
}

/* Whoever puts something right needs the right to what is put right as well. */
static int check_rights(struct append *a)
{
        const char *machine = kw_json_text(a->draft->body, "machine");
        struct kw_buf of_run = {0};
        int rc = 0;

        if (!a->sender->who)
                return 0;
        if (!machine && a->sender->who->only && a->sender->who->only->machine[0])
                rc = machine_of_run(a, &of_run);
        if (of_run.n)
                machine = kw_buf_text(&of_run);
        if (rc == 0)
                rc = kw_may_record(a->sender->who, a->draft->kind, machine, kw_json_text(a->draft->body, "instrument"),
                                   a->err);
        if (rc == 0 && a->target)
                rc = kw_may_record(a->sender->who, a->target_kind, NULL, NULL, a->err);
        kw_buf_free(&of_run);
        return rc;
}

/* --- normal form ------------------------------------------------------------------------------- */

/* The right body is of the kind of the entry that it puts right, and its joins keep that entry's names. */
static int prepare_correction(struct append *a)
{
        cJSON *inner = cJSON_GetObjectItemCaseSensitive(a->draft->body, "body");
        const char *key = kw_json_text(a->draft->body, "entry");
        const char *kind = a->target_kind;
        int rc = kw_find_target(a->l, key, "/body/entry", &a->target, a->target_kind, a->err);

        if (rc == 0 && is_of_people(kind))
                rc = kw_refuse_with(a->err, KW_BAD_VALUE, "/body/entry", "said-anew", NULL,
                                    "what is said of a %s is not put right but said anew: the last entry holds", kind);
        if (rc || !inner)
                return rc;
        rc = kw_body_check(kind, inner, "/body/body", a->err);
        if (rc == 0 && strcmp(kind, "run") == 0)
                rc = kw_body_name_welds(inner, key);
        return rc;
}

/* The body that the entry says or puts right, when it is of @kind; else NULL. */
static cJSON *body_of(struct append *a, cJSON *body, const char *kind)
{
        if (strcmp(a->draft->kind, kind) == 0)
                return body;
        if (strcmp(a->target_kind, kind) != 0)
                return NULL;
        return cJSON_GetObjectItemCaseSensitive(body, "body");
}

static int prepare(struct append *a)
{
        if (is_correction(a->draft->kind))
                return prepare_correction(a);
        return strcmp(a->draft->kind, "run") == 0 ? kw_body_name_welds(a->draft->body, a->draft->key) : 0;
}

static int write_body(struct append *a)
{
        kw_json_canonical(a->draft->body, &a->body);
        return a->body.failed ? -ENOMEM : 0;
}

/* --- the receipt --------------------------------------------------------------------------------- */

static int receipt(struct append *a, int64_t seq, const char *findings, struct kw_receipt *out)
{
        struct kw_hash root;
        char hex[KW_HASH_HEX];
        struct kw_buf text = {0};
        int rc = kw_tree_root(a->l, seq, &root);

        if (rc)
                return kw_store_failed(a->l, rc, a->err);
        kw_hash_hex(&root, hex);
        kw_put_object(&text, NULL);
        kw_put_int(&text, "seq", seq);
        kw_put_string(&text, "head", hex);
        kw_put_raw(&text, "body", kw_buf_text(&a->body));
        kw_put_raw(&text, "findings", findings);
        kw_put_object_end(&text);
        kw_buf_text(&text);
        if (text.failed) {
                kw_buf_free(&text);
                return -ENOMEM;
        }
        out->seq = seq;
        out->json = text.at;
        return 0;
}

int kw_keep_findings(struct kw_ledger *l, int64_t seq, int64_t target, struct kw_buf *out)
{
        struct kw_query q;
        int rows = 0, rc = kw_ask(l, &q,
                                  "SELECT code, text, said FROM finding"
                                  " WHERE seq = ifnull((SELECT run_seq FROM step WHERE seq = ?1), ?1) ORDER BY ord",
                                  "i", target ? target : seq);

        kw_put_array(out, NULL);
        while (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                kw_put_object(out, NULL);
                kw_put_string(out, "code", kw_text(&q, 0));
                kw_put_string(out, "text", kw_text(&q, 1));
                kw_put_raw(out, "values", kw_text(&q, 2));
                kw_put_object_end(out);
                rows++;
                rc = 0;
        }
        kw_end(&q);
        kw_put_array_end(out);
        kw_buf_text(out);
        if (rc == 0 && out->failed)
                rc = -ENOMEM;
        if (rc == 0 && rows)
                rc = kw_receipt_put(l, seq, kw_buf_text(out));
        return rc;
}

/* --- the same key again ---------------------------------------------------------------------------- */

static cJSON *drill_of(struct append *a, cJSON *body)
{
        cJSON *drill = body_of(a, body, "drill");

        return drill ? drill : body_of(a, body, "sample");
}

/* What the server said in the body when it was recorded is not for the sender to repeat. */
static int adopt_said(struct append *a, const char *stored)
{
        cJSON *run = body_of(a, a->draft->body, "run"), *load = body_of(a, a->draft->body, "load"),
              *opened = body_of(a, a->draft->body, "open"), *release = body_of(a, a->draft->body, "release"),
              *certify = body_of(a, a->draft->body, "certify"), *drill = drill_of(a, a->draft->body), *leaf = NULL,
              *was;
        int rc;

        if (!load && !run && !opened && !release && !certify && !drill)
                return 0;
        rc = kw_json_read(stored, strlen(stored), &kw_stored_limits, &leaf, NULL);
        if (rc == 0) {
                was = cJSON_GetObjectItemCaseSensitive(leaf, "body");
                if (load)
                        rc = kw_load_adopt(load, body_of(a, was, "load"));
                else if (release)
                        rc = kw_agreed_adopt(release, body_of(a, was, "release"));
                else if (certify)
                        rc = kw_issued_set(certify, kw_json_get(body_of(a, was, "certify"), "document"));
                else if (drill)
                        rc = kw_drilled_adopt(drill, drill_of(a, was));
                else
                        rc = kw_tolerance_adopt(run ? run : opened, body_of(a, was, run ? "run" : "open"));
                if (rc == 0 && run && kw_json_get(run, "override"))
                        rc = kw_overridden_set(run,
                                               kw_json_get(kw_json_get(body_of(a, was, "run"), "override"), "holds"));
        }
        cJSON_Delete(leaf);
        return rc > 0 ? -EIO : rc;
}

/* The content is the same when the leaf that it would have had is the leaf that is there. */
static int same_again(struct append *a, struct kw_query *q, struct kw_receipt *out)
{
        int64_t seq = kw_int(q, 0);
        const char *at = a->draft->at[0] ? a->draft->at : kw_text(q, 1);
        struct kw_buf findings = {0};
        int rc = adopt_said(a, kw_text(q, 5));

        if (rc == 0)
                rc = write_body(a);
        if (rc)
                return rc;
        kw_leaf_write(&a->leaf, seq, a->draft->key, a->draft->kind, at, kw_text(q, 2), kw_text(q, 3), kw_text(q, 4),
                      kw_buf_text(&a->body));
        if (strcmp(kw_buf_text(&a->leaf), kw_text(q, 5)) != 0)
                return kw_refuse_with(
                        a->err, KW_KEY_REUSED, "/key", "says", KW_VALUES(KW_FIGURE("seq", seq)),
                        "entry %" PRId64 " has this key and says something else; a new entry needs a new key", seq);
        out->repeated = true;
        rc = kw_receipt_get(a->l, seq, &findings);
        if (rc == 0)
                rc = receipt(a, seq, kw_buf_text(&findings), out);
        kw_buf_free(&findings);
        return rc;
}

/* @there: whether the key is in the ledger; @out is filled when it is, with the same content. */
static int look_up_key(struct append *a, struct kw_receipt *out, bool *there)
{
        struct kw_query q;
        int rc = kw_ask(a->l, &q, "SELECT seq, at, logged, by, terminal, leaf FROM entry WHERE key = ?1", "t",
                        a->draft->key);

        *there = false;
        if (rc == 0)
                rc = kw_next(a->l, &q);
        if (rc == 1) {
                *there = true;
                rc = same_again(a, &q, out);
        }
        kw_end(&q);
        return rc;
}

/* --- a new entry ----------------------------------------------------------------------------------- */

static int derive(struct append *a)
{
        struct kw_work w = {
                .l = a->l,
                .seq = a->seq,
                .body_seq = a->seq,
                .key = a->draft->key,
                .kind = a->draft->kind,
                .body = a->draft->body,
                .judge = true,
                .may_override = a->sender->may_override,
                .second_person = a->sender->second_person,
                .err = a->err,
        };

        kw_stamp_read(a->at, &w.at);
        return is_correction(w.kind) ? kw_apply_correction(&w) : kw_kind(w.kind)->apply(&w);
}

static int write_entry(struct append *a)
{
        struct kw_stored e = {.seq = a->seq,
                              .key = a->draft->key,
                              .kind = a->draft->kind,
                              .at = a->at,
                              .logged = a->logged,
                              .by = a->sender->by,
                              .terminal = a->sender->terminal,
                              .hash = a->hash.bytes};

        kw_leaf_write(&a->leaf, e.seq, e.key, e.kind, e.at, e.logged, e.by, e.terminal, kw_buf_text(&a->body));
        e.leaf = kw_buf_text(&a->leaf);
        if (a->leaf.failed)
                return -ENOMEM;
        kw_hash_leaf(e.leaf, a->leaf.n, &a->hash);
        return kw_tree_add(a->l, &e);
}

/* A load that is put right has its weld named after the load, and its own intervals to take again. */
static int say_load(struct append *a, cJSON *load)
{
        struct kw_standing old = {0};
        int rc;

        if (!a->target)
                return kw_load_say(a->l, load, a->draft->key, NULL, a->err);
        rc = kw_stored_load(a->l, a->target, &old);
        if (rc == 0) {
                rc = kw_load_say(a->l, load, old.key, old.body, a->err);
                if (rc > 0)
                        kw_error_at(a->err, "/body");
        }
        kw_standing_free(&old);
        return rc;
}

/* A certificate that is put right is issued again: its document says what the ledger says now. */
static int say_document(struct append *a, cJSON *certify)
{
        struct kw_issue issue = {
                .seq = a->target ? a->target : a->seq, .body_seq = a->seq, .at = a->at, .by = a->sender->by};
        int rc = kw_issued_say(a->l, certify, &issue, a->err);

        if (rc > 0 && a->target)
                kw_error_at(a->err, "/body");
        return rc;
}

/* What the server adds to a body before it is recorded. */
static int say(struct append *a)
{
        cJSON *run = body_of(a, a->draft->body, "run"), *load = body_of(a, a->draft->body, "load"),
              *opened = body_of(a, a->draft->body, "open"), *release = body_of(a, a->draft->body, "release"),
              *certify = body_of(a, a->draft->body, "certify"), *drill = body_of(a, a->draft->body, "drill"),
              *sample = body_of(a, a->draft->body, "sample");
        int rc = run ? kw_overridden_say(a->l, run) : load ? say_load(a, load) : 0;

        if (rc == 0 && (run || opened))
                rc = kw_tolerance_say(a->l, run ? run : opened, a->target ? a->target : a->seq);
        if (rc == 0 && release)
                rc = kw_agreed_say(a->l, release, a->sender->by, a->target);
        if (rc == 0 && certify)
                rc = say_document(a, certify);
        if (rc == 0 && drill)
                rc = kw_drill_say(a->l, drill, a->err);
        if (rc == 0 && sample)
                rc = kw_sample_say(a->l, sample, a->err);
        return rc;
}

static int add_rows(struct append *a, struct kw_receipt *out)
{
        struct kw_buf findings = {0};
        int rc = derive(a);

        if (rc == 0)
                rc = write_entry(a);
        if (rc == 0)
                rc = kw_keep_findings(a->l, a->seq, a->target, &findings);
        if (rc == 0)
                rc = receipt(a, a->seq, kw_buf_text(&findings), out);
        kw_buf_free(&findings);
        return rc;
}

static int add_marked(struct append *a, struct kw_receipt *out)
{
        int rc = kw_ledger_mark(a->l, a->err);

        if (rc)
                return rc;
        rc = add_rows(a, out);
        if (rc == 0)
                return kw_ledger_keep(a->l, a->err);
        kw_ledger_undo(a->l);
        return rc;
}

static int add_boldly(struct append *a, struct kw_receipt *out)
{
        sqlite3_int64 before = sqlite3_total_changes64(a->l->db);
        int rc = add_rows(a, out);

        if (rc)
                a->l->half |= sqlite3_total_changes64(a->l->db) != before;
        return rc;
}

static int add(struct append *a, struct kw_receipt *out)
{
        int rc = say(a);

        if (rc == 0)
                rc = write_body(a);
        if (rc)
                return rc;
        return a->l->bold ? add_boldly(a, out) : add_marked(a, out);
}

int kw_ledger_append(struct kw_ledger *ledger, struct kw_draft *draft, const struct kw_sender *sender, int64_t now,
                     struct kw_receipt *out, struct kw_error *err)
{
        struct append a = {.l = ledger, .draft = draft, .sender = sender, .err = err};
        bool there = false;
        int rc;

        memset(out, 0, sizeof(*out));
        kw_stamp_write(now, a.logged);
        snprintf(a.at, sizeof(a.at), "%s", draft->at[0] ? draft->at : a.logged);
        rc = prepare(&a);
        if (rc == 0)
                rc = check_rights(&a);
        if (rc == 0)
                rc = look_up_key(&a, out, &there);
        if (rc == 0 && !there) {
                rc = kw_tree_size(ledger, &a.seq);
                a.seq++;
                if (rc == 0)
                        rc = add(&a, out);
        }
        kw_buf_free(&a.body);
        kw_buf_free(&a.leaf);
        return rc < 0 && rc != -ENOMEM ? kw_store_failed(ledger, rc, err) : rc;
}
