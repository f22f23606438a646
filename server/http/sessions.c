/*
 * The table of sessions. It is small enough to be looked through, each secret's hash compared in constant time.
 */
#include "kinwire/sessions.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

struct kw_sessions *kw_sessions_new(void)
{
        struct kw_sessions *s = calloc(1, sizeof *s);

        if (s)
                pthread_mutex_init(&s->lock, NULL);
        return s;
}

void kw_sessions_free(struct kw_sessions *s)
{
        if (!s)
                return;
        pthread_mutex_destroy(&s->lock);
        sodium_memzero(s, sizeof *s);
        free(s);
}

int64_t kw_session_idle_left(const struct kw_session *s, int64_t now)
{
        int64_t left = s->seen + (s->by_pin ? KW_SESSION_PIN : KW_SESSION_IDLE) - now;

        return left > 0 ? left : 0;
}

int64_t kw_session_life_left(const struct kw_session *s, int64_t now)
{
        int64_t left = s->began + KW_SESSION_LIFE - now;

        return left > 0 ? left : 0;
}

int64_t kw_session_fresh_left(const struct kw_session *s, int64_t now)
{
        return s->fresh_until > now ? s->fresh_until - now : 0;
}

static bool is_over(const struct kw_session *s, int64_t now)
{
        return !kw_session_idle_left(s, now) || !kw_session_life_left(s, now);
}

static void hash_secret(const char *secret, unsigned char out[KW_SESSION_HASH])
{
        crypto_generichash(out, KW_SESSION_HASH, (const unsigned char *)secret, strlen(secret), NULL, 0);
}

static void make_secret(char out[KW_SESSION_TEXT])
{
        unsigned char bytes[32];

        randombytes_buf(bytes, sizeof bytes);
        sodium_bin2base64(out, KW_SESSION_TEXT, bytes, sizeof bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
        sodium_memzero(bytes, sizeof bytes);
}

static void forget(struct kw_session *s)
{
        sodium_memzero(s, sizeof *s);
}

/* The one that @secret opens; @former: whether by its secret before the last. The caller has the lock. */
static struct kw_session *find(struct kw_sessions *s, const char *secret, int64_t now, bool *former)
{
        unsigned char hash[KW_SESSION_HASH];
        struct kw_session *found = NULL;

        hash_secret(secret, hash);
        for (size_t i = 0; i < KW_SESSIONS; i++) {
                struct kw_session *at = &s->at[i];

                if (!at->used)
                        continue;
                if (is_over(at, now)) {
                        forget(at);
                } else if (sodium_memcmp(at->hash, hash, sizeof hash) == 0) {
                        found = at;
                        *former = false;
                } else if (now < at->before_until && sodium_memcmp(at->before, hash, sizeof hash) == 0) {
                        found = at;
                        *former = true;
                }
        }
        return found;
}

/* Where the next one goes: a place that is free, or that of the one that was quiet longest (of the person's own, when
 * the person has too many). */
static struct kw_session *place_for(struct kw_sessions *s, const char *person, int64_t now)
{
        struct kw_session *idle = NULL, *oldest = NULL, *own = NULL;
        size_t n_own = 0;

        for (size_t i = 0; i < KW_SESSIONS; i++) {
                struct kw_session *at = &s->at[i];

                if (!at->used || is_over(at, now)) {
                        idle = at;
                        continue;
                }
                if (!oldest || at->seen < oldest->seen)
                        oldest = at;
                if (strcmp(at->person, person) != 0)
                        continue;
                n_own++;
                if (!own || at->seen < own->seen)
                        own = at;
        }
        return n_own >= KW_SESSIONS_EACH ? own : idle ? idle : oldest;
}

void kw_session_begin(struct kw_sessions *s, struct kw_session *as, int64_t now, char secret[KW_SESSION_TEXT])
{
        make_secret(secret);
        hash_secret(secret, as->hash);
        make_secret(as->csrf);
        as->began = as->seen = now;
        as->fresh_until = as->by_pin ? 0 : now + KW_SESSION_FRESH;
        as->before_until = 0;
        as->used = true;
        pthread_mutex_lock(&s->lock);
        *place_for(s, as->person, now) = *as;
        pthread_mutex_unlock(&s->lock);
}

bool kw_session_find(struct kw_sessions *s, const char *secret, int64_t now, bool keep, struct kw_session *out)
{
        struct kw_session *found;
        bool former = false;

        pthread_mutex_lock(&s->lock);
        found = find(s, secret, now, &former);
        if (found && keep)
                found->seen = now;
        if (found)
                *out = *found;
        pthread_mutex_unlock(&s->lock);
        if (found && former)
                out->fresh_until = 0; /* what was raised goes with the new secret alone */
        return found != NULL;
}

bool kw_session_again(struct kw_sessions *s, const char *secret, int64_t now, char renewed[KW_SESSION_TEXT],
                      struct kw_session *out)
{
        struct kw_session *found;
        bool former = false;

        make_secret(renewed);
        pthread_mutex_lock(&s->lock);
        found = find(s, secret, now, &former);
        if (found) {
                memcpy(found->before, found->hash, sizeof found->before);
                found->before_until = now + KW_SESSION_HANDED;
                hash_secret(renewed, found->hash);
                found->seen = now;
                found->fresh_until = now + KW_SESSION_FRESH;
                *out = *found;
        }
        pthread_mutex_unlock(&s->lock);
        return found != NULL;
}

void kw_session_recorded(struct kw_sessions *s, const char *person, const char *terminal)
{
        pthread_mutex_lock(&s->lock);
        for (size_t i = 0; i < KW_SESSIONS; i++) {
                struct kw_session *at = &s->at[i];

                if (at->used && strcmp(at->person, person) == 0 && strcmp(at->terminal, terminal) == 0)
                        at->reading = false;
        }
        pthread_mutex_unlock(&s->lock);
}

void kw_session_end(struct kw_sessions *s, const char *secret)
{
        struct kw_session *found;
        bool former = false;

        pthread_mutex_lock(&s->lock);
        found = find(s, secret, 0, &former);
        if (found)
                forget(found);
        pthread_mutex_unlock(&s->lock);
}

void kw_session_end_of(struct kw_sessions *s, const char *person, const char *but)
{
        struct kw_session *stays;
        bool former = false;

        pthread_mutex_lock(&s->lock);
        stays = but ? find(s, but, 0, &former) : NULL;
        for (size_t i = 0; i < KW_SESSIONS; i++) {
                if (s->at[i].used && &s->at[i] != stays && strcmp(s->at[i].person, person) == 0)
                        forget(&s->at[i]);
        }
        pthread_mutex_unlock(&s->lock);
}

void kw_session_end_at(struct kw_sessions *s, const char *terminal)
{
        pthread_mutex_lock(&s->lock);
        for (size_t i = 0; i < KW_SESSIONS; i++) {
                if (s->at[i].used && strcmp(s->at[i].terminal, terminal) == 0)
                        forget(&s->at[i]);
        }
        pthread_mutex_unlock(&s->lock);
}
