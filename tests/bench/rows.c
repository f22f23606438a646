/*
 * What the programs that measure share: the clock, the median, and the table's rows.
 */
#include "bench.h"

#include <stdlib.h>
#include <time.h>

double bench_now(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

_Noreturn void bench_fail(const char *what, const char *why)
{
        fprintf(stderr, "kinwire-bench: %s: %s\n", what, why);
        exit(1);
}

static int by_value(const void *a, const void *b)
{
        double x = *(const double *)a, y = *(const double *)b;

        return (x > y) - (x < y);
}

double bench_median(double *at, size_t n)
{
        if (!n)
                return 0;
        qsort(at, n, sizeof(*at), by_value);
        return n % 2 ? at[n / 2] : (at[n / 2 - 1] + at[n / 2]) / 2;
}

/* --- rows --------------------------------------------------------------------------------------------- */

static void put_number(double value)
{
        printf("\t%.*f", value >= 1000 ? 0 : value >= 10 ? 1 : 3, value);
}

static void put_target(double value, enum target which, double target)
{
        if (which == NO_TARGET)
                printf("\t-\t-\n");
        else
                printf("\t%s %g\t%s\n", which == AT_MOST ? "at most" : "at least", target,
                       (which == AT_MOST ? value <= target : value >= target) ? "met" : "missed");
        fflush(stdout);
}

void bench_row(const char *name, const char *unit, double mine, double peer, double ratio, enum target which,
               double target)
{
        printf("%s, %s", name, unit);
        put_number(mine);
        put_number(peer);
        put_number(ratio);
        put_target(ratio, which, target);
}

void bench_figure(const char *name, const char *unit, double mine, enum target which, double target)
{
        printf("%s, %s", name, unit);
        put_number(mine);
        printf("\t-\t-");
        put_target(mine, which, target);
}

void bench_not_run(const char *name, const char *why)
{
        printf("%s\t-\t-\t-\t-\tnot run: %s\n", name, why);
        fflush(stdout);
}
