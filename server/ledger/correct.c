/*
 * Putting an entry right.
 *
 * The entry and all that lean on it are undone, what stands of it is set, and they are done again in the order of the
 * ledger. An entry that names something which is itself still to be done waits for it (a run may be put right to take a
 * coil that was logged after it); when nothing moves any more, the ones that wait are each other's ancestors, or name
 * what is gone, and the whole correction is refused.
 */
#include "correct.h"

#include "leaning.h"
#include "stored.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct correction {
        struct kw_work *w;
        int64_t target;
        char kind[16];
        bool is_void;
        const cJSON *body; /* the right one */
        struct kw_again *set;
        struct kw_exempt *exempt;
        size_t n_exempt;
        cJSON *codes; /* of lots that the set had made: {"RC-1":true} */
        struct kw_error target_err;
        struct kw_error other_err; /* of the first other entry that could not be done again */
};

int kw_find_target(struct kw_ledger *l, const char *entry_key, const char *pointer, int64_t *seq, char kind[16],
                   struct kw_error *err)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT seq, kind FROM entry WHERE key = ?1", "t", entry_key);

        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1) {
                *seq = kw_int(&q, 0);
                snprintf(kind, 16, "%s", kw_text(&q, 1));
                rc = 0;
        } else if (rc == 0) {
                rc = kw_refuse(err, KW_UNKNOWN_ENTRY, pointer, "there is no entry with the key %s", entry_key);
        }
        kw_end(&q);
        if (rc == 0 && !kw_kind(kind))
                rc = kw_refuse(err, KW_BAD_VALUE, pointer,
                               "entry %" PRId64 " is a correction itself; name the entry that it put right", *seq);
        return rc;
}

static int check_target(struct correction *c)
{
        int64_t is_void;
        int rc = kw_find_target(c->w->l, kw_json_text(c->w->body, "entry"), "/body/entry", &c->target, c->kind,
                                c->w->err);

        if (rc == 0)
                rc = kw_one(c->w->l, &is_void, 0, "SELECT void FROM standing WHERE seq = ?1", "i", c->target);
        if (rc == 0 && is_void && c->is_void)
                rc = kw_refuse(c->w->err, KW_NOT_OPEN, "/body/entry", "entry %" PRId64 " is void already", c->target);
        return rc;
}

/* --- what leans on it -------------------------------------------------------------------------- */

static int lean_on_code(struct correction *c, const char *code)
{
        int64_t lot;
        int rc = code ? kw_thing_id(c->w->l, "lot", code, &lot) : 0;

        return rc || !code || !lot ? rc : kw_leaning_on_lot(c->w->l, lot, c->target, &c->set);
}

/* Lots that the right body takes from: who took from them later has to be done again too. */
static int lean_on_new(struct correction *c)
{
        const cJSON *line, *feed, *item;
        int rc = 0;

        cJSON_ArrayForEach(line, kw_json_get(c->body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (rc == 0)
                                rc = lean_on_code(c, kw_json_text(feed, "lot"));
                }
        }
        if (strcmp(c->kind, "scrap") == 0 || strcmp(c->kind, "test") == 0)
                rc = lean_on_code(c, kw_json_text(c->body, "lot"));
        if (strcmp(c->kind, "dispatch") == 0)
                cJSON_ArrayForEach(item, kw_json_get(c->body, "lots"))
                {
                        if (rc == 0)
                                rc = lean_on_code(c, item->valuestring);
                }
        return rc;
}

static int collect_exempt(struct correction *c)
{
        struct kw_query q;
        int rc = kw_ask(c->w->l, &q,
                        "SELECT lot, from_mm, to_mm FROM feed WHERE run = ?1 * 4096 UNION ALL"
                        " SELECT lot, from_mm, to_mm FROM taken WHERE seq = ?1",
                        "i", c->target);
        size_t cap = 0;

        while (rc == 0 && (rc = kw_next(c->w->l, &q)) == 1) {
                if (c->n_exempt == cap) {
                        struct kw_exempt *more = realloc(c->exempt, (cap = cap ? 2 * cap : 8) * sizeof(*more));

                        if (!more) {
                                rc = -ENOMEM;
                                break;
                        }
                        c->exempt = more;
                }
                c->exempt[c->n_exempt++] = (struct kw_exempt){kw_int(&q, 0), kw_int(&q, 1), kw_int(&q, 2)};
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static int by_seq(const void *a, const void *b)
{
        const struct kw_again *x = a, *y = b;

        return x->seq < y->seq ? -1 : x->seq > y->seq;
}

static int collect_codes(struct correction *c, int64_t seq)
{
        struct kw_query q;
        int rc = kw_ask(c->w->l, &q, "SELECT code FROM lot WHERE seq = ?1", "i", seq);

        while (rc == 0 && (rc = kw_next(c->w->l, &q)) == 1)
                rc = cJSON_AddTrueToObject(c->codes, kw_text(&q, 0)) ? 0 : -ENOMEM;
        kw_end(&q);
        return rc;
}

static int undo_all(struct correction *c)
{
        int rc = 0;

        c->codes = cJSON_CreateObject();
        if (!c->codes)
                return -ENOMEM;
        for (struct kw_again *a = c->set; rc == 0 && a; a = a->hh.next)
                rc = collect_codes(c, a->seq);
        for (struct kw_again *a = c->set; rc == 0 && a; a = a->hh.next)
                rc = kw_undo_entry(c->w->l, a->seq);
        return rc;
}

static int set_standing(struct correction *c)
{
        int rc = kw_do(c->w->l, "INSERT OR REPLACE INTO standing (seq, body_seq, void) VALUES (?1, ?2, ?3)", "iii",
                       c->target, c->w->seq, (int64_t)c->is_void);

        if (rc == 0)
                rc = kw_do(c->w->l, "INSERT INTO correction (seq, target, void, reason) VALUES (?1, ?2, ?3, ?4)",
                           "iiit", c->w->seq, c->target, (int64_t)c->is_void, kw_json_text(c->w->body, "reason"));
        return rc;
}

/* --- doing it again ----------------------------------------------------------------------------- */

static int apply_stored(struct correction *c, const struct kw_standing *s, struct kw_error *err)
{
        bool is_target = s->seq == c->target;
        struct kw_work again = {
                .l = c->w->l,
                .seq = s->seq,
                .body_seq = s->body_seq,
                .key = s->key,
                .kind = s->kind,
                .at = s->at,
                .body = is_target ? c->body : s->body,
                .judge = is_target && c->w->judge,
                .may_override = c->w->may_override,
                .exempt = c->exempt,
                .n_exempt = is_target ? c->n_exempt : 0,
                .err = err,
        };
        int rc = kw_ledger_mark(c->w->l, err);

        if (rc)
                return rc;
        rc = kw_kind(s->kind)->apply(&again);
        if (rc) {
                kw_ledger_undo(c->w->l);
                return rc;
        }
        return kw_ledger_keep(c->w->l, err);
}

/* Return: 0, done (or void: nothing to do); a refusal; a negative errno. */
static int do_again(struct correction *c, int64_t seq)
{
        struct kw_error err = {0};
        struct kw_standing s = {0};
        int rc;

        if (seq == c->target && c->is_void)
                return 0;
        /* the entry that puts the target right is not in the store yet: its body comes with the work */
        if (seq == c->target) {
                s.seq = seq;
                s.body_seq = c->w->seq;
                snprintf(s.kind, sizeof(s.kind), "%s", c->kind);
                snprintf(s.key, sizeof(s.key), "%s", kw_json_text(c->w->body, "entry"));
                rc = kw_one(c->w->l, &s.at, 0, "SELECT unixepoch(at) FROM entry WHERE seq = ?1", "i", seq);
        } else {
                rc = kw_stored_load(c->w->l, seq, &s);
        }
        if (rc == 0 && !s.is_void)
                rc = apply_stored(c, &s, &err);
        if (rc > 0 && seq == c->target) {
                c->target_err = err;
        } else if (rc > 0 && !c->other_err.what) {
                c->other_err = err;
                snprintf(c->other_err.text, sizeof(c->other_err.text),
                         "entry %" PRId64 " (%s) would no longer fit: %.500s", seq, s.kind, err.text);
        }
        kw_standing_free(&s);
        return rc;
}

static bool can_wait(int rc)
{
        return rc >= KW_UNKNOWN_LOT && rc <= KW_UNKNOWN_ENTRY;
}

/* Passes over what is left to do, until nothing moves. */
static int redo_all(struct correction *c)
{
        size_t left = HASH_COUNT(c->set), before;
        int rc;

        HASH_SRT(hh, c->set, by_seq);
        do {
                before = left;
                memset(&c->other_err, 0, sizeof(c->other_err));
                for (struct kw_again *a = c->set; a; a = a->hh.next) {
                        if (a->done)
                                continue;
                        rc = do_again(c, a->seq);
                        if (rc < 0)
                                return rc;
                        if (rc && !can_wait(rc))
                                return rc;
                        a->done = rc == 0;
                        left -= a->done;
                }
        } while (left && left < before);
        return left ? KW_UNKNOWN_LOT : 0;
}

/* The code that a sentence "there is no lot X in the ledger" was about is at the pointer, inside the right body. */
static bool names_own_output(struct correction *c)
{
        const cJSON *line, *feed;

        cJSON_ArrayForEach(line, kw_json_get(c->body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        const char *code = kw_json_text(feed, "lot");
                        int64_t lot = 0;

                        if (cJSON_GetObjectItemCaseSensitive(c->codes, code) &&
                            kw_thing_id(c->w->l, "lot", code, &lot) == 0 && !lot)
                                return true;
                }
        }
        return false;
}

static int refuse_correction(struct correction *c)
{
        struct kw_error *err = c->w->err;
        const struct kw_again *target;

        HASH_FIND(hh, c->set, &c->target, sizeof(c->target), target);
        if (target->done) {
                const struct kw_error *other = &c->other_err;

                return kw_refuse(err, can_wait((int)other->what) ? KW_ALREADY_CONSUMED : other->what, "/body", "%s",
                                 other->text);
        }
        if (can_wait((int)c->target_err.what) && names_own_output(c))
                return kw_refuse(err, KW_WOULD_LOOP, "/body/body/lines", "a lot would become its own ancestor: %.500s",
                                 "one of the lots that go into the run is made, directly or further on, of what comes "
                                 "out of it");
        if (err)
                *err = c->target_err;
        kw_error_at(err, "/body");
        return (int)c->target_err.what;
}

static void free_correction(struct correction *c)
{
        kw_again_free(&c->set);
        free(c->exempt);
        cJSON_Delete(c->codes);
}

int kw_apply_correction(struct kw_work *w)
{
        struct correction c = {.w = w, .is_void = strcmp(w->kind, "void") == 0, .body = kw_json_get(w->body, "body")};
        int rc = check_target(&c);

        if (rc == 0)
                rc = kw_leaning(w->l, c.target, &c.set);
        if (rc == 0 && c.body)
                rc = lean_on_new(&c);
        if (rc == 0)
                rc = collect_exempt(&c);
        if (rc == 0)
                rc = undo_all(&c);
        if (rc == 0)
                rc = set_standing(&c);
        if (rc == 0) {
                rc = redo_all(&c);
                if (rc > 0)
                        rc = refuse_correction(&c);
        }
        free_correction(&c);
        return rc;
}
