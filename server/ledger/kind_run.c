/*
 * Runs: lengths in, lengths out.
 *
 * The body is read into the core's plain draft, planned there (what each feed takes, where it lies on its line, whether
 * the figures are odd), and the plan is written down: the run, its lines, feeds, welds, packages and the lots made.
 */
#include "run_work.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* --- reading the body into the draft ------------------------------------------------------------ */

static void keep(char room[201], const char *text)
{
        snprintf(room, 201, "%s", text ? text : "");
}

static int load_texts(struct run_work *r, struct source *s)
{
        struct kw_query q;
        int rc = kw_ask(r->w->l, &q,
                        "SELECT construction, grade, ifnull(tensile_kpa, 0),"
                        " EXISTS (SELECT 1 FROM release_span WHERE lot = ?1) FROM lot WHERE id = ?1",
                        "i", s->id);

        if (rc == 0)
                rc = kw_next(r->w->l, &q);
        if (rc == 1) {
                keep(s->construction, kw_text(&q, 0));
                keep(s->grade, kw_text(&q, 1));
                s->tensile_kpa = kw_int(&q, 2);
                s->released = kw_int(&q, 3);
        }
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
                        return kw_refuse_with(r->w->err, KW_WOULD_LOOP, pointer, "made-here",
                                              KW_VALUES(KW_WORD("lot", code)),
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
                        rc = load_texts(r, s);
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

        r->draft.lines = calloc((size_t)cJSON_GetArraySize(lines) + 1, sizeof(*r->draft.lines));
        if (!r->draft.lines)
                return -ENOMEM;
        cJSON_ArrayForEach(line, lines)
        {
                const cJSON *feeds = kw_json_get(line, "feeds");
                struct kw_line_draft *d = &r->draft.lines[i];

                d->feeds = calloc((size_t)cJSON_GetArraySize(feeds) + 1, sizeof(*d->feeds));
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
                rc = kw_refuse_with(r->w->err, KW_OUT_OF_RANGE, "/body/lines", "joins",
                                    KW_VALUES(KW_FIGURE("max", JOINS_MAX)), "a run can have %d joins, not %zu",
                                    JOINS_MAX, joins);
        return rc;
}

static int read_packages(struct run_work *r)
{
        const cJSON *packages = kw_json_get(r->w->body, "packages"), *p;
        size_t i = 0;

        r->packages = calloc((size_t)cJSON_GetArraySize(packages) + 1, sizeof(*r->packages));
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

/* Of what is taken: a part of a lot may have been given another grade. */
static int load_grade(struct run_work *r, struct source *s)
{
        const struct kw_span reach = {s->taken.n ? s->taken.at[0].from : 0,
                                      s->taken.n ? s->taken.at[s->taken.n - 1].to : s->lot.length_mm};

        return kw_grade_here(r->w, s->id, &reach, s->grade);
}

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
                if (rc == 0 && s->released)
                        rc = load_grade(r, s);
        }
        return rc;
}

static int check_holds(struct run_work *r)
{
        bool override = kw_json_get(r->w->body, "override") != NULL;
        const struct kw_wish wish = {KW_TO_FEED, r->draft.process->name};
        struct source *s, *tmp;
        int rc = 0;

        if (override && !r->w->may_override && r->w->judge)
                return kw_refuse_with(r->w->err, KW_NOT_ALLOWED, "/body/override", "override", NULL,
                                      "recording a run on what is on hold is for the quality manager");
        if (override)
                return 0;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                rc = kw_check_wish(r->w, &s->lot, &s->taken, &wish, s->pointer);
                if (rc)
                        return rc;
        }
        return 0;
}

/* The construction and the grade that every feed has, where that is one and the same. */
static void common_texts(struct run_work *r)
{
        struct source *s, *tmp;

        r->construction = r->sources && r->sources->construction[0] ? r->sources->construction : NULL;
        r->grade = r->sources && r->sources->grade[0] ? r->sources->grade : NULL;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                if (r->construction && strcmp(s->construction, r->construction) != 0)
                        r->construction = NULL;
                if (r->grade && strcmp(s->grade, r->grade) != 0)
                        r->grade = NULL;
        }
}

/*
 * The tensile grade of what is made, where a package states none: that of the order, or else, unless the wire was drawn
 * or patented, the one that all feeds have. A fibre core has none and is not asked.
 */
static int common_tensile(struct run_work *r)
{
        const char *order = kw_json_text(r->w->body, "order");
        struct source *s, *tmp;
        bool any = false;
        int rc = 0;

        if (order)
                rc = kw_one(r->w->l, &r->tensile_kpa, 0,
                            "SELECT o.tensile_kpa FROM thing t JOIN work_order o ON o.id = t.id"
                            " WHERE t.type = 'order' AND t.code = ?1",
                            "t", order);
        if (rc || r->tensile_kpa || r->draft.process->strength == KW_GIVES_STRENGTH)
                return rc;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                if (strcmp(s->lot.kind, "core") == 0 && !s->tensile_kpa)
                        continue;
                r->tensile_kpa = !any || r->tensile_kpa == s->tensile_kpa ? s->tensile_kpa : 0;
                any = true;
        }
        return 0;
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
        common_texts(r);
        if (rc == 0)
                rc = common_tensile(r);
        return rc ? rc : check_holds(r);
}

int kw_apply_run(struct kw_work *w)
{
        struct run_work r = {.w = w,
                             .id = w->seq * KW_IDS,
                             .code = kw_json_text(w->body, "run"),
                             .depth = 1,
                             .under_way = kw_json_get(w->body, "under_way") != NULL};
        int rc;

        snprintf(r.name, sizeof(r.name), "run %s", r.code);
        r.draft.name = r.name;
        r.draft.under_way = r.under_way;
        r.draft.process = kw_process(kw_json_text(w->body, "process"));
        r.draft.tolerance_ppm = (int32_t)kw_json_int(w->body, "tolerance_ppm", r.draft.process->tolerance_ppm);
        rc = plan(&r);
        if (rc == 0)
                rc = kw_run_write(&r);
        free_run(&r);
        return rc;
}
