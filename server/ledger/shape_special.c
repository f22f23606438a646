/*
 * What the tables of shape name but cannot say: names of elements and properties, what a delivery has to be measured
 * in, and the joints of a run.
 */
#include "shape.h"

#include "kinwire/process.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

const char *kw_process_name(size_t i)
{
        return kw_processes[i].name;
}

const char *kw_lot_kind_name(size_t i)
{
        return kw_lot_kinds[i].name;
}

static bool is_letter(char c)
{
        return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

/* C, Mn, Cr+Ni+Cu: symbols of one or two letters, summed; 12 characters at most. */
bool kw_is_element(const char *name)
{
        size_t letters = 0;

        if (strlen(name) > 12)
                return false;
        for (; *name; name++) {
                if (is_letter(*name) && letters < 2)
                        letters++;
                else if (*name == '+' && letters > 0)
                        letters = 0;
                else
                        return false;
        }
        return letters > 0;
}

/* tensile_kpa: 1 to 40 characters out of a-z 0-9 _ */
bool kw_is_property(const char *name)
{
        const size_t n = strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789_");

        return n > 0 && n <= 40 && name[n] == '\0';
}

/* Wire is weighed or measured, and either gives the other by its diameter; what is laid has no one diameter. */
int kw_receive_measures(struct kw_walk *walk, const cJSON *body)
{
        const char *kind = kw_json_text(body, "kind");

        if (!kind)
                kind = "rod";
        if (kw_lot_kind(kind)->wire && !kw_json_get(body, "diameter_um"))
                return kw_walk_refuse(walk, KW_MISSING, "diameter_um", "received-diameter",
                                      KW_VALUES(KW_WORD("kind", kind)),
                                      "\"diameter_um\" is missing: a received %s needs the diameter of its wire, in "
                                      "micrometres.",
                                      kind);
        if (!kw_lot_kind(kind)->wire && !kw_json_get(body, "length_mm"))
                return kw_walk_refuse(
                        walk, KW_MISSING, "length_mm", "received-length", KW_VALUES(KW_WORD("kind", kind)),
                        "\"length_mm\" is missing: the length of a received %s cannot be computed from its "
                        "mass.",
                        kind);
        return 0;
}

const char *const kw_joint_members[] = {"weld", "join", "affected_mm", "seen_at_mm", NULL};

/* A joint stands before its feed, so the first of a line has none. */
int kw_first_feed_has_no_join(struct kw_walk *walk, const cJSON *feeds)
{
        for (const char *const *name = kw_joint_members; *name; name++) {
                if (!kw_json_get(feeds->child, *name))
                        continue;
                kw_pointer_item(&walk->pointer, 0);
                return kw_walk_refuse(
                        walk, KW_BAD_VALUE, *name, "no-joint-before", NULL,
                        "The first feed of a line has no joint before it, so \"%s\" belongs to a later one.", *name);
        }
        return 0;
}

struct weld_place {
        size_t line, feed;
};

/* The weld codes of a run in order, and where they stand. Room is for one a feed. */
static size_t gather_welds(const cJSON *lines, const char **codes, struct weld_place *places)
{
        size_t n = 0, line = 0;

        for (const cJSON *l = lines->child; l; l = l->next, line++) {
                size_t feed = 0;

                for (const cJSON *f = kw_json_get(l, "feeds")->child; f; f = f->next, feed++) {
                        codes[n] = kw_json_text(f, "weld");
                        if (codes[n])
                                places[n++] = (struct weld_place){line, feed};
                }
        }
        return n;
}

/* On any of its lines: a weld code is used once. */
int kw_run_welds_distinct(struct kw_walk *walk, const cJSON *body)
{
        const cJSON *lines = kw_json_get(body, "lines");
        struct weld_place *places;
        const char **codes;
        size_t most = 1, n, twin = 0;
        int rc = -ENOMEM;

        for (const cJSON *l = lines->child; l; l = l->next)
                most += (size_t)cJSON_GetArraySize(kw_json_get(l, "feeds"));
        codes = calloc(most, sizeof(*codes));
        places = calloc(most, sizeof(*places));
        if (codes && places) {
                n = gather_welds(lines, codes, places);
                rc = kw_first_twin(codes, n, &twin);
                if (rc == 0 && twin < n) {
                        kw_pointer_name(&walk->pointer, "lines");
                        kw_pointer_item(&walk->pointer, places[twin].line);
                        kw_pointer_name(&walk->pointer, "feeds");
                        kw_pointer_item(&walk->pointer, places[twin].feed);
                        rc = kw_walk_refuse(walk, KW_BAD_VALUE, "weld", "twice",
                                            KW_VALUES(KW_WORD("text", codes[twin])),
                                            "Weld %s stands twice in this run.", codes[twin]);
                }
        }
        free(codes);
        free(places);
        return rc;
}
