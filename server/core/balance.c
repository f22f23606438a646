/*
 * Mass along lengths, to the gram.
 */
#include "kinwire/balance.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <stdlib.h>

void kw_masses_free(struct kw_masses *m)
{
        free(m->at);
        *m = (struct kw_masses){0};
}

int kw_masses_add(struct kw_masses *m, int64_t from, int64_t to, int64_t g)
{
        if (!g)
                return 0;
        if (m->n == m->cap) {
                size_t cap = m->cap ? 2 * m->cap : 4;
                struct kw_mass *at = reallocarray(m->at, cap, sizeof(*at));

                if (!at)
                        return -ENOMEM;
                m->at = at;
                m->cap = cap;
        }
        m->at[m->n++] = (struct kw_mass){from, to, g};
        return 0;
}

int64_t kw_masses_total(const struct kw_masses *m)
{
        int64_t g = 0;

        for (size_t i = 0; i < m->n; i++)
                g += m->at[i].g;
        return g;
}

/* Grams up to @x. */
static int64_t up_to(const struct kw_mass *m, int64_t x)
{
        if (m->from == m->to)
                return x > m->from ? m->g : 0;
        if (x <= m->from)
                return 0;
        return x >= m->to ? m->g : kw_share(m->g, x - m->from, m->to - m->from);
}

int64_t kw_mass_part(const struct kw_mass *m, int64_t from, int64_t to)
{
        return from < to ? up_to(m, to) - up_to(m, from) : 0;
}

int64_t kw_masses_part(const struct kw_masses *m, int64_t from, int64_t to)
{
        int64_t g = 0;

        for (size_t i = 0; i < m->n; i++)
                g += kw_mass_part(&m->at[i], from, to);
        return g;
}

/* --- through a run -------------------------------------------------------------------------------- */

static int64_t place(const struct kw_run *run, const struct kw_line *line, int64_t v)
{
        int64_t s;

        if (line->n_points < 2 || !kw_map_known(line, v))
                return run->length_mm + 1;
        s = kw_map_nominal(line, v);
        return s > run->length_mm ? run->length_mm + 1 : s;
}

/*
 * [a, b] of the lot, which the feed took. Between known points the way from v to s is a straight line, at a known point
 * it bends, so the mass is cut there.
 */
static int place_piece(const struct kw_run *run, const struct kw_line *line, struct kw_mass on_v, struct kw_masses *out)
{
        int64_t from = on_v.from;
        int rc = 0;

        for (size_t i = 1; rc == 0 && i < line->n_points && from < on_v.to; i++) {
                int64_t to = line->points[i].v < on_v.to ? line->points[i].v : on_v.to;

                if (to <= from)
                        continue;
                rc = kw_masses_add(out, place(run, line, from), place(run, line, to), kw_mass_part(&on_v, from, to));
                from = to;
        }
        if (rc == 0 && from < on_v.to)
                rc = kw_masses_add(out, run->length_mm + 1, run->length_mm + 1, kw_mass_part(&on_v, from, on_v.to));
        return rc;
}

int kw_mass_feed(const struct kw_run *run, const struct kw_line *line, const struct kw_feed *feed,
                 const struct kw_masses *lot, struct kw_masses *out)
{
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < lot->n; i++) {
                const struct kw_mass *m = &lot->at[i];
                int64_t a = m->from > feed->from ? m->from : feed->from, b = m->to < feed->to ? m->to : feed->to;
                struct kw_mass on_v = {.g = kw_mass_part(m, feed->from, feed->to)};

                if (!on_v.g)
                        continue;
                if (m->from == m->to)
                        a = b = m->from;
                on_v.from = feed->v0 + (feed->off == KW_OFF_OUTER ? feed->to - b : a - feed->from);
                on_v.to = on_v.from + (b - a);
                if (on_v.from == on_v.to) {
                        int64_t s = place(run, line, on_v.from);

                        rc = kw_masses_add(out, s, s, on_v.g);
                } else {
                        rc = place_piece(run, line, on_v, out);
                }
        }
        return rc;
}

int kw_mass_package(const struct kw_run *run, size_t package, const struct kw_masses *on_s, struct kw_masses *out)
{
        const struct kw_package *p = &run->packages[package];
        const bool last = package + 1 == run->n_packages;
        int rc = 0;

        for (size_t i = 0; rc == 0 && i < on_s->n; i++) {
                const struct kw_mass *m = &on_s->at[i];
                int64_t from = m->from > p->s0 ? m->from : p->s0, to = m->to < p->s1 ? m->to : p->s1;

                if (m->from == m->to && last && m->from == p->s1)
                        rc = kw_masses_add(out, p->s1 - p->s0 - 1, p->s1 - p->s0, m->g);
                else
                        rc = kw_masses_add(out, from - p->s0, (m->from == m->to ? from : to) - p->s0,
                                           kw_mass_part(m, p->s0, p->s1));
        }
        return rc;
}

int64_t kw_masses_scale(struct kw_masses *m, int64_t into, int64_t of)
{
        int64_t before = 0, after = 0;

        for (size_t i = 0; of > 0 && i < m->n; i++) {
                int64_t sum;

                before += m->at[i].g;
                sum = kw_share(into, before, of);
                m->at[i].g = sum - after;
                after = sum;
        }
        return before - after;
}
