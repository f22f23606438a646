#ifndef KW_HTTP_LIMITS_H
#define KW_HTTP_LIMITS_H
/*
 * How much is taken from whom.
 *
 * A rate is a bucket of tokens for each caller, kept as one moment (the time at which the bucket will be full again) in
 * a table of fixed size: whoever makes up callers by the thousand makes the table forget, but takes no memory.
 *
 *      set = hash(who) mod SETS   -> 4 places, of which the one that is full longest is given to a newcomer
 */
#include <pthread.h>
#include <sodium.h>
#include <stdbool.h>
#include <stdint.h>

#define KW_RATE_SETS 1024
#define KW_RATE_WAYS 4

struct kw_rate {
        pthread_mutex_t lock;
        int64_t each, depth; /* us for one token; us for a whole bucket. each 0: no limit */
        unsigned char secret[crypto_shorthash_KEYBYTES];
        struct {
                uint64_t who;
                int64_t full; /* us: when the bucket is full again */
        } place[KW_RATE_SETS][KW_RATE_WAYS];
};

/** kw_rate_init - @per_minute tokens a minute, @burst at once; 0: no limit. The memory is zero. */
void kw_rate_init(struct kw_rate *rate, int64_t per_minute, int64_t burst);
void kw_rate_end(struct kw_rate *rate);

/**
 * kw_rate_take - a token for @who, @n bytes, at @now_us on a clock that never goes back
 * Return: 0; there is none, the us until there is one.
 */
int64_t kw_rate_take(struct kw_rate *rate, const void *who, size_t n, int64_t now_us);

/** kw_one_line - @text with everything that could end a line or steer a terminal written as \xNN; cut to fit @size. */
void kw_one_line(char *out, size_t size, const char *text);

#endif
