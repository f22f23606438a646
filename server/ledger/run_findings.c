/*
 * What is odd about a run, though it is taken: its lengths and masses against each other, and against its order.
 */
#include "run_work.h"

#include "kinwire/metal.h"
#include "read/read.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define DIAMETER_PPM                                                                                                 \
        10000 /* how far a package may be from its order's diameter where that states no tolerance: common practice, \
                 no source */

struct asked {
        char grade[201], machine[KW_CODE_MAX + 1];
        int64_t diameter_um, tolerance_um; /* 0, -1: not stated */
        bool one_heat;
};

static int read_order(struct run_work *r, const char *code, struct asked *a)
{
        struct kw_query q;
        int64_t id;
        int rc = kw_need(r->w, "order", code, "/body/order", &id);

        if (rc)
                return rc;
        rc = kw_ask(r->w->l, &q,
                    "SELECT ifnull(grade, ''), ifnull(machine, ''), ifnull(diameter_um, 0), ifnull(tolerance_um, -1), "
                    "one_heat"
                    " FROM work_order WHERE id = ?1",
                    "i", id);
        if (rc == 0)
                rc = kw_next(r->w->l, &q);
        if (rc == 1) {
                snprintf(a->grade, sizeof(a->grade), "%s", kw_text(&q, 0));
                snprintf(a->machine, sizeof(a->machine), "%s", kw_text(&q, 1));
                a->diameter_um = kw_int(&q, 2);
                a->tolerance_um = kw_int(&q, 3);
                a->one_heat = kw_int(&q, 4) != 0;
        }
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

static int check_grade(struct run_work *r, const struct asked *a, const char *order)
{
        struct source *s, *tmp;
        int rc = 0;

        if (!a->grade[0])
                return 0;
        HASH_ITER(hh, r->sources, s, tmp)
        {
                if (rc || !s->grade[0] || strcmp(s->grade, a->grade) == 0)
                        continue;
                return kw_finding_with(r->w, "wrong-grade", NULL,
                                       KW_VALUES(KW_WORD("lot", s->lot.code), KW_WORD("grade", s->grade),
                                                 KW_WORD("order", order), KW_WORD("asked", a->grade)),
                                       "%s is of grade %.60s; order %s asks for %.60s", s->lot.code, s->grade, order,
                                       a->grade);
        }
        return rc;
}

static int check_diameter(struct run_work *r, const struct asked *a, const char *order)
{
        int64_t most = a->tolerance_um >= 0 ? a->tolerance_um : kw_share(a->diameter_um, DIAMETER_PPM, KW_PPM);

        for (size_t i = 0; a->diameter_um && i < r->draft.n_packages; i++) {
                int64_t d = r->packages[i].diameter_um;

                if (!d || (d - a->diameter_um <= most && a->diameter_um - d <= most))
                        continue;
                return kw_finding_with(r->w, "wrong-diameter", NULL,
                                       KW_VALUES(KW_FIGURE("package", (int64_t)i + 1), KW_FIGURE("made_um", d),
                                                 KW_WORD("order", order), KW_FIGURE("asked_um", a->diameter_um),
                                                 KW_FIGURE("most_um", most)),
                                       "package %zu is %.3f mm; order %s asks for %.3f mm, %.3f mm more or less", i + 1,
                                       (double)d / 1000.0, order, (double)a->diameter_um / 1000.0,
                                       (double)most / 1000.0);
        }
        return 0;
}

/* The heats in the very lengths that were taken. */
static int count_heats(struct run_work *r, size_t *heats)
{
        struct kw_hits *hits = kw_hits_new();
        struct kw_reader *reader = NULL;
        const char *const *codes;
        struct source *s, *tmp;
        int rc = hits ? kw_reader_new(r->w->l, &reader) : -ENOMEM;

        HASH_ITER(hh, r->sources, s, tmp)
        {
                for (size_t i = 0; rc == 0 && i < s->taken.n; i++)
                        rc = kw_hits_add(hits, s->id, s->taken.at[i].from, s->taken.at[i].to, KW_CERTAIN);
        }
        if (rc == 0)
                rc = kw_read_heats_of(reader, hits, &codes, heats);
        kw_reader_free(reader);
        kw_hits_free(hits);
        return rc;
}

static int check_heats(struct run_work *r, const struct asked *a, const char *order)
{
        size_t heats = 0;
        int rc = a->one_heat ? count_heats(r, &heats) : 0;

        if (rc || heats < 2)
                return rc;
        return kw_finding_with(r->w, "heats-mixed", NULL,
                               KW_VALUES(KW_FIGURE("heats", (int64_t)heats), KW_WORD("order", order)),
                               "%zu heats are in it; order %s allows one", heats, order);
}

static int check_machine(struct run_work *r, const struct asked *a, const char *order)
{
        const char *machine = kw_json_text(r->w->body, "machine");

        if (!a->machine[0] || strcmp(a->machine, machine) == 0)
                return 0;
        return kw_finding_with(
                r->w, "wrong-machine", NULL,
                KW_VALUES(KW_WORD("machine", machine), KW_WORD("order", order), KW_WORD("asked", a->machine)),
                "it is on %s; order %s is for %s", machine, order, a->machine);
}

static int check_order(struct run_work *r)
{
        const char *order = kw_json_text(r->w->body, "order");
        struct asked a;
        int rc;

        if (!order)
                return 0;
        rc = read_order(r, order, &a);
        if (rc == 0)
                rc = check_grade(r, &a, order);
        if (rc == 0)
                rc = check_diameter(r, &a, order);
        if (rc == 0)
                rc = check_heats(r, &a, order);
        return rc ? rc : check_machine(r, &a, order);
}

int kw_run_findings(struct run_work *r)
{
        struct kw_odd odd;
        int rc = check_order(r);

        if (rc || r->under_way)
                return rc;
        if (kw_plan_odd_length(&r->draft, &r->plan, &odd))
                rc = kw_finding_odd(r->w, "length-ratio", &odd);
        if (rc == 0 && kw_plan_odd_mass(&r->draft, &r->plan, &odd))
                rc = kw_finding_odd(r->w, "mass-balance", &odd);
        return rc;
}
