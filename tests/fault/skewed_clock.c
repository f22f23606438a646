/*
 * A clock that is set by hand: put before the C library, the time of day is off by so many seconds as stand in the file
 * that KW_CLOCK names. The clock that only counts on is left alone.
 */
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static long long offset(void)
{
        const char *file = getenv("KW_CLOCK");
        char text[32] = "";
        int fd = file ? open(file, O_RDONLY | O_CLOEXEC) : -1;

        if (fd < 0)
                return 0;
        if (read(fd, text, sizeof text - 1) < 0)
                text[0] = '\0';
        close(fd);
        return atoll(text);
}

int clock_gettime(clockid_t clock, struct timespec *out)
{
        union {
                void *found;
                int (*call)(clockid_t, struct timespec *);
        } next = {dlsym(RTLD_NEXT, "clock_gettime")};
        int rc = next.call(clock, out);

        if (rc == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
                out->tv_sec += (time_t)offset();
        return rc;
}

time_t time(time_t *out)
{
        struct timespec now;

        clock_gettime(CLOCK_REALTIME, &now);
        if (out)
                *out = now.tv_sec;
        return now.tv_sec;
}

int gettimeofday(struct timeval *restrict out, void *restrict zone)
{
        struct timespec now;

        (void)zone;
        clock_gettime(CLOCK_REALTIME, &now);
        out->tv_sec = now.tv_sec;
        out->tv_usec = now.tv_nsec / 1000;
        return 0;
}
