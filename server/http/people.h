#ifndef KW_HTTP_PEOPLE_H
#define KW_HTTP_PEOPLE_H
/*
 * Who asks, as the files of this folder see it.
 *
 *      who.c       a request's person, terminal and rights         sessions.c  who is signed in
 *      porters.c   threads that look at secrets, which takes long  doors.c     wrong tries, and what is locked by them
 *      form.c      the small bodies of what follows                refusals.c  refusals as entries, a bounded number
 *      signin.c    signing in and out                              admit.c     codes, PINs, terminals, secrets of
 * tokens roll.c      who and what there is, as answers
 */
#include "kinwire/access.h"
#include "kinwire/people.h"
#include "kinwire/rights.h"
#include "kinwire/sessions.h"

#include <microhttpd.h>

struct kw_http;
struct kw_request;

/* --- who asks (who.c) ------------------------------------------------------------------------- */

enum kw_how { KW_UNKNOWN, KW_BY_OPEN, KW_BY_PASSWORD, KW_BY_PIN, KW_BY_TOKEN };

struct kw_identity {
        enum kw_how how;
        char by[KW_CODE_MAX + 1];       /* what entries are signed with; "" unknown */
        char terminal[KW_CODE_MAX + 1]; /* and where */
        struct kw_who who;
        struct kw_only only;       /* what @who points to */
        struct kw_session session; /* of a session */
        char secret[KW_SESSION_TEXT];
};

/**
 * kw_identify - find out who asks
 * Nobody is no failure: @r's identity is then unknown. Return: 0; KW_BUSY, it can't be found out now.
 */
int kw_identify(struct kw_request *r, struct kw_error *err);
/** kw_admit - whether who asks, once identified, may have what the route is for. Return: 0; a refusal. */
int kw_admit(struct kw_request *r, const char *method, struct kw_error *err);
/** kw_note_denied - who asks is known and may not: what was asked for, of a @kind of entry or NULL, is recorded. */
void kw_note_denied(struct kw_request *r, const char *kind);
/** kw_check_csrf - that a page of this server's sent it, where a session alone would do. Return: 0; KW_NOT_ALLOWED. */
int kw_check_csrf(struct kw_request *r, struct kw_error *err);

/** kw_device - the enrolled terminal that asks, "" for none. Return: 0; a refusal. */
int kw_device(struct kw_request *r, char out[KW_CODE_MAX + 1], struct kw_error *err);

enum kw_cookie { KW_SESSION_COOKIE, KW_DEVICE_COOKIE };
/** kw_cookie_set - NULL: take it away. */
void kw_cookie_set(struct kw_request *r, enum kw_cookie which, const char *value);

/* --- doors (doors.c) -------------------------------------------------------------------------- */

struct kw_doors;
/** kw_doors_new - with what was kept of wrong tries. */
int kw_doors_new(struct kw_access *access, struct kw_doors **out, struct kw_error *err);
void kw_doors_free(struct kw_doors *doors);
/** kw_door_locked - seconds for which nothing is tried at @at ("pin:AB-7"); 0: it may be tried. */
int64_t kw_door_locked(struct kw_doors *doors, const char *at);
/** kw_door_wrong - count one. Return: seconds of the lock that it brought about. */
int64_t kw_door_wrong(struct kw_doors *doors, const char *at, const struct kw_try_rule *rule);
void kw_door_right(struct kw_doors *doors, const char *at, const struct kw_try_rule *rule);
/** kw_door_forget - somebody vouched for whoever it is. */
void kw_door_forget(struct kw_doors *doors, const char *at);

/* --- porters (porters.c) ------------------------------------------------------------------------ */

/** What a porter does for a request that is set aside: append the answer to @out. Return: 0; a refusal; -ENOMEM. */
typedef int (*kw_work)(struct kw_request *r, struct kw_buf *out, struct kw_error *err);

struct kw_porters;
int kw_porters_new(struct kw_porters **out);
/** kw_porters_stop - what waits is told that the server stops; what is under way is finished; nothing more is taken. */
void kw_porters_stop(struct kw_porters *porters);
void kw_porters_free(struct kw_porters *porters);
/** kw_porters_do - set @r aside until a porter has done @work, then reply. KW_BUSY is replied when too many wait. */
enum MHD_Result kw_porters_do(struct kw_request *r, kw_work work);

/* --- forms (form.c) ----------------------------------------------------------------------------- */

struct kw_form;
int kw_form_begin(struct kw_request *r, struct kw_error *err);
enum MHD_Result kw_form_take(struct kw_request *r, const char *bytes, size_t n);
void kw_form_free(struct kw_form *form);

struct kw_field {
        const char *name; /* NULL ends the list */
        bool needed;
        const char **value; /* receives it, NULL where it isn't given; valid as long as the request */
};
/** kw_form_read - the texts of an object, and nothing beside them. Return: 0; a refusal with its pointer. */
int kw_form_read(struct kw_request *r, const struct kw_field *fields, struct kw_error *err);
/** kw_form_waits - what the request, set aside, waits for. */
struct kw_waiting {
        kw_work work;
        struct kw_buf out;
        struct kw_error err;
        int rc;
        struct kw_request *next;
};
struct kw_waiting *kw_form_waiting(struct kw_request *r);

/* --- who came in, as entries (refusals.c) --------------------------------------------------------- */

/** What an entry of kind access says; NULL or 0 where it doesn't. */
struct kw_said_access {
        const char *what, *person, *terminal, *token, *why;
        int64_t count, since;
};

/** kw_say_access - record it, and wait until it is on disk. For porters only. Return: 0; a refusal. */
int kw_say_access(struct kw_http *http, const char *by, const char *terminal, const struct kw_said_access *said,
                  struct kw_error *err);

/**
 * kw_sign_in_unrecorded - somebody was let in to read, while nothing can be recorded
 * A line in the journal now; an entry as soon as there is room, which says since when, and makes the session whole.
 */
void kw_sign_in_unrecorded(struct kw_http *http, const struct kw_said_access *said);

struct kw_refusals;
int kw_refusals_new(struct kw_http *http, struct kw_refusals **out);
/** kw_refusals_stop - with what was counted recorded; what is noted from now on is not. */
void kw_refusals_stop(struct kw_refusals *refusals);
void kw_refusals_free(struct kw_refusals *refusals);
/**
 * kw_refusal_note - somebody was refused; recorded by and by
 * The first of a kind is an entry of its own; those that follow within a quarter of an hour are counted into one.
 */
void kw_refusal_note(struct kw_http *http, const struct kw_said_access *said);

/* --- the routes' functions ------------------------------------------------------------------------ */

/* signin.c */
enum MHD_Result kw_answer_session(struct kw_request *r);
enum MHD_Result kw_answer_me(struct kw_request *r);
enum MHD_Result kw_sign_in(struct kw_request *r);
enum MHD_Result kw_sign_in_by_badge(struct kw_request *r);
enum MHD_Result kw_sign_in_again(struct kw_request *r);
enum MHD_Result kw_sign_out(struct kw_request *r);
/* admit.c */
enum MHD_Result kw_set_password(struct kw_request *r);
enum MHD_Result kw_set_pin(struct kw_request *r);
enum MHD_Result kw_give_password_code(struct kw_request *r);
enum MHD_Result kw_give_pin_code(struct kw_request *r);
enum MHD_Result kw_give_terminal_code(struct kw_request *r);
enum MHD_Result kw_enrol(struct kw_request *r);
enum MHD_Result kw_give_token(struct kw_request *r);
/* roll.c */
enum MHD_Result kw_answer_people(struct kw_request *r);
enum MHD_Result kw_answer_terminals(struct kw_request *r);
enum MHD_Result kw_answer_tokens(struct kw_request *r);
enum MHD_Result kw_answer_rights(struct kw_request *r);

/* signin.c, for admit.c */
/** kw_try_door - refuse what is locked. Return: 0; KW_LOCKED. */
int kw_try_door(struct kw_request *r, const char *at, struct kw_error *err);
/** kw_was_wrong - count a wrong try at @at and note it. Return: KW_NOT_KNOWN with the sentence. */
int kw_was_wrong(struct kw_request *r, const char *at, const struct kw_try_rule *rule, const char *person,
                 const char *terminal, const char *why, struct kw_error *err);
/** kw_account_door - the door of a person's account, in @out. */
void kw_account_door(struct kw_request *r, const char *person, bool only_administrator, char out[128]);
/** kw_known_person - the person of a code, with code "" where there is none or who has left. */
int kw_known_person(struct kw_request *r, const char *code, struct kw_person *out, bool *only_administrator,
                    struct kw_error *err);

#endif
