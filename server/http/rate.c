/*
 * Buckets of tokens, each kept as the moment at which it is full again: a token takes its share of time from it, and
 * there is none left when a whole bucket's time would be exceeded.
 */
#include "limit.h"

#include <string.h>

void kw_rate_init(struct kw_rate *rate, int64_t per_minute, int64_t burst)
{
        pthread_mutex_init(&rate->lock, NULL);
        rate->each = per_minute > 0 ? 60000000 / per_minute : 0;
        rate->depth = rate->each * burst;
        randombytes_buf(rate->secret, sizeof rate->secret);
}

void kw_rate_end(struct kw_rate *rate)
{
        pthread_mutex_destroy(&rate->lock);
}

/* Who comes cannot choose whose place is taken: the hash is keyed. 0 is an empty place's. */
static uint64_t hash_of(const struct kw_rate *rate, const void *who, size_t n)
{
        unsigned char out[crypto_shorthash_BYTES];
        uint64_t hash;

        crypto_shorthash(out, who, n, rate->secret);
        memcpy(&hash, out, sizeof hash);
        return hash ? hash : 1;
}

/* The caller's place; a newcomer gets the one whose bucket is full longest, and begins with what is missing in none. */
static int64_t *find(struct kw_rate *rate, uint64_t who, int64_t now)
{
        size_t set = (size_t)(who % KW_RATE_SETS), oldest = 0;

        for (size_t i = 0; i < KW_RATE_WAYS; i++) {
                if (rate->place[set][i].who == who)
                        return &rate->place[set][i].full;
                if (rate->place[set][i].full < rate->place[set][oldest].full)
                        oldest = i;
        }
        rate->place[set][oldest].who = who;
        rate->place[set][oldest].full = now;
        return &rate->place[set][oldest].full;
}

int64_t kw_rate_take(struct kw_rate *rate, const void *who, size_t n, int64_t now_us)
{
        int64_t *full, wait, then;

        if (!rate->each)
                return 0;
        pthread_mutex_lock(&rate->lock);
        full = find(rate, hash_of(rate, who, n), now_us);
        then = (*full > now_us ? *full : now_us) + rate->each;
        wait = then - now_us - rate->depth;
        if (wait <= 0)
                *full = then;
        pthread_mutex_unlock(&rate->lock);
        return wait > 0 ? wait : 0;
}
