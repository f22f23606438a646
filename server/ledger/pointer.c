/*
 * A JSON pointer (RFC 6901) that follows a walk through an entry, so that a refusal can say where.
 */
#include "pointer.h"

#include <stdio.h>
#include <string.h>

struct kw_pointer kw_pointer_at(const char *prefix)
{
        struct kw_pointer p = {0};

        p.n = strlen(prefix);
        if (p.n >= sizeof(p.text))
                p.n = 0;
        memcpy(p.text, prefix, p.n);
        return p;
}

struct kw_mark kw_pointer_name(struct kw_pointer *p, const char *name)
{
        const struct kw_mark before = {p->n, p->beyond};
        size_t need = 1;
        char *to = p->text + p->n;

        for (const char *c = name; *c; c++)
                need += *c == '~' || *c == '/' ? 2 : 1;
        if (p->beyond || need >= sizeof(p->text) - p->n) {
                p->beyond++;
                return before;
        }
        *to++ = '/';
        for (; *name; name++) {
                if (*name == '~' || *name == '/') {
                        *to++ = '~';
                        *to++ = *name == '~' ? '0' : '1';
                } else {
                        *to++ = *name;
                }
        }
        *to = '\0';
        p->n += need;
        return before;
}

struct kw_mark kw_pointer_item(struct kw_pointer *p, size_t item)
{
        char text[24];

        snprintf(text, sizeof(text), "%zu", item);
        return kw_pointer_name(p, text);
}

void kw_pointer_back(struct kw_pointer *p, struct kw_mark mark)
{
        p->n = mark.n;
        p->beyond = mark.beyond;
        p->text[p->n] = '\0';
}

/* The last step of text[0..n), as an excerpt without the slash; *n becomes what is before it. */
static void last_step(const char *text, size_t *n, char step[KW_EXCERPT])
{
        char copy[256];
        const size_t end = *n;

        while (*n > 0 && text[*n - 1] != '/')
                --*n;
        memcpy(copy, text + *n, end - *n);
        copy[end - *n] = '\0';
        kw_excerpt(copy, step);
        if (*n > 0)
                --*n;
}

const char *kw_pointer_label(const struct kw_pointer *p, char label[KW_LABEL])
{
        char step[KW_EXCERPT], above[KW_EXCERPT];
        size_t n = p->n, item;
        int used = 0;

        last_step(p->text, &n, step);
        if (step[0] == '\0')
                return strcpy(label, "The entry");
        if (sscanf(step, "%zu%n", &item, &used) == 1 && step[used] == '\0' && n > 0) {
                last_step(p->text, &n, above);
                snprintf(label, KW_LABEL, "Item %zu of \"%s\"", item + 1, above);
        } else {
                snprintf(label, KW_LABEL, "\"%s\"", step);
        }
        return label;
}

const char *kw_excerpt(const char *text, char excerpt[KW_EXCERPT])
{
        const size_t room = KW_EXCERPT - sizeof("...");
        size_t n = strlen(text);
        const char *tail = "";

        if (n > room) {
                n = room;
                tail = "...";
                while (n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
                        n--;
        }
        for (size_t i = 0; i < n; i++)
                excerpt[i] = (unsigned char)text[i] < 0x20 || text[i] == 0x7f ? ' ' : text[i];
        strcpy(excerpt + n, tail);
        return excerpt;
}
