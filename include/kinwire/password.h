#ifndef KINWIRE_PASSWORD_H
#define KINWIRE_PASSWORD_H
/*
 * What can be a password or a PIN.
 *
 * A password has 12 to 128 characters, whichever they are; no mix of kinds is asked for. It may not be one that is
 * guessed first: keys in a row, the same over and over, words that everyone at a mill would try, one's own name, or
 * such parts put together. There is no list of leaked passwords here: nearly all of those that are much used are
 * shorter than 12 characters, and the rest are such rows, repetitions and words.
 */
#include "kinwire/error.h"

#define KW_PASSWORD_MIN 12 /* characters (Unicode code points) */
#define KW_PASSWORD_MAX 128
#define KW_PIN_MIN      6 /* digits */
#define KW_PIN_MAX      12

/**
 * kw_password_check - whether @text can be a password
 * @text:    well-formed UTF-8
 * @person:  the person's code, @name: and name
 * @pointer: of the field, for the refusal
 * Return: 0; KW_BAD_VALUE.
 */
int kw_password_check(const char *text, const char *person, const char *name, const char *pointer,
                      struct kw_error *err);

/** kw_pin_check - whether @text can be a PIN; @badge NULL: the person has none. Return: 0; KW_BAD_VALUE. */
int kw_pin_check(const char *text, const char *person, const char *badge, const char *pointer, struct kw_error *err);

#endif
