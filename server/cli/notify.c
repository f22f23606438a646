/*
 * Lines to the service manager: datagrams to a socket of the local kind, whose name begins with @ when it is abstract.
 */
#include "notify.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

static int64_t now_ms(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static int connect_to(const char *name)
{
        struct sockaddr_un to = {.sun_family = AF_UNIX};
        size_t n = strlen(name);
        int fd;

        if (n < 2 || n >= sizeof to.sun_path || !strchr("/@", *name))
                return -1;
        memcpy(to.sun_path, name, n);
        if (*name == '@')
                to.sun_path[0] = '\0';
        fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
        if (fd >= 0 &&
            connect(fd, (struct sockaddr *)&to, (socklen_t)(offsetof(struct sockaddr_un, sun_path) + n)) < 0) {
                close(fd);
                fd = -1;
        }
        return fd;
}

void kw_notify_open(struct kw_notify *notify)
{
        const char *name = getenv("NOTIFY_SOCKET"), *us = getenv("WATCHDOG_USEC"), *whose = getenv("WATCHDOG_PID");

        *notify = (struct kw_notify){.fd = name ? connect_to(name) : -1};
        if (us && (!whose || strtoll(whose, NULL, 10) == getpid()))
                notify->every = strtoll(us, NULL, 10) / 3000; /* a third of the time: two may be late */
        unsetenv("NOTIFY_SOCKET");
        unsetenv("WATCHDOG_USEC");
        unsetenv("WATCHDOG_PID");
}

void kw_notify_close(struct kw_notify *notify)
{
        if (notify->fd >= 0)
                close(notify->fd);
        notify->fd = -1;
}

void kw_notify_say(const struct kw_notify *notify, const char *state)
{
        if (notify->fd >= 0 && send(notify->fd, state, strlen(state), MSG_NOSIGNAL) < 0)
                return; /* there is nobody else to tell */
}

void kw_notify_alive(struct kw_notify *notify)
{
        int64_t now = now_ms();

        if (!notify->every || now - notify->last < notify->every)
                return;
        notify->last = now;
        kw_notify_say(notify, "WATCHDOG=1");
}
