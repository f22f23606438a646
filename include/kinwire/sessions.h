#ifndef KINWIRE_SESSIONS_H
#define KINWIRE_SESSIONS_H
/*
 * Sessions: who is signed in. They live in memory alone, on a clock that doesn't go back, so that a session ends with
 * the daemon, and nothing that a thief could use is on a disk.
 *
 *      by password     ends after 30 minutes of quiet, and 12 hours after it began
 *      by PIN          ends after 5 minutes of quiet, and 12 hours after it began
 *
 * A session is known by the hash of a 256-bit random secret that only its browser has. All times are ms.
 */
#include "kinwire/entry.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

#define KW_SESSIONS       1000
#define KW_SESSIONS_EACH  20 /* of one person */
#define KW_SESSION_TEXT   44 /* 32 bytes as base64url, with a NUL */
#define KW_SESSION_HASH   32
#define KW_SESSION_IDLE   (30 * 60 * 1000)
#define KW_SESSION_PIN    (5 * 60 * 1000)
#define KW_SESSION_LIFE   (12 * 60 * 60 * 1000)
#define KW_SESSION_FRESH  (5 * 60 * 1000)
#define KW_SESSION_HANDED 10000 /* how long the secret before the last still does, for what was on its way */

struct kw_session {
        char person[KW_CODE_MAX + 1];
        char terminal[KW_CODE_MAX + 1]; /* enrolled, which it is bound to; "": none */
        unsigned roles;                 /* of the person when it began: with others it ends */
        bool by_pin;
        bool reading; /* begun while nothing could be recorded: to read, until its sign-in is an entry */
        char csrf[KW_SESSION_TEXT];
        int64_t began, seen, fresh_until;
        unsigned char hash[KW_SESSION_HASH], before[KW_SESSION_HASH];
        int64_t before_until;
        bool used;
};

struct kw_sessions {
        pthread_mutex_t lock;
        struct kw_session at[KW_SESSIONS];
};

/** kw_sessions_new - Return: NULL, no memory. */
struct kw_sessions *kw_sessions_new(void);
void kw_sessions_free(struct kw_sessions *s);

/**
 * kw_session_begin - @as says for whom: person, terminal, roles, by_pin, reading; the rest is filled
 * @secret: for the browser
 * One that was begun by password is fresh. The longest unused one gives way when there is no room.
 */
void kw_session_begin(struct kw_sessions *s, struct kw_session *as, int64_t now, char secret[KW_SESSION_TEXT]);

/**
 * kw_session_find - the session that @secret opens, copied to @out
 * @keep: whether this is something that its person does, so that it isn't quiet
 * Return: whether there is one that has not ended.
 */
bool kw_session_find(struct kw_sessions *s, const char *secret, int64_t now, bool keep, struct kw_session *out);

/** kw_session_again - the password was given again: fresh, under a new secret. Return: whether there is such a one. */
bool kw_session_again(struct kw_sessions *s, const char *secret, int64_t now, char renewed[KW_SESSION_TEXT],
                      struct kw_session *out);

/** kw_session_recorded - the sign-in of @person at @terminal ("": none) is an entry now: their sessions there are whole. */
void kw_session_recorded(struct kw_sessions *s, const char *person, const char *terminal);

void kw_session_end(struct kw_sessions *s, const char *secret);
/** kw_session_end_of - every session of a person, but the one that @but opens (NULL: every one). */
void kw_session_end_of(struct kw_sessions *s, const char *person, const char *but);
/** kw_session_end_at - every session at a terminal. */
void kw_session_end_at(struct kw_sessions *s, const char *terminal);

/** kw_session_idle_left, _life_left, _fresh_left - ms */
int64_t kw_session_idle_left(const struct kw_session *s, int64_t now);
int64_t kw_session_life_left(const struct kw_session *s, int64_t now);
int64_t kw_session_fresh_left(const struct kw_session *s, int64_t now);

#endif
