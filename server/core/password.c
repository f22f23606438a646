/*
 * Passwords and PINs: what is guessed first is not taken.
 *
 * A password is folded (case, and digits or signs that stand for letters), and then explained away as far as it goes:
 * with words of the list below and of the person's name, with rows (abcd, 4321, qwert) and with repetitions (aaaa,
 * abababab). What can't be explained has to be at least UNEXPLAINED characters. The least number of those is found from
 * the front, place by place.
 */
#include "kinwire/password.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

#define UNEXPLAINED 5
#define BYTES_MAX   (4 * KW_PASSWORD_MAX)
#define ROW_MIN     3

/* our own list: the trade's words, the season's, and what a person types who is asked for a password */
static const char *const words[] = {
        "kinwire",  "wire",     "rope",       "strand",   "bobbin",   "spool",    "reel",      "coil",     "rod",
        "steel",    "zinc",     "mill",       "heat",     "lot",      "batch",    "drawing",   "drawn",    "draw",
        "galvan",   "winding",  "closing",    "closer",   "stock",    "shop",     "floor",     "office",   "quality",
        "operator", "auditor",  "admin",      "istrator", "manager",  "terminal", "machine",   "company",  "factory",
        "password", "passwort", "passphrase", "pass",     "word",     "login",    "logon",     "signin",   "secret",
        "letmein",  "welcome",  "hello",      "default",  "changeme", "change",   "temp",      "test",     "user",
        "guest",    "root",     "system",     "server",   "master",   "access",   "account",   "computer", "internet",
        "contrase", "clave",    "acceso",     "usuario",  "acero",    "alambre",  "cable",     "fabrica",  "calidad",
        "iloveyou", "love",     "dragon",     "monkey",   "sunshine", "princess", "football",  "baseball", "trustno",
        "monday",   "tuesday",  "wednesday",  "thursday", "friday",   "saturday", "sunday",    "january",  "february",
        "march",    "april",    "may",        "june",     "july",     "august",   "september", "october",  "november",
        "december", "spring",   "summer",     "autumn",   "winter",   "my",       "the",       "and",      "is",
        "new",      "our",      "for",        "good",     "morning",  "please",   "enter",     "the",      "this",
};

static const char *const keyboards[] = {"qwertyuiop", "asdfghjkl",  "zxcvbnm",
                                        "qwertzuiop", "azertyuiop", "1qaz2wsx3edc4rfv"};

/* Code points of well-formed UTF-8. */
static size_t count(const char *text)
{
        size_t n = 0;

        for (; *text; text++)
                n += ((unsigned char)*text & 0xc0) != 0x80;
        return n;
}

static char fold(char c)
{
        static const char from[] = "01345678@$!|", to[] = "oieasgtbasil";
        const char *at = c ? strchr(from, c) : NULL;

        return at ? to[at - from] : (char)tolower((unsigned char)c);
}

struct folded {
        char plain[BYTES_MAX + 1]; /* in lower case */
        char text[BYTES_MAX + 1];  /* with letters for what stands for them */
        size_t n;
};

static size_t word_at(const struct folded *f, size_t at, const char *word)
{
        size_t n = strlen(word);

        if (n < 2 || n > f->n - at)
                return 0;
        return strncmp(f->text + at, word, n) == 0 || strncmp(f->plain + at, word, n) == 0 ? n : 0;
}

/* Parts of a name or a code, longest first: "ANNA-BERG" gives itself, "anna" and "berg". */
static size_t name_at(const struct folded *f, size_t at, const char *name)
{
        size_t best = 0;

        while (*name) {
                char part[64];
                size_t n = 0;

                while (*name && !isalnum((unsigned char)*name) && (unsigned char)*name < 0x80)
                        name++;
                while (*name && (isalnum((unsigned char)*name) || (unsigned char)*name >= 0x80)) {
                        if (n + 1 < sizeof part)
                                part[n++] = (char)tolower((unsigned char)*name);
                        name++;
                }
                part[n] = '\0';
                n = n >= 3 ? word_at(f, at, part) : 0;
                best = n > best ? n : best;
        }
        return best;
}

/* How long a row of neighbours is from @at on: up or down the alphabet or the digits, or along a keyboard. */
static size_t row_at(const struct folded *f, size_t at)
{
        const char *p = f->plain + at;
        size_t up = 1, down = 1, best;

        while (p[up] && isalnum((unsigned char)p[up]) && p[up] == p[up - 1] + 1)
                up++;
        while (p[down] && isalnum((unsigned char)p[down]) && p[down] == p[down - 1] - 1)
                down++;
        best = up > down ? up : down;
        for (size_t k = 0; k < sizeof keyboards / sizeof keyboards[0]; k++) {
                const char *key = strchr(keyboards[k], *p);
                size_t on = 0, back = 0;

                if (!key || !*p)
                        continue;
                while (p[on] && key[on] == p[on])
                        on++;
                while (p[back] && key - back >= keyboards[k] && *(key - back) == p[back])
                        back++;
                best = on > best ? on : back > best ? back : best;
        }
        return best >= ROW_MIN ? best : 0;
}

/* How far what stands before @at goes on to be repeated: a unit of 1 to 16 bytes. */
static size_t again_at(const struct folded *f, size_t at)
{
        size_t best = 0;

        for (size_t unit = 1; unit <= 16 && unit <= at; unit++) {
                size_t n = 0;

                while (at + n < f->n && f->plain[at + n] == f->plain[at + n - unit])
                        n++;
                if (n >= 2 && n >= unit && n > best)
                        best = n;
        }
        return best;
}

/* A year that somebody who is asked for a password was born in or lives in. */
static size_t year_at(const struct folded *f, size_t at)
{
        const char *p = f->plain + at;
        bool digits = strspn(p, "0123456789") >= 4;

        return digits && (strncmp(p, "19", 2) == 0 || strncmp(p, "20", 2) == 0) ? 4 : 0;
}

/* What a character costs: nothing where it only parts words, or goes on a character that was counted. */
static size_t cost_of(const struct folded *f, size_t at)
{
        return !strchr(" -_.,!?", f->plain[at]) && ((unsigned char)f->plain[at] & 0xc0) != 0x80;
}

static size_t least(size_t a, size_t b)
{
        return a < b ? a : b;
}

/* The fewest characters that nothing explains. */
static size_t unexplained(const struct folded *f, const char *person, const char *name)
{
        size_t cost[BYTES_MAX + 1];

        for (size_t i = 0; i <= f->n; i++)
                cost[i] = i;
        for (size_t i = 0; i < f->n; i++) {
                size_t n[] = {name_at(f, i, person), name_at(f, i, name), row_at(f, i), again_at(f, i), year_at(f, i)};

                cost[i + 1] = least(cost[i + 1], cost[i] + cost_of(f, i));
                for (size_t k = 0; k < sizeof n / sizeof n[0]; k++)
                        for (size_t part = n[k]; part >= 2; part--) /* less of it, where a word begins sooner */
                                cost[i + part] = least(cost[i + part], cost[i]);
                for (size_t k = 0; k < sizeof words / sizeof words[0]; k++) {
                        size_t w = word_at(f, i, words[k]);
                        if (w)
                                cost[i + w] = least(cost[i + w], cost[i]);
                }
        }
        return cost[f->n];
}

int kw_password_check(const char *text, const char *person, const char *name, const char *pointer, struct kw_error *err)
{
        size_t n = count(text);
        struct folded f;

        if (n < KW_PASSWORD_MIN || n > KW_PASSWORD_MAX)
                return kw_refuse_with(
                        err, KW_BAD_VALUE, pointer, "password-length",
                        KW_VALUES(KW_FIGURE("least", KW_PASSWORD_MIN), KW_FIGURE("most", KW_PASSWORD_MAX)),
                        "a password has %d to %d characters, whichever you like", KW_PASSWORD_MIN, KW_PASSWORD_MAX);
        f.n = strlen(text);
        for (size_t i = 0; i <= f.n; i++) {
                f.plain[i] = (char)tolower((unsigned char)text[i]);
                f.text[i] = fold(text[i]);
        }
        if (unexplained(&f, person, name) >= UNEXPLAINED)
                return 0;
        return kw_refuse_with(
                err, KW_BAD_VALUE, pointer, "password-common", NULL,
                "this is among the passwords that are tried first: rows of keys, repetitions, names and the "
                "mill's own words; take a few words that have nothing to do with each other");
}

/* --- PINs ------------------------------------------------------------------------------------- */

static bool is_row(const char *pin, size_t n)
{
        bool up = true, down = true;

        for (size_t i = 1; i < n; i++) {
                up &= (pin[i - 1] - '0' + 1) % 10 == pin[i] - '0';
                down &= (pin[i] - '0' + 1) % 10 == pin[i - 1] - '0';
        }
        return up || down;
}

static bool is_repetition(const char *pin, size_t n)
{
        for (size_t unit = 1; unit <= n / 2; unit++)
                if (memcmp(pin, pin + unit, n - unit) == 0)
                        return true;
        return false;
}

/* The digits of a code, without what stands between them. */
static bool is_in(const char *pin, const char *code)
{
        char digits[64];
        size_t n = 0;

        for (; *code && n + 1 < sizeof digits; code++)
                if (isdigit((unsigned char)*code))
                        digits[n++] = *code;
        digits[n] = '\0';
        return strstr(digits, pin) != NULL;
}

int kw_pin_check(const char *text, const char *person, const char *badge, const char *pointer, struct kw_error *err)
{
        size_t n = strlen(text);

        if (n < KW_PIN_MIN || n > KW_PIN_MAX || strspn(text, "0123456789") != n)
                return kw_refuse_with(err, KW_BAD_VALUE, pointer, "pin-length",
                                      KW_VALUES(KW_FIGURE("least", KW_PIN_MIN), KW_FIGURE("most", KW_PIN_MAX)),
                                      "a PIN has %d to %d digits", KW_PIN_MIN, KW_PIN_MAX);
        if (is_row(text, n) || is_repetition(text, n))
                return kw_refuse_with(err, KW_BAD_VALUE, pointer, "pin-common", NULL,
                                      "this PIN is among those that are tried first: digits in a row, or repeated");
        if (is_in(text, person) || (badge && is_in(text, badge)))
                return kw_refuse_with(err, KW_BAD_VALUE, pointer, "pin-badge", NULL,
                                      "a PIN is not what stands on the badge");
        return 0;
}
