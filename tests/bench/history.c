/*
 * The invented mill, from rods to bobbins, and the whole.
 */
#include "history_tools.h"

#include <errno.h>
#include <stdio.h>

#define COILS  40 /* of a heat */
#define ROD_MM 10700000.0

/* --- rods to bobbins ------------------------------------------------------------------------------ */

static void receive_rods(struct history *h)
{
        for (uint32_t heat = 0; heat < h->heats; heat++) {
                double when = heat * 365.0 / 250;
                uint32_t grade = below(h, GRADES);

                for (int i = 0; i < COILS; i++) {
                        uint32_t lot =
                                make_lot(h, ROD, grade, ROD_MM * between(h, .95, 1.05), when + .01 + between(h, 0, 8));
                        h->lots[lot].heat = heat;
                        h->lots[lot].diameter_um = 5500;
                }
        }
}

static void clean_rods(struct history *h)
{
        struct turns t = line_up(h, 0, h->n_lots, ROD, -1, 5);

        for (size_t i = 0, n; i < t.n; i += n) {
                n = at_most(8 + below(h, 5), t.n - i);
                double start = all_there(h, &t.at[i], n) + between(h, .05, .3);

                start_run(h, CLEAN, below(h, 3), start, start + .1);
                for (size_t k = 0; k < n; k++) {
                        take(h, t.at[i + k].lot, 0, 0, 0);
                        h->lots[t.at[i + k].lot].there = start + .1;
                }
        }
        free(t.at);
}

/*
 * Coils end to end, drawn to @size (0: as they are); three joints of four are seen at the counter, which is right to
 * one in a thousand.
 */
static double feed_whole(struct history *h, const struct turn *at, size_t n, uint32_t size, bool every)
{
        double s = 0;

        for (size_t i = 0; i < n; i++) {
                const struct lot *lot = &h->lots[at[i].lot];
                double elongation = size ? (double)lot->diameter_um * lot->diameter_um / size / size : 1;
                bool seen = every || below(h, 4) > 0;
                double reading = every ? s : s + lot->length_mm * elongation * between(h, -.001, .001);

                take(h, at[i].lot, 0, lot->length_mm, i > 0 && seen ? reading : 0);
                s += floor(lot->length_mm * elongation);
        }
        return s;
}

static void draw_coils(struct history *h, size_t from, size_t to, uint32_t grade)
{
        static const uint32_t sizes[] = {2800, 2850, 2900, 2950, 3000};
        struct turns t = line_up(h, from, to, ROD, (int)grade, 3);

        for (size_t i = 0, n; i < t.n; i += n) {
                n = at_most(5 + below(h, 6), t.n - i);
                double start = all_there(h, &t.at[i], n) + between(h, .1, 1), took = .06 * (double)n, from_mm = 0;
                uint32_t size = sizes[below(h, 5)];

                start_run(h, DRAW_COIL, below(h, 8), start, start + took);
                double s = feed_whole(h, &t.at[i], n, size, false);
                for (size_t k = 0; k < n; k++) {
                        double part_of = (double)(k + 1) / (double)n;
                        double to_mm = k + 1 == n ? s : floor(s * part_of + s / (double)n * between(h, -.15, .15));

                        put_out(h, COIL, grade, to_mm - from_mm, start + took * part_of, size);
                        from_mm = to_mm;
                }
        }
        free(t.at);
}

static void patent_coils(struct history *h, size_t from, size_t to)
{
        struct turns t = line_up(h, from, to, COIL, -1, 4);
        double idle[4] = {0};
        uint32_t furnace = 0;

        for (size_t i = 0, n; i < t.n; i += n, furnace = (furnace + 1) % 4) {
                n = at_most(20, t.n - i);
                double start = fmax(all_there(h, &t.at[i], n) + between(h, .1, .5), idle[furnace]);

                idle[furnace] = start + .3;
                start_run(h, PATENT, furnace, start, start + .3);
                feed_whole(h, &t.at[i], n, 0, true);
                for (size_t k = 0; k < n; k++) {
                        const struct lot coil = h->lots[t.at[i + k].lot];

                        put_out(h, PATENTED, coil.type, coil.length_mm, start + .3, coil.diameter_um);
                }
        }
        free(t.at);
}

static void draw_wire(struct history *h, size_t from, size_t to, uint32_t grade)
{
        static const uint32_t sizes[] = {1650, 1700, 1730, 1760};
        struct turns t = line_up(h, from, to, PATENTED, (int)grade, 4);

        for (size_t i = 0, n; i < t.n; i += n) {
                n = at_most(3 + below(h, 3), t.n - i);
                double start = all_there(h, &t.at[i], n) + between(h, .2, 2), took = .4 * (double)n, from_mm = 0;
                double bobbin = between(h, 3.3e6, 7.7e6);
                uint32_t wire = below(h, 4), size = sizes[wire];

                start_run(h, DRAW_WIRE, below(h, 30), start, start + took);
                double s = feed_whole(h, &t.at[i], n, size, false);
                while (from_mm < s) {
                        double to_mm = floor(from_mm + bobbin * between(h, .92, 1.03));

                        if (s - to_mm < 2900000)
                                to_mm = s;
                        if (to_mm - from_mm > 8000000)
                                to_mm = floor(from_mm + (to_mm - from_mm) / 2);
                        put_out(h, BOBBIN, grade * 4 + wire, to_mm - from_mm, start + took * to_mm / s + .01, size);
                        from_mm = to_mm;
                }
        }
        free(t.at);
}

int history_make(struct history *h, double years, uint64_t seed)
{
        *h = (struct history){.heats = (uint32_t)(250 * years), .days = 365 * years, .random = seed};
        if (!h->heats)
                return -EINVAL;

        receive_rods(h);
        clean_rods(h);
        size_t from = h->n_lots;
        for (uint32_t grade = 0; grade < GRADES; grade++)
                draw_coils(h, 0, from, grade);
        size_t to = h->n_lots;
        patent_coils(h, from, to);
        from = to;
        to = h->n_lots;
        for (uint32_t grade = 0; grade < GRADES; grade++)
                draw_wire(h, from, to, grade);
        from = to;
        to = h->n_lots;
        history_strands(h, from, to);
        from = to;
        to = h->n_lots;
        history_ropes(h, from, to);
        from = to;
        to = h->n_lots;
        history_reels(h, from, to);
        history_consignments(h, to, h->n_lots);
        return 0;
}

void history_free(struct history *h)
{
        free(h->lots);
        free(h->runs);
        free(h->feeds);
        *h = (struct history){0};
}

void history_lot_code(const struct history *h, size_t lot, char code[16])
{
        static const char letters[] = "RFCPBSWE";

        snprintf(code, 16, "%c%08zu", letters[h->lots[lot].kind], lot + 1);
}

void history_heat_code(uint32_t heat, char code[16])
{
        snprintf(code, 16, "H%05u", heat + 1);
}

void history_print(const struct history *h, const struct history_figures *figures)
{
        static const char *const kinds[] = {"rods",    "fibre cores", "coils", "patented coils",
                                            "bobbins", "strands",     "ropes", "reels"};
        static const char *const processes[] = {"cleaning batches", "drawing, first", "patenting", "drawing, second",
                                                "stranding",        "closing",        "cutting",   "consignments"};
        size_t lots[LOT_KINDS] = {0}, runs[PROCESSES] = {0}, feeds[PROCESSES] = {0};

        for (size_t i = 0; i < h->n_lots; i++)
                lots[h->lots[i].kind]++;
        for (size_t i = 0; i < h->n_runs; i++) {
                runs[h->runs[i].process]++;
                feeds[h->runs[i].process] += h->runs[i].feeds;
        }
        printf("days\t%.0f\nheats\t%u\nlots\t%zu\n", h->days, h->heats, h->n_lots);
        for (int i = 0; i < LOT_KINDS; i++)
                printf("  %s\t%zu\n", kinds[i], lots[i]);
        for (int i = 0; i < PROCESSES; i++)
                printf("%s\t%zu, taking %zu\n", processes[i], runs[i], feeds[i]);
        if (figures)
                printf("entries\t%zu, %.1f MB, %.0f a second\n", figures->entries, (double)figures->bytes / 1e6,
                       (double)figures->entries / figures->seconds);
}
