#ifndef KW_CLI_NOTIFY_H
#define KW_CLI_NOTIFY_H
/*
 * Telling the service manager how it stands, by the socket that it names in the environment (sd_notify(3) says which
 * lines it understands). Without one nothing is told.
 */
#include <stdint.h>

struct kw_notify {
        int fd;              /* -1: nobody to tell */
        int64_t every, last; /* ms between signs of life, 0: none are wanted; when the last was given */
};

/** kw_notify_open - before the sandbox is entered; the environment's variables are taken out of it. */
void kw_notify_open(struct kw_notify *notify);
void kw_notify_close(struct kw_notify *notify);
/** kw_notify_say - "READY=1", "STOPPING=1", "RELOADING=1\n..." */
void kw_notify_say(const struct kw_notify *notify, const char *state);
/** kw_notify_alive - a sign of life, when one is due. */
void kw_notify_alive(struct kw_notify *notify);

#endif
