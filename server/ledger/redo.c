/*
 * Doing entries again, in the order of the ledger, each after what it names.
 */
#include "redo.h"

#include "correct.h"
#include "stored.h"
#include "takes.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int by_seq(const void *a, const void *b)
{
        const struct kw_again *x = a, *y = b;

        return x->seq < y->seq ? -1 : x->seq > y->seq;
}

static int collect_codes(struct kw_redo *r, int64_t seq)
{
        struct kw_query q;
        int rc = kw_ask(r->w->l, &q, "SELECT code FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095", "i", seq);

        while (rc == 0 && (rc = kw_next(r->w->l, &q)) == 1)
                rc = cJSON_AddTrueToObject(r->codes, kw_text(&q, 0)) ? 0 : -ENOMEM;
        kw_end(&q);
        return rc;
}

/*
 * Whether a step that is undone stays a step of its run: all but one that is made void now, or put into another run. So
 * the run is done again with all that happens in it, and never without the package that is put right.
 */
static int stays(struct kw_redo *r, int64_t seq, int64_t run_seq, bool *out)
{
        const char *run = r->fresh && r->fresh->seq == seq ? kw_json_text(r->fresh->body, "run") : NULL;
        int64_t same = 1;
        int rc = 0;

        *out = false;
        if (r->w->seq < r->w->l->steps_stay)
                return 0; /* recorded when none did */
        if (run)
                rc = kw_one(r->w->l, &same, 0, "SELECT 1 FROM thing WHERE type = 'run' AND code = ?1 AND seq = ?2",
                            "ti", run, run_seq);
        *out = same && (run || !r->fresh || r->fresh->seq != seq);
        return rc;
}

static int undo(struct kw_redo *r, int64_t seq)
{
        int64_t run_seq = 0;
        bool keep = false;
        char kind[16] = "";
        struct kw_query q;
        int rc = kw_ask(r->w->l, &q, "SELECT run_seq, kind FROM step WHERE seq = ?1", "i", seq);

        if (rc == 0 && (rc = kw_next(r->w->l, &q)) == 1) {
                run_seq = kw_int(&q, 0);
                snprintf(kind, sizeof(kind), "%s", kw_text(&q, 1));
                rc = 0;
        }
        kw_end(&q);
        if (rc == 0 && run_seq)
                rc = stays(r, seq, run_seq, &keep);
        if (rc == 0)
                rc = kw_undo_entry(r->w->l, seq);
        if (rc == 0 && keep)
                rc = kw_do(r->w->l, "INSERT INTO step (seq, run_seq, kind) VALUES (?1, ?2, ?3)", "iit", seq, run_seq,
                           kind);
        return rc;
}

int kw_redo_undo(struct kw_redo *r)
{
        int rc = 0;

        r->codes = cJSON_CreateObject();
        if (!r->codes)
                return -ENOMEM;
        for (struct kw_again *a = r->set; rc == 0 && a; a = a->hh.next)
                rc = collect_codes(r, a->seq);
        for (struct kw_again *a = r->set; rc == 0 && a; a = a->hh.next)
                rc = undo(r, a->seq);
        return rc;
}

/* --- doing it again ----------------------------------------------------------------------------- */

static int apply_stored(struct kw_redo *r, const struct kw_standing *s, struct kw_error *err)
{
        bool is_target = s->seq == r->target;
        struct kw_work again = {
                .l = r->w->l,
                .seq = s->seq,
                .body_seq = s->body_seq,
                .key = s->key,
                .kind = s->kind,
                .at = s->at,
                .body = s->body,
                .judge = is_target && r->w->judge,
                .may_override = r->w->may_override,
                .second_person = r->w->second_person,
                .exempt = r->exempt,
                .n_exempt = is_target ? r->n_exempt : 0,
                .fresh = r->fresh,
                .err = err,
        };
        int rc = kw_ledger_mark(r->w->l, err);

        if (rc)
                return rc;
        rc = kw_kind(s->kind)->apply(&again);
        if (rc) {
                kw_ledger_undo(r->w->l);
                return rc;
        }
        return kw_ledger_keep(r->w->l, err);
}

/* What stands of an entry; of the fresh one, what the work brings. */
static int load(struct kw_redo *r, int64_t seq, struct kw_standing *s)
{
        int rc = kw_stored_load(r->w->l, seq, s);

        if (rc == 0 && r->fresh && r->fresh->seq == seq) {
                s->body_seq = r->fresh->body_seq;
                s->is_void = !r->fresh->body;
                s->body = r->fresh->body;
        }
        return rc;
}

/* Return: 0, done (or void: nothing to do); a refusal; a negative errno. */
static int do_again(struct kw_redo *r, const struct kw_standing *s)
{
        struct kw_error err = {0};
        int rc = s->is_void ? 0 : apply_stored(r, s, &err);

        if (rc > 0 && s->seq == r->target) {
                r->target_err = err;
        } else if (rc > 0 && !r->other_err.what) {
                r->other_err = err;
                snprintf(r->other_err.text, sizeof(r->other_err.text),
                         "entry %" PRId64 " (%s) would no longer fit: %.500s", s->seq, s->kind, err.text);
                kw_said_add(&r->other_err.said, (struct kw_value)KW_FIGURE("unfit_seq", s->seq));
        }
        return rc;
}

bool kw_can_wait(int rc)
{
        return rc >= KW_UNKNOWN_LOT && rc <= KW_UNKNOWN_ENTRY;
}

/*
 * One entry of a pass. @held: the lots that entries which wait take from; who takes from one of them later waits too,
 * so that a length goes to the one who took it first. NULL: nobody is held up so. Return: 0, done; KW_UNKNOWN_..., it
 * waits; another refusal; negative errno.
 */
static int take_turn(struct kw_redo *r, int64_t seq, cJSON *held)
{
        struct kw_standing s = {0};
        int rc = load(r, seq, &s), meets = 0;

        if (rc == 0 && held && !s.is_void)
                meets = kw_takes_meet(r->w->l, &s, held);
        if (meets < 0)
                rc = meets;
        else if (rc == 0)
                rc = meets ? KW_UNKNOWN_LOT : do_again(r, &s);
        if (kw_can_wait(rc) && held) {
                int added = kw_takes_add(r->w->l, &s, held);

                rc = added < 0 ? added : rc;
        }
        kw_standing_free(&s);
        return rc;
}

static int pass(struct kw_redo *r, bool in_turn, size_t *left)
{
        cJSON *held = in_turn ? cJSON_CreateObject() : NULL;
        int rc = in_turn && !held ? -ENOMEM : 0;

        memset(&r->other_err, 0, sizeof(r->other_err));
        for (struct kw_again *a = r->set; rc == 0 && a; a = a->hh.next) {
                if (a->done)
                        continue;
                rc = take_turn(r, a->seq, held);
                a->done = rc == 0;
                *left -= a->done;
                rc = kw_can_wait(rc) ? 0 : rc;
        }
        cJSON_Delete(held);
        return rc;
}

/* Passes over what is left to do, until nothing moves; when nothing moves in turn, one out of turn. */
int kw_redo_do(struct kw_redo *r)
{
        size_t left = HASH_COUNT(r->set), before;
        bool in_turn = true;
        int rc = 0;

        HASH_SRT(hh, r->set, by_seq);
        while (rc == 0 && left) {
                before = left;
                rc = pass(r, in_turn, &left);
                if (left == before && !in_turn)
                        break;
                in_turn = left < before;
        }
        return rc ? rc : left ? KW_UNKNOWN_LOT : 0;
}

int kw_redo_refuse(const struct kw_redo *r, enum kw_refusal waits, const char *pointer, struct kw_error *err)
{
        const struct kw_error *other = &r->other_err;
        int rc = kw_refuse(err, kw_can_wait((int)other->what) || !other->what ? waits : other->what, pointer, "%s",
                           other->text);

        if (err && !kw_can_wait((int)other->what))
                err->said = other->said;
        return rc;
}

bool kw_redo_done(const struct kw_redo *r, int64_t seq)
{
        const struct kw_again *a;

        HASH_FIND(hh, r->set, &seq, sizeof(seq), a);
        return a && a->done;
}

void kw_redo_free(struct kw_redo *r)
{
        kw_again_free(&r->set);
        free(r->exempt);
        cJSON_Delete(r->codes);
}
