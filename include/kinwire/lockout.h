#ifndef KINWIRE_LOCKOUT_H
#define KINWIRE_LOCKOUT_H
/*
 * Wrong tries: how many of them a badge, a terminal or an account stands before nothing is tried on it for a while.
 *
 *      tries in a window            after the last of them
 *      5 PINs of one person         5 minutes, then 10, 20, 40, 60, until a right one
 *      20 PINs at one terminal/h    until the hour is over
 *      100 of one account/h         until the hour is over
 *
 * (OWASP ASVS 4.0.3, 2.2.1, asks for at most 100 failed tries an hour on one account.) All on one clock in seconds that
 * doesn't go back. A try while it is locked is refused unseen, and doesn't count.
 */
#include <stdint.h>

struct kw_try_rule {
        int most;       /* wrong ones in a window */
        int64_t window; /* s */
        int64_t lock;   /* s of the first lock; 0: until the window is over */
        int64_t lock_max;
};

extern const struct kw_try_rule kw_pin_rule, kw_terminal_rule, kw_account_rule;

struct kw_tries {
        int64_t since; /* when the window began */
        int64_t until; /* locked before this */
        int wrong;     /* in the window */
        int locks;     /* one after another */
};

/** kw_tries_locked - seconds until the next try is looked at; 0: now. */
int64_t kw_tries_locked(const struct kw_tries *t, int64_t now);
/** kw_tries_wrong - one more. Return: seconds of the lock that it brought about, 0 for none. */
int64_t kw_tries_wrong(struct kw_tries *t, const struct kw_try_rule *rule, int64_t now);
/** kw_tries_right - forget what was wrong, where a right one makes good for it. */
void kw_tries_right(struct kw_tries *t, const struct kw_try_rule *rule);

#endif
