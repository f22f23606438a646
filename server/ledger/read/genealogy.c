/*
 * The genealogy on SQLite: lots, what was fed of them, and runs with their lines and packages.
 *
 * A trace asks for the same run once for every lot that it took and made. Each is read at its first asking, in the
 * order of its primary key, and kept for the life of the question.
 */
#include "reader.h"

#include "kinwire/index.h"

#include <errno.h>
#include <stdlib.h>

#define KW_IDS 4096 /* ids of an entry: seq * 4096 + a number within it */

/* --- lots ------------------------------------------------------------------------------------- */

static void take_lot(struct kw_reader *r, struct kw_query *q, struct kw_lot_row *lot, bool *failed)
{
        lot->seq = kw_int(q, 0);
        lot->code = kw_keep_text(r, q, 1, failed);
        lot->kind = kw_keep_text(r, q, 2, failed);
        lot->length_mm = kw_int(q, 3);
        lot->length_from = kw_keep_text(r, q, 4, failed);
        lot->mass_g = kw_int_or(q, 5, KW_NONE);
        lot->mass_from = kw_keep_text(r, q, 6, failed);
        lot->diameter_um = kw_int_or(q, 7, KW_NONE);
        lot->construction = kw_keep_text(r, q, 8, failed);
        lot->heat = kw_int_or(q, 9, 0);
        lot->supply = kw_int_or(q, 10, 0);
        lot->run = kw_int_or(q, 11, 0);
        lot->s0 = kw_int_or(q, 12, 0);
        lot->depth = (uint32_t)kw_int(q, 13);
        lot->at = kw_int(q, 14);
        lot->order = kw_keep_text(r, q, 15, failed);
        lot->measured = kw_keep_text(r, q, 16, failed);
        lot->grade = kw_keep_text(r, q, 17, failed);
        lot->tensile_kpa = kw_int_or(q, 18, KW_NONE);
}

/* From the index. Return: 0; -ENOENT; -ENOMEM. */
static int said_lot(struct kw_reader *r, int64_t id, struct kw_kept_lot **out)
{
        struct kw_index_lot said = {.number = UINT32_MAX};
        struct kw_kept_lot *kept;
        bool failed = false;
        int rc = r->index ? kw_index_lot(r->index, id, r->next_lot, &said) : -ENOENT;

        r->next_lot = said.number + 1;
        if (rc)
                return rc;
        kept = kw_arena_get(&r->arena, sizeof(*kept));
        if (!kept)
                return -ENOMEM;
        kept->id = id;
        kept->number = said.number;
        kept->row = (struct kw_lot_row){.id = id,
                                        .seq = id / KW_IDS,
                                        .code = kw_arena_text(&r->arena, said.code, &failed),
                                        .kind = kw_keep_said(r, said.kind, &failed),
                                        .length_mm = said.length_mm,
                                        .length_from = "counted",
                                        .mass_g = said.mass_g < 0 ? KW_NONE : said.mass_g,
                                        .mass_from = kw_keep_said(r, said.mass_from, &failed),
                                        .diameter_um = said.diameter_um < 0 ? KW_NONE : said.diameter_um,
                                        .tensile_kpa = said.tensile_kpa < 0 ? KW_NONE : said.tensile_kpa,
                                        .construction = kw_keep_said(r, said.construction, &failed),
                                        .run = said.run,
                                        .s0 = said.s0,
                                        .depth = said.depth,
                                        .at = said.at,
                                        .grade = kw_keep_said(r, said.grade, &failed)};
        *out = kept;
        return failed ? -ENOMEM : 0;
}

static int ask_lot(struct kw_reader *r, int64_t id, struct kw_kept_lot **out)
{
        struct kw_kept_lot *kept = NULL;
        struct kw_query q;
        bool failed = false;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT seq, code, kind, length_mm, length_from, mass_g, mass_from, diameter_um, construction, heat,"
                " supply, run, s0, depth, at, ord, measured, grade, tensile_kpa FROM lot WHERE id = ?1",
                "i", id);
        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                kept = kw_arena_get(&r->arena, sizeof(*kept));
                failed = !kept;
        }
        if (kept) {
                kept->id = kept->row.id = id;
                kept->number = UINT32_MAX;
                take_lot(r, &q, &kept->row, &failed);
        }
        kw_end(&q);
        *out = kept;
        return failed ? -ENOMEM : rc < 0 ? rc : 0;
}

static int keep_lot(struct kw_reader *r, int64_t id, struct kw_kept_lot **out)
{
        struct kw_kept_lot *kept;
        int rc;

        HASH_FIND(hh, r->lots, &id, sizeof(id), kept);
        *out = kept;
        if (kept)
                return 0;
        rc = said_lot(r, id, &kept);
        if (rc == -ENOENT)
                rc = ask_lot(r, id, &kept);
        if (rc || !kept)
                return rc;
        HASH_ADD(hh, r->lots, id, sizeof(id), kept);
        *out = kept;
        return kept->hh.tbl ? 0 : -ENOMEM;
}

int kw_read_lot(struct kw_reader *r, int64_t id, const struct kw_lot_row **out)
{
        struct kw_kept_lot *kept;
        int rc = keep_lot(r, id, &kept);

        *out = rc == 0 && kept ? &kept->row : NULL;
        return rc;
}

int kw_read_lot_named(struct kw_reader *r, const char *code, const struct kw_lot_row **out, struct kw_error *err)
{
        int64_t id;
        int rc = kw_thing_id(r->ledger, "lot", code, &id);

        *out = NULL;
        if (rc == 0 && id)
                rc = kw_read_lot(r, id, out);
        if (rc == 0 && !*out)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "says",
                                      KW_VALUES(KW_WORD("type", "lot"), KW_WORD("code", code)), "no lot %s is known",
                                      code);
        return rc;
}

int kw_read_uses(struct kw_reader *r, int64_t lot, const struct kw_use **uses, size_t *n)
{
        struct kw_list list = {0};
        struct kw_kept_lot *kept;
        struct kw_query q;
        int rc = keep_lot(r, lot, &kept);

        *uses = NULL;
        *n = 0;
        if (rc || !kept)
                return rc;
        if (!kept->uses_read) {
                rc = kw_ask(r->ledger, &q,
                            "SELECT f.run, r.depth, f.from_mm, f.to_mm FROM feed f JOIN run r ON r.id = f.run"
                            " WHERE f.lot = ?1 ORDER BY f.from_mm",
                            "i", lot);
                while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                        struct kw_use *use = kw_list_more(&r->arena, &list, sizeof(*use));

                        rc = use ? 0 : -ENOMEM;
                        if (use)
                                *use = (struct kw_use){.run = kw_int(&q, 0),
                                                       .depth = (uint32_t)kw_int(&q, 1),
                                                       .from = kw_int(&q, 2),
                                                       .to = kw_int(&q, 3)};
                }
                kw_end(&q);
                if (rc)
                        return rc;
                kept->uses = list.at;
                kept->n_uses = list.n;
                kept->uses_read = true;
        }
        *uses = kept->uses;
        *n = kept->n_uses;
        return 0;
}

/* --- runs ------------------------------------------------------------------------------------- */

/* A line while its feeds are being read. */
struct open_line {
        struct kw_line *line;
        struct kw_line_row *row;
        struct kw_list feeds, ords, points;
};

static int add_point(struct kw_reader *r, struct open_line *open, int64_t v, int64_t s)
{
        struct kw_point *point = kw_list_more(&r->arena, &open->points, sizeof(*point));

        if (!point)
                return -ENOMEM;
        *point = (struct kw_point){.v = v, .s = s};
        return 0;
}

static int add_feed(struct kw_reader *r, struct open_line *open, struct kw_query *q)
{
        struct kw_feed *feed = kw_list_more(&r->arena, &open->feeds, sizeof(*feed));
        int64_t *ord = kw_list_more(&r->arena, &open->ords, sizeof(*ord));

        if (!feed || !ord)
                return -ENOMEM;
        *ord = kw_int(q, 1);
        *feed = (struct kw_feed){.lot = kw_int(q, 2),
                                 .from = kw_int(q, 3),
                                 .to = kw_int(q, 4),
                                 .v0 = kw_int(q, 6),
                                 .off = kw_int(q, 5) ? KW_OFF_INNER : KW_OFF_OUTER};
        return kw_is_null(q, 7) ? 0 : add_point(r, open, feed->v0, kw_int(q, 7));
}

/*
 * Of a run under way the line's end is not known: a bound beyond everything that was seen stands for it. A line on
 * which nothing was loaded has no map.
 */
static int close_line(struct kw_reader *r, struct open_line *open, int64_t v, int64_t s)
{
        const struct kw_point *points = open->points.at;
        const struct kw_point *last = &points[open->points.n - 1];
        int rc;

        if (!v)
                return 0;
        if (open->line->open && s <= last->s)
                s = last->s + 1;
        rc = add_point(r, open, v, s);

        open->line->feeds = open->feeds.at;
        open->line->n_feeds = open->feeds.n;
        open->line->points = open->points.at;
        open->line->n_points = open->points.n;
        open->row->feed_ords = open->ords.at;
        return rc;
}

static int read_feeds_of(struct kw_reader *r, int64_t run, int64_t line, struct open_line *open)
{
        struct kw_query q;
        int rc = kw_ask(
                r->ledger, &q,
                "SELECT line, ord, lot, from_mm, to_mm, inner, v0, seen_mm FROM feed WHERE run = ?1 AND line = ?2"
                " ORDER BY ord",
                "ii", run, line);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1)
                rc = add_feed(r, open, &q);
        kw_end(&q);
        return rc;
}

static int read_lines(struct kw_reader *r, struct kw_run_row *run)
{
        struct kw_list lines = {0}, rows = {0}, lengths = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT ord, label, length_mm FROM line WHERE run = ?1 ORDER BY ord", "i",
                        run->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_line *line = kw_list_more(&r->arena, &lines, sizeof(*line));
                struct kw_line_row *row = kw_list_more(&r->arena, &rows, sizeof(*row));
                int64_t *length = kw_list_more(&r->arena, &lengths, sizeof(*length));

                rc = line && row && length ? 0 : -ENOMEM;
                if (rc == 0) {
                        row->ord = kw_int(&q, 0);
                        line->label = kw_keep_text(r, &q, 1, &failed);
                        *length = kw_int(&q, 2);
                }
        }
        kw_end(&q);
        for (size_t i = 0; rc == 0 && i < lines.n; i++) {
                struct open_line open = {.line = (struct kw_line *)lines.at + i,
                                         .row = (struct kw_line_row *)rows.at + i};

                open.line->open = run->under_way;
                rc = add_point(r, &open, 0, 0);
                if (rc == 0)
                        rc = read_feeds_of(r, run->id, open.row->ord, &open);
                if (rc == 0)
                        rc = close_line(r, &open, ((int64_t *)lengths.at)[i], run->map.length_mm);
        }
        run->map.lines = lines.at;
        run->map.n_lines = lines.n;
        run->lines = rows.at;
        return failed ? -ENOMEM : rc;
}

static int read_packages(struct kw_reader *r, struct kw_run_row *run)
{
        struct kw_list packages = {0}, rows = {0};
        bool failed = false;
        struct kw_query q;
        int rc = kw_ask(r->ledger, &q, "SELECT lot, s0, s1, doffed, reason FROM package WHERE run = ?1 ORDER BY ord",
                        "i", run->id);

        while (rc == 0 && (rc = kw_next(r->ledger, &q)) == 1) {
                struct kw_package *package = kw_list_more(&r->arena, &packages, sizeof(*package));
                struct kw_package_row *row = kw_list_more(&r->arena, &rows, sizeof(*row));

                rc = package && row ? 0 : -ENOMEM;
                if (rc == 0) {
                        *package = (struct kw_package){.lot = kw_int(&q, 0), .s0 = kw_int(&q, 1), .s1 = kw_int(&q, 2)};
                        row->doffed = kw_int_or(&q, 3, KW_NONE);
                        row->reason = kw_keep_text(r, &q, 4, &failed);
                }
        }
        kw_end(&q);
        run->map.packages = packages.at;
        run->map.n_packages = packages.n;
        run->packages = rows.at;
        return failed ? -ENOMEM : rc;
}

static int read_run_itself(struct kw_reader *r, int64_t id, struct kw_run_row *run)
{
        bool failed = false;
        struct kw_query q;
        int rc =
                kw_ask(r->ledger, &q,
                       "SELECT seq, code, process, machine, started, ended, at, batch, tolerance_ppm, length_mm, depth,"
                       " under_way, ord FROM run WHERE id = ?1",
                       "i", id);

        if (rc == 0)
                rc = kw_next(r->ledger, &q);
        if (rc == 1) {
                *run = (struct kw_run_row){.id = id,
                                           .seq = kw_int(&q, 0),
                                           .code = kw_keep_text(r, &q, 1, &failed),
                                           .process = kw_keep_text(r, &q, 2, &failed),
                                           .machine = kw_keep_text(r, &q, 3, &failed),
                                           .started = kw_int_or(&q, 4, KW_NONE),
                                           .ended = kw_int_or(&q, 5, KW_NONE),
                                           .at = kw_int(&q, 6),
                                           .batch = kw_int_or(&q, 7, 0),
                                           .under_way = kw_int(&q, 11) != 0,
                                           .order = kw_keep_text(r, &q, 12, &failed)};
                run->map = (struct kw_run){.id = id,
                                           .tolerance_ppm = (int32_t)kw_int(&q, 8),
                                           .length_mm = kw_int(&q, 9),
                                           .depth = (uint32_t)kw_int(&q, 10)};
        }
        kw_end(&q);
        return failed ? -ENOMEM : rc;
}

int kw_read_run(struct kw_reader *r, int64_t id, const struct kw_run_row **out)
{
        struct kw_kept_run *kept;
        int rc;

        HASH_FIND(hh, r->runs, &id, sizeof(id), kept);
        *out = kept ? &kept->row : NULL;
        if (kept || !id)
                return 0;
        kept = kw_arena_get(&r->arena, sizeof(*kept));
        if (!kept)
                return -ENOMEM;
        kept->id = id;
        rc = read_run_itself(r, id, &kept->row);
        if (rc != 1)
                return rc;
        rc = read_lines(r, &kept->row);
        if (rc == 0)
                rc = read_packages(r, &kept->row);
        if (rc)
                return rc;
        HASH_ADD(hh, r->runs, id, sizeof(id), kept);
        if (!kept->hh.tbl)
                return -ENOMEM;
        *out = &kept->row;
        return 0;
}
