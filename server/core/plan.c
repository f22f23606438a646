/*
 * A run, planned: its feeds laid on their lines in the order in which they pay off, its packages on the output, and
 * whether the figures are odd.
 *
 *      lot    0 ........ from ######## to ..... L      paid off from the outer end: v0 is at to
 *      line   0 ------ v0 ######## ------------ V
 */
#include "kinwire/plan.h"

#include "kinwire/metal.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

__extension__ typedef __int128 wide;

void kw_plan_free(struct kw_plan *plan)
{
        free(plan->feeds);
        free(plan->line_mm);
        memset(plan, 0, sizeof(*plan));
}

static int add_planned(struct kw_plan *plan, const struct kw_planned *feed)
{
        if (plan->n == plan->cap) {
                size_t cap = plan->cap ? 2 * plan->cap : 16;
                struct kw_planned *feeds = realloc(plan->feeds, cap * sizeof(*feeds));

                if (!feeds)
                        return -ENOMEM;
                plan->feeds = feeds;
                plan->cap = cap;
        }
        plan->feeds[plan->n++] = *feed;
        return 0;
}

static int plan_feed(const struct kw_run_draft *draft, size_t line, size_t feed, struct kw_plan *plan,
                     struct kw_error *err)
{
        const struct kw_feed_draft *f = &draft->lines[line].feeds[feed];
        struct kw_spans pieces = {0};
        char pointer[64];
        int rc = kw_stock_take(f->stock, &f->take, draft->name, &pieces, err);

        if (rc > 0) {
                snprintf(pointer, sizeof(pointer), "/lines/%zu/feeds/%zu%s", line, feed,
                         f->take.how == KW_TAKE_SPAN     ? "/from_mm"
                         : f->take.how == KW_TAKE_LENGTH ? "/take_mm"
                                                         : "/lot");
                kw_error_at(err, pointer);
        }
        for (size_t i = 0; rc == 0 && i < pieces.n; i++) {
                struct kw_planned planned = {line,
                                             feed,
                                             i,
                                             f->lot,
                                             pieces.at[i].from,
                                             pieces.at[i].to,
                                             plan->line_mm[line],
                                             f->take.off,
                                             i == 0 ? f->seen_mm : 0};

                plan->line_mm[line] += planned.to - planned.from;
                rc = add_planned(plan, &planned);
        }
        kw_spans_free(&pieces);
        return rc;
}

/* Known points must increase in both coordinates, from (0, 0) to (V, S). v does, since feeds have length. */
static int check_seen(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_error *err)
{
        size_t line = SIZE_MAX;
        int64_t last = 0;

        for (size_t i = 0; i < plan->n; i++) {
                const struct kw_planned *f = &plan->feeds[i];
                char pointer[64];

                if (f->line != line)
                        last = 0;
                line = f->line;
                if (!f->seen_mm)
                        continue;
                snprintf(pointer, sizeof(pointer), "/lines/%zu/feeds/%zu/seen_at_mm", f->line, f->feed);
                if (!draft->under_way && f->seen_mm >= plan->length_mm)
                        return kw_refuse_with(
                                err, KW_BAD_ORDER, pointer, "beyond-end",
                                KW_VALUES(KW_FIGURE("seen_mm", f->seen_mm), KW_FIGURE("made_mm", plan->length_mm)),
                                "the join was seen at %" PRId64 " mm, but the run is only %" PRId64 " mm long",
                                f->seen_mm, plan->length_mm);
                if (f->seen_mm <= last)
                        return kw_refuse_with(err, KW_BAD_ORDER, pointer, "join",
                                              KW_VALUES(KW_FIGURE("seen_mm", f->seen_mm), KW_FIGURE("before_mm", last)),
                                              "the join was seen at %" PRId64
                                              " mm, not after the one before it at %" PRId64 " mm",
                                              f->seen_mm, last);
                last = f->seen_mm;
        }
        return 0;
}

/* Mass in, and the one diameter of the wire where there is one line and one diameter. */
static void sum_inputs(const struct kw_run_draft *draft, struct kw_plan *plan)
{
        plan->in_g = 0;
        plan->wire_um = draft->n_lines == 1 && plan->n ? draft->lines[0].feeds[0].diameter_um : 0;
        for (size_t i = 0; i < plan->n; i++) {
                const struct kw_planned *p = &plan->feeds[i];
                const struct kw_feed_draft *f = &draft->lines[p->line].feeds[p->feed];

                if (f->mass_g < 0)
                        plan->in_g = -1;
                else if (plan->in_g >= 0)
                        plan->in_g += kw_share(f->mass_g, p->to - p->from, f->stock->length_mm);
                if (f->diameter_um != plan->wire_um)
                        plan->wire_um = 0;
        }
}

int kw_plan_run(const struct kw_run_draft *draft, struct kw_plan *plan, struct kw_error *err)
{
        int rc = 0;

        memset(plan, 0, sizeof(*plan));
        plan->line_mm = calloc(draft->n_lines, sizeof(*plan->line_mm));
        if (!plan->line_mm)
                return -ENOMEM;
        for (size_t i = 0; i < draft->n_packages; i++)
                plan->length_mm += draft->packages[i].length_mm;
        for (size_t line = 0; rc == 0 && line < draft->n_lines; line++)
                for (size_t feed = 0; rc == 0 && feed < draft->lines[line].n; feed++)
                        rc = plan_feed(draft, line, feed, plan, err);
        if (rc)
                return rc;
        sum_inputs(draft, plan);
        return check_seen(draft, plan, err);
}

int64_t kw_package_mass(const struct kw_plan *plan, int64_t length_mm)
{
        return plan->in_g < 0 || !plan->length_mm ? -1 : kw_share(plan->in_g, length_mm, plan->length_mm);
}

/* --- odd figures ------------------------------------------------------------------------------ */

static double metres(int64_t mm)
{
        return (double)mm / 1000.0;
}

/* How far @is lies from @should be. */
static int64_t off_ppm(int64_t is, int64_t should)
{
        return (int64_t)((wide)(is - should) * KW_PPM / should);
}

/* Scrap is of the diameter of the packages beside it. 0: some package has none. */
static wide volume_out(const struct kw_run_draft *draft, int64_t *diameter_um)
{
        wide volume = 0;
        int64_t scrap_mm = 0;

        *diameter_um = 0;
        for (size_t i = 0; i < draft->n_packages; i++) {
                const struct kw_package_draft *p = &draft->packages[i];

                if (p->scrap) {
                        scrap_mm += p->length_mm;
                        continue;
                }
                if (!p->diameter_um)
                        return 0;
                *diameter_um = p->diameter_um;
                volume += (wide)p->length_mm * p->diameter_um * p->diameter_um;
        }
        return volume + (wide)scrap_mm * *diameter_um * *diameter_um;
}

static wide volume_in(const struct kw_run_draft *draft, const struct kw_plan *plan)
{
        wide volume = 0;

        for (size_t i = 0; i < plan->n; i++) {
                const struct kw_planned *p = &plan->feeds[i];
                int64_t d = draft->lines[p->line].feeds[p->feed].diameter_um;

                if (!d)
                        return 0;
                volume += (wide)(p->to - p->from) * d * d;
        }
        return volume;
}

static bool odd_area(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *odd)
{
        int64_t d_out, implied;
        wide out = volume_out(draft, &d_out), in = volume_in(draft, plan);

        if (draft->n_lines != 1 || !out || !in || !d_out)
                return false;
        /* the length that this much metal has at the mean section of the packages */
        implied = (int64_t)(in * plan->length_mm / out);
        if (!kw_beyond(plan->length_mm, implied, draft->tolerance_ppm))
                return false;
        snprintf(odd->text, sizeof(odd->text),
                 "%.1f m went in; by its diameter it gives %.1f m at %.3f mm, but %.1f m is recorded (%+.2f %%, "
                 "tolerance %.2f %%)",
                 metres(plan->line_mm[0]), metres(implied), (double)d_out / 1000.0, metres(plan->length_mm),
                 100.0 * (double)(plan->length_mm - implied) / (double)implied, (double)draft->tolerance_ppm / 10000.0);
        kw_said_set(&odd->said, "area",
                    KW_VALUES(KW_FIGURE("in_mm", plan->line_mm[0]), KW_FIGURE("implied_mm", implied),
                              KW_FIGURE("diameter_um", d_out), KW_FIGURE("made_mm", plan->length_mm),
                              KW_FIGURE("off_ppm", implied ? off_ppm(plan->length_mm, implied) : 0),
                              KW_FIGURE("tolerance_ppm", draft->tolerance_ppm)));
        return true;
}

static bool odd_same(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *odd)
{
        if (draft->n_lines != 1 || !kw_beyond(plan->length_mm, plan->line_mm[0], draft->tolerance_ppm))
                return false;
        snprintf(odd->text, sizeof(odd->text),
                 "%.1f m went in and %.1f m is recorded as having come out (%+.2f %%, tolerance %.2f %%)",
                 metres(plan->line_mm[0]), metres(plan->length_mm),
                 100.0 * (double)(plan->length_mm - plan->line_mm[0]) / (double)plan->line_mm[0],
                 (double)draft->tolerance_ppm / 10000.0);
        kw_said_set(&odd->said, "same",
                    KW_VALUES(KW_FIGURE("in_mm", plan->line_mm[0]), KW_FIGURE("made_mm", plan->length_mm),
                              KW_FIGURE("off_ppm", off_ppm(plan->length_mm, plan->line_mm[0])),
                              KW_FIGURE("tolerance_ppm", draft->tolerance_ppm)));
        return true;
}

static bool odd_lay(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *odd)
{
        for (size_t i = 0; i < draft->n_lines; i++) {
                int64_t in = plan->line_mm[i], out = plan->length_mm;
                bool less = in < out && kw_beyond(in, out, draft->tolerance_ppm);
                bool more = in > out && kw_beyond(in, out, KW_LAY_MOST_PPM);

                if (!less && !more)
                        continue;
                snprintf(odd->text, sizeof(odd->text), "line %zu took %.1f m for %.1f m of output: %s", i + 1,
                         metres(in), metres(out),
                         less ? "what is twisted is never shorter than what it is twisted into"
                              : "that is more than any usual lay takes up");
                kw_said_set(&odd->said, less ? "less" : "lay",
                            KW_VALUES(KW_FIGURE("line", (int64_t)i + 1), KW_FIGURE("in_mm", in),
                                      KW_FIGURE("made_mm", out)));
                return true;
        }
        return false;
}

bool kw_plan_odd_length(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *odd)
{
        switch (draft->process->ratio) {
        case KW_RATIO_AREA:
                return odd_area(draft, plan, odd);
        case KW_RATIO_SAME:
                return odd_same(draft, plan, odd);
        case KW_RATIO_LAY:
                return odd_lay(draft, plan, odd);
        }
        return false;
}

bool kw_plan_odd_mass(const struct kw_run_draft *draft, const struct kw_plan *plan, struct kw_odd *odd)
{
        int64_t out = 0;

        if (plan->in_g <= 0)
                return false;
        for (size_t i = 0; i < draft->n_packages; i++) {
                const struct kw_package_draft *p = &draft->packages[i];

                if (!p->scrap && p->mass_g < 0)
                        return false;
                out += p->scrap ? kw_package_mass(plan, p->length_mm) : p->mass_g;
        }
        if (!kw_beyond(out, plan->in_g, draft->tolerance_ppm))
                return false;
        snprintf(odd->text, sizeof(odd->text),
                 "%.1f kg went in and %.1f kg came out, scrap by its length (%+.2f %%, tolerance %.2f %%)",
                 (double)plan->in_g / 1000.0, (double)out / 1000.0,
                 100.0 * (double)(out - plan->in_g) / (double)plan->in_g, (double)draft->tolerance_ppm / 10000.0);
        kw_said_set(&odd->said, NULL,
                    KW_VALUES(KW_FIGURE("in_g", plan->in_g), KW_FIGURE("out_g", out),
                              KW_FIGURE("off_ppm", off_ppm(out, plan->in_g)),
                              KW_FIGURE("tolerance_ppm", draft->tolerance_ppm)));
        return true;
}
