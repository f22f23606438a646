/*
 * Random mills, the same on every machine, for properties that hold in any mill.
 */
#include "mill.h"

#include <inttypes.h>
#include <stdio.h>

int64_t dice_between(struct dice *d, int64_t least, int64_t greatest)
{
        d->state ^= d->state << 13;
        d->state ^= d->state >> 7;
        d->state ^= d->state << 17;
        return least + (int64_t)(d->state % (uint64_t)(greatest - least + 1));
}

/* What is left of a lot, one stretch: it is consumed from either end only. */
struct left {
        int64_t from, to;
};

static bool feed_some(struct mill *m, struct dice *d, struct left left[MILL_LOTS], size_t made_before, int64_t seen)
{
        for (int tries = 0; tries < 20; tries++) {
                size_t i = (size_t)dice_between(d, 0, (int64_t)made_before - 1);
                int64_t rest = left[i].to - left[i].from;
                if (rest <= 0)
                        continue;
                int64_t take = dice_between(d, 0, 2) ? rest : dice_between(d, 1, rest);
                enum kw_off off = dice_between(d, 0, 2) ? KW_OFF_OUTER : KW_OFF_INNER;
                int64_t from = off == KW_OFF_INNER ? left[i].from : left[i].to - take;

                mill_feed(m, m->lots[i].name, from, from + take, off, seen);
                if (off == KW_OFF_INNER)
                        left[i].from += take;
                else
                        left[i].to -= take;
                return true;
        }
        return false;
}

static bool random_line(struct mill *m, struct dice *d, struct left left[MILL_LOTS], size_t made_before, int64_t length)
{
        int64_t feeds = dice_between(d, 1, 4), seen = 0;

        if (!feed_some(m, d, left, made_before, 0))
                return false;
        for (int64_t i = 1; i < feeds; i++) {
                int64_t next = dice_between(d, 0, 2) ? 0 : dice_between(d, seen + 1, length - feeds + i);

                if (!feed_some(m, d, left, made_before, next))
                        break;
                if (next)
                        seen = next;
        }
        return true;
}

static void random_packages(struct mill *m, struct dice *d, int64_t length, bool scrap)
{
        int64_t n = dice_between(d, 1, 4);

        for (int64_t i = 0; i < n; i++) {
                int64_t l = i == n - 1 ? length : dice_between(d, 1, length - (n - 1 - i));
                char name[32];

                snprintf(name, sizeof name, "L%03zu", m->n_lots);
                mill_package(m, scrap && n > 1 && !dice_between(d, 0, 5) ? NULL : name, l);
                length -= l;
        }
}

struct mill *mill_random(struct dice *d, int32_t greatest_ppm, bool scrap)
{
        struct mill *m = mill_new();
        struct left left[MILL_LOTS] = {0};
        int64_t runs = dice_between(d, 1, 20), coils = dice_between(d, 1, 6), scale = dice_between(d, 0, 2) ? 40 : 4000;

        for (int64_t i = 0; i < coils; i++) {
                char name[32];

                snprintf(name, sizeof name, "C%03" PRId64, i);
                mill_receive(m, name, dice_between(d, scale, 20 * scale));
                left[i].to = m->lots[i].length;
        }
        for (int64_t i = 0; i < runs; i++) {
                size_t before = m->n_lots;
                int64_t lines = dice_between(d, 1, 3), length = dice_between(d, scale, 30 * scale);
                char name[32];

                snprintf(name, sizeof name, "R%" PRId64, i);
                mill_run(m, name, (int32_t)dice_between(d, 0, greatest_ppm));
                for (int64_t j = 0; j < lines; j++) {
                        mill_line(m, "x");
                        if (!random_line(m, d, left, before, length)) {
                                /* nothing is left to feed: a line without feeds is no line */
                                mill_drop_line(m);
                                break;
                        }
                }
                if (m->runs[m->n_runs - 1].run.n_lines == 0) {
                        m->n_runs--;
                        break;
                }
                random_packages(m, d, length, scrap);
                mill_close(m);
                for (size_t k = before; k < m->n_lots; k++)
                        left[k].to = m->lots[k].length;
        }
        return m;
}
