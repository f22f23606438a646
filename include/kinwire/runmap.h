#ifndef KINWIRE_RUNMAP_H
#define KINWIRE_RUNMAP_H
/*
 * The run map: where a length that goes into a run comes out of it, and how surely.
 *
 *   feeds      |----- f1 -----|-- f2 --|------ f3 ------|        v, 0 .. V on the line
 *   known      0              :        seen             V
 *   output     0------------------------S0--------------S        s, 0 .. S on the run
 *   packages   |--- lot A ---|x|----- lot B -----|- lot C -|     x: scrap
 *
 * v maps to s piecewise linearly through the known points (0,0), every join seen at a counter
 * reading, and (V,S). Between two neighbouring known points a and b (in s) the place is uncertain
 * by u(s) = tolerance x min(s - a, b - s) (design: "How sure a position is").
 *
 * Rounding: lengths are whole mm; possible outwards, certain inwards, each in one exact integer
 * division. All products are taken in 128 bits.
 */
#include "kinwire/error.h"
#include "kinwire/spans.h"

#define KW_LENGTH_MAX INT64_C(1000000000000) /* mm; a thousand times round the earth is a slip of the keys: 1e9 m */
#define KW_PPM INT64_C(1000000)

enum kw_off { KW_OFF_OUTER, KW_OFF_INNER };

/** A known point of a line: @v on the input, @s on the output, mm. */
struct kw_point {
        int64_t v, s;
};

/** A feed: [from, to] of a lot, paid off from one end, laid on the line from @v0 on. */
struct kw_feed {
        int64_t lot;
        int64_t from, to;
        int64_t v0;
        enum kw_off off;
};

/**
 * A line with its feeds in order of v, and its known points, both coordinates strictly increasing. Only while a run is under
 * way may the last join seen lie at or beyond S, as it has passed the counter and is not on a package yet.
 */
struct kw_line {
        const char *label;
        const struct kw_feed *feeds;
        size_t n_feeds;
        const struct kw_point *points; /* the first is (0,0), the last (V,S) */
        size_t n_points;
        /*
         * The run is under way: where the line's end will come out is not known yet. What lies beyond the last join that was
         * seen is certain nowhere and possible anywhere beyond that join. The last point is then only a bound.
         */
        bool open;
};

/** A package [s0, s1] of the output; @lot 0 is scrap. The lot's coordinate is s - s0. */
struct kw_package {
        int64_t lot;
        int64_t s0, s1;
};

struct kw_run {
        int64_t id;
        uint32_t depth;        /* 1 + the greatest depth of the runs that made its inputs */
        int32_t tolerance_ppm; /* 0 .. 999 999 */
        int64_t length_mm;     /* S */
        const struct kw_line *lines;
        size_t n_lines;
        const struct kw_package *packages; /* in order of s, without gaps from 0 to S */
        size_t n_packages;
};

enum kw_which { KW_CERTAIN, KW_POSSIBLE };

/**
 * kw_map_forward - where spans of a line's input come out
 * @line:  known points as above
 * @ppm:   the run's tolerance
 * @v:     spans on v, in order
 * @which: KW_CERTAIN shrinks each span by the place's uncertainty, KW_POSSIBLE widens it
 * @out:   receives spans on s, appended, in order among themselves
 *
 * A certain span that becomes empty vanishes; a point (from == to) gives a possible span, which may be
 * a point, and a certain one only where the place is exact.
 *
 * Return: 0; -ENOMEM with @out unchanged.
 */
int kw_map_forward(const struct kw_line *line, int32_t ppm, const struct kw_spans *v, enum kw_which which,
                   struct kw_spans *out);

/** kw_map_back - the mirror image: spans on s to spans on v; the move by u(s) first, then the division. */
int kw_map_back(const struct kw_line *line, int32_t ppm, const struct kw_spans *s, enum kw_which which,
                struct kw_spans *out);

/** kw_map_nominal - the nominal s of @v (0 .. V), to the nearest mm, halves upwards. */
int64_t kw_map_nominal(const struct kw_line *line, int64_t v);
/** kw_map_known - whether @v has a nominal place: not beyond the last join seen on a line of a run under way. */
bool kw_map_known(const struct kw_line *line, int64_t v);

/** kw_feed_to_line - spans of the feed's lot (in order), as far as the feed took them, on v; appended to @v. */
int kw_feed_to_line(const struct kw_feed *feed, const struct kw_spans *lot, struct kw_spans *v);
/** kw_line_to_feed - spans on v (in order), as far as they lie on the feed, in the lot's coordinate; appended, in order. */
int kw_line_to_feed(const struct kw_feed *feed, const struct kw_spans *v, struct kw_spans *lot);

#endif
