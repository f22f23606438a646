/*
 * A report's runs: machine, times, settings, who recorded it, what went in from where to where, and what came out.
 */
#include "report.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

/* --- what is said of a run ------------------------------------------------------------------------- */

static const char *settings_of(struct kw_report *w, const cJSON *body)
{
        struct kw_buf list = {0};
        const cJSON *setting;
        const char *text;

        cJSON_ArrayForEach(setting, kw_json_get(body, "settings"))
        {
                kw_buf_printf(&list, "%s%s ", list.n ? ", " : "", setting->string);
                if (cJSON_IsString(setting))
                        kw_buf_text_add(&list, setting->valuestring);
                else
                        kw_buf_printf(&list, "%" PRId64, (int64_t)setting->valuedouble);
        }
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static const char *names_of(struct kw_report *w, const cJSON *names)
{
        struct kw_buf list = {0};
        const cJSON *name;
        const char *text;

        cJSON_ArrayForEach(name, names)
        {
                if (cJSON_IsString(name))
                        kw_buf_printf(&list, "%s%s", list.n ? ", " : "", name->valuestring);
        }
        text = kw_words(w, "%s", kw_buf_text(&list));
        kw_buf_free(&list);
        return text;
}

static const char *period_of(struct kw_report *w, const struct kw_run_row *run)
{
        if (run->started == KW_NONE && run->ended == KW_NONE)
                return kw_words(w, "not recorded; it happened by %s", kw_time_text(w, run->at));
        return kw_words(w, "%s to %s", run->started == KW_NONE ? "?" : kw_time_text(w, run->started),
                        run->under_way          ? "now: it is under way"
                        : run->ended == KW_NONE ? "?"
                                                : kw_time_text(w, run->ended));
}

static int put_facts(struct kw_report *w, const struct kw_run_row *run)
{
        struct kw_entry_row entry;
        const char *batch;
        cJSON *body = NULL;
        int rc = kw_read_entry(w->r, run->seq, &entry, NULL);

        if (rc == 0)
                rc = kw_body_of(w, &entry, &body);
        if (rc == 0)
                rc = kw_read_code(w->r, KW_NAMED_BATCH, run->batch, &batch);
        if (rc) {
                cJSON_Delete(body);
                return rc;
        }
        kw_paper_fact(w->p, "Time", period_of(w, run));
        kw_paper_fact(w->p, "Settings", settings_of(w, body));
        kw_paper_fact(w->p, "Supplies", names_of(w, kw_json_get(body, "supplies")));
        kw_paper_fact(w->p, "Batch", batch);
        kw_paper_fact(w->p, "Order", kw_json_text(body, "order"));
        kw_paper_fact(w->p, "Output",
                      kw_words(w, "%s m; lengths to within %g %%", kw_metres(w, run->map.length_mm),
                               run->map.tolerance_ppm / 10000.0));
        kw_paper_fact(w->p, "Recorded",
                      kw_words(w, "entry %" PRId64 " by %s at %s, logged %.10s %.5s%s", entry.seq, entry.by,
                               entry.terminal, entry.logged, entry.logged + 11,
                               entry.standing == KW_CORRECTED ? "; corrected since" : ""));
        cJSON_Delete(body);
        return 0;
}

/* --- what went in and came out ------------------------------------------------------------------------ */

static const struct kw_paper_column feed_columns[] = {
        {"Line", 0.08, false},
        {"Lot", 0.17, false},
        {"Of it, m", 0.2, false},
        {"Off", 0.07, false},
        {"On the line at, m", 0.14, true},
        {"Joint before it", 0.2, false},
        {"Seen at, m", 0.12, true},
};

static int64_t seen_at(const struct kw_line *line, int64_t v)
{
        for (size_t i = 1; i + 1 < line->n_points; i++) {
                if (line->points[i].v == v)
                        return line->points[i].s;
        }
        return KW_NONE;
}

static int put_feed(struct kw_report *w, const struct kw_run_row *run, size_t line, size_t i)
{
        const struct kw_line *l = &run->map.lines[line];
        const struct kw_feed *feed = &l->feeds[i];
        const struct kw_lot_row *lot;
        const char *weld = NULL, *made_by = NULL;
        int rc = kw_read_lot(w->r, feed->lot, &lot);

        if (rc == 0 && i)
                rc = kw_read_weld_before(w->r, run, line, i, &weld, &made_by);
        if (rc == 0 && lot) {
                const struct kw_paper_cell cells[] = {
                        {l->label, NULL},
                        {lot->code, NULL},
                        {kw_words(w, "%s\xe2\x80\x93%s", kw_metres(w, feed->from), kw_metres(w, feed->to)), NULL},
                        {feed->off == KW_OFF_INNER ? "inner" : "outer", NULL},
                        {kw_metres(w, feed->v0), NULL},
                        {weld ? kw_words(w, "%s (%s)", weld, made_by) : "", NULL},
                        {i ? kw_metres(w, seen_at(l, feed->v0)) : "", NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

static bool concerned(const struct kw_report *w, int64_t lot)
{
        return kw_hits_find(w->a->hits, lot) != NULL;
}

static int put_feeds(struct kw_report *w, const struct kw_run_row *run)
{
        size_t told = 0, all = 0;
        int rc = 0;

        kw_paper_space(w->p, 3);
        kw_paper_table(w->p, feed_columns, 7);
        for (size_t i = 0; i < run->map.n_lines; i++) {
                for (size_t k = 0; rc == 0 && k < run->map.lines[i].n_feeds; k++) {
                        all++;
                        if (!concerned(w, run->map.lines[i].feeds[k].lot))
                                continue;
                        told++;
                        rc = put_feed(w, run, i, k);
                }
        }
        kw_paper_table_end(w->p);
        if (told < all)
                kw_paper_text(w->p, kw_words(w, "%zu of the run's %zu feeds are concerned and listed.", told, all));
        return rc;
}

static int put_packages(struct kw_report *w, const struct kw_run_row *run)
{
        static const struct kw_paper_column columns[] = {
                {"Made", 0.17, false}, {"Kind", 0.1, false}, {"On the output, m", 0.25, false}, {"Doffed", 0.2, false}};
        size_t told = 0;
        int rc = 0;

        kw_paper_table(w->p, columns, 4);
        for (size_t i = 0; rc == 0 && i < run->map.n_packages; i++) {
                const struct kw_package *package = &run->map.packages[i];
                const struct kw_lot_row *lot;

                if (!concerned(w, package->lot))
                        continue;
                told++;
                rc = kw_read_lot(w->r, package->lot, &lot);
                if (rc == 0 && lot) {
                        const struct kw_paper_cell cells[] = {
                                {lot->code, NULL},
                                {lot->kind, NULL},
                                {kw_words(w, "%s\xe2\x80\x93%s", kw_metres(w, package->s0), kw_metres(w, package->s1)),
                                 NULL},
                                {kw_time_text(w, run->packages[i].doffed), NULL}};

                        kw_paper_row(w->p, cells);
                }
        }
        kw_paper_table_end(w->p);
        if (told < run->map.n_packages)
                kw_paper_text(w->p,
                              kw_words(w, "%zu of the run's %zu packages, scrap among them, are concerned and listed.",
                                       told, run->map.n_packages));
        return rc;
}

static int put_run(struct kw_report *w, const struct kw_run_row *run)
{
        int rc;

        kw_paper_heading(w->p, kw_words(w, "Run %s: %s on %s", run->code, run->process, run->machine));
        rc = put_facts(w, run);
        if (rc == 0)
                rc = put_feeds(w, run);
        return rc ? rc : put_packages(w, run);
}

/* In order of depth; each run once, at the first of its lots. */
int kw_section_runs(struct kw_report *w)
{
        struct kw_selection told;
        size_t n = 0;
        int rc = kw_selection_new(w->x->head.size, &told);

        for (size_t i = 0; rc == 0 && i < w->a->n_rows; i++) {
                const struct kw_run_row *run;

                rc = kw_read_run(w->r, w->a->rows[i].lot->run, &run);
                if (rc || !run || kw_selected(&told, run->seq))
                        continue;
                kw_select(&told, run->seq);
                n++;
                rc = put_run(w, run);
        }
        if (rc == 0 && !n)
                kw_paper_text(w->p, "None: what is concerned was received and not worked on.");
        kw_selection_free(&told);
        return rc;
}

/* --- batches ------------------------------------------------------------------------------------------- */

static int put_batches_of(struct kw_report *w, const struct kw_lot_row *lot, size_t *n)
{
        const struct kw_treatment_row *rows;
        size_t n_rows;
        int rc = kw_read_batches_of(w->r, lot, &rows, &n_rows);

        for (size_t i = 0; rc == 0 && i < n_rows; i++, ++*n) {
                struct kw_thing_row thing;

                rc = kw_read_thing(w->r, "batch", rows[i].code, &thing, NULL);
                if (rc)
                        return rc > 0 ? -EIO : rc;
                const struct kw_paper_cell cells[] = {{rows[i].code, NULL},
                                                      {rows[i].process, NULL},
                                                      {rows[i].machine, NULL},
                                                      {kw_time_text(w, rows[i].started), NULL},
                                                      {kw_time_text(w, rows[i].ended), NULL},
                                                      {lot->code, NULL},
                                                      {kw_span_text(w, &rows[i].spans), NULL},
                                                      {kw_words(w, "%" PRId64, thing.seq), NULL}};

                kw_paper_row(w->p, cells);
        }
        return rc;
}

int kw_section_batches(struct kw_report *w)
{
        static const struct kw_paper_column columns[] = {
                {"Batch", 0.12, false}, {"Process", 0.11, false}, {"Machine", 0.12, false},  {"Started", 0.15, false},
                {"Ended", 0.15, false}, {"Lot", 0.12, false},     {"Of it, m", 0.16, false}, {"Entry", 0.07, true}};
        size_t n = 0;
        int rc = 0;

        kw_paper_table(w->p, columns, 8);
        for (size_t i = 0; rc == 0 && i < w->a->n_rows; i++)
                rc = put_batches_of(w, w->a->rows[i].lot, &n);
        kw_paper_table_end(w->p);
        if (rc == 0 && !n)
                kw_paper_text(w->p, "None.");
        return rc;
}
