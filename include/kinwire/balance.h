#ifndef KINWIRE_BALANCE_H
#define KINWIRE_BALANCE_H
/*
 * Mass along lengths: what of a mass lies in a part of a lot, and where the mass that goes into a run comes out of it,
 * in whole grams of which none is lost on the way.
 *
 * A mass m on a length L is spread evenly: up to x lies g(x) = m x / L, to the nearest gram, and in [a, b] lies
 * g(b) - g(a). So the parts of a lot, however it was cut, have its mass together, to the gram; the same holds for a
 * line's feeds on a run's output and for the packages that the output is cut into.
 *
 *      lot     |====== m1 ======|..|== m2 ==|       masses on a lot (a heat's share of it, say)
 *      line                v  ->  s by proportion between known points (runmap.h), as the joints are placed
 *      output  |-- A --|---- B ----|x|- C -|        handed over to packages; x: scrap
 */
#include "kinwire/runmap.h"

/** @g grams spread evenly over [from, to]; from == to: all of it in one place. */
struct kw_mass {
        int64_t from, to, g;
};
/** A growing list. All zero is a valid empty list; free with kw_masses_free(). */
struct kw_masses {
        struct kw_mass *at;
        size_t n, cap;
};
void kw_masses_free(struct kw_masses *m);
/** kw_masses_add - nothing for no grams. Return: 0; -ENOMEM with @m unchanged. */
int kw_masses_add(struct kw_masses *m, int64_t from, int64_t to, int64_t g);
int64_t kw_masses_total(const struct kw_masses *m);

/** kw_mass_part - grams of @m in [from, to]; of a mass in one place all when from <= place < to. */
int64_t kw_mass_part(const struct kw_mass *m, int64_t from, int64_t to);
/** kw_masses_part - of all of them. */
int64_t kw_masses_part(const struct kw_masses *m, int64_t from, int64_t to);

/**
 * kw_mass_feed - place what a feed took on the run's output
 * @run, @line, @feed: which feed of which line
 * @lot: masses on the feed's lot
 * @out: receives the masses on s, appended; what has no place yet (a run under way) is beyond S
 *
 * Return: 0; -ENOMEM.
 */
int kw_mass_feed(const struct kw_run *run, const struct kw_line *line, const struct kw_feed *feed,
                 const struct kw_masses *lot, struct kw_masses *out);

/**
 * kw_mass_package - what of the masses on a run's output lies on a package, in the package's own coordinate
 * @package: number; what lies on its end belongs to the one after it, at the end of the last to that
 * Return: 0; -ENOMEM.
 */
int kw_mass_package(const struct kw_run *run, size_t package, const struct kw_masses *on_s, struct kw_masses *out);

/**
 * kw_masses_scale - make @m, of which there are @of grams in all, a share of @into grams:
 * the running sum c of the list becomes into x c / of, to the nearest gram
 * Nothing changes when @of is 0. Return: grams lost by it (negative: gained).
 */
int64_t kw_masses_scale(struct kw_masses *m, int64_t into, int64_t of);

#endif
