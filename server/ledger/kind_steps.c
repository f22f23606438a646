/*
 * A run as it happens: opened, loaded, doffed, closed.
 *
 * Each step is an entry. What the run is so far is put together from the entry that opened it and its steps, in order,
 * as the body of a run logged whole, and derived at the place of the entry that opened it; a step makes it be derived
 * again. What a load takes is said in its body, so that it does not depend on what others took in the meantime.
 */
#include "redo.h"
#include "steps.h"
#include "stored.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* --- putting the run together --------------------------------------------------------------------- */

static bool copy_member(cJSON *to, const cJSON *from, const char *name)
{
        const cJSON *member = kw_json_get(from, name);
        cJSON *copy;

        if (!member)
                return true;
        copy = cJSON_Duplicate(member, 1);
        if (copy && cJSON_AddItemToObject(to, name, copy))
                return true;
        cJSON_Delete(copy);
        return false;
}

static int open_body(const cJSON *open, int64_t at, cJSON **out)
{
        static const char *const same[] = {"run",           "process",  "machine", "started", "batch",
                                           "tolerance_ppm", "supplies", "order",   "accepted"};
        cJSON *body = cJSON_CreateObject(), *lines;
        const cJSON *label;
        char started[KW_STAMP_LEN + 1];
        bool fine = body && cJSON_AddTrueToObject(body, "under_way");

        *out = body;
        for (size_t i = 0; fine && i < sizeof(same) / sizeof(same[0]); i++)
                fine = copy_member(body, open, same[i]);
        kw_stamp_write(at, started);
        if (fine && !kw_json_get(body, "started"))
                fine = cJSON_AddStringToObject(body, "started", started);
        lines = fine ? cJSON_AddArrayToObject(body, "lines") : NULL;
        fine = lines && cJSON_AddArrayToObject(body, "packages");
        cJSON_ArrayForEach(label, kw_json_get(open, "lines"))
        {
                cJSON *line = fine ? cJSON_CreateObject() : NULL;

                fine = line && cJSON_AddItemToArray(lines, line) &&
                       cJSON_AddStringToObject(line, "line", label->valuestring) &&
                       cJSON_AddArrayToObject(line, "feeds");
        }
        return fine ? 0 : -ENOMEM;
}

static cJSON *find_line(const cJSON *run, const char *label)
{
        cJSON *line;

        cJSON_ArrayForEach(line, kw_json_get(run, "lines"))
        {
                if (strcmp(kw_json_text(line, "line"), label) == 0)
                        return line;
        }
        return NULL;
}

/* One feed for each interval taken; the first has what is known of the joint. */
static int add_load(cJSON *run, const cJSON *load)
{
        cJSON *line = find_line(run, kw_json_text(load, "line"));
        cJSON *feeds = line ? cJSON_GetObjectItemCaseSensitive(line, "feeds") : NULL;
        const cJSON *interval;
        bool first = true;

        if (!feeds)
                return KW_BAD_VALUE;
        cJSON_ArrayForEach(interval, kw_json_get(load, "taken"))
        {
                cJSON *feed = cJSON_CreateObject();
                bool fine = feed && cJSON_AddItemToArray(feeds, feed) && copy_member(feed, load, "lot") &&
                            copy_member(feed, load, "off") &&
                            cJSON_AddNumberToObject(feed, "from_mm", interval->child->valuedouble) &&
                            cJSON_AddNumberToObject(feed, "to_mm", interval->child->next->valuedouble);

                for (const char *const *name = kw_joint_members; fine && first && *name; name++)
                        fine = copy_member(feed, load, *name);
                if (!fine)
                        return -ENOMEM;
                first = false;
        }
        return 0;
}

static int add_doff(cJSON *run, const cJSON *doff, int64_t at)
{
        cJSON *package = cJSON_Duplicate(doff, 1);
        char doffed[KW_STAMP_LEN + 1];

        if (!package)
                return -ENOMEM;
        cJSON_DeleteItemFromObjectCaseSensitive(package, "run");
        kw_stamp_write(at, doffed);
        if (!kw_json_get(package, "doffed") && !cJSON_AddStringToObject(package, "doffed", doffed)) {
                cJSON_Delete(package);
                return -ENOMEM;
        }
        return cJSON_AddItemToArray(cJSON_GetObjectItemCaseSensitive(run, "packages"), package) ? 0 : -ENOMEM;
}

/* What is left on the bobbin is the end that was not paid off: the last intervals of the line get shorter, or go. */
static void give_back(cJSON *line, int64_t left)
{
        cJSON *feeds = cJSON_GetObjectItemCaseSensitive(line, "feeds");

        while (left > 0 && feeds->child) {
                cJSON *last = feeds->child->prev; /* of a list of cJSON, the first one's prev is the last */
                const char *off = kw_json_text(last, "off");
                cJSON *from = cJSON_GetObjectItemCaseSensitive(last, "from_mm");
                cJSON *to = cJSON_GetObjectItemCaseSensitive(last, "to_mm");
                int64_t there = (int64_t)(to->valuedouble - from->valuedouble);

                if (there <= left) {
                        cJSON_Delete(cJSON_DetachItemViaPointer(feeds, last));
                        left -= there;
                        continue;
                }
                if (off && strcmp(off, "inner") == 0)
                        cJSON_SetNumberHelper(to, to->valuedouble - (double)left);
                else
                        cJSON_SetNumberHelper(from, from->valuedouble + (double)left);
                left = 0;
        }
}

static int add_close(cJSON *run, const cJSON *close, int64_t at)
{
        const cJSON *left;
        char ended[KW_STAMP_LEN + 1];

        cJSON_DeleteItemFromObjectCaseSensitive(run, "under_way");
        cJSON_ArrayForEach(left, kw_json_get(close, "left"))
        {
                cJSON *line = find_line(run, kw_json_text(left, "line"));

                if (!line)
                        return KW_BAD_VALUE;
                give_back(line, kw_json_int(left, "left_mm", 0));
        }
        kw_stamp_write(at, ended);
        if (kw_json_get(close, "ended"))
                return copy_member(run, close, "ended") ? 0 : -ENOMEM;
        return cJSON_AddStringToObject(run, "ended", ended) ? 0 : -ENOMEM;
}

/* Reasons given at any step are the run's. */
static int add_accepted(cJSON *run, const cJSON *step)
{
        cJSON *all = cJSON_GetObjectItemCaseSensitive(run, "accepted");
        const cJSON *one;

        cJSON_ArrayForEach(one, kw_json_get(step, "accepted"))
        {
                cJSON *copy = cJSON_Duplicate(one, 1);

                if (!all)
                        all = cJSON_AddArrayToObject(run, "accepted");
                if (!copy || !all || !cJSON_AddItemToArray(all, copy)) {
                        cJSON_Delete(copy);
                        return -ENOMEM;
                }
        }
        return 0;
}

static int add_step(cJSON *run, const char *kind, const cJSON *step, int64_t at)
{
        int rc = add_accepted(run, step);

        if (rc)
                return rc;
        if (strcmp(kind, "load") == 0)
                return add_load(run, step);
        return strcmp(kind, "doff") == 0 ? add_doff(run, step, at) : add_close(run, step, at);
}

static int list_steps(struct kw_work *w, struct kw_spans *steps)
{
        struct kw_query q;
        int rc = kw_ask(w->l, &q, "SELECT seq FROM step WHERE run_seq = ?1 ORDER BY seq", "i", w->seq);

        while (rc == 0 && (rc = kw_next(w->l, &q)) == 1)
                rc = kw_spans_add(steps, kw_int(&q, 0), kw_int(&q, 0));
        kw_end(&q);
        return rc;
}

static int add_stored_step(struct kw_work *w, int64_t seq, cJSON *run)
{
        struct kw_standing s = {0};
        const cJSON *body;
        char kind[16] = "";
        struct kw_query q;
        int64_t at = w->at;
        int rc = kw_stored_load(w->l, seq, &s);

        /* a step that is on its way in is not in the store: its time is the work's, its kind the row's */
        if (rc == -ENOENT && w->fresh && w->fresh->seq == seq)
                rc = 0;
        else if (rc == 0)
                at = s.at;
        if (rc == 0)
                rc = kw_ask(w->l, &q, "SELECT kind FROM step WHERE seq = ?1", "i", seq);
        if (rc == 0) {
                rc = kw_next(w->l, &q);
                if (rc == 1)
                        snprintf(kind, sizeof(kind), "%s", kw_text(&q, 0));
                kw_end(&q);
                rc = rc < 0 ? rc : 0;
        }
        body = w->fresh && w->fresh->seq == seq ? w->fresh->body : s.is_void ? NULL : s.body;
        if (w->fresh && w->fresh->seq == seq && w->fresh->at)
                at = w->fresh->at;
        if (rc == 0 && body)
                rc = add_step(run, kind, body, at);
        kw_standing_free(&s);
        return rc > 0 ? kw_refuse_with(w->err, KW_BAD_VALUE, "/body/line", "no-line",
                                       KW_VALUES(KW_WORD("run", kw_json_text(w->body, "run")),
                                                 KW_WORD("line", kw_json_text(w->body, "line"))),
                                       "run %s has no such line", kw_json_text(w->body, "run"))
                      : rc;
}

int kw_apply_open(struct kw_work *w)
{
        struct kw_spans steps = {0};
        struct kw_work whole = *w;
        cJSON *run = NULL;
        int rc = open_body(w->body, w->at, &run);

        if (rc == 0)
                rc = list_steps(w, &steps);
        for (size_t i = 0; rc == 0 && i < steps.n; i++)
                rc = add_stored_step(w, steps.at[i].from, run);
        whole.body = run;
        if (rc == 0)
                rc = kw_apply_run(&whole);
        w->findings = whole.findings;
        kw_spans_free(&steps);
        cJSON_Delete(run);
        return rc;
}

/* --- a step --------------------------------------------------------------------------------------- */

struct step {
        struct kw_work *w;
        const char *code; /* of the run */
        int64_t run, run_seq;
        bool new; /* not done again, nor put right */
        char process[16];
};

static int find_run(struct step *s)
{
        struct kw_work *w = s->w;
        struct kw_query q;
        int64_t opened, under_way = 0;
        int rc;

        s->code = kw_json_text(w->body, "run");
        s->new = w->judge && !w->fresh;
        rc = kw_need(w, "run", s->code, "/body/run", &s->run);
        if (rc)
                return rc;
        s->run_seq = s->run / KW_IDS;
        rc = kw_one(w->l, &opened, 0, "SELECT 1 FROM entry WHERE seq = ?1 AND kind = 'open'", "i", s->run_seq);
        if (rc == 0)
                rc = kw_ask(w->l, &q, "SELECT under_way, process FROM run WHERE id = ?1", "i", s->run);
        else
                q.stmt = NULL;
        if (rc == 0 && (rc = kw_next(w->l, &q)) == 1) {
                under_way = kw_int(&q, 0);
                snprintf(s->process, sizeof(s->process), "%s", kw_text(&q, 1));
                rc = 0;
        }
        kw_end(&q);
        if (rc == 0 && (!opened || (s->new && !under_way)))
                rc = kw_refuse_with(w->err, KW_NOT_OPEN, "/body/run", opened ? "closed" : "whole",
                                    KW_VALUES(KW_WORD("run", s->code)), "run %s is not under way: %s", s->code,
                                    opened ? "it was closed; a mistake in it is put right by a correct or void entry"
                                           : "it was logged whole");
        return rc;
}

/* The run once more, with this step, and all that leans on it. */
static int derive_again(struct step *s)
{
        struct kw_work *w = s->w;
        struct kw_fresh fresh = {.seq = w->seq, .body_seq = w->body_seq, .body = w->body, .at = w->at};
        struct kw_redo redo = {.w = w, .fresh = &fresh};
        int rc = kw_do(w->l, "INSERT OR REPLACE INTO step (seq, run_seq, kind) VALUES (?1, ?2, ?3)", "iit", w->seq,
                       s->run_seq, w->kind);

        if (rc == 0)
                rc = kw_leaning(w->l, s->run_seq, &redo.set);
        if (rc == 0)
                rc = kw_redo_undo(&redo);
        if (rc == 0)
                rc = kw_redo_do(&redo);
        if (rc > 0)
                rc = kw_redo_refuse(&redo, KW_BAD_VALUE, "/body", w->err);
        kw_redo_free(&redo);
        return rc;
}

static int line_of(struct step *s, const char *label, const char *pointer, int64_t *ord, int64_t *feeds)
{
        struct kw_query q;
        int rc = kw_ask(s->w->l, &q, "SELECT ord FROM line WHERE run = ?1 AND label = ?2", "it", s->run, label);

        if (rc == 0)
                rc = kw_next(s->w->l, &q);
        if (rc == 1)
                *ord = kw_int(&q, 0);
        kw_end(&q);
        if (rc == 0)
                return kw_refuse_with(s->w->err, KW_BAD_VALUE, pointer, "no-line",
                                      KW_VALUES(KW_WORD("run", s->code), KW_WORD("line", label)),
                                      "run %s has no line %s", s->code, label);
        if (rc < 0)
                return rc;
        return kw_one(s->w->l, feeds, 0, "SELECT count(*) FROM feed WHERE run = ?1 AND line = ?2", "ii", s->run, *ord);
}

/* A first lot has no joint before it; a later one is seen after the one before it. */
static int check_join(struct step *s, int64_t line, int64_t feeds)
{
        int64_t seen = kw_json_int(s->w->body, "seen_at_mm", 0), last;
        char pointer[32];
        int rc;

        for (const char *const *name = kw_joint_members; feeds == 0 && *name; name++) {
                snprintf(pointer, sizeof(pointer), "/body/%s", *name);
                if (kw_json_get(s->w->body, *name))
                        return kw_refuse_with(s->w->err, KW_BAD_VALUE, pointer, "first-on-line", NULL,
                                              "it is the first lot on its line; there is no joint before it");
        }
        if (!seen)
                return 0;
        rc = kw_one(s->w->l, &last, 0, "SELECT max(seen_mm) FROM feed WHERE run = ?1 AND line = ?2", "ii", s->run,
                    line);
        if (rc == 0 && seen <= last)
                rc = kw_refuse_with(s->w->err, KW_BAD_ORDER, "/body/seen_at_mm", "join",
                                    KW_VALUES(KW_FIGURE("seen_mm", seen), KW_FIGURE("before_mm", last)),
                                    "the join was seen at %" PRId64 " mm, not after the one before it at %" PRId64
                                    " mm",
                                    seen, last);
        return rc;
}

static int check_load_holds(struct step *s)
{
        struct kw_spans taken = {0};
        struct kw_lot_here lot;
        const cJSON *interval;
        int rc = kw_need_lot(s->w, kw_json_text(s->w->body, "lot"), "/body/lot", &lot);

        if (rc == 0 && lot.run == s->run)
                rc = kw_refuse_with(s->w->err, KW_WOULD_LOOP, "/body/lot", "made-here",
                                    KW_VALUES(KW_WORD("lot", lot.code)), "%s is made in this run; it can't go into it",
                                    lot.code);
        cJSON_ArrayForEach(interval, kw_json_get(s->w->body, "taken"))
        {
                if (rc == 0)
                        rc = kw_spans_add(&taken, (int64_t)interval->child->valuedouble,
                                          (int64_t)interval->child->next->valuedouble);
        }
        kw_spans_unite(&taken);
        if (rc == 0)
                rc = kw_check_wish(s->w, &lot, &taken, &(struct kw_wish){KW_TO_FEED, s->process}, "/body/lot");
        kw_spans_free(&taken);
        return rc;
}

int kw_apply_load(struct kw_work *w)
{
        struct step s = {.w = w};
        int64_t line, feeds;
        int rc = find_run(&s);

        if (rc == 0)
                rc = line_of(&s, kw_json_text(w->body, "line"), "/body/line", &line, &feeds);
        if (rc == 0 && s.new)
                rc = check_join(&s, line, feeds);
        if (rc == 0)
                rc = check_load_holds(&s);
        return rc ? rc : derive_again(&s);
}

int kw_apply_doff(struct kw_work *w)
{
        const char *lot = kw_json_text(w->body, "lot");
        struct step s = {.w = w};
        int64_t id = 0;
        int rc = find_run(&s);

        if (rc == 0 && lot)
                rc = kw_thing_id(w->l, "lot", lot, &id);
        /* done again, it is in its run already; whether the run has it twice, the run says */
        if (rc == 0 && id && (s.new || id / KW_IDS != s.run_seq))
                rc = kw_refuse_with(
                        w->err, KW_CODE_TAKEN, "/body/lot", NULL,
                        KW_VALUES(KW_WORD("code", lot), KW_WORD("type", "lot"), KW_FIGURE("seq", id / KW_IDS)),
                        "the code %s is in use for another lot (entry %" PRId64 "); a code is never used twice", lot,
                        id / KW_IDS);
        return rc ? rc : derive_again(&s);
}

static int check_left(struct step *s, const cJSON *left, size_t i)
{
        int64_t line, feeds, on_line, left_mm = kw_json_int(left, "left_mm", 0);
        char pointer[KW_ITEM_POINTER];
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/left/%zu/line", i);
        rc = line_of(s, kw_json_text(left, "line"), pointer, &line, &feeds);
        if (rc == 0)
                rc = kw_one(s->w->l, &on_line, 0,
                            "SELECT to_mm - from_mm FROM feed WHERE run = ?1 AND line = ?2 ORDER BY ord DESC LIMIT 1",
                            "ii", s->run, line);
        snprintf(pointer, sizeof(pointer), "/body/left/%zu/left_mm", i);
        if (rc == 0 && left_mm >= on_line && left_mm)
                rc = kw_refuse_with(s->w->err, KW_OUT_OF_RANGE, pointer, "left-on-line",
                                    KW_VALUES(KW_WORD("line", kw_json_text(left, "line")),
                                              KW_FIGURE("left_mm", left_mm), KW_FIGURE("had_mm", on_line)),
                                    "%" PRId64 " mm can't be left on line %s: the lot that is on it had %" PRId64 " mm",
                                    left_mm, kw_json_text(left, "line"), on_line);
        return rc;
}

/* A run that ends has something on every line and something made. */
static int check_complete(struct step *s)
{
        struct kw_query q;
        int64_t packages;
        int rc = kw_one(s->w->l, &packages, 0, "SELECT count(*) FROM package WHERE run = ?1", "i", s->run);

        if (rc == 0 && !packages)
                rc = kw_refuse_with(s->w->err, KW_NOT_COMPLETE, "/body/run", "nothing-made",
                                    KW_VALUES(KW_WORD("run", s->code)),
                                    "nothing was taken off in run %s; void it if it did not run", s->code);
        if (rc)
                return rc;
        rc = kw_ask(s->w->l, &q,
                    "SELECT label FROM line WHERE run = ?1 AND NOT EXISTS"
                    " (SELECT 1 FROM feed WHERE feed.run = line.run AND feed.line = line.ord) ORDER BY ord",
                    "i", s->run);
        if (rc == 0)
                rc = kw_next(s->w->l, &q);
        if (rc == 1)
                rc = kw_refuse_with(s->w->err, KW_NOT_COMPLETE, "/body/run", "line-empty",
                                    KW_VALUES(KW_WORD("run", s->code), KW_WORD("line", kw_text(&q, 0))),
                                    "nothing was loaded on line %s of run %s", kw_text(&q, 0), s->code);
        kw_end(&q);
        return rc;
}

int kw_apply_close(struct kw_work *w)
{
        struct step s = {.w = w};
        const cJSON *left;
        size_t i = 0;
        int rc = find_run(&s);

        if (rc == 0 && s.new)
                rc = check_complete(&s);
        cJSON_ArrayForEach(left, kw_json_get(w->body, "left"))
        {
                if (rc == 0 && s.new)
                        rc = check_left(&s, left, i++);
        }
        return rc ? rc : derive_again(&s);
}
