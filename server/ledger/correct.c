/*
 * Putting an entry right: what stands of it is set, and it is done again with all that lean on it. Whatever does not
 * fit any more refuses the whole correction.
 */
#include "correct.h"

#include "judge.h"
#include "redo.h"

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
        struct kw_redo redo;
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
                rc = kw_refuse_with(err, KW_UNKNOWN_ENTRY, pointer, "says", KW_VALUES(KW_WORD("key", entry_key)),
                                    "there is no entry with the key %s", entry_key);
        }
        kw_end(&q);
        if (rc == 0 && !kw_kind(kind))
                rc = kw_refuse_with(err, KW_BAD_VALUE, pointer, "correction", KW_VALUES(KW_FIGURE("seq", *seq)),
                                    "entry %" PRId64 " is a correction itself; name the entry that it put right", *seq);
        return rc;
}

static int check_target(struct correction *c)
{
        int64_t is_void, steps;
        int rc = kw_find_target(c->w->l, kw_json_text(c->w->body, "entry"), "/body/entry", &c->target, c->kind,
                                c->w->err);

        if (rc == 0)
                rc = kw_one(c->w->l, &is_void, 0, "SELECT void FROM standing WHERE seq = ?1", "i", c->target);
        if (rc == 0 && c->is_void && strcmp(c->kind, "open") == 0) {
                rc = kw_one(c->w->l, &steps, 0, "SELECT count(*) FROM step WHERE run_seq = ?1", "i", c->target);
                if (rc == 0 && steps)
                        rc = kw_refuse_with(c->w->err, KW_ALREADY_CONSUMED, "/body/entry", "steps",
                                            KW_VALUES(KW_FIGURE("steps", steps)),
                                            "the run has %" PRId64 " steps; void them first, the last of them first",
                                            steps);
        }
        if (rc == 0 && is_void && c->is_void)
                rc = kw_refuse_with(c->w->err, KW_NOT_OPEN, "/body/entry", "void",
                                    KW_VALUES(KW_FIGURE("seq", c->target)), "entry %" PRId64 " is void already",
                                    c->target);
        return rc;
}

/* --- what leans on it -------------------------------------------------------------------------- */

static int lean_on_code(struct correction *c, const char *code)
{
        int64_t lot;
        int rc = code ? kw_thing_id(c->w->l, "lot", code, &lot) : 0;

        return rc || !code || !lot ? rc : kw_leaning_on_lot(c->w->l, lot, c->target, &c->redo.set);
}

/* What was made of lots under the hold, and tested on them, after a release that now gives them another grade. */
static int lean_on_regraded(struct correction *c)
{
        struct kw_query q;
        int64_t hold;
        int rc = kw_thing_id(c->w->l, "hold", kw_json_text(c->body, "hold"), &hold);

        if (rc == 0)
                rc = kw_ask(
                        c->w->l, &q,
                        "SELECT f.seq FROM hold_span h JOIN feed f ON f.lot = h.lot WHERE h.hold = ?1 AND f.seq > ?2"
                        " UNION ALL"
                        " SELECT t.seq FROM hold_span h JOIN test t ON t.lot = h.lot WHERE h.hold = ?1 AND t.seq > ?2",
                        "ii", hold, c->target);
        return rc ? rc : kw_leaning_rows(c->w->l, &q, &c->redo.set);
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
        if (rc == 0 && strcmp(c->kind, "release") == 0 && kw_json_get(c->body, "grade"))
                rc = lean_on_regraded(c);
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
                if (c->redo.n_exempt == cap) {
                        struct kw_exempt *more = realloc(c->redo.exempt, (cap = cap ? 2 * cap : 8) * sizeof(*more));

                        if (!more) {
                                rc = -ENOMEM;
                                break;
                        }
                        c->redo.exempt = more;
                }
                c->redo.exempt[c->redo.n_exempt++] = (struct kw_exempt){kw_int(&q, 0), kw_int(&q, 1), kw_int(&q, 2)};
                rc = 0;
        }
        kw_end(&q);
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

                        if (cJSON_GetObjectItemCaseSensitive(c->redo.codes, code) &&
                            kw_thing_id(c->w->l, "lot", code, &lot) == 0 && !lot)
                                return true;
                }
        }
        return false;
}

/*
 * Of those recorded before level 14: the run could not be done again without the step, nothing was said of the step,
 * and that was taken for success. It stays what it was: who logged the run anew since then could not have, if it were
 * there.
 */
static bool loses_run(const struct correction *c)
{
        return c->w->seq < c->w->l->steps_stay && !kw_redo_done(&c->redo, c->target) && !c->redo.target_err.what;
}

static int tell_lost(struct correction *c)
{
        return kw_finding_with(c->w, "run-lost", NULL, KW_VALUES(KW_FIGURE("seq", c->target)),
                               "the run in which entry %" PRId64
                               " is a step can't be traced since this correction, with all that came out of it; log it "
                               "anew if that was not done",
                               c->target);
}

static int refuse_correction(struct correction *c)
{
        struct kw_error *err = c->w->err;

        if (loses_run(c))
                return tell_lost(c);
        /* what leans on it was refused: after it, or before its turn came, so that nothing is said of itself */
        if (kw_redo_done(&c->redo, c->target) || !c->redo.target_err.what)
                return kw_redo_refuse(&c->redo, KW_ALREADY_CONSUMED, "/body", err);
        if (kw_can_wait((int)c->redo.target_err.what) && names_own_output(c))
                return kw_refuse_with(
                        err, KW_WOULD_LOOP, "/body/body/lines", "says", NULL,
                        "a lot would become its own ancestor: %.500s",
                        "one of the lots that go into the run is made, directly or further on, of what comes "
                        "out of it");
        if (err)
                *err = c->redo.target_err;
        kw_error_at(err, "/body");
        return (int)c->redo.target_err.what;
}

int kw_apply_correction(struct kw_work *w)
{
        struct correction c = {.w = w, .is_void = strcmp(w->kind, "void") == 0, .body = kw_json_get(w->body, "body")};
        struct kw_fresh fresh = {.body_seq = w->seq, .body = c.body};
        int rc = check_target(&c);

        fresh.seq = c.target;
        c.redo.w = w;
        c.redo.target = c.target;
        c.redo.fresh = &fresh;
        if (rc == 0)
                rc = kw_leaning(w->l, c.target, &c.redo.set);
        if (rc == 0 && c.body)
                rc = lean_on_new(&c);
        if (rc == 0)
                rc = kw_leaning_on_judges(w->l, c.target, c.kind, c.body, &c.redo.set);
        if (rc == 0)
                rc = collect_exempt(&c);
        if (rc == 0)
                rc = kw_redo_undo(&c.redo);
        if (rc == 0)
                rc = set_standing(&c);
        if (rc == 0) {
                rc = kw_redo_do(&c.redo);
                if (rc > 0)
                        rc = refuse_correction(&c);
        }
        kw_redo_free(&c.redo);
        return rc;
}
