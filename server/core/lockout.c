/*
 * Wrong tries, as arithmetic.
 */
#include "kinwire/lockout.h"

#define MINUTE 60
#define HOUR   (60 * MINUTE)

const struct kw_try_rule kw_pin_rule = {.most = 5, .window = HOUR, .lock = 5 * MINUTE, .lock_max = HOUR};
const struct kw_try_rule kw_terminal_rule = {.most = 20, .window = HOUR};
const struct kw_try_rule kw_account_rule = {.most = 100, .window = HOUR};

int64_t kw_tries_locked(const struct kw_tries *t, int64_t now)
{
        return t->until > now ? t->until - now : 0;
}

static int64_t doubled(const struct kw_try_rule *rule, int times)
{
        int64_t lock = rule->lock;

        while (times-- > 0 && lock < rule->lock_max)
                lock *= 2;
        return lock < rule->lock_max ? lock : rule->lock_max;
}

int64_t kw_tries_wrong(struct kw_tries *t, const struct kw_try_rule *rule, int64_t now)
{
        if (!t->wrong || now - t->since >= rule->window) {
                t->since = now;
                t->wrong = 0;
        }
        if (++t->wrong < rule->most)
                return 0;
        t->until = rule->lock ? now + doubled(rule, t->locks) : t->since + rule->window;
        t->locks++;
        t->wrong = 0;
        return t->until - now;
}

/* A right password says nothing about who tried the hundred wrong ones. */
void kw_tries_right(struct kw_tries *t, const struct kw_try_rule *rule)
{
        if (rule->lock)
                *t = (struct kw_tries){0};
}
