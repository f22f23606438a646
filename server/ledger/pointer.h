#ifndef KW_LEDGER_POINTER_H
#define KW_LEDGER_POINTER_H
/*
 * A JSON pointer (RFC 6901) that follows a walk through an entry, so that a refusal can say where.
 *
 * A step that has no room any more is left out together with all below it: the pointer then names what holds the wrong
 * place, and is never cut in mid-name.
 */
#include <stddef.h>

struct kw_pointer {
        char text[256];
        size_t n;
        size_t beyond; /* steps that were left out */
};

/** A place to go back to. */
struct kw_mark {
        size_t n, beyond;
};

/** kw_pointer_at - a pointer that starts with @prefix, itself a pointer. */
struct kw_pointer kw_pointer_at(const char *prefix);
/** kw_pointer_name, _item - one step down, to a member or an item (from 0). Return: the place before the step. */
struct kw_mark kw_pointer_name(struct kw_pointer *p, const char *name);
struct kw_mark kw_pointer_item(struct kw_pointer *p, size_t item);
void kw_pointer_back(struct kw_pointer *p, struct kw_mark mark);

#define KW_LABEL 96
/** kw_pointer_label - where the pointer stands, for a sentence: "lot" with its marks, item 3 of "lots", or the body. */
const char *kw_pointer_label(const struct kw_pointer *p, char label[KW_LABEL]);

#define KW_EXCERPT 48
/** kw_excerpt - the beginning of a text, cut between characters, for a sentence; control characters become blanks. */
const char *kw_excerpt(const char *text, char excerpt[KW_EXCERPT]);

#endif
