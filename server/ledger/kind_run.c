/*
 * Runs: lengths in, lengths out.
 *
 * The body is read into the core's plain draft, planned there (what each feed takes, where it lies on its line, whether
 * the figures are odd), and the plan is written down: the run, its lines, feeds, welds, packages and the lots made.
 */
#include "work.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define JOINS_MAX 2000 /* of a run: their ids share the entry's room with the lots' */

/* A lot that the run takes from: its row, what is left of it, what this run took. */
struct source {
        int64_t id;
        struct kw_lot_here lot;
        struct kw_stock stock;
        struct kw_spans taken;
        char pointer[KW_ITEM_POINTER + 8]; /* of its first feed */
        char construction[201];
        UT_hash_handle hh;
};

struct run_work {
        struct kw_work *w;
        int64_t id;
        const char *code;
        char name[KW_CLAIM_NAME];
        struct source *sources;
        struct kw_run_draft draft;
        struct kw_package_draft *packages;
        struct kw_plan plan;
        uint32_t depth;
        const char *construction; /* the one construction of every feed, or NULL */
        int64_t next_weld;
};

/* --- reading the body into the draft ------------------------------------------------------------ */

static int load_construction(struct run_work *r, struct source *s)
{
        struct kw_query q;
        int rc = kw_ask(r->w->l, &q, "SELECT construction FROM lot WHERE id = ?1", "i", s->id);

        if (rc == 0)
                rc = kw_next(r->w->l, &q);
        if (rc == 1 && kw_text(&q, 0))
                snprintf(s->construction, sizeof(s->construction), "%s", kw_text(&q, 0));
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

static int find_source(struct run_work *r, const char *code, const char *pointer, struct source **out)
{
        struct source *s;
        struct kw_lot_here lot;
        int rc;

        const cJSON *package;
        cJSON_ArrayForEach(package, kw_json_get(r->w->body, "packages"))
        {
                const char *made = kw_json_text(package, "lot");

                if (made && strcmp(made, code) == 0)
                        return kw_refuse(r->w->err, KW_WOULD_LOOP, pointer,
                                         "%s is made in this run; it can't go into it", code);
        }
        rc = kw_need_lot(r->w, code, pointer, &lot);
        if (rc)
                return rc;
        HASH_FIND(hh, r->sources, &lot.id, sizeof(lot.id), s);
        if (!s) {
                s = calloc(1, sizeof(*s));
                if (!s)
                        return -ENOMEM;
                s->id = lot.id;
                s->lot = lot;
                snprintf(s->pointer, sizeof(s->pointer), "%s", pointer);
                rc = kw_stock_load(r->w->l, &s->lot, &s->stock);
                if (rc == 0)
                        rc = load_construction(r, s);
                if (rc == 0)
                        HASH_ADD(hh, r->sources, id, sizeof(s->id), s);
                if (rc || !s->hh.tbl) {
                        kw_stock_free(&s->stock);
                        free(s);
                        return rc ? rc : -ENOMEM;
                }
        }
        *out = s;
        return 0;
}

static int read_feed(struct run_work *r, const cJSON *json, const char *pointer, struct kw_feed_draft *feed)
{
        const char *off = kw_json_text(json, "off");
        char at[KW_ITEM_POINTER + 8];
        struct source *s = NULL;
        int rc;

        snprintf(at, sizeof(at), "%s/lot", pointer);
        rc = find_source(r, kw_json_text(json, "lot"), at, &s);
        if (rc)
                return rc;
        feed->stock = &s->stock;
        feed->lot = s->id;
        feed->diameter_um = s->lot.diameter_um;
        feed->mass_g = s->lot.mass_g;
        feed->seen_mm = kw_json_int(json, "seen_at_mm", 0);
        feed->take.off = off && strcmp(off, "inner") == 0 ? KW_OFF_INNER : KW_OFF_OUTER;
        if (kw_json_get(json, "from_mm")) {
                feed->take.how = KW_TAKE_SPAN;
                feed->take.from = kw_json_int(json, "from_mm", 0);
                feed->take.to = kw_json_int(json, "to_mm", 0);
        } else if (kw_json_get(json, "take_mm")) {
                feed->take.how = KW_TAKE_LENGTH;
                feed->take.length = kw_json_int(json, "take_mm", 0);
        }
        if (s->lot.depth >= r->depth)
                r->depth = s->lot.depth + 1;
        return 0;
}

static int read_lines(struct run_work *r)
{
        const cJSON *lines = kw_json_get(r->w->body, "lines"), *line, *feed;
        char pointer[KW_ITEM_POINTER];
        size_t i = 0, j, joins = 0;
        int rc = 0;

        r->draft.lines = calloc((size_t)cJSON_GetArraySize(lines), sizeof(*r->draft.lines));
        if (!r->draft.lines)
                return -ENOMEM;
        cJSON_ArrayForEach(line, lines)
        {
                const cJSON *feeds = kw_json_get(line, "feeds");
                struct kw_line_draft *d = &r->draft.lines[i];

                d->feeds = calloc((size_t)cJSON_GetArraySize(feeds), sizeof(*d->feeds));
                r->draft.n_lines = i + 1;
                if (!d->feeds)
                        return -ENOMEM;
                j = 0;
                cJSON_ArrayForEach(feed, feeds)
                {
                        snprintf(pointer, sizeof(pointer), "/body/lines/%zu/feeds/%zu", i, j);
                        if (rc == 0)
                                rc = read_feed(r, feed, pointer, &d->feeds[j++]);
                }
                d->n = j;
                joins += j ? j - 1 : 0;
                i++;
        }
        if (rc == 0 && joins > JOINS_MAX)
                rc = kw_refuse(r->w->err, KW_OUT_OF_RANGE, "/body/lines", "a run can have %d joins, not %zu", JOINS_MAX,
                               joins);
        return rc;
}

static int read_packages(struct run_work *r)
{
        const cJSON *packages = kw_json_get(r->w->body, "packages"), *p;
        size_t i = 0;

        r->packages = calloc((size_t)cJSON_GetArraySize(packages), sizeof(*r->packages));
        if (!r->packages)
                return -ENOMEM;
        cJSON_ArrayForEach(p, packages)
        {
                struct kw_package_draft *d = &r->packages[i++];

                d->scrap = kw_json_get(p, "scrap_mm") != NULL;
                d->length_mm = kw_json_int(p, d->scrap ? "scrap_mm" : "length_mm", 0);
                d->diameter_um = kw_json_int(p, "diameter_um", 0);
                d->mass_g = kw_json_int(p, "mass_g", -1);
        }
        r->draft.packages = r->packages;
        r->draft.n_packages = i;
        return 0;
}

static void free_run(struct run_work *r)
{
        struct source *s, *tmp;

        HASH_ITER(hh, r->sources, s, tmp)
        {
                HASH_DEL(r->sources, s);
                kw_stock_free(&s->stock);
                kw_spans_free(&s->taken);
                free(s);
        }
        for (size_t i = 0; i < r->draft.n_lines; i++)
                free(r->draft.lines[i].feeds);
        free(r->draft.lines);
        free(r->packages);
        kw_plan_free(&r->plan);
}

/* --- holds ------------------------------------------------------------------------------------ */

static int sum_taken(struct run_work *r)
{
        struct source *s, *tmp;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < r->plan.n; i++) {
                const struct kw_planned *p = &r->plan.feeds[i];

                HASH_FIND(hh, r->sources, &p->lot, sizeof(p->lot), s);
                rc = kw_spans_add(&s->taken, p->from, p->to);
        }
        HASH_ITER(hh, r->sources, s, tmp)
        {
                kw_spans_unite(&s->taken);
        }
        return rc;
}

static int check_holds(struct run_work *r)
{
        bool override = kw_json_get(r->w->body, "override") != NULL;
        struct source *s, *tmp;
        int rc = 0;

        if (override && !r->w->may_override && r->w->judge)
                return kw_refuse(r->w->err, KW_NOT_ALLOWED, "/body/override",
                                 "recording a run on what is on hold is for the quality manager");
        if (override)
                return 0;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                rc = kw_check_holds(r->w, &s->lot, &s->taken, "fed", s->pointer);
                if (rc)
                        return rc;
        }
        return 0;
}

/* What was made of held metal under an override is on the same hold, whole: once a hold and a lot of it that was taken.
 */
static int inherit_hold(struct run_work *r, const char *hold, const struct source *s)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < s->taken.n; i++)
                rc = kw_do(r->w->l,
                           "INSERT INTO hold_span (hold, lot, from_mm, to_mm, run, seq)"
                           " SELECT hold.id, package.lot, 0, package.s1 - package.s0, ?2, ?3 FROM hold JOIN package"
                           " WHERE hold.id = (SELECT id FROM thing WHERE type = 'hold' AND code = ?1)"
                           " AND package.run = ?2 AND package.lot <> 0 AND EXISTS"
                           " (SELECT 1 FROM hold_span h WHERE h.hold = hold.id AND h.lot = ?4 AND h.from_mm < ?6 AND "
                           "h.to_mm > ?5)"
                           " AND NOT EXISTS"
                           " (SELECT 1 FROM hold_span h WHERE h.hold = hold.id AND h.lot = package.lot AND h.run = ?2)",
                           "tiiiii", hold, r->id, r->w->seq, s->id, s->taken.at[i].from, s->taken.at[i].to);
        return rc;
}

/* The holds are those that lay on it when the body was recorded; a hold that is still to be done again finds the run
 * itself. */
static int inherit_holds(struct run_work *r)
{
        const cJSON *override = kw_json_get(r->w->body, "override"), *hold;
        char text[KW_FINDING_TEXT];
        struct source *s, *tmp;
        int rc = 0;

        if (!kw_json_get(override, "holds"))
                return 0;
        cJSON_ArrayForEach(hold, kw_json_get(override, "holds"))
        {
                if (rc == 0)
                        rc = kw_do(r->w->l, "INSERT INTO overridden (run, hold, seq) VALUES (?1, ?2, ?3)", "iti", r->id,
                                   hold->valuestring, r->w->seq);
                HASH_ITER(hh, r->sources, s, tmp)
                {
                        if (rc == 0)
                                rc = inherit_hold(r, hold->valuestring, s);
                }
        }
        if (rc)
                return rc;
        snprintf(text, sizeof(text), "recorded on metal on hold; what it made is on the same hold: %.250s",
                 kw_json_text(override, "reason"));
        return kw_finding(r->w, "on-hold", text);
}

/* --- writing the plan ------------------------------------------------------------------------- */

static int insert_run(struct run_work *r)
{
        struct kw_work *w = r->w;
        const char *batch_code = kw_json_text(w->body, "batch");
        int64_t batch = 0, started, ended;
        int rc = 0;

        if (batch_code)
                rc = kw_need(w, "batch", batch_code, "/body/batch", &batch);
        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO run (id, seq, code, process, machine, started, ended, at, batch, "
                           "tolerance_ppm, length_mm,"
                           " depth, override) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
                           "iitttIIiIiiit", r->id, w->seq, r->code, r->draft.process->name,
                           kw_json_text(w->body, "machine"), kw_seconds(w->body, "started", &started),
                           kw_seconds(w->body, "ended", &ended), w->at, batch ? &batch : NULL,
                           (int64_t)r->draft.tolerance_ppm, r->plan.length_mm, (int64_t)r->depth,
                           kw_json_text(kw_json_get(w->body, "override"), "reason"));
        return rc;
}

static int insert_supplies(struct run_work *r)
{
        char pointer[KW_ITEM_POINTER];
        const cJSON *code;
        int64_t supply;
        size_t i = 0;
        int rc = 0;

        cJSON_ArrayForEach(code, kw_json_get(r->w->body, "supplies"))
        {
                snprintf(pointer, sizeof(pointer), "/body/supplies/%zu", i++);
                if (rc == 0)
                        rc = kw_need(r->w, "supply", code->valuestring, pointer, &supply);
                if (rc == 0)
                        rc = kw_do(r->w->l, "INSERT INTO run_supply (run, supply, seq) VALUES (?1, ?2, ?3)", "iii",
                                   r->id, supply, r->w->seq);
        }
        return rc;
}

/*
 * A join that nobody named, between the pieces of one lot, is named after the run: RUN.P1. A run's code that is too
 * long for that is told by its entry instead.
 */
static int insert_weld(struct run_work *r, const struct kw_planned *p, int64_t ord, const cJSON *feed)
{
        struct kw_work *w = r->w;
        const char *given = kw_json_text(feed, "weld"), *join = kw_json_text(feed, "join");
        char code[KW_CODE_MAX + 32], pointer[KW_ITEM_POINTER];
        int64_t id = w->seq * KW_IDS + JOINS_MAX + ++r->next_weld, seen = p->seen_mm;
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/lines/%zu/feeds/%zu/weld", p->line, p->feed);
        if (given && p->piece == 0)
                snprintf(code, sizeof(code), "%s", given);
        else if (strlen(r->code) <= KW_CODE_MAX - 6)
                snprintf(code, sizeof(code), "%s.P%" PRId64, r->code, r->next_weld);
        else
                snprintf(code, sizeof(code), "J-%" PRId64 "-P%" PRId64, w->seq, r->next_weld);
        if (r->next_weld >= KW_IDS - JOINS_MAX)
                return kw_refuse(w->err, KW_OUT_OF_RANGE, "/body/lines", "a run can have %d joins", JOINS_MAX);
        rc = kw_define(w, "weld", code, pointer, id);
        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO weld (id, seq, code, run, line, feed, v, made_by, affected_mm, seen_mm)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
                           "iitiiiitiI", id, w->seq, code, r->id, (int64_t)p->line, ord, p->v0,
                           join && p->piece == 0 ? join : "weld", kw_json_int(feed, "affected_mm", 50),
                           seen ? &seen : NULL);
        return rc;
}

static int insert_feeds(struct run_work *r)
{
        const cJSON *lines = kw_json_get(r->w->body, "lines"), *line = NULL, *feed = NULL;
        int64_t ord = 0;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < r->plan.n; i++) {
                const struct kw_planned *p = &r->plan.feeds[i];
                int64_t seen = p->seen_mm;

                if (i == 0 || p->line != r->plan.feeds[i - 1].line) {
                        line = line ? line->next : lines->child;
                        feed = kw_json_get(line, "feeds")->child;
                        ord = 0;
                        rc = kw_do(r->w->l,
                                   "INSERT INTO line (run, ord, label, length_mm, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                                   "iitii", r->id, (int64_t)p->line, kw_json_text(line, "line"),
                                   r->plan.line_mm[p->line], r->w->seq);
                } else if (p->piece == 0) {
                        feed = feed->next;
                }
                if (rc == 0)
                        rc = kw_do(r->w->l,
                                   "INSERT INTO feed (run, line, ord, lot, from_mm, to_mm, inner, v0, seen_mm, seq)"
                                   " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
                                   "iiiiiiiiIi", r->id, (int64_t)p->line, ord, p->lot, p->from, p->to,
                                   (int64_t)(p->off == KW_OFF_INNER), p->v0, seen ? &seen : NULL, r->w->seq);
                if (rc == 0 && ord > 0)
                        rc = insert_weld(r, p, ord, feed);
                ord++;
        }
        return rc;
}

/* Mass of a package: weighed, else by its wire's diameter, else its share of what went in. */
static int64_t package_mass(struct run_work *r, const cJSON *json, const char *kind, int64_t length, int64_t diameter,
                            const char **from)
{
        int64_t mass = kw_json_int(json, "mass_g", -1);

        *from = "weighed";
        if (mass >= 0)
                return mass;
        if (kw_lot_kind(kind)->wire && diameter) {
                *from = "diameter";
                return kw_mass_of_length(length, diameter);
        }
        mass = kw_package_mass(&r->plan, length);
        *from = mass >= 0 ? "inputs" : NULL;
        return mass;
}

static int insert_lot(struct run_work *r, const cJSON *json, size_t i, int64_t id, int64_t s0)
{
        struct kw_work *w = r->w;
        bool same = r->draft.process->ratio == KW_RATIO_SAME;
        const char *code = kw_json_text(json, "lot"), *kind = kw_json_text(json, "kind"), *mass_from;
        const char *construction = kw_json_text(json, "construction"), *location = kw_json_text(json, "location");
        int64_t length = kw_json_int(json, "length_mm", 0);
        int64_t diameter = kw_json_int(json, "diameter_um", same ? r->plan.wire_um : 0);
        int64_t mass = package_mass(r, json, kind, length, diameter, &mass_from);
        char pointer[KW_ITEM_POINTER];
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/packages/%zu/lot", i);
        rc = kw_define(w, "lot", code, pointer, id);
        if (rc == 0)
                rc = kw_do(
                        w->l,
                        "INSERT INTO lot (id, seq, code, kind, length_mm, length_from, mass_g, mass_from, diameter_um,"
                        " construction, run, s0, depth, at)"
                        " VALUES (?1, ?2, ?3, ?4, ?5, 'counted', ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
                        "iittiItItiiii", id, w->seq, code, kind, length, mass_from ? &mass : NULL, mass_from,
                        diameter ? &diameter : NULL,
                        construction ? construction
                        : same       ? r->construction
                                     : NULL,
                        r->id, s0, (int64_t)r->depth, w->at);
        if (rc == 0 && location)
                rc = kw_do(w->l, "INSERT INTO place (lot, seq, location) VALUES (?1, ?2, ?3)", "iit", id, w->seq,
                           location);
        return rc;
}

static int insert_packages(struct run_work *r)
{
        const cJSON *json;
        int64_t s0 = 0, doffed;
        size_t i = 0;
        int rc = 0;

        cJSON_ArrayForEach(json, kw_json_get(r->w->body, "packages"))
        {
                int64_t id = r->packages[i].scrap ? 0 : r->w->seq * KW_IDS + 1 + (int64_t)i;

                if (rc == 0 && id)
                        rc = insert_lot(r, json, i, id, s0);
                if (rc == 0)
                        rc = kw_do(r->w->l,
                                   "INSERT INTO package (run, ord, lot, s0, s1, doffed, reason, seq)"
                                   " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                                   "iiiiiIti", r->id, (int64_t)i, id, s0, s0 + r->packages[i].length_mm,
                                   kw_seconds(json, "doffed", &doffed), kw_json_text(json, "reason"), r->w->seq);
                s0 += r->packages[i].length_mm;
                i++;
        }
        return rc;
}

static int insert_findings(struct run_work *r)
{
        char text[KW_FINDING_TEXT];
        int rc = 0;

        if (kw_plan_odd_length(&r->draft, &r->plan, text))
                rc = kw_finding(r->w, "length-ratio", text);
        if (rc == 0 && kw_plan_odd_mass(&r->draft, &r->plan, text))
                rc = kw_finding(r->w, "mass-balance", text);
        return rc;
}

/* The construction that every feed has, where they have one and the same. */
static void common_construction(struct run_work *r)
{
        struct source *s, *tmp;

        r->construction = r->sources && r->sources->construction[0] ? r->sources->construction : NULL;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                if (r->construction && strcmp(s->construction, r->construction) != 0)
                        r->construction = NULL;
        }
}

static int plan(struct run_work *r)
{
        int rc = read_lines(r);

        if (rc == 0)
                rc = read_packages(r);
        if (rc)
                return rc;
        rc = kw_plan_run(&r->draft, &r->plan, r->w->err);
        if (rc > 0)
                kw_error_at(r->w->err, "/body");
        if (rc == 0)
                rc = sum_taken(r);
        common_construction(r);
        return rc ? rc : check_holds(r);
}

static int write_down(struct run_work *r)
{
        int rc = kw_define(r->w, "run", r->code, "/body/run", r->id);

        if (rc == 0)
                rc = insert_run(r);
        if (rc == 0)
                rc = insert_supplies(r);
        if (rc == 0)
                rc = insert_feeds(r);
        if (rc == 0)
                rc = insert_packages(r);
        if (rc == 0)
                rc = insert_findings(r);
        return rc ? rc : inherit_holds(r);
}

int kw_apply_run(struct kw_work *w)
{
        struct run_work r = {.w = w, .id = w->seq * KW_IDS, .code = kw_json_text(w->body, "run"), .depth = 1};
        int rc;

        snprintf(r.name, sizeof(r.name), "run %s", r.code);
        r.draft.name = r.name;
        r.draft.process = kw_process(kw_json_text(w->body, "process"));
        r.draft.tolerance_ppm = (int32_t)kw_json_int(w->body, "tolerance_ppm", r.draft.process->tolerance_ppm);
        rc = plan(&r);
        if (rc == 0)
                rc = write_down(&r);
        free_run(&r);
        return rc;
}
