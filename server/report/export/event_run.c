/*
 * The event of a run: from the ledger's tables what stands, with its positions; from the body what was sent.
 */
#include "event.h"

static int code_of(struct kw_event *e, int64_t id, const char **code)
{
        const struct kw_lot_row *lot;
        int rc = kw_read_lot(e->x->reader, id, &lot);

        *code = rc == 0 && lot ? lot->code : NULL;
        return rc;
}

/* From the tables what stands, from the body what was sent. */
static int put_inputs(struct kw_event *e)
{
        struct kw_list codes = {0};
        const cJSON *line, *feed;
        const char *code;
        int rc = 0;

        for (size_t i = 0; e->run && rc == 0 && i < e->run->map.n_lines; i++) {
                const struct kw_line *l = &e->run->map.lines[i];

                for (size_t k = 0; rc == 0 && k < l->n_feeds; k++) {
                        rc = code_of(e, l->feeds[k].lot, &code);
                        if (rc == 0)
                                rc = kw_event_add(e, &codes, code);
                }
        }
        if (!e->run)
                cJSON_ArrayForEach(line, kw_json_get(e->body, "lines"))
                {
                        cJSON_ArrayForEach(feed, kw_json_get(line, "feeds"))
                        {
                                if (rc == 0)
                                        rc = kw_event_add(e, &codes, kw_event_lot(feed));
                        }
                }
        kw_event_list(e, "inputEPCList", &codes);
        return rc;
}

static int put_outputs(struct kw_event *e)
{
        struct kw_list codes = {0};
        const cJSON *package;
        const char *code;
        int rc = 0;

        for (size_t i = 0; e->run && rc == 0 && i < e->run->map.n_packages; i++) {
                rc = code_of(e, e->run->map.packages[i].lot, &code);
                if (rc == 0)
                        rc = kw_event_add(e, &codes, code);
        }
        if (!e->run)
                cJSON_ArrayForEach(package, kw_json_get(e->body, "packages"))
                {
                        if (rc == 0)
                                rc = kw_event_add(e, &codes, kw_event_lot(package));
                }
        kw_event_list(e, "outputEPCList", &codes);
        return rc;
}

static int put_feed(struct kw_event *e, const char *label, const struct kw_feed *feed)
{
        const char *code;
        int rc = code_of(e, feed->lot, &code);

        if (rc || !code)
                return rc;
        kw_put_object(e->out, NULL);
        kw_put_string(e->out, "kw:line", label);
        kw_event_place(e, "kw:lot", "lot", code);
        kw_put_int(e->out, "kw:fromMM", feed->from);
        kw_put_int(e->out, "kw:toMM", feed->to);
        kw_put_string(e->out, "kw:off", feed->off == KW_OFF_INNER ? "inner" : "outer");
        kw_put_int(e->out, "kw:v0MM", feed->v0);
        kw_put_object_end(e->out);
        return 0;
}

static void put_points(struct kw_event *e, const struct kw_line *line)
{
        for (size_t i = 0; i < line->n_points && !(line->open && i == line->n_points - 1); i++) {
                kw_put_object(e->out, NULL);
                kw_put_string(e->out, "kw:line", line->label);
                kw_put_int(e->out, "kw:vMM", line->points[i].v);
                kw_put_int(e->out, "kw:sMM", line->points[i].s);
                kw_put_object_end(e->out);
        }
}

static int put_package(struct kw_event *e, size_t i)
{
        const struct kw_package *package = &e->run->map.packages[i];
        const char *code;
        int rc = code_of(e, package->lot, &code);

        kw_put_object(e->out, NULL);
        if (code)
                kw_event_place(e, "kw:lot", "lot", code);
        else
                kw_put_string(e->out, "kw:scrap", e->run->packages[i].reason ? e->run->packages[i].reason : "");
        kw_put_int(e->out, "kw:s0MM", package->s0);
        kw_put_int(e->out, "kw:s1MM", package->s1);
        kw_put_object_end(e->out);
        return rc;
}

static void put_time(struct kw_event *e, const char *name, int64_t seconds)
{
        if (seconds != KW_NONE)
                kw_put_time(e->out, name, seconds);
}

static int put_positions(struct kw_event *e)
{
        const struct kw_run *map = &e->run->map;
        int rc = 0;

        put_time(e, "kw:started", e->run->started);
        put_time(e, "kw:ended", e->run->ended);
        kw_put_int(e->out, "kw:tolerancePPM", map->tolerance_ppm);
        kw_put_int(e->out, "kw:lengthMM", map->length_mm);
        kw_put_array(e->out, "kw:feeds");
        for (size_t i = 0; i < map->n_lines; i++) {
                for (size_t k = 0; rc == 0 && k < map->lines[i].n_feeds; k++)
                        rc = put_feed(e, map->lines[i].label, &map->lines[i].feeds[k]);
        }
        kw_put_array_end(e->out);
        kw_put_array(e->out, "kw:knownPoints");
        for (size_t i = 0; i < map->n_lines; i++)
                put_points(e, &map->lines[i]);
        kw_put_array_end(e->out);
        kw_put_array(e->out, "kw:packages");
        for (size_t i = 0; rc == 0 && i < map->n_packages; i++)
                rc = put_package(e, i);
        kw_put_array_end(e->out);
        return rc;
}

int kw_event_run(struct kw_event *e)
{
        int rc = put_inputs(e);

        if (rc == 0)
                rc = put_outputs(e);
        kw_event_url(e, "transformationID", "run", kw_json_text(e->body, "run"));
        kw_event_url(e, "bizStep", "step", kw_json_text(e->body, "process"));
        kw_event_place(e, "readPoint", "machine", kw_json_text(e->body, "machine"));
        if (kw_json_text(e->body, "order"))
                kw_event_transaction(e, "prodorder", "order", kw_json_text(e->body, "order"));
        return rc || !e->run ? rc : put_positions(e);
}
