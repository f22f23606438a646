/*
 * A mill in memory, for tests.
 */
#include "mill.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Runs get ids out of the order in which they ran, as paper that is logged late gets its numbers. */
static int64_t run_id(size_t index)
{
        return (int64_t)((index * 37 + 11) % 101) + 1;
}

struct mill *mill_new(void)
{
        struct mill *m = calloc(1, sizeof *m);

        if (!m)
                abort();
        return m;
}

void mill_free(struct mill *m)
{
        free(m);
}

int64_t mill_lot_id(const struct mill *m, const char *lot)
{
        for (size_t i = 0; i < m->n_lots; i++)
                if (strcmp(m->lots[i].name, lot) == 0)
                        return (int64_t)i + 1;
        fprintf(stderr, "there is no lot %s in this mill\n", lot);
        abort();
}

struct mill_lot *mill_lot_of(struct mill *m, int64_t id)
{
        return &m->lots[id - 1];
}

int64_t mill_run_id(const struct mill *m, const char *run)
{
        for (size_t i = 0; i < m->n_runs; i++)
                if (strcmp(m->runs[i].name, run) == 0)
                        return run_id(i);
        fprintf(stderr, "there is no run %s in this mill\n", run);
        abort();
}

const struct kw_run *mill_run_of(const struct mill *m, int64_t id)
{
        for (size_t i = 0; i < m->n_runs; i++)
                if (run_id(i) == id)
                        return &m->runs[i].run;
        return NULL;
}

void mill_receive(struct mill *m, const char *lot, int64_t length)
{
        if (m->n_lots == MILL_LOTS)
                abort();
        struct mill_lot *l = &m->lots[m->n_lots++];

        snprintf(l->name, sizeof l->name, "%s", lot);
        l->length = length;
}

static struct mill_run *current(struct mill *m)
{
        return &m->runs[m->n_runs - 1];
}

void mill_run(struct mill *m, const char *name, int32_t tolerance_ppm)
{
        if (m->n_runs == MILL_RUNS)
                abort();
        size_t index = m->n_runs++;
        struct mill_run *r = &m->runs[index];

        snprintf(r->name, sizeof r->name, "%s", name);
        r->run = (struct kw_run){.id = run_id(index),
                                 .depth = 1,
                                 .tolerance_ppm = tolerance_ppm,
                                 .lines = r->lines,
                                 .packages = r->packages};
}

void mill_line(struct mill *m, const char *label)
{
        struct mill_run *r = current(m);
        if (r->run.n_lines == MILL_LINES)
                abort();
        struct mill_line *part = &r->parts[r->run.n_lines++];

        snprintf(part->label, sizeof part->label, "%s", label);
        part->points[part->n_points++] = (struct kw_point){0, 0};
}

void mill_feed(struct mill *m, const char *lot, int64_t from, int64_t to, enum kw_off off, int64_t seen)
{
        struct mill_run *r = current(m);
        struct mill_line *line = &r->parts[r->run.n_lines - 1];
        struct mill_lot *l = mill_lot_of(m, mill_lot_id(m, lot));

        if (line->n_feeds == MILL_PARTS || l->n_uses == MILL_PARTS || from < 0 || from >= to || to > l->length)
                abort();
        if (seen)
                line->points[line->n_points++] = (struct kw_point){line->v, seen};
        line->feeds[line->n_feeds++] = (struct kw_feed){mill_lot_id(m, lot), from, to, line->v, off};
        line->v += to - from;
        l->uses[l->n_uses++] = (struct kw_use){r->run.id, 0, from, to};
        if (l->depth >= r->run.depth)
                r->run.depth = l->depth + 1;
}

void mill_package(struct mill *m, const char *lot, int64_t length)
{
        struct mill_run *r = current(m);
        int64_t id = 0;

        if (r->run.n_packages == MILL_PARTS)
                abort();
        if (lot) {
                mill_receive(m, lot, length);
                id = (int64_t)m->n_lots;
                m->lots[id - 1].maker = r->run.id;
        }
        r->packages[r->run.n_packages++] = (struct kw_package){id, r->run.length_mm, r->run.length_mm + length};
        r->run.length_mm += length;
}

void mill_draw_two(struct mill *m, int64_t c, int64_t d, int32_t tolerance_ppm, int64_t seen)
{
        mill_receive(m, "C", c);
        mill_receive(m, "D", d);
        mill_run(m, "DR", tolerance_ppm);
        mill_line(m, "1");
        mill_feed(m, "C", 0, c, KW_OFF_OUTER, 0);
        mill_feed(m, "D", 0, d, KW_OFF_OUTER, seen);
}

static void weld(struct mill *m, int64_t seen)
{
        mill_draw_two(m, 1000, 1000, 100000, seen);
        mill_package(m, "P", 1000);
        mill_package(m, "Q", 1000);
        mill_package(m, "R", 1000);
        mill_package(m, "S", 1000);
        mill_close(m);
}

void mill_weld_unseen(struct mill *m)
{
        weld(m, 0);
}

void mill_weld_at_boundary(struct mill *m)
{
        weld(m, 2000);
}

void mill_split_bobbin(struct mill *m, int32_t tolerance_ppm)
{
        mill_receive(m, "X", 2000);
        mill_draw_two(m, 500, 500, 100000, 0);
        mill_package(m, "B", 1000);
        mill_close(m);
        mill_run(m, "ST", tolerance_ppm);
        mill_line(m, "1");
        mill_feed(m, "B", 480, 1000, KW_OFF_OUTER, 0);
        mill_feed(m, "X", 0, 480, KW_OFF_INNER, 520);
        mill_line(m, "2");
        mill_feed(m, "X", 480, 1000, KW_OFF_INNER, 0);
        mill_feed(m, "B", 0, 480, KW_OFF_OUTER, 0);
}

void mill_drop_line(struct mill *m)
{
        struct mill_run *r = current(m);

        r->parts[--r->run.n_lines] = (struct mill_line){0};
}

static int by_from(const void *a, const void *b)
{
        const struct kw_use *x = a, *y = b;

        return (x->from > y->from) - (x->from < y->from);
}

void mill_close(struct mill *m)
{
        struct mill_run *r = current(m);

        for (size_t i = 0; i < r->run.n_lines; i++) {
                struct mill_line *part = &r->parts[i];

                part->points[part->n_points++] = (struct kw_point){part->v, r->run.length_mm};
                r->lines[i] = (struct kw_line){.label = part->label,
                                               .feeds = part->feeds,
                                               .n_feeds = part->n_feeds,
                                               .points = part->points,
                                               .n_points = part->n_points};
        }
        for (size_t i = 0; i < r->run.n_packages; i++)
                if (r->packages[i].lot)
                        m->lots[r->packages[i].lot - 1].depth = r->run.depth;
        for (size_t i = 0; i < m->n_lots; i++) {
                struct mill_lot *l = &m->lots[i];

                for (size_t j = 0; j < l->n_uses; j++)
                        if (l->uses[j].run == r->run.id)
                                l->uses[j].depth = r->run.depth;
                qsort(l->uses, l->n_uses, sizeof *l->uses, by_from);
        }
}

/* --- the genealogy ---------------------------------------------------------------------------- */

static int asked(struct mill *m)
{
        m->asked++;
        return m->asked == m->fail_at ? -EIO : 0;
}

static int uses(void *ctx, int64_t lot, const struct kw_use **out, size_t *n)
{
        struct mill *m = ctx;

        *out = m->lots[lot - 1].uses;
        *n = m->lots[lot - 1].n_uses;
        return asked(m);
}

static int maker(void *ctx, int64_t lot, int64_t *run, uint32_t *depth)
{
        struct mill *m = ctx;

        *run = m->lots[lot - 1].maker;
        *depth = m->lots[lot - 1].depth;
        return asked(m);
}

static int run(void *ctx, int64_t id, const struct kw_run **out)
{
        struct mill *m = ctx;

        *out = mill_run_of(m, id);
        return asked(m);
}

struct kw_genealogy mill_genealogy(struct mill *m)
{
        return (struct kw_genealogy){m, uses, maker, run};
}

/* --- telling ---------------------------------------------------------------------------------- */

static void tell(char text[MILL_TEXT], const char *word)
{
        size_t n = strlen(text);

        snprintf(text + n, MILL_TEXT - n, "%s", word);
}

void mill_tell_spans(const struct kw_spans *spans, char text[MILL_TEXT])
{
        char word[64];

        for (size_t i = 0; i < spans->n; i++) {
                snprintf(word, sizeof word, "%s%" PRId64 "-%" PRId64, i ? "+" : "", spans->at[i].from, spans->at[i].to);
                tell(text, word);
        }
        if (spans->n == 0)
                tell(text, "none");
}

void mill_tell(const struct mill *m, const struct kw_hits *hits, char text[MILL_TEXT])
{
        const struct mill_lot *order[MILL_LOTS];
        size_t n = 0;

        text[0] = '\0';
        for (size_t i = 0; i < m->n_lots; i++) {
                size_t at = n;

                if (!kw_hits_find(hits, (int64_t)i + 1))
                        continue;
                for (; at > 0 && strcmp(order[at - 1]->name, m->lots[i].name) > 0; at--)
                        order[at] = order[at - 1];
                order[at] = &m->lots[i];
                n++;
        }
        for (size_t i = 0; i < n; i++) {
                const struct kw_hit *hit = kw_hits_find(hits, order[i] - m->lots + 1);

                tell(text, order[i]->name);
                tell(text, ": ");
                mill_tell_spans(&hit->reach.certain, text);
                tell(text, " / ");
                mill_tell_spans(&hit->reach.possible, text);
                tell(text, "\n");
        }
}

void mill_start_part(const struct mill *m, struct kw_hits *hits, const char *lot, int64_t from, int64_t to)
{
        if (kw_hits_add(hits, mill_lot_id(m, lot), from, to, KW_CERTAIN) < 0)
                abort();
}

void mill_start(const struct mill *m, struct kw_hits *hits, const char *lot)
{
        mill_start_part(m, hits, lot, 0, m->lots[mill_lot_id(m, lot) - 1].length);
}
