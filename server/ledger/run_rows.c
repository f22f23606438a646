/*
 * A planned run, written down: the run, its lines, feeds, welds, packages and the lots made, and the holds that its
 * packages take over.
 */
#include "run_work.h"

#include "kinwire/metal.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

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
        return kw_finding_with(r->w, "on-hold", NULL, KW_VALUES(KW_WORD("reason", kw_json_text(override, "reason"))),
                               "recorded on metal on hold; what it made is on the same hold: %.250s",
                               kw_json_text(override, "reason"));
}

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
                           " depth, override, under_way, ord)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
                           "iitttIIiIiiitit", r->id, w->seq, r->code, r->draft.process->name,
                           kw_json_text(w->body, "machine"), kw_seconds(w->body, "started", &started),
                           kw_seconds(w->body, "ended", &ended), w->at, batch ? &batch : NULL,
                           (int64_t)r->draft.tolerance_ppm, r->plan.length_mm, (int64_t)r->depth,
                           kw_json_text(kw_json_get(w->body, "override"), "reason"), (int64_t)r->under_way,
                           kw_json_text(w->body, "order"));
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
                return kw_refuse_with(w->err, KW_OUT_OF_RANGE, "/body/lines", "joins",
                                      KW_VALUES(KW_FIGURE("max", JOINS_MAX)), "a run can have %d joins", JOINS_MAX);
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

static int insert_lines(struct run_work *r)
{
        const cJSON *line;
        int64_t ord = 0;
        int rc = 0;

        cJSON_ArrayForEach(line, kw_json_get(r->w->body, "lines"))
        {
                if (rc == 0)
                        rc = kw_do(r->w->l,
                                   "INSERT INTO line (run, ord, label, length_mm, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                                   "iitii", r->id, ord, kw_json_text(line, "line"), r->plan.line_mm[ord], r->w->seq);
                ord++;
        }
        return rc;
}

/* Where in the body the planned feeds come from, one after the other. */
struct feed_place {
        const cJSON *line, *feed;
        size_t at; /* the line's number */
        int64_t ord;
};

static void step_to(struct feed_place *place, const struct kw_planned *p, bool first)
{
        bool new_line = first || place->at != p->line;

        for (; place->at < p->line; place->at++)
                place->line = place->line->next;
        if (new_line) {
                place->feed = kw_json_get(place->line, "feeds")->child;
                place->ord = 0;
        } else {
                place->ord++;
                if (p->piece == 0)
                        place->feed = place->feed->next;
        }
}

static int insert_feeds(struct run_work *r)
{
        struct feed_place place = {.line = kw_json_get(r->w->body, "lines")->child};
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < r->plan.n; i++) {
                const struct kw_planned *p = &r->plan.feeds[i];
                int64_t seen = p->seen_mm;

                step_to(&place, p, i == 0);
                rc = kw_do(r->w->l,
                           "INSERT INTO feed (run, line, ord, lot, from_mm, to_mm, inner, v0, seen_mm, seq)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
                           "iiiiiiiiIi", r->id, (int64_t)p->line, place.ord, p->lot, p->from, p->to,
                           (int64_t)(p->off == KW_OFF_INNER), p->v0, seen ? &seen : NULL, r->w->seq);
                if (rc == 0 && place.ord > 0)
                        rc = insert_weld(r, p, place.ord, place.feed);
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
        mass = r->under_way ? -1 : kw_package_mass(&r->plan, length);
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
        int64_t tensile = kw_json_int(json, "tensile_grade_kpa", r->tensile_kpa);
        int64_t mass = package_mass(r, json, kind, length, diameter, &mass_from);
        char pointer[KW_ITEM_POINTER];
        int rc;

        snprintf(pointer, sizeof(pointer), "/body/packages/%zu/lot", i);
        rc = kw_define(w, "lot", code, pointer, id);
        if (rc == 0)
                rc = kw_do(
                        w->l,
                        "INSERT INTO lot (id, seq, code, kind, length_mm, length_from, mass_g, mass_from, diameter_um,"
                        " construction, run, s0, depth, at, grade, tensile_kpa)"
                        " VALUES (?1, ?2, ?3, ?4, ?5, 'counted', ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
                        "iittiItItiiiitI", id, w->seq, code, kind, length, mass_from ? &mass : NULL, mass_from,
                        diameter ? &diameter : NULL,
                        construction ? construction
                        : same       ? r->construction
                                     : NULL,
                        r->id, s0, (int64_t)r->depth, w->at, r->grade, tensile ? &tensile : NULL);
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

int kw_run_write(struct run_work *r)
{
        int rc = kw_define(r->w, "run", r->code, "/body/run", r->id);

        if (rc == 0)
                rc = insert_run(r);
        if (rc == 0)
                rc = insert_supplies(r);
        if (rc == 0)
                rc = insert_lines(r);
        if (rc == 0)
                rc = insert_feeds(r);
        if (rc == 0)
                rc = insert_packages(r);
        if (rc == 0)
                rc = kw_run_findings(r);
        return rc ? rc : inherit_holds(r);
}
