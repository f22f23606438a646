/*
 * The tolerance of a run's lengths by the specification of what it makes.
 */
#include "tolerance.h"

#include "judge.h"

#include "kinwire/process.h"
#include "kinwire/quality.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define NONE INT64_C(-1)

struct saying {
        struct kw_ledger *l;
        int64_t seq;
        const cJSON *body;
        const struct kw_process *process;
        /* what every feed has, where that is one and the same */
        char grade[201], construction[201];
        int64_t tensile_kpa, diameter_um;
        bool any;
        int64_t ppm; /* the greatest so far; NONE: none */
        struct kw_spec_named by;
};

/* --- what a specification says of a process ---------------------------------------------------------------- */

static int stated(struct kw_ledger *l, int64_t spec, const char *process, int64_t *ppm)
{
        cJSON *tolerance = NULL;
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT tolerance FROM spec WHERE id = ?1 AND tolerance IS NOT NULL", "i", spec);

        *ppm = NONE;
        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1) {
                tolerance = cJSON_Parse(kw_text(&q, 0));
                rc = tolerance ? 0 : -ENOMEM;
                *ppm = kw_json_int(tolerance, process, NONE);
        }
        kw_end(&q);
        cJSON_Delete(tolerance);
        return rc;
}

static int ask_for(struct saying *s, const struct kw_spec_lot *lot)
{
        struct kw_spec_named named;
        int64_t ppm;
        int rc = kw_spec_choose(s->l, s->seq, lot, &named);

        if (rc || named.id == KW_NOT_JUDGED)
                return rc;
        rc = stated(s->l, named.id, s->process->name, &ppm);
        if (rc == 0 && ppm > s->ppm) {
                s->ppm = ppm;
                s->by = named;
        }
        return rc;
}

/* --- what a run makes -------------------------------------------------------------------------------------- */

static void same_text(char kept[201], const char *text, bool any)
{
        if (!any)
                snprintf(kept, 201, "%s", text ? text : "");
        else if (!text || strcmp(kept, text) != 0)
                kept[0] = '\0';
}

static void same_figure(int64_t *kept, int64_t figure, bool any)
{
        *kept = !any || *kept == figure ? figure : 0;
}

static int add_feed(struct saying *s, const char *code)
{
        struct kw_query q;
        int rc = kw_ask(s->l, &q,
                        "SELECT l.grade, l.construction, ifnull(l.tensile_kpa, 0), ifnull(l.diameter_um, 0), l.kind"
                        " FROM thing t JOIN lot l ON l.id = t.id WHERE t.type = 'lot' AND t.code = ?1",
                        "t", code);

        if (rc == 0)
                rc = kw_next(s->l, &q);
        if (rc == 1) {
                bool bare_core = strcmp(kw_text(&q, 4), "core") == 0 && !kw_int(&q, 2);

                same_text(s->grade, kw_text(&q, 0), s->any);
                same_text(s->construction, kw_text(&q, 1), s->any);
                same_figure(&s->diameter_um, kw_int(&q, 3), s->any);
                if (!bare_core)
                        same_figure(&s->tensile_kpa, kw_int(&q, 2), s->any);
                s->any = true;
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static int add_feeds(struct saying *s)
{
        const cJSON *line, *feed;
        int rc = 0;

        cJSON_ArrayForEach(line, kw_json_get(s->body, "lines"))
        {
                cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                {
                        if (rc == 0)
                                rc = add_feed(s, kw_json_text(feed, "lot"));
                }
        }
        return rc;
}

static int ask_for_package(struct saying *s, const cJSON *package)
{
        bool same = s->process->ratio == KW_RATIO_SAME, keeps = s->process->strength == KW_KEEPS_STRENGTH;
        const char *construction = kw_json_text(package, "construction");
        struct kw_spec_lot lot = {.kind = kw_json_text(package, "kind"),
                                  .grade = s->grade[0] ? s->grade : NULL,
                                  .construction = construction                 ? construction
                                                  : same && s->construction[0] ? s->construction
                                                                               : NULL,
                                  .diameter_um = kw_json_int(package, "diameter_um", same ? s->diameter_um : 0),
                                  .tensile_kpa = kw_json_int(package, "tensile_grade_kpa", keeps ? s->tensile_kpa : 0)};

        return lot.kind ? ask_for(s, &lot) : 0;
}

/* What the process makes, for a run that has made nothing yet. */
static const char *kind_made(const char *process)
{
        static const struct {
                const char *process, *kind;
        } made[] = {{"clean", "rod"},   {"draw", "coil"},     {"patent", "coil"}, {"galvanise", "coil"},
                    {"wind", "bobbin"}, {"strand", "strand"}, {"close", "rope"},  {"compact", "strand"},
                    {"coat", "rope"},   {"cut", "reel"}};

        for (size_t i = 0; i < sizeof(made) / sizeof(*made); i++)
                if (strcmp(made[i].process, process) == 0)
                        return made[i].kind;
        return NULL;
}

static int ask_for_order(struct saying *s)
{
        struct kw_spec_lot lot = {.kind = kind_made(s->process->name)};
        char grade[201], construction[201];
        struct kw_query q;
        int rc = kw_ask(s->l, &q,
                        "SELECT ifnull(o.grade, ''), ifnull(o.construction, ''), ifnull(o.diameter_um, 0),"
                        " ifnull(o.tensile_kpa, 0) FROM thing t JOIN work_order o ON o.id = t.id"
                        " WHERE t.type = 'order' AND t.code = ?1",
                        "t", kw_json_text(s->body, "order"));

        if (rc == 0)
                rc = kw_next(s->l, &q);
        if (rc == 1) {
                snprintf(grade, sizeof(grade), "%s", kw_text(&q, 0));
                snprintf(construction, sizeof(construction), "%s", kw_text(&q, 1));
                lot.grade = grade[0] ? grade : NULL;
                lot.construction = construction[0] ? construction : NULL;
                lot.diameter_um = kw_int(&q, 2);
                lot.tensile_kpa = kw_int(&q, 3);
        }
        kw_end(&q);
        return rc < 0 || !lot.kind ? rc : ask_for(s, &lot);
}

/* --- the body ---------------------------------------------------------------------------------------------- */

static int put(cJSON *body, int64_t ppm, const struct kw_spec_named *by)
{
        cJSON *named = cJSON_CreateObject();
        bool fine = named && cJSON_AddStringToObject(named, "spec", by->code) &&
                    cJSON_AddNumberToObject(named, "version", (double)by->version) &&
                    cJSON_AddNumberToObject(body, "tolerance_ppm", (double)ppm);

        if (fine && cJSON_AddItemToObject(body, "tolerance_by", named))
                return 0;
        cJSON_Delete(named);
        return -ENOMEM;
}

/* Read back from an export, a body brings what the server once said of it. */
static int check_by(struct kw_ledger *l, cJSON *body, int64_t seq, const char *process)
{
        const cJSON *by = kw_json_get(body, "tolerance_by");
        int64_t spec = 0, ppm = NONE;
        int rc;

        if (!by)
                return 0;
        rc = kw_one(l, &spec, 0, "SELECT id FROM spec WHERE code = ?1 AND version = ?2 AND seq < ?3", "tii",
                    kw_json_text(by, "spec"), kw_json_int(by, "version", 0), seq);
        if (rc == 0 && spec)
                rc = stated(l, spec, process, &ppm);
        if (rc == 0 && (ppm == NONE || ppm != kw_json_int(body, "tolerance_ppm", NONE)))
                cJSON_DeleteItemFromObjectCaseSensitive(body, "tolerance_by");
        return rc;
}

int kw_tolerance_say(struct kw_ledger *l, cJSON *body, int64_t seq)
{
        struct saying s = {.l = l, .seq = seq, .body = body, .ppm = NONE};
        const cJSON *package;
        int64_t any;
        int rc;

        s.process = kw_process(kw_json_text(body, "process"));
        if (kw_json_get(body, "tolerance_ppm"))
                return check_by(l, body, seq, s.process->name);
        cJSON_DeleteItemFromObjectCaseSensitive(body, "tolerance_by");
        rc = kw_one(l, &any, 0, "SELECT 1 FROM spec WHERE tolerance IS NOT NULL AND seq < ?1 LIMIT 1", "i", seq);
        if (rc || !any)
                return rc;
        if (kw_json_get(body, "packages")) {
                rc = add_feeds(&s);
                cJSON_ArrayForEach(package, kw_json_get(body, "packages"))
                {
                        if (rc == 0)
                                rc = ask_for_package(&s, package);
                }
        } else if (kw_json_get(body, "order")) {
                rc = ask_for_order(&s);
        }
        return rc || s.ppm == NONE ? rc : put(body, s.ppm, &s.by);
}

int kw_tolerance_adopt(cJSON *body, const cJSON *stored)
{
        const cJSON *by = kw_json_get(stored, "tolerance_by");
        struct kw_spec_named named = {0};

        if (!by || kw_json_get(body, "tolerance_ppm"))
                return 0;
        cJSON_DeleteItemFromObjectCaseSensitive(body, "tolerance_by");
        snprintf(named.code, sizeof(named.code), "%s", kw_json_text(by, "spec"));
        named.version = kw_json_int(by, "version", 0);
        return put(body, kw_json_int(stored, "tolerance_ppm", 0), &named);
}
